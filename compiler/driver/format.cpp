// `athanor format`: the one canonical layout, in place.
#include "grammar/format.hpp"
#include "compiler/driver/commands.hpp"
#include "compiler/driver/text_file.hpp"
#include "grammar/parse.hpp"
#include "targets/write_files.hpp"

#include <fmt/format.h>

#include <filesystem>

namespace athanor::driver {

int run_format(const FormatOptions& options) {
    int status = exit_proven;
    for (const std::string& path : options.files) {
        std::string error;
        std::optional<std::string> text = read_file(path, error);
        if (!text) {
            print_file_error(path, error, options);
            status = exit_usage;
            continue;
        }
        Files files;
        Diagnostics out;
        FileId id = files.add(path == "-" ? "standard input" : path, *text);
        Tree tree = parse(id, files, out);
        std::string formatted = format(tree, files);
        // A file that is not the language is left alone whole; one with a broken statement keeps it verbatim.
        print_messages(out, files, options);
        if (out.has(Code::too_large)) {
            status = std::max<int>(status, exit_refused);
            continue;
        }
        if (path == "-" && !options.check) {
            fmt::print("{}", formatted);
        } else if (formatted != *text) {
            if (options.check) {
                fmt::print("{}: would change\n", files[id].path());
                status = std::max<int>(status, exit_refused);
                continue;
            }
            std::filesystem::path target(path);
            std::string folder = target.parent_path().string();
            if (!targets::write_all(folder.empty() ? "." : folder, {{target.filename().string(), formatted}},
                                    error)) {
                fmt::print(stderr, "{}: not written: {}\n", path, error);
                status = exit_usage;
                continue;
            }
            fmt::print("{}: formatted\n", path);
        }
        if (out.any_error()) status = std::max<int>(status, exit_refused);
    }
    return status;
}

} // namespace athanor::driver
