#pragma once
#include "grammar/syntax.hpp"

#include <string_view>
#include <vector>

namespace athanor::grammar {

inline constexpr std::uint32_t nowhere = 0xFFFFFFFFU;

/// The first place that no text of the language may hold.
struct Unfit {
    enum class Kind : std::uint8_t {
        bad_byte, // NUL, or a byte that breaks UTF-8 (RFC 3629)
        /// A character that some programs show as a line end and that is none here: a carriage return without
        /// its line feed, vertical tab, form feed, U+0085, U+2028, U+2029. What a reader sees on a line of its
        /// own behind a comment would silently belong to the comment.
        foreign_line_end,
        invisible // a character that shows nothing, behind a byte order mark at the head
    };
    Kind kind = Kind::bad_byte;
    std::uint32_t at = nowhere;
};
/// The gravest kind first; `nowhere` if there is none.
Unfit unfit_in(std::string_view text);

/// The line end behind `at`, or the text's end.
std::uint32_t end_of_line(std::string_view text, std::size_t at);
/// Where the quoted text that begins at `at` ends: at its closing quote, or at its line's end where it has
/// none.
std::uint32_t end_of_text(std::string_view text, std::size_t at);

/// Every comment, in order. A `#` inside a quoted text begins none; a text ends at its line's end at the
/// latest.
std::vector<Comment> comments_of(std::string_view text);

/// Of the braces still open at the end, the one that most likely lacks its `}`: the first whose partner stands
/// deeper or shallower than the line that opened it, else the innermost. `nowhere` when none is open.
std::uint32_t unclosed_brace(std::string_view text, std::uint32_t begin, std::uint32_t end);

} // namespace athanor::grammar
