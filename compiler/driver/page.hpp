#pragma once
#include <cstddef>
#include <string>
#include <string_view>

/// Text for people, no wider than the narrowest usual terminal.
namespace athanor::driver {

inline constexpr std::size_t page_width = 80; // characters

/// `first` and then `words`, broken at the page's width; every further line begins `indent` blanks in. A word
/// that is wider than the page stands alone. Ends with a line feed.
std::string paragraph(std::string first, std::string_view words, std::size_t indent);
/// A page of Markdown for the terminal: its paragraphs and lists broken at the page's width, all else as it is.
std::string broken_lines(std::string_view markdown);
/// Characters, not bytes, of UTF-8.
std::size_t width(std::string_view text);
/// The text and blanks up to `columns` characters.
std::string padded(std::string text, std::size_t columns);

} // namespace athanor::driver
