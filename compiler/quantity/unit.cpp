#include "compiler/quantity/unit.hpp"

#include "compiler/source/spelling.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <vector>

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

std::vector<Unit> build() {
    std::vector<Unit> rows;
    rows.reserve(spellings.size());
    const auto also = [&](std::string_view spelling, std::string_view of) {
        Unit row = rows[lexicon.number(of) - 1];
        row.spelling = spelling;
        row.alternative = true;
        rows.push_back(row);
    };
#define UNIT(spelling, kind, factor, offset, ucum, source)                                                     \
    rows.push_back({spelling, Kind::kind, factor, offset, ucum, source, false, type_of(Kind::kind).dimension});
#define DERIVED(spelling, dimension, factor, ucum, source)                                                     \
    rows.push_back({spelling, Kind::derived, factor, 0, ucum, source, false, dimension});
#define ALSO(spelling, of) also(spelling, of);
#include "compiler/quantity/units.def"
#undef UNIT
#undef DERIVED
#undef ALSO
    return rows;
}

const std::vector<Unit>& table() {
    static const std::vector<Unit> rows = build();
    return rows;
}

constexpr bool ascii_digit(char c) {
    return c >= '0' && c <= '9';
}

constexpr bool ascii_letter(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

constexpr bool beyond_ascii(char c) {
    return static_cast<unsigned char>(c) >= 0x80;
}

/// The row of a number of the lexicon.
const Unit* row(std::size_t number) {
    return &table()[number - 1];
}

/// Does a unit end before `rest`? Not where a letter, digit, '_' or a letter beyond ASCII goes on ("mm²" is not
/// mm), except the sign ± of an uncertainty.
bool ends_before(std::string_view rest) {
    if (rest.empty() || rest.starts_with("±")) return true;
    const char c = rest[0];
    return !ascii_letter(c) && !ascii_digit(c) && c != '_' && !beyond_ascii(c);
}

/// The bytes that spellings are made of.
constexpr auto unit_bytes = [] {
    std::array<bool, 256> bytes{};
    for (unsigned b = 0; b < bytes.size(); ++b) {
        const char c = static_cast<char>(b);
        bytes[b] = ascii_letter(c) || ascii_digit(c) || beyond_ascii(c) || c == '/' || c == '*' || c == '%';
    }
    return bytes;
}();
constexpr bool unit_byte(char c) {
    return unit_bytes[static_cast<unsigned char>(c)];
}

static_assert(std::ranges::all_of(spellings,
                                  [](auto spelling) { return std::ranges::all_of(spelling, unit_byte); }));

constexpr std::size_t longest_spelling = std::ranges::max(spellings, {}, &std::string_view::size).size();

/// The integer whose reciprocal a factor is, or 0: dividing by it rounds once, multiplying would round twice.
double reciprocal(double factor) {
    if (factor >= 1) return 0;
    const double inverse = std::round(1 / factor);
    return 1 / inverse == factor ? inverse : 0;
}

} // namespace

std::span<const Unit> units() {
    return table();
}

const Unit* unit_at(std::string_view text) {
    const std::size_t limit = std::min(text.size(), longest_spelling);
    Spelling spelling;
    std::size_t length = 0;
    for (; length < limit && unit_byte(text[length]); ++length) spelling.add(text[length]);
    // Nearly always these are the unit; in "K/min*s" only their beginning is.
    while (length > 0) {
        const std::string_view candidate = text.substr(0, length);
        if (ends_before(text.substr(length)))
            if (const std::size_t number = lexicon.number(spelling, candidate); number != 0) return row(number);
        spelling = Spelling(text.substr(0, --length));
    }
    return nullptr;
}

const Unit* unit_named(std::string_view spelling) {
    const std::size_t number = lexicon.number(spelling);
    return number == 0 ? nullptr : row(number);
}

const Unit& display_unit(Kind kind) {
    static const Unit none{"", Kind::count, 1, 0, "", "", false, {}};
    static const auto rows = [] {
        std::array<const Unit*, static_cast<std::size_t>(Kind::derived) + 1> first;
        first.fill(&none);
        const auto row = [&](Kind k) -> const Unit*& { return first[static_cast<std::size_t>(k)]; };
        for (const Unit& unit : table())
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
    return *rows[static_cast<std::size_t>(kind)];
}

bool parse_number(std::string_view number, double& value) {
    // from_chars also reads "inf", "nan", ".5" and "5.", none of which is a number of the language.
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
    constexpr std::array powers{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14};
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
    if (number[0] == '+') number.remove_prefix(1);
    return std::from_chars(number.data(), number.data() + number.size(), value).ec == std::errc{};
}

double difference_to_si(double number, const Unit& unit) {
    const double inverse = reciprocal(unit.factor);
    return inverse != 0 ? number / inverse : number * unit.factor;
}

double to_si(double number, const Unit& unit) {
    return difference_to_si(number, unit) + unit.offset;
}

double from_si(double si, const Unit& unit) {
    const double scaled = si - unit.offset;
    const double inverse = reciprocal(unit.factor);
    return inverse != 0 ? scaled * inverse : scaled / unit.factor;
}

} // namespace athanor
