#include "grammar/build.hpp"

namespace athanor::grammar {
namespace {

enum class Byte : std::uint8_t { symbol, blank, line_end, comment, letter, digit, quote };

constexpr auto byte_kinds = [] {
    std::array<Byte, 256> kinds{};
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

std::uint32_t character_length(std::string_view text, std::uint32_t at) {
    std::uint32_t length = 1;
    while (at + length < text.size() && (static_cast<unsigned char>(text[at + length]) & 0xC0U) == 0x80U)
        ++length;
    return beyond_ascii(text[at]) ? length : 1;
}

std::uint32_t number_end(std::string_view text, std::uint32_t at) {
    auto here = [&](std::uint32_t i) { return i < text.size() ? text[i] : '\0'; };
    while (digit(here(at))) ++at;
    if (here(at) == '.' && digit(here(at + 1)))
        for (++at; digit(here(at));) ++at;
    if (here(at) == 'e' || here(at) == 'E') {
        std::uint32_t exponent = at + 1;
        if (here(exponent) == '+' || here(exponent) == '-') ++exponent;
        if (digit(here(exponent)))
            for (at = exponent; digit(here(at));) ++at;
    }
    return at;
}

void Build::scan(std::uint32_t at, bool lines, Seen& seen) const {
    const auto size = static_cast<std::uint32_t>(text_.size());
    const char* const text = text_.data();
    const auto here = [&](std::uint32_t i) { return i < size ? text[i] : '\0'; };
    seen.at = at;
    seen.lines = lines;
    bool later_line = false, comment = false;
    Byte kind = Byte::symbol;
    for (; at < size; ++at) {
        kind = kind_of(text[at]);
        if (kind == Byte::blank) continue;
        if (!lines || (kind != Byte::line_end && kind != Byte::comment)) break;
        if (kind == Byte::line_end) {
            later_line = true;
            continue;
        }
        comment = true;
        while (at + 1 < size && text[at + 1] != '\n') ++at;
    }
    Token& token = seen.token;
    token.begin = at;
    token.later_line = later_line;
    token.word = Word::none;
    token.symbol = 0;
    if (at >= size) {
        token.type = Token::Type::end_of_file;
    } else {
        switch (kind) {
        case Byte::blank: // none is left here
        case Byte::line_end:
        case Byte::comment: token.type = Token::Type::end_of_line; break;
        case Byte::letter:
            do ++at;
            while (at < size && (kind_of(text[at]) == Byte::letter || kind_of(text[at]) == Byte::digit));
            token.type = Token::Type::word;
            token.word = word_of(text_.substr(token.begin, at - token.begin));
            break;
        case Byte::digit:
            token.type = Token::Type::number;
            at = number_end(text_, at);
            break;
        case Byte::quote:
            for (++at; at < size && text[at] != '"' && text[at] != '\n';) ++at;
            token.type = here(at) == '"' ? Token::Type::text : Token::Type::unclosed_text;
            if (token.type == Token::Type::text) ++at;
            break;
        case Byte::symbol: {
            const char c = text[at];
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
        }
        }
    }
    token.end = at;
    seen.plain = !later_line && !comment && token.type != Token::Type::end_of_line;
}

Trouble& Build::tell(Trouble::Kind kind, std::uint32_t begin, std::uint32_t end) {
    if (statement.told++ != 0) {
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
    bool lines = brackets != 0 || furthest == joined_at;
    Token found = look(furthest, lines);
    Trouble& trouble =
        tell(Trouble::Kind::unexpected, furthest, found.begin == furthest ? found.end : furthest);
    trouble.wanted.assign(wanted_.begin(), wanted_.begin() + static_cast<std::ptrdiff_t>(wanted_count_));
}

} // namespace athanor::grammar
