#include "compiler/quantity/unit.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>
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

/// The rows by their first byte, longest spelling first. The second byte stands beside each row: it rules out
/// nearly all of those that begin alike.
struct Index {
    struct Entry {
        char second; // 0 where the spelling has one byte
        const Unit* row;
    };
    std::vector<Entry> entries;
    std::array<std::uint16_t, 257> first; // entries of byte b: [first[b], first[b + 1])

    std::span<const Entry> of(char byte) const {
        const std::size_t b = static_cast<unsigned char>(byte);
        return {entries.data() + first[b], entries.data() + first[b + 1]};
    }
};

char second_byte(std::string_view text) {
    return text.size() > 1 ? text[1] : '\0';
}

const Index& index() {
    static const Index result = [] {
        const auto byte = [](const Index::Entry& e) { return static_cast<unsigned char>(e.row->spelling[0]); };
        Index made;
        for (const Unit& unit : table()) made.entries.push_back({second_byte(unit.spelling), &unit});
        std::stable_sort(made.entries.begin(), made.entries.end(), [&](const auto& a, const auto& b) {
            return byte(a) != byte(b) ? byte(a) < byte(b) : a.row->spelling.size() > b.row->spelling.size();
        });
        std::size_t at = 0;
        for (std::size_t b = 0; b < made.first.size(); ++b) {
            while (at < made.entries.size() && byte(made.entries[at]) < b) ++at;
            made.first[b] = static_cast<std::uint16_t>(at);
        }
        return made;
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
    const char second = second_byte(text);
    for (const auto& [byte, unit] : index().of(text[0])) {
        if (byte != '\0' && byte != second) continue;
        if (text.starts_with(unit->spelling) && ends_before(text.substr(unit->spelling.size()))) return unit;
    }
    return nullptr;
}

const Unit* unit_named(std::string_view spelling) {
    if (spelling.empty()) return nullptr;
    const char second = second_byte(spelling);
    for (const auto& [byte, unit] : index().of(spelling[0]))
        if (byte == second && unit->spelling == spelling) return unit;
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
