#include "grammar/build.hpp"
#include "grammar/scan.hpp"

#include <algorithm>

namespace athanor::grammar {
namespace {

enum class Byte : std::uint8_t { blank, line_end, comment, symbol, quote, letter, digit };

constexpr auto byte_kinds = [] {
    std::array<Byte, 256> kinds{};
    kinds.fill(Byte::symbol);
    for (unsigned b = 0; b < 128; ++b) {
        const char c = static_cast<char>(b);
        kinds[b] = c == ' ' || c == '\t' || c == '\r' ? Byte::blank
                   : c == '\n'                        ? Byte::line_end
                   : c == '#'                         ? Byte::comment
                   : c == '"'                         ? Byte::quote
                   : digit(c)                         ? Byte::digit
                   : word_byte(c)                     ? Byte::letter
                                                      : Byte::symbol;
    }
    return kinds;
}();

Byte kind_of(char c) {
    return byte_kinds[static_cast<unsigned char>(c)];
}

} // namespace

bool degree_word(std::string_view word) {
    return word == "deg" || word == "degree" || word == "degrees" || word == "\u00B0" || word == "\u00BA";
}

std::string one_unit(std::string_view written) {
    const std::size_t first = std::min(written.find_first_of(". \t"), written.size());
    std::string out(written.substr(0, first));
    if (degree_word(out)) {
        const std::size_t scale = written.find_first_not_of(". \t", first);
        return scale == std::string_view::npos ? out : "deg" + one_unit(written.substr(scale));
    }
    for (std::size_t at = first; at < written.size(); ++at) {
        if (written[at] != ' ' && written[at] != '\t') {
            out += written[at];
            continue;
        }
        while (at + 1 < written.size() && (written[at + 1] == ' ' || written[at + 1] == '\t')) ++at;
        if (out.back() != '/' && at + 1 < written.size() && written[at + 1] != '/') out += '*';
    }
    return out;
}

std::uint32_t character_length(std::string_view text, std::uint32_t at) {
    std::uint32_t length = 1;
    while (at + length < text.size() && (static_cast<unsigned char>(text[at + length]) & 0xC0U) == 0x80U)
        ++length;
    return beyond_ascii(text[at]) ? length : 1;
}

std::uint32_t number_end(std::string_view text, std::uint32_t at) {
    const auto here = [&](std::uint32_t i) { return i < text.size() ? text[i] : '\0'; };
    char c = here(at);
    while (digit(c)) c = here(++at);
    if (c != '.' && c != 'e' && c != 'E') return at; // as nearly always
    if (c == '.' && digit(here(at + 1)))
        for (++at; digit(here(at));) ++at;
    if (here(at) == 'e' || here(at) == 'E') {
        std::uint32_t exponent = at + 1;
        if (here(exponent) == '+' || here(exponent) == '-') ++exponent;
        if (digit(here(exponent)))
            for (at = exponent; digit(here(at));) ++at;
    }
    return at;
}

void Build::grow() {
    nodes.resize(room_ += 64);
}

inline void Build::keep(std::uint32_t at, Seen& seen, Token token, std::uint32_t line_end) {
    seen = {at, token, token};
    if (line_end >= token.begin) return;
    seen.near = {Token::Type::end_of_line, Word::none, 0, false, line_end, line_end};
    // The next line is looked at from here and, by the statement that begins it, from its first word.
    Seen& next = seen_[token.begin % seen_.size()];
    if (&next == &seen) return;
    token.later_line = false;
    next = {token.begin, token, token};
}

/// Short words and whole numbers, which most tokens are, need no call.
void Build::scan(std::uint32_t at, Seen& seen) {
    const auto size = static_cast<std::uint32_t>(text_.size());
    const char* const text = text_.data();
    std::uint32_t begin = at, line_end = size;
    Byte kind = Byte::symbol;
    for (; begin < size; ++begin) {
        kind = kind_of(text[begin]);
        if (kind == Byte::blank) continue;
        if (kind != Byte::line_end) break;
        line_end = std::min(line_end, begin);
    }
    Token token;
    token.begin = token.end = begin;
    token.later_line = line_end < begin;
    if (kind == Byte::letter) {
        do ++token.end;
        while (token.end < size && kind_of(text[token.end]) >= Byte::letter); // or a digit
        const Spelling spelling({text + begin, size - begin}, token.end - begin);
        if (!spelling.whole()) return scan_any(at, seen);
        token.type = Token::Type::word;
        token.word = static_cast<Word>(lexicon.number(spelling));
    } else if (kind == Byte::digit) {
        do ++token.end;
        while (token.end < size && kind_of(text[token.end]) == Byte::digit);
        const char next = token.end < size ? text[token.end] : '\0';
        if (next == '.' || next == 'e' || next == 'E') return scan_any(at, seen);
        token.type = Token::Type::number;
    } else {
        return scan_any(at, seen);
    }
    keep(at, seen, token, line_end);
}

void Build::scan_any(std::uint32_t at, Seen& seen) {
    const std::uint32_t from = at;
    const auto size = static_cast<std::uint32_t>(text_.size());
    std::uint32_t line_end = size; // or the comment before it
    bool later_line = false;
    Byte kind = Byte::symbol;
    for (; at < size; ++at) {
        kind = kind_of(text_[at]);
        if (kind == Byte::blank) continue;
        if (kind > Byte::comment) break;
        line_end = std::min(line_end, at);
        if (kind == Byte::line_end)
            later_line = true;
        else
            at = end_of_line(text_, at) - 1;
    }
    Token token;
    token.begin = at;
    token.later_line = later_line;
    if (at >= size) {
        token.type = Token::Type::end_of_file;
    } else if (kind == Byte::letter) {
        do ++at;
        while (at < size && kind_of(text_[at]) >= Byte::letter);
        token.type = Token::Type::word;
        token.word = word_of(text_.substr(token.begin), at - token.begin);
    } else if (kind == Byte::digit) {
        token.type = Token::Type::number;
        at = number_end(text_, at);
    } else if (kind == Byte::quote) {
        at = end_of_text(text_, at);
        const bool closed = at < size && text_[at] == '"';
        token.type = closed ? Token::Type::text : Token::Type::unclosed_text;
        if (closed) ++at;
    } else {
        at = scan_symbol(token);
    }
    token.end = at;
    keep(from, seen, token, line_end);
}

std::uint32_t Build::scan_symbol(Token& token) const {
    const auto here = [&](std::uint32_t i) { return i < text_.size() ? text_[i] : '\0'; };
    std::uint32_t at = token.begin;
    const char c = text_[at];
    token.type = Token::Type::symbol;
    token.symbol = c;
    ++at;
    if ((c == '<' || c == '>') && here(at) == '=') {
        token.symbol = c == '<' ? less_equal : greater_equal;
        ++at;
    } else if (c == '+' && here(at) == '/' && here(at + 1) == '-') {
        token.symbol = plus_minus;
        at += 2;
    } else if (c == '\xC2' && here(at) == '\xB1') {
        token.symbol = plus_minus;
        ++at;
    } else if (beyond_ascii(c)) {
        token.symbol = other;
        at = token.begin + character_length(text_, token.begin);
    }
    return at;
}

Trouble& Build::tell(Trouble::Kind kind, std::uint32_t begin, std::uint32_t end) {
    const bool goes_on = kind == Trouble::Kind::unknown_unit || kind == Trouble::Kind::comma_decimal ||
                         kind == Trouble::Kind::clock_time || kind == Trouble::Kind::capital ||
                         kind == Trouble::Kind::misspelt;
    if (statement.told == 0) statement.read_past = true;
    bool known = statement.told != 0 && !(goes_on && statement.read_past);
    // A rule that is tried a second time stops at the same places.
    for (auto at = troubles.rbegin();
         !known && statement.told != 0 && at != troubles.rend() && at->statement_begin == statement.begin; ++at)
        known = at->kind == kind && at->begin == begin;
    ++statement.told;
    statement.read_past = statement.read_past && goes_on;
    if (known) {
        silent_ = Trouble{};
        return silent_;
    }
    Trouble& trouble = troubles.emplace_back();
    trouble.kind = kind;
    trouble.statement = statement.kind;
    trouble.word = statement.word;
    trouble.statement_begin = statement.begin;
    trouble.begin = begin;
    trouble.end = end;
    return trouble;
}

void Build::tell_stop() {
    const Token found = peek(furthest);
    Trouble& trouble =
        tell(Trouble::Kind::unexpected, furthest, found.begin == furthest ? found.end : furthest);
    trouble.wanted.assign(wanted_.begin(), wanted_.begin() + static_cast<std::ptrdiff_t>(wanted_count_));
}

} // namespace athanor::grammar
