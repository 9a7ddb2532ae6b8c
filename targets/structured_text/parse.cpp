// The part of the language in which the writer writes: comments, type declarations (kept as text), constants.
#include "targets/structured_text/structured_text.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace athanor::targets::structured_text {
namespace {

struct Wrong {
    ReadError error;
};

constexpr int deepest = 8; // arrays in structures in arrays: the writer needs three

class Parser {
public:
    explicit Parser(std::string_view bytes) : bytes_(bytes) {}

    Parsed run() {
        Parsed parsed;
        for (std::string word = name(); !word.empty(); word = name()) {
            if (word == "TYPE") {
                types(parsed);
                continue;
            }
            if (word != "VAR_GLOBAL" || name() != "CONSTANT") wrong("TYPE or VAR_GLOBAL CONSTANT is expected");
            while (true) {
                std::string constant = name();
                if (constant == "END_VAR") break;
                if (constant.empty()) wrong("a name or END_VAR is expected");
                parsed.constants.emplace_back(constant, constant_value());
            }
        }
        skip();
        if (at_ < bytes_.size()) wrong("nothing is expected here");
        parsed.outputs = std::move(outputs_);
        return parsed;
    }

private:
    void types(Parsed& parsed) {
        if (!parsed.types.empty()) wrong("a second TYPE");
        const std::size_t begin = at_ - 4; // its own word
        parsed.types_line = line_number(begin);
        std::string word;
        while (at_ < bytes_.size() && word != "END_TYPE") word = any();
        if (word != "END_TYPE") wrong("TYPE without END_TYPE");
        parsed.types = single_blanks(bytes_.substr(begin, at_ - begin));
    }

    Value constant_value() {
        expect(':');
        skip();
        const std::size_t begin = at_;
        while (at_ < bytes_.size() && !(peek() == ':' && bytes_.substr(at_, 2) == ":=")) any();
        if (at_ >= bytes_.size()) wrong("a constant has a value behind `:=`");
        std::string type = single_blanks(bytes_.substr(begin, at_ - begin));
        at_ += 2;
        Value out = value(0);
        out.type = std::move(type);
        expect(';');
        std::size_t end = at_;
        while (end < bytes_.size() && bytes_[end] == ' ') ++end;
        if (bytes_.substr(end, 2) == "(*")
            if (const std::size_t close = bytes_.find("*)", end + 2); close != std::string_view::npos)
                out.unit = single_blanks(bytes_.substr(end + 2, close - end - 2));
        return out;
    }

    std::size_t line_number(std::size_t at) const {
        const std::string_view before = bytes_.substr(0, at);
        return 1 + static_cast<std::size_t>(std::count(before.begin(), before.end(), '\n'));
    }

    [[noreturn]] void wrong(std::string message) const {
        std::string_view before = bytes_.substr(0, std::min(at_, bytes_.size()));
        std::size_t line_begin = before.rfind('\n');
        throw Wrong{{1 + static_cast<std::size_t>(std::count(before.begin(), before.end(), '\n')),
                     line_begin == std::string_view::npos ? before.size() + 1 : before.size() - line_begin,
                     std::move(message)}};
    }

    void skip() {
        while (at_ < bytes_.size()) {
            if (std::string_view(" \t\r\n").find(bytes_[at_]) != std::string_view::npos) {
                ++at_;
            } else if (bytes_.substr(at_).starts_with("(*")) {
                std::size_t end = bytes_.find("*)", at_ + 2);
                if (end == std::string_view::npos) wrong("a comment that does not end");
                const std::string text = single_blanks(bytes_.substr(at_ + 2, end - at_ - 2));
                if (text.starts_with("bit ") && text.find(" of Outputs: ") != std::string::npos)
                    outputs_.emplace_back(text, line_number(at_));
                at_ = end + 2;
            } else {
                return;
            }
        }
    }
    char peek() {
        skip();
        return at_ < bytes_.size() ? bytes_[at_] : '\0';
    }
    static bool in_word(char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_';
    }
    std::string name() {
        skip();
        std::size_t end = at_;
        while (end < bytes_.size() && in_word(bytes_[end])) ++end;
        std::string word(bytes_.substr(at_, end - at_));
        at_ = end;
        return word;
    }
    /// A word, or one character.
    std::string any() {
        std::string word = name();
        if (word.empty() && at_ < bytes_.size()) word = bytes_[at_++];
        return word;
    }
    void expect(char c) {
        if (peek() != c) wrong(fmt::format("`{}` is expected", c));
        ++at_;
    }

    Value value(int depth) {
        Value out;
        char c = peek();
        if (depth > deepest) wrong("nested too deep");
        std::string_view before = bytes_.substr(0, at_);
        std::size_t line_begin = before.rfind('\n');
        // Only the last lines of a file are counted again and again: a table is small.
        out.line = 1 + static_cast<std::size_t>(std::count(before.begin(), before.end(), '\n'));
        out.column = line_begin == std::string_view::npos ? at_ + 1 : at_ - line_begin;
        if (c == '[') {
            ++at_;
            do out.list.push_back(value(depth + 1));
            while (comma());
            expect(']');
        } else if (c == '(') {
            ++at_;
            do {
                std::string field = name();
                if (field.empty()) wrong("a name is expected");
                expect(':');
                if (at_ >= bytes_.size() || bytes_[at_] != '=') wrong("`:=` is expected");
                ++at_;
                out.fields.emplace_back(field, value(depth + 1));
            } while (comma());
            expect(')');
        } else if (c == '\'') {
            string(out);
        } else {
            std::size_t end = at_;
            while (end < bytes_.size() && (in_word(bytes_[end]) || std::string_view("-+.#").find(bytes_[end]) !=
                                                                       std::string_view::npos))
                ++end;
            out.text = bytes_.substr(at_, end - at_);
            if (out.text.empty()) wrong("a value is expected");
            at_ = end;
        }
        return out;
    }
    bool comma() {
        if (peek() != ',') return false;
        ++at_;
        return true;
    }
    void string(Value& out) {
        out.string = true;
        auto digit = [](char c) -> int {
            return c >= '0' && c <= '9' ? c - '0' : c >= 'A' && c <= 'F' ? c - 'A' + 10 : -1;
        };
        for (++at_; at_ < bytes_.size() && bytes_[at_] != '\''; ++at_) {
            if (bytes_[at_] != '$') {
                out.text += bytes_[at_];
                continue;
            }
            char c = at_ + 1 < bytes_.size() ? bytes_[at_ + 1] : '\0';
            int high = digit(c), low = at_ + 2 < bytes_.size() ? digit(bytes_[at_ + 2]) : -1;
            if (c == '$' || c == '\'') {
                out.text += c;
                ++at_;
            } else if (high >= 0 && low >= 0) {
                out.text += static_cast<char>(static_cast<unsigned char>(high * 16 + low));
                at_ += 2;
            } else {
                wrong("`$` stands before `$`, `'` or two hexadecimal digits");
            }
        }
        if (at_ >= bytes_.size()) wrong("a string that does not end");
        ++at_;
    }

    std::string_view bytes_;
    std::size_t at_ = 0;
    std::vector<std::pair<std::string, std::size_t>> outputs_;
};

} // namespace

bool parse(std::string_view bytes, Parsed& parsed, ReadError& error) {
    try {
        parsed = Parser(bytes).run();
        return true;
    } catch (const Wrong& wrong) {
        error = wrong.error;
        return false;
    }
}

} // namespace athanor::targets::structured_text
