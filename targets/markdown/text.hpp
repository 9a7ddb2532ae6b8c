#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace athanor::targets::markdown {

/// Text that says itself: characters that would mark something get a backslash, a line end becomes `<br>`.
std::string escaped(std::string_view text);
std::string unescaped(std::string_view text);

/// Breaks at single blanks so that lines hold at most `columns` characters where words allow it; lines after
/// the first begin with `indent`. Never begins a line with what would mark a list, a heading or a quotation.
std::string wrapped(const std::string& first, const std::string& text, std::string_view indent,
                    std::size_t columns = 80);

/// "2:05:00" for seconds as a decimal, and back. Nothing for what is no such time.
std::string clock(const std::string& seconds);
std::optional<std::string> seconds(std::string_view clock);

/// The cells of a line `| a | b |`.
struct PipeCell {
    std::string text; // trimmed, as written
    std::size_t column = 1;
};
std::vector<PipeCell> cells(std::string_view line);

/// Rows of equal width, the first one a header.
std::string table(const std::vector<std::vector<std::string>>& rows, const std::vector<bool>& right);

} // namespace athanor::targets::markdown
