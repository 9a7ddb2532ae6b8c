#pragma once
#include "grammar/syntax.hpp"

#include <span>
#include <string_view>

namespace athanor {

/// A file that is built into the program, by its path in the project: "recipes/standard/gases.ath".
struct EmbeddedFile {
    std::string_view path;
    std::string_view text;
    // Of a file of the language what `parse` makes of it: it was parsed when the program was built.
    std::span<const SyntaxNode> nodes = {};
    std::span<const Comment> comments = {};
    NodeId root = no_node;
};

std::span<const EmbeddedFile> embedded_files();

} // namespace athanor
