#include "compiler/driver/output.hpp"

#include "compiler/driver/session.hpp"
#include "targets/write_files.hpp"

#include <fmt/format.h>

#include <cstdio>
#include <filesystem>

namespace athanor::driver {

Destination destination(const std::string& output) {
    if (output == "-") return {"", "", true};
    std::filesystem::path path(output);
    if (std::filesystem::is_directory(path) || output.ends_with('/')) return {output, "", false};
    std::string folder = path.parent_path().string();
    if (path.extension().empty()) return {output, "", false};
    return {folder.empty() ? "." : folder, path.stem().string(), false};
}

int put(const Destination& to, const std::vector<targets::OutputFile>& files, const char* command) {
    if (files.empty()) return exit_proven;
    if (to.standard_output) {
        const std::string& bytes = files.front().bytes;
        if (std::fwrite(bytes.data(), 1, bytes.size(), stdout) != bytes.size() || std::fflush(stdout) != 0) {
            fmt::print(stderr, "athanor {}: standard output cannot be written\n", command);
            return exit_usage;
        }
        return exit_proven;
    }
    std::string error;
    if (!targets::write_all(to.folder, files, error)) {
        fmt::print(stderr, "athanor {}: nothing was written: {}\n", command, error);
        return exit_usage;
    }
    for (const targets::OutputFile& file : files)
        fmt::print("{}\n", (std::filesystem::path(to.folder) / file.name).lexically_normal().string());
    return exit_proven;
}

} // namespace athanor::driver
