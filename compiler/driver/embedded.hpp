#pragma once
#include "grammar/syntax.hpp"

#include <span>
#include <string_view>

namespace athanor {

/// A file that is built into the program, by its path in the project: "recipes/standard/gases.ath".
struct EmbeddedFile {
    std::string_view path;
    ParsedText content; // of another language than ours it is the text alone
};

std::span<const EmbeddedFile> embedded_files();

} // namespace athanor
