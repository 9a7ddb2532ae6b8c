#include "compiler/quantity/unit.hpp"

#include "compiler/source/spelling.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cstdint>

namespace athanor {

namespace {

#define UNIT(spelling, ...) std::string_view(spelling),
#define DERIVED(spelling, ...) std::string_view(spelling),
#define ALSO(spelling, of) std::string_view(spelling),
constexpr std::array spellings{
#include "compiler/quantity/units.def"
};
#undef UNIT
#undef DERIVED
#undef ALSO
constexpr Lexicon lexicon(spellings);

/// The integer whose reciprocal a factor is, or 0.
constexpr double inverse_of(double factor) {
    constexpr double largest = 1e15; // whose half is still told apart
    if (factor >= 1 || 1 / factor > largest) return 0;
    const auto inverse = static_cast<double>(static_cast<std::int64_t>(1 / factor + 0.5));
    return 1 / inverse == factor ? inverse : 0;
}

constexpr auto rows = [] {
    std::array<Unit, spellings.size()> table{};
    std::size_t next = 0;
    const auto add = [&](Unit row) {
        row.inverse = inverse_of(row.factor);
        table[next++] = row;
    };
    const auto also = [&](std::string_view spelling, std::string_view of) {
        Unit row = table[lexicon.number(of) - 1];
        row.spelling = spelling;
        row.alternative = true;
        add(row);
    };
#define UNIT(spelling, kind, factor, offset, ucum, source)                                                     \
    add({spelling, Kind::kind, factor, offset, ucum, source, false, dimension_of(Kind::kind), 0});
#define DERIVED(spelling, dimension, factor, ucum, source)                                                     \
    add({spelling, Kind::derived, factor, 0, ucum, source, false, dimension, 0});
#define ALSO(spelling, of) also(spelling, of);
#include "compiler/quantity/units.def"
#undef UNIT
#undef DERIVED
#undef ALSO
    return table;
}();

constexpr bool ascii_digit(char c) {
    return c >= '0' && c <= '9';
}

constexpr bool ascii_letter(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

constexpr bool beyond_ascii(char c) {
    return static_cast<unsigned char>(c) >= 0x80;
}

/// What a byte is behind the beginning of a unit: one that spellings are made of, or one that no unit ends
/// before.
enum class Byte : std::uint8_t { other, unit, joining };

constexpr auto bytes = [] {
    std::array<Byte, 256> kinds{};
    for (unsigned b = 0; b < kinds.size(); ++b) {
        const char c = static_cast<char>(b);
        if (ascii_letter(c) || ascii_digit(c) || beyond_ascii(c) || c == '/' || c == '*' || c == '%')
            kinds[b] = Byte::unit;
        else if (c == '_' || c == '^')
            kinds[b] = Byte::joining;
    }
    return kinds;
}();
constexpr Byte kind_of(char c) {
    return bytes[static_cast<unsigned char>(c)];
}
constexpr bool unit_byte(char c) {
    return kind_of(c) == Byte::unit;
}

/// Does a unit end before `rest`? Not where a letter, digit, '_' or a letter beyond ASCII goes on ("mm²" is not
/// mm), except the sign ± of an uncertainty.
bool ends_before(std::string_view rest) {
    if (rest.empty()) return true;
    const char c = rest[0];
    if (!unit_byte(c)) return c != '_';
    return beyond_ascii(c) ? rest.starts_with("±") : !ascii_letter(c) && !ascii_digit(c);
}

static_assert(std::ranges::all_of(spellings,
                                  [](auto spelling) { return std::ranges::all_of(spelling, unit_byte); }));

constexpr std::size_t longest_spelling = std::ranges::max(spellings, {}, &std::string_view::size).size();

} // namespace

std::span<const Unit> units() {
    return rows;
}

const Unit* unit_row(std::size_t number) {
    return number == 0 ? nullptr : &rows[number - 1];
}

std::size_t number_of(const Unit& row) {
    return static_cast<std::size_t>(&row - rows.data()) + 1;
}

const Unit* unit_at(std::string_view text) {
    const std::size_t limit = std::min(text.size(), longest_spelling);
    std::size_t length = 0;
    while (length < limit && unit_byte(text[length])) ++length;
    // Nearly always these are the unit; in "K/min*s" only their beginning is.
    for (; length > 0; --length) {
        if (!ends_before(text.substr(length))) continue;
        const std::size_t number = lexicon.number(Spelling(text, length), text.substr(0, length));
        if (number != 0) return unit_row(number);
    }
    return nullptr;
}

const Unit* whole_unit_at(std::string_view text) {
    std::size_t length = 0;
    for (; length < text.size(); ++length) {
        const Byte kind = kind_of(text[length]);
        if (kind == Byte::unit) continue;
        if (kind == Byte::joining) return nullptr;
        break;
    }
    const Spelling spelling(text, length);
    return spelling.whole() ? unit_row(lexicon.number(spelling)) : nullptr; // long ones are rare
}

const Unit* unit_named(std::string_view spelling) {
    return unit_row(lexicon.number(spelling));
}

const Unit& display_unit(Kind kind) {
    static const Unit none{"", Kind::count, 1, 0, "", "", false, {}, 0};
    static const auto preferred = [] {
        std::array<const Unit*, static_cast<std::size_t>(Kind::derived) + 1> first;
        first.fill(&none);
        const auto row = [&](Kind k) -> const Unit*& { return first[static_cast<std::size_t>(k)]; };
        for (const Unit& unit : rows)
            if (row(unit.kind) == &none) row(unit.kind) = &unit;
        row(Kind::count) = row(Kind::derived) = &none;
        // Kinds that are written in another kind's units.
        row(Kind::dew_point) = unit_named("degC");
        row(Kind::overpressure) = unit_named("mbar");
        row(Kind::stress) = unit_named("MPa");
        row(Kind::pumping_speed) = unit_named("m3/h");
        row(Kind::conductance) = unit_named("L/s");
        return first;
    }();
    return *preferred[static_cast<std::size_t>(kind)];
}

namespace {

/// Digits alone, as nearly always, and no more of them than a double holds exactly.
bool parse_whole(std::string_view number, double& value) {
    if (number.empty() || number.size() > 15) return false;
    std::int64_t figures = 0;
    for (const char c : number) {
        const auto figure = static_cast<unsigned>(c - '0');
        if (figure > 9) return false;
        figures = figures * 10 + figure;
    }
    value = static_cast<double>(figures);
    return true;
}

bool parse_any(std::string_view number, double& value) {
    std::size_t at = 0;
    std::uint64_t figures = 0; // as one integer
    const auto digits = [&] {
        const std::size_t start = at;
        for (; at < number.size() && ascii_digit(number[at]); ++at)
            figures = figures * 10 + static_cast<std::uint64_t>(number[at] - '0');
        return at - start;
    };
    const auto sign = [&] {
        if (at < number.size() && (number[at] == '+' || number[at] == '-')) ++at;
    };
    sign();
    const std::size_t whole = digits();
    if (whole == 0) return false;
    std::size_t decimals = 0;
    if (at < number.size() && number[at] == '.') {
        ++at;
        decimals = digits();
        if (decimals == 0) return false;
    }
    // Both are exact as doubles, so one division rounds to the nearest.
    static constexpr std::array powers{1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6, 1e7,
                                       1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14};
    if (at == number.size() && whole + decimals <= powers.size()) {
        value = static_cast<double>(figures) / powers[decimals];
        if (number[0] == '-') value = -value;
        return true;
    }
    if (at < number.size() && (number[at] == 'e' || number[at] == 'E')) {
        ++at;
        sign();
        if (digits() == 0) return false;
    }
    if (at != number.size()) return false;
    // It also reads "inf", "nan", ".5" and "5.", none of which is a number of the language and comes here.
    if (number[0] == '+') number.remove_prefix(1);
    return std::from_chars(number.data(), number.data() + number.size(), value).ec == std::errc{};
}

} // namespace

bool parse_number(std::string_view number, double& value) {
    return parse_whole(number, value) || parse_any(number, value);
}

} // namespace athanor
