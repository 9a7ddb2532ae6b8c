// `athanor format`: the one canonical layout, in place.
#include "grammar/format.hpp"
#include "compiler/driver/commands.hpp"
#include "compiler/driver/text_file.hpp"
#include "grammar/parse.hpp"
#include "targets/write_files.hpp"

#include <fmt/format.h>

#include <filesystem>

namespace athanor::driver {
namespace {

/// A file is replaced through its folder, which asks nobody whether the file itself may be changed.
bool read_only(const std::string& path) {
    using std::filesystem::perms;
    std::error_code error;
    const perms held = std::filesystem::status(path, error).permissions();
    const perms write = perms::owner_write | perms::group_write | perms::others_write;
    return !error && (held & write) == perms::none;
}

} // namespace

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
        print_messages(out, files, options);
        // Where a statement could not be read nobody knows what its layout means: the text stays as it is.
        std::string formatted = out.any_error() ? *text : format(tree, files);
        if (out.any_error()) status = std::max<int>(status, exit_refused);
        if (path == "-" && !options.check) {
            fmt::print("{}", formatted);
        } else if (formatted != *text) {
            if (options.check) {
                fmt::print("{}: would change\n", files[id].path());
                status = std::max<int>(status, exit_refused);
                continue;
            }
            if (read_only(path)) {
                fmt::print(stderr, "{}: not written: the file is read-only\n", path);
                status = exit_usage;
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
    }
    return status;
}

} // namespace athanor::driver
