#pragma once
#include "grammar/syntax.hpp"

#include <string_view>
#include <unordered_map>
#include <vector>

namespace athanor::grammar {

/// One piece of a file as the formatter sees it.
struct Piece {
    enum class Kind : std::uint8_t { token, comment, verbatim };
    Kind kind = Kind::token;
    std::uint32_t begin = 0, end = 0;
    unsigned line_ends = 0;  // between the piece before it, or the `;` behind that, and this one
    bool later_line = false; // a line end stood between the piece before it and this one
    bool separated = false;  // a `;` stood between the piece before it and this one
};

/// What the tree says about the layout, by offset.
struct Layout {
    enum class Start : std::uint8_t {
        none,
        own_line, // a declaration or a statement: always begins a line
        grouped   // a property: shares a line where its author wrote it so
    };
    struct Brace {
        std::uint32_t close = 0; // offset of its `}`, or 0 when it is missing
        std::uint32_t end = 0;   // of the block
        bool grouped = false;    // holds properties
    };
    std::unordered_map<std::uint32_t, Start> starts;
    std::unordered_map<std::uint32_t, Brace> braces;
    /// Opening parentheses of calls and parameters; signs of a negation; units that are none, kept where they
    /// stand.
    std::unordered_map<std::uint32_t, bool> tight;
    std::vector<Piece> pieces;

    Start start(std::uint32_t at) const {
        auto found = starts.find(at);
        return found == starts.end() ? Start::none : found->second;
    }
};

Layout layout_of(const Tree& tree, std::string_view text);

} // namespace athanor::grammar
