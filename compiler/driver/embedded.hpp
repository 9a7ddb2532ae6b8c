#pragma once
#include <span>
#include <string_view>

namespace athanor {

/// A file that is built into the program, by its path in the project: "recipes/standard/gases.ath".
struct EmbeddedFile {
    std::string_view path;
    std::string_view text;
};

std::span<const EmbeddedFile> embedded_files();

} // namespace athanor
