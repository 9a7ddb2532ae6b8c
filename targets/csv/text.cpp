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

/// RFC 4180, with line ends of either form.
class Splitter {
public:
    Splitter(std::string_view bytes, std::vector<std::vector<Cell>>& rows, ReadError& error)
        : bytes_(bytes), rows_(rows), error_(error), at_(bytes.starts_with("\xEF\xBB\xBF") ? 3 : 0),
          line_start_(at_) {}

    bool run() {
        while (at_ < bytes_.size()) {
            std::vector<Cell> row;
            do {
                if (!field(row)) return false;
            } while (comma());
            if (!line_end()) return false;
            if (row.size() > 1 || !row.front().text.empty()) rows_.push_back(std::move(row));
        }
        return true;
    }

private:
    bool at(char c) const { return at_ < bytes_.size() && bytes_[at_] == c; }
    bool ended() const { return at_ >= bytes_.size(); }

    bool fail(std::string message) {
        error_ = {line_, at_ - line_start_ + 1, std::move(message)};
        return false;
    }

    /// An empty field, too: behind a last comma, or of an empty line.
    bool field(std::vector<Cell>& row) {
        Cell& cell = row.emplace_back(Cell{"", line_, at_ - line_start_ + 1});
        quoted_ = at('"');
        return quoted_ ? inside_quotes(cell) : plain(cell);
    }

    bool plain(Cell& cell) {
        while (!ended() && !at(',') && !at('\n') && !at('\r')) {
            if (at('"')) return fail("a quote inside a field that does not begin with one");
            if (!letter(cell)) return false;
        }
        return true;
    }

    bool inside_quotes(Cell& cell) {
        ++at_;
        while (true) {
            if (ended()) {
                error_ = {cell.line, cell.column, "this quote does not close"};
                return false;
            }
            if (at('"')) {
                ++at_;
                if (!at('"')) return true; // else two of them stand for one
            }
            const bool line_end = at('\n');
            if (!letter(cell)) return false;
            if (line_end) next_line();
        }
    }

    bool letter(Cell& cell) {
        const std::size_t size = at('\0') ? 0 : sequence(bytes_, at_);
        if (size == 0) return fail("a byte that is no text (UTF-8)");
        cell.text += bytes_.substr(at_, size);
        at_ += size;
        return true;
    }

    bool comma() {
        if (!at(',')) return false;
        ++at_;
        return true;
    }

    bool line_end() {
        if (ended()) return true;
        const bool returned = at('\r');
        if (returned) ++at_;
        if (!at('\n'))
            return fail(quoted_ && !returned ? "text behind a closing quote"
                                             : "a carriage return without a line feed");
        ++at_;
        next_line();
        return true;
    }

    void next_line() {
        ++line_;
        line_start_ = at_;
    }

    std::string_view bytes_;
    std::vector<std::vector<Cell>>& rows_;
    ReadError& error_;
    std::size_t at_, line_ = 1, line_start_;
    bool quoted_ = false; // the last field
};

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
    return Splitter(bytes, rows, error).run();
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
