// Numbers, units and times of other habits, where reading stopped at them.
#include "compiler/source/invisible.hpp"
#include "grammar/place.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <optional>

namespace athanor::grammar {

namespace {

using Sign = std::string_view;

constexpr std::array times{Sign("*"), Sign("\u00B7"), Sign("\u00D7"), Sign("\u22C5")};
constexpr std::array raised{Sign("\u2070"), Sign("\u00B9"), Sign("\u00B2"), Sign("\u00B3"), Sign("\u2074"),
                            Sign("\u2075"), Sign("\u2076"), Sign("\u2077"), Sign("\u2078"), Sign("\u2079")};
constexpr Sign raised_minus = "\u207B", minus = "\u2212";

bool skip(std::string_view text, std::uint32_t& at, Sign sign) {
    if (text.substr(at, sign.size()) != sign) return false;
    at += static_cast<std::uint32_t>(sign.size());
    return true;
}

/// Where the number that ends at `end` begins; `end` where it is the end of a name.
std::uint32_t number_before(std::string_view text, std::uint32_t end) {
    std::uint32_t begin = end;
    while (begin > 0 && (digit(text[begin - 1]) || text[begin - 1] == '.')) --begin;
    return begin > 0 && word_byte(text[begin - 1]) ? end : begin;
}

/// `10^-3` as far as it is read: where it begins, what stands before the ten, and the place behind the ten.
struct TenTo {
    std::uint32_t begin = 0, behind_ten = 0;
    std::string_view mantissa; // empty: the ten stands alone
};

/// Reading stopped at the sign of multiplication, or behind the ten.
std::optional<TenTo> ten_at(const Place& p) {
    const std::uint32_t end = p.before(), begin = number_before(p.text, end);
    if (begin == end) return std::nullopt;
    std::uint32_t at = p.at;
    if (std::any_of(times.begin(), times.end(), [&](Sign sign) { return skip(p.text, at, sign); })) {
        at = past_blanks(p.text, at);
        if (!skip(p.text, at, "10") || (at < p.text.size() && digit(p.text[at]))) return std::nullopt;
        return TenTo{begin, at, p.text.substr(begin, end - begin)};
    }
    if (p.text.substr(begin, end - begin) != "10") return std::nullopt;
    const auto past_blanks_back = [&](std::uint32_t left) {
        while (left > 0 && p.text[left - 1] == ' ') --left;
        return left;
    };
    TenTo ten{begin, at, {}};
    std::uint32_t left = past_blanks_back(begin);
    if (left > 0 && p.text[left - 1] == '*') { // read as a product
        left = past_blanks_back(left - 1);
        const std::uint32_t number = number_before(p.text, left);
        ten.mantissa = p.text.substr(number, left - number);
        if (!ten.mantissa.empty()) ten.begin = number; // else a name stands before the sign: `peak * 10^2`
    }
    return ten;
}

/// `^-3` or `⁻³` as "-3", `at` behind it; no digit behind the sign where there is none.
std::string exponent_at(std::string_view text, std::uint32_t& at) {
    std::string exponent;
    if (skip(text, at, "^")) {
        if (skip(text, at, "-") || skip(text, at, minus)) exponent = "-";
        while (at < text.size() && digit(text[at])) exponent += text[at++];
        return exponent;
    }
    if (skip(text, at, raised_minus)) exponent = "-";
    const auto raised_digit = [&] {
        return std::find_if(raised.begin(), raised.end(), [&](Sign sign) { return skip(text, at, sign); });
    };
    for (auto found = raised_digit(); found != raised.end(); found = raised_digit())
        exponent += static_cast<char>('0' + (found - raised.begin()));
    return exponent;
}

} // namespace

/// `10^-3 mbar`, `1·10⁻³ mbar`, `2 x 10^-3 mbar`
bool power_of_ten(const Place& p, Diagnostics& out) {
    const std::optional<TenTo> ten = ten_at(p);
    if (!ten) return false;
    std::uint32_t end = ten->behind_ten;
    const std::string exponent = exponent_at(p.text, end);
    if (exponent.empty() || !digit(exponent.back())) return false;
    const std::string written = fmt::format("{}e{}", ten->mantissa.empty() ? "1" : ten->mantissa, exponent);
    const Span span{p.file, ten->begin, end};
    Diagnostic& d = out.error(Code::syntax, span, "a power of ten is written with `e`");
    const std::size_t sign = p.text.substr(0, ten->begin).find_last_not_of(" \t\r\n-");
    // `6 h / 2 * 10^3` is a thousand times three hours by the order of signs, which may not be what is meant.
    if (!ten->mantissa.empty() && sign != std::string_view::npos && p.text[sign] == '/')
        d.remedy(
            fmt::format("write `/ {}` where it is divided by that number, or `/ {} * 1e{}` where the power "
                        "multiplies it",
                        written, ten->mantissa, exponent));
    else
        d.remedy(fmt::format("write `{}`", written)).mend(span, written);
    return true;
}

/// `1 mbar abs`
bool absolute_pressure(const Place& p, Diagnostics& out) {
    if (p.word != "abs" && p.word != "absolute") return false;
    const std::uint32_t end = p.before();
    std::uint32_t unit = end;
    while (unit > 0 && word_byte(p.text[unit - 1])) --unit;
    const Unit* row = unit_named(p.text.substr(unit, end - unit));
    if (row == nullptr || row->kind != Kind::pressure) return false;
    const std::uint32_t behind = p.at + static_cast<std::uint32_t>(p.word.size());
    out.error(Code::syntax, {p.file, p.at, behind}, "a pressure is absolute where `gauge` does not follow it")
        .remedy(fmt::format("leave `{}` out", p.word))
        .mend({p.file, end, behind}, "");
    return true;
}

/// `5 K per min`
bool per(const Place& p, Diagnostics& out) {
    if (p.word != "per") return false;
    const std::uint32_t unit_end = p.before();
    std::uint32_t unit = unit_end;
    while (unit > 0 && (word_byte(p.text[unit - 1]) || beyond_ascii(p.text[unit - 1]))) --unit;
    const std::uint32_t next = past_blanks(p.text, p.at + 3);
    std::uint32_t end = next;
    while (end < p.text.size() && word_byte(p.text[end])) ++end;
    if (unit == unit_end || end == next) return false;
    std::string whole =
        fmt::format("{}/{}", p.text.substr(unit, unit_end - unit), p.text.substr(next, end - next));
    const bool sure = unit_named(whole) != nullptr || surely_unit(whole);
    if (unit_named(whole) == nullptr) whole = suggest_unit(whole);
    if (whole.empty()) return false;
    Span span{p.file, unit, end};
    Diagnostic& d = out.error(Code::syntax, span, "a unit is divided with `/`");
    d.remedy(fmt::format("{} `{}`", sure ? "write" : "perhaps", whole));
    if (sure) d.mend(span, whole);
    return true;
}

/// `10 500`: digits in groups.
bool digit_group(const Place& p, Diagnostics& out) {
    const std::uint32_t end = number_end(p.text, p.at);
    std::uint32_t begin = p.before();
    if (!digit(p.here()) || begin == p.at || begin == 0 || !digit(p.text[begin - 1])) return false;
    if (end < p.at + 3 || (end > p.at + 3 && p.text[p.at + 3] != '.')) return false;
    const std::uint32_t gap = begin;
    while (begin > 0 && digit(p.text[begin - 1])) --begin;
    if (begin > 0 && (p.text[begin - 1] == '.' || word_byte(p.text[begin - 1])))
        return false; // no whole number
    if (gap - begin > 3 || p.text.substr(gap, p.at - gap).find('\n') != std::string_view::npos) return false;
    const std::string_view left = p.text.substr(begin, gap - begin), right = p.text.substr(p.at, end - p.at);
    Diagnostic& d = out.error(Code::syntax, {p.file, begin, end},
                              fmt::format("`{} {}`: the digits of one number stand together", left, right));
    if (p.wants(Wanted::Class::symbol, ',')) // two values of a list, as well
        d.remedy(fmt::format("write `{}{}`, or `{}, {}` where two are meant", left, right, left, right));
    else
        d.remedy(fmt::format("write `{}{}`", left, right)).mend({p.file, gap, p.at}, "");
    return true;
}

bool bare_decimal(const Place& p, Diagnostics& out) {
    if (p.here() != '.' || !digit(p.here(1))) return false;
    bool leading = p.at == 0 || !digit(p.text[p.at - 1]);
    if (!leading) return false;
    out.error(Code::syntax, p.span(), "a number begins with a digit")
        .remedy("write `0.` and the decimals")
        .mend({p.file, p.at, p.at}, "0");
    return true;
}

/// `30'`, `1'800 s`
bool apostrophe(const Place& p, Diagnostics& out) {
    if (p.here() != '\'') return false;
    std::uint32_t begin = p.at;
    while (begin > 0 && digit(p.text[begin - 1])) --begin;
    const std::string_view left = p.text.substr(begin, p.at - begin);
    if (left.empty()) {
        const std::string_view line = p.text.substr(p.at + 1, end_of_line(p.text, p.at) - p.at - 1);
        const std::size_t close = line.find('\'');
        Diagnostic& d =
            out.error(Code::syntax, p.span(), "a text stands in double quotes").remedy("write `\"…\"`");
        if (close != std::string_view::npos && line.substr(0, close).find('"') == std::string_view::npos)
            d.mend({p.file, p.at, p.at + 2 + static_cast<std::uint32_t>(close)},
                   fmt::format("\"{}\"", line.substr(0, close)));
        return true;
    }
    std::uint32_t end = p.at + 1;
    while (end < p.text.size() && digit(p.text[end])) ++end;
    const std::string_view right = p.text.substr(p.at + 1, end - p.at - 1);
    const Span span{p.file, begin, end};
    if (right.size() == 3 && left.size() <= 3) {
        out.error(Code::syntax, span,
                  fmt::format("`{}'{}`: the digits of one number stand together", left, right))
            .remedy(fmt::format("write `{}{}`", left, right))
            .mend({p.file, p.at, p.at + 1}, "");
        return true;
    }
    Diagnostic& d =
        out.error(Code::syntax, span,
                  fmt::format("`{}` is no unit here: minutes are written `min`, and seconds `s`", "'"));
    d.remedy(fmt::format("where minutes are meant, write `{} min{}`", left,
                         right.empty() ? "" : fmt::format(" {} s", right)));
    return true;
}

/// `½ h`, `1½ h`
bool vulgar_fraction(const Place& p, Diagnostics& out) {
    struct Fraction {
        std::string_view sign, decimals;
    };
    constexpr std::array fractions{Fraction{"\u00BD", ".5"}, Fraction{"\u00BC", ".25"},
                                   Fraction{"\u00BE", ".75"}, Fraction{"\u215B", ".125"}};
    for (const auto& [sign, decimals] : fractions) {
        if (p.text.substr(p.at, sign.size()) != sign) continue;
        std::uint32_t begin = p.at;
        while (begin > 0 && digit(p.text[begin - 1])) --begin;
        const std::string_view whole = p.text.substr(begin, p.at - begin);
        if (begin > 0 && (word_byte(p.text[begin - 1]) || p.text[begin - 1] == '.')) return false;
        const Span span{p.file, begin, p.at + static_cast<std::uint32_t>(sign.size())};
        const std::string written = fmt::format("{}{}", whole.empty() ? "0" : whole, decimals);
        out.error(Code::syntax, span, "a fraction is written with a decimal point")
            .remedy(fmt::format("write `{}`", written))
            .mend(span, written);
        return true;
    }
    return false;
}

/// `1 h 30`, `1 h 30m`
bool minutes_behind_hours(const Place& p, Diagnostics& out) {
    if (!digit(p.here())) return false;
    const std::uint32_t end = number_end(p.text, p.at), before = p.before();
    std::uint32_t unit = before;
    while (unit > 0 && letter(p.text[unit - 1])) --unit;
    const Unit* larger = unit_named(p.text.substr(unit, before - unit));
    if (larger == nullptr || larger->kind != Kind::time || unit == 0) return false;
    std::uint32_t number = unit;
    while (number > 0 && (p.text[number - 1] == ' ' || digit(p.text[number - 1]) || p.text[number - 1] == '.'))
        --number;
    number = past_blanks(p.text, number);
    if (number >= unit || !digit(p.text[number])) return false;
    if (p.text.substr(before, p.at - before).find('\n') != std::string_view::npos) return false;
    const std::string_view next = larger->spelling == "h" ? "min" : larger->spelling == "min" ? "s" : "";
    const std::string_view figure = p.text.substr(p.at, end - p.at);
    const std::uint32_t behind = past_blanks(p.text, end);
    const std::string_view word = word_at(p.text, behind);
    if (next.empty() || (word == "m" && next != "min")) return false;
    const std::string written = fmt::format("{} {} {}", p.text.substr(number, before - number), figure, next);
    if (word == "m") {
        const Span span{p.file, behind, behind + 1};
        out.error(Code::unknown_unit, span, std::string(metre_and_minute))
            .remedy(fmt::format("write `{}`", written))
            .mend(span, end == behind ? " min" : "min");
        return true;
    }
    if (const Unit* meant = unit_named(suggest_unit(word));
        meant != nullptr && surely_unit(word) && meant->kind == Kind::time) {
        const Span span{p.file, behind, behind + static_cast<std::uint32_t>(word.size())};
        out.error(Code::unknown_unit, span, fmt::format("unknown unit `{}`", word))
            .remedy(fmt::format("write `{} {}`", figure, meant->spelling))
            .mend(span, std::string(meant->spelling));
        return true;
    }
    if (!word.empty() && !reserved(word_of(word))) return false;
    out.error(Code::missing_unit, {p.file, p.at, end}, fmt::format("`{}` behind a time has no unit", figure))
        .remedy(fmt::format("where it is meant so, write `{}`", written));
    return true;
}

/// `500 К` with a letter of another alphabet: nobody sees which one it is.
bool foreign_letter(const Place& p, Diagnostics& out) {
    struct Letter {
        std::string_view wrong;
        char right;
    };
    constexpr std::array letters{
        Letter{"\u0410", 'A'}, Letter{"\u0412", 'B'}, Letter{"\u0421", 'C'}, Letter{"\u0415", 'E'},
        Letter{"\u041D", 'H'}, Letter{"\u041A", 'K'}, Letter{"\u041C", 'M'}, Letter{"\u041E", 'O'},
        Letter{"\u0420", 'P'}, Letter{"\u0422", 'T'}, Letter{"\u0425", 'X'}, Letter{"\u0430", 'a'},
        Letter{"\u0435", 'e'}, Letter{"\u043E", 'o'}, Letter{"\u0440", 'p'}, Letter{"\u0441", 'c'},
        Letter{"\u0443", 'y'}, Letter{"\u0445", 'x'}, Letter{"\u0456", 'i'}, Letter{"\u0455", 's'},
        Letter{"\u0391", 'A'}, Letter{"\u0392", 'B'}, Letter{"\u0395", 'E'}, Letter{"\u0396", 'Z'},
        Letter{"\u0397", 'H'}, Letter{"\u0399", 'I'}, Letter{"\u039A", 'K'}, Letter{"\u039C", 'M'},
        Letter{"\u039D", 'N'}, Letter{"\u039F", 'O'}, Letter{"\u03A1", 'P'}, Letter{"\u03A4", 'T'},
        Letter{"\u03A5", 'Y'}, Letter{"\u03A7", 'X'}, Letter{"\u03BF", 'o'}, Letter{"\u212A", 'K'}};
    constexpr std::string_view apart = " \t\r\n(){}[],;=\"#";
    std::uint32_t begin = p.at, end = p.at;
    while (begin > 0 && apart.find(p.text[begin - 1]) == std::string_view::npos) --begin;
    while (end < p.text.size() && apart.find(p.text[end]) == std::string_view::npos) ++end;
    if (digit(p.text[begin])) begin = number_end(p.text, begin);
    std::string meant;
    const Letter* first = nullptr;
    for (std::uint32_t at = begin; at < end;) {
        const std::string_view one = p.text.substr(at, character_length(p.text, at));
        const auto* found =
            std::find_if(letters.begin(), letters.end(), [&](const Letter& l) { return l.wrong == one; });
        if (found != letters.end() && first == nullptr) first = found;
        if (found != letters.end())
            meant += found->right;
        else
            meant += one;
        at += static_cast<std::uint32_t>(one.size());
    }
    if (first == nullptr) return false;
    const char32_t character = character_at(first->wrong, 0).code;
    const char* alphabet = character == 0x212A  ? "the sign of the kelvin"
                           : character < 0x0400 ? "a Greek letter"
                                                : "a Cyrillic letter";
    const Span span{p.file, begin, end};
    out.error(Code::syntax, span,
              fmt::format("`{}`, U+{:04X}, is {} and only looks like the letter `{}`", first->wrong,
                          static_cast<std::uint32_t>(character), alphabet, first->right))
        .remedy(fmt::format("type it anew: `{}`", meant))
        .mend(span, meant);
    return true;
}

} // namespace athanor::grammar
