#include "compiler/quantity/unit.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <vector>

namespace athanor {

namespace {

std::vector<Unit> build() {
    std::vector<Unit> rows;
    const auto also = [&](std::string_view spelling, std::string_view of) {
        Unit row = *std::find_if(rows.begin(), rows.end(), [&](const Unit& u) { return u.spelling == of; });
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

/// The rows that start with each byte, longest spelling first.
using Index = std::array<std::vector<const Unit*>, 256>;

const Index& index() {
    static const Index result = [] {
        Index by_byte;
        for (const Unit& unit : table()) by_byte[static_cast<unsigned char>(unit.spelling[0])].push_back(&unit);
        for (auto& rows : by_byte)
            std::stable_sort(rows.begin(), rows.end(), [](const Unit* a, const Unit* b) {
                return a->spelling.size() > b->spelling.size();
            });
        return by_byte;
    }();
    return result;
}

bool ascii_digit(char c) {
    return c >= '0' && c <= '9';
}

/// Does a unit end before `rest`? Not where a letter, digit, '_' or a letter beyond ASCII goes on ("mm²" is not
/// mm), except the sign ± of an uncertainty.
bool ends_before(std::string_view rest) {
    if (rest.empty() || rest.starts_with("±")) return true;
    const char c = rest[0];
    const bool letter = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
    return !letter && !ascii_digit(c) && c != '_' && static_cast<unsigned char>(c) < 0x80;
}

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
    if (text.empty()) return nullptr;
    for (const Unit* unit : index()[static_cast<unsigned char>(text[0])])
        if (text.starts_with(unit->spelling) && ends_before(text.substr(unit->spelling.size()))) return unit;
    return nullptr;
}

const Unit* unit_named(std::string_view spelling) {
    if (spelling.empty()) return nullptr;
    for (const Unit* unit : index()[static_cast<unsigned char>(spelling[0])])
        if (unit->spelling == spelling) return unit;
    return nullptr;
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
    const auto digits = [&] {
        const std::size_t start = at;
        while (at < number.size() && ascii_digit(number[at])) ++at;
        return at > start;
    };
    const auto sign = [&] {
        if (at < number.size() && (number[at] == '+' || number[at] == '-')) ++at;
    };
    sign();
    if (!digits()) return false;
    if (at < number.size() && number[at] == '.') {
        ++at;
        if (!digits()) return false;
    }
    if (at < number.size() && (number[at] == 'e' || number[at] == 'E')) {
        ++at;
        sign();
        if (!digits()) return false;
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
