#include "targets/markdown/text.hpp"

#include "compiler/program/decimal.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace athanor::targets::markdown {
namespace {

std::size_t width(std::string_view text) {
    return static_cast<std::size_t>(std::count_if(
        text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

bool digit(char c) {
    return c >= '0' && c <= '9';
}

/// Would this word mark something at the beginning of a line?
bool marks(std::string_view word) {
    if (word.empty() || std::string_view("-+#>=~\t").find(word[0]) != std::string_view::npos) return true;
    std::size_t at = 0;
    while (at < word.size() && digit(word[at])) ++at;
    return at > 0 && at < word.size() && (word[at] == '.' || word[at] == ')');
}

} // namespace

std::string escaped(std::string_view text) {
    std::string out;
    for (char c : text) {
        if (c == '\n') {
            out += "<br>";
            continue;
        }
        if (std::string_view("\\|<*`[&").find(c) != std::string_view::npos) out += '\\';
        out += c;
    }
    return out;
}

std::string unescaped(std::string_view text) {
    std::string out;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (text.substr(i).starts_with("<br>")) {
            out += '\n';
            i += 3;
            continue;
        }
        if (text[i] == '\\' && i + 1 < text.size()) ++i;
        out += text[i];
    }
    return out;
}

std::string wrapped(const std::string& first, const std::string& text, std::string_view indent,
                    std::size_t columns) {
    std::string out = first;
    std::size_t used = width(first);
    std::size_t at = 0;
    bool begun = false;
    while (at < text.size()) {
        // A piece is a word with what must stay with it: runs of blanks, and words that would mark something.
        std::size_t end = at;
        while (true) {
            end = text.find(' ', end);
            if (end == std::string::npos) {
                end = text.size();
                break;
            }
            bool single = end > 0 && text[end - 1] != ' ' && end + 1 < text.size() && text[end + 1] != ' ';
            std::string_view next = std::string_view(text).substr(end + 1);
            if (single && !marks(next.substr(0, next.find(' ')))) break;
            ++end;
        }
        std::string piece = text.substr(at, end - at);
        at = end + 1;
        if (begun && used + 1 + width(piece) > columns) {
            out += "\n" + std::string(indent) + piece;
            used = indent.size() + width(piece);
        } else {
            out += (begun ? " " : "") + piece;
            used += width(piece) + (begun ? 1 : 0);
        }
        begun = true;
    }
    return out + "\n";
}

std::string clock(const std::string& seconds) {
    if (seconds.empty()) return "";
    std::size_t point = std::min(seconds.find('.'), seconds.size());
    std::int64_t whole = 0;
    for (char c : seconds.substr(0, point))
        if (digit(c)) whole = whole * 10 + (c - '0');
    return fmt::format("{}:{:02}:{:02}{}", whole / 3600, whole / 60 % 60, whole % 60, seconds.substr(point));
}

std::optional<std::string> seconds(std::string_view clock) {
    std::size_t a = clock.find(':'), b = a == std::string_view::npos ? a : clock.find(':', a + 1);
    if (b == std::string_view::npos) return std::nullopt;
    auto number = [](std::string_view text, std::int64_t limit) -> std::optional<std::int64_t> {
        if (text.empty() || text.size() > 9 || !std::all_of(text.begin(), text.end(), digit))
            return std::nullopt;
        std::int64_t value = 0;
        for (char c : text) value = value * 10 + (c - '0');
        return value < limit ? std::optional(value) : std::nullopt;
    };
    std::string_view rest = clock.substr(b + 1);
    std::size_t point = std::min(rest.find('.'), rest.size());
    std::string_view fraction = rest.substr(point);
    auto h = number(clock.substr(0, a), 1'000'000'000), m = number(clock.substr(a + 1, b - a - 1), 60),
         s = number(rest.substr(0, point), 60);
    if (!h || !m || !s || (!fraction.empty() && !number(fraction.substr(1), 1'000'000'000)))
        return std::nullopt;
    return fmt::format("{}{}", *h * 3600 + *m * 60 + *s, fraction);
}

std::vector<PipeCell> cells(std::string_view line) {
    std::vector<PipeCell> list;
    std::size_t at = line.find('|');
    while (at != std::string_view::npos && at + 1 < line.size()) {
        std::size_t begin = at + 1, end = begin;
        while (end < line.size() && line[end] != '|') end += line[end] == '\\' ? 2 : 1;
        if (end >= line.size()) break; // behind the last pipe
        std::string_view text = line.substr(begin, end - begin);
        std::size_t blanks = std::min(text.find_first_not_of(' '), text.size());
        text.remove_prefix(blanks);
        while (text.ends_with(' ')) text.remove_suffix(1);
        list.push_back({std::string(text), begin + blanks + 1});
        at = end;
    }
    return list;
}

std::string table(const std::vector<std::vector<std::string>>& rows, const std::vector<bool>& right) {
    std::vector<std::size_t> widths(right.size(), 3);
    for (const auto& row : rows)
        for (std::size_t i = 0; i < row.size(); ++i) widths[i] = std::max(widths[i], width(row[i]));
    std::string out;
    for (std::size_t r = 0; r < rows.size(); ++r) {
        for (std::size_t i = 0; i < rows[r].size(); ++i) {
            std::string pad(widths[i] - width(rows[r][i]), ' ');
            out += "| " + (right[i] ? pad + rows[r][i] : rows[r][i] + pad) + " ";
        }
        out += "|\n";
        if (r != 0) continue;
        for (std::size_t i = 0; i < right.size(); ++i)
            out += "|" + std::string(widths[i] + 1, '-') + (right[i] ? ":" : "-");
        out += "|\n";
    }
    return out;
}

} // namespace athanor::targets::markdown
