#include "targets/csv/text.hpp"

namespace athanor::targets::csv {
namespace {

constexpr std::string_view dangerous = "=+-@\t\r'";

/// Length of the UTF-8 sequence at `at`, 0 when it is none (RFC 3629: no surrogates, nothing overlong).
std::size_t sequence(std::string_view text, std::size_t at) {
    auto byte = [&](std::size_t i) { return i < text.size() ? static_cast<unsigned char>(text[i]) : 0U; };
    unsigned first = byte(at);
    if (first < 0x80) return 1;
    std::size_t size = first >= 0xF0 ? 4 : first >= 0xE0 ? 3 : 2;
    if (first < 0xC2 || first > 0xF4) return 0;
    for (std::size_t i = 1; i < size; ++i)
        if ((byte(at + i) & 0xC0U) != 0x80) return 0;
    unsigned second = byte(at + 1);
    if ((first == 0xE0 && second < 0xA0) || (first == 0xED && second > 0x9F) ||
        (first == 0xF0 && second < 0x90) || (first == 0xF4 && second > 0x8F))
        return 0;
    return size;
}

} // namespace

void append_field(std::string& out, std::string_view field) {
    if (field.find_first_of(",\"\r\n") == std::string_view::npos) {
        out += field;
        return;
    }
    out += '"';
    for (char c : field) {
        if (c == '"') out += '"';
        out += c;
    }
    out += '"';
}

bool split(std::string_view bytes, std::vector<std::vector<Cell>>& rows, ReadError& error) {
    std::size_t at = bytes.starts_with("\xEF\xBB\xBF") ? 3 : 0;
    std::size_t line = 1, line_start = at;
    auto fail = [&](std::size_t where, std::string message) {
        error = {line, where - line_start + 1, std::move(message)};
        return false;
    };
    std::vector<Cell> row;
    while (at < bytes.size()) {
        Cell cell{"", line, at - line_start + 1};
        bool quoted = bytes[at] == '"';
        if (quoted) {
            ++at;
            while (true) {
                if (at >= bytes.size()) {
                    error = {cell.line, cell.column, "this quote does not close"};
                    return false;
                }
                if (bytes[at] == '"') {
                    ++at;
                    if (at >= bytes.size() || bytes[at] != '"') break;
                }
                std::size_t size = bytes[at] == '\0' ? 0 : sequence(bytes, at);
                if (size == 0) return fail(at, "a byte that is no text (UTF-8)");
                cell.text += bytes.substr(at, size);
                bool line_end = bytes[at] == '\n';
                at += size;
                if (line_end) {
                    ++line;
                    line_start = at;
                }
            }
        } else {
            while (at < bytes.size() && bytes[at] != ',' && bytes[at] != '\n' && bytes[at] != '\r') {
                if (bytes[at] == '"') return fail(at, "a quote inside a field that does not begin with one");
                std::size_t size = bytes[at] == '\0' ? 0 : sequence(bytes, at);
                if (size == 0) return fail(at, "a byte that is no text (UTF-8)");
                cell.text += bytes.substr(at, size);
                at += size;
            }
        }
        row.push_back(std::move(cell));
        if (at < bytes.size() && bytes[at] == ',') {
            ++at;
            // A comma at the very end still opens one more, empty field.
            if (at == bytes.size())
                row.push_back({"", line, at - line_start + 1});
            else if (bytes[at] != '\r' && bytes[at] != '\n')
                continue;
            else
                row.push_back({"", line, at - line_start + 1});
        }
        if (at < bytes.size()) {
            if (bytes[at] == '\r') ++at;
            if (at >= bytes.size() || bytes[at] != '\n')
                return fail(at, quoted && bytes[at - 1] != '\r' ? "text behind a closing quote"
                                                                : "a carriage return without a line feed");
            ++at;
            ++line;
            line_start = at;
        }
        if (row.size() > 1 || !row.front().text.empty()) rows.push_back(std::move(row));
        row.clear();
    }
    return true;
}

std::string harmless(std::string_view text) {
    bool risky = !text.empty() && dangerous.find(text.front()) != std::string_view::npos;
    return risky ? "'" + std::string(text) : std::string(text);
}

std::string disarmed(std::string_view cell) {
    bool armed = cell.size() > 1 && cell[0] == '\'' && dangerous.find(cell[1]) != std::string_view::npos;
    return std::string(armed ? cell.substr(1) : cell);
}

} // namespace athanor::targets::csv
