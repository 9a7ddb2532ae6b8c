#include "grammar/build.hpp"

namespace athanor::grammar {
namespace {

constexpr auto in_word = [] {
    std::array<bool, 256> bytes{};
    for (unsigned b = 0; b < 128; ++b) bytes[b] = word_byte(static_cast<char>(b));
    return bytes;
}();

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
    Token& token = seen.token;
    bool crossed = false; // a line end or a comment
    seen.at = at;
    auto size = static_cast<std::uint32_t>(text_.size());
    const char* text = text_.data();
    token.later_line = false;
    token.word = Word::none;
    token.symbol = 0;
    for (;;) {
        at = past_blanks(text_, at);
        if (!lines || at >= size) break;
        if (text[at] == '\n') {
            token.later_line = crossed = true;
            ++at;
        } else if (text[at] == '#') {
            crossed = true;
            while (at < size && text[at] != '\n') ++at;
        } else {
            break;
        }
    }
    token.begin = at;
    auto here = [&](std::uint32_t i) { return i < size ? text[i] : '\0'; };
    char c = here(at);
    if (at >= size) {
        token.type = Token::Type::end_of_file;
    } else if (c == '\n' || c == '#') {
        token.type = Token::Type::end_of_line;
    } else if (letter(c) || c == '_') {
        while (at < size && in_word[static_cast<unsigned char>(text[at])]) ++at;
        token.type = Token::Type::word;
        token.word = word_of(text_.substr(token.begin, at - token.begin));
    } else if (digit(c)) {
        token.type = Token::Type::number;
        at = number_end(text_, at);
    } else if (c == '"') {
        for (++at; at < size && text[at] != '"' && text[at] != '\n';) ++at;
        token.type = here(at) == '"' ? Token::Type::text : Token::Type::unclosed_text;
        if (token.type == Token::Type::text) ++at;
    } else {
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
    token.end = at;
    seen.lines = lines;
    seen.plain = !crossed && token.type != Token::Type::end_of_line;
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
