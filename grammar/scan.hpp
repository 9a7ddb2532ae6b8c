#pragma once
#include "grammar/syntax.hpp"

#include <string_view>
#include <vector>

namespace athanor::grammar {

inline constexpr std::uint32_t nowhere = 0xFFFFFFFFU;

/// So many bytes at the head are printable ASCII and line ends: nothing that the three below look for. Most
/// texts are that from end to end.
std::size_t plain_head(std::string_view text);

/// Offset of the first byte from `from` on that no text file holds: NUL, or a byte that breaks UTF-8 (RFC
/// 3629); `nowhere` if none.
std::uint32_t first_bad_byte(std::string_view text, std::size_t from);

/// Offset of the first character from `from` on that some programs show as a line end and that is none here: a
/// carriage return without its line feed, vertical tab, form feed, U+0085, U+2028, U+2029; `nowhere` if none.
/// What a reader sees on a line of its own behind a comment would silently belong to the comment.
std::uint32_t foreign_line_end(std::string_view text, std::size_t from);
/// The first character from `from` on that shows nothing, behind a byte order mark at the head.
std::uint32_t invisible_character(std::string_view text, std::size_t from);

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
