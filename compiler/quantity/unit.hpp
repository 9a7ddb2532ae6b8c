#pragma once
#include "compiler/quantity/interval.hpp"
#include "compiler/quantity/type.hpp"

#include <span>
#include <string>
#include <string_view>

namespace athanor {

/// One spelling of a unit. value in SI = factor * number + offset. SI here: K, Pa, mol/s, m3/s, s, 1 …
struct Unit {
    std::string_view spelling; // as written in a recipe: "degC", "K/min", "mbar*L/s"
    Kind kind;                 // the kind a literal has where its place expects nothing else
    double factor;
    double offset;           // only degC and degF as points
    std::string_view ucum;   // UCUM code, empty where UCUM has none
    std::string_view source; // where the factor is published
    bool alternative;        // another spelling of an earlier row ("°C")
    Dimension dimension;     // of `kind`, or of this very row where the kind is `derived` ("kJ/mol")
    double inverse;          // the integer whose reciprocal `factor` is, or 0

    constexpr Type type() const { return {kind, dimension}; }
};

/// The closed table, grouped by kind, preferred spelling first.
std::span<const Unit> units();
/// Its row of a number, from 1, such as the tree of a text keeps; nullptr for 0.
const Unit* unit_row(std::size_t number);
std::size_t number_of(const Unit& row);
/// The unit that `text` starts with: longest match that is not followed by a letter, digit or '_'.
/// Returns nullptr when there is none.
const Unit* unit_at(std::string_view text);
/// The unit that all bytes at the start of `text` are which may belong to one, and behind which none can go on;
/// the same as `unit_at` or nullptr.
const Unit* whole_unit_at(std::string_view text);
const Unit* unit_named(std::string_view spelling);
/// The table's row for a kind in which people read it first (degC for temperature, K/min for rate …); a row
/// with an empty spelling and factor 1 for kinds without units (count, text, derived …).
const Unit& display_unit(Kind kind);

/// For the slips of the pen the language repairs: "C" -> "degC", "lpm" -> "L/min", "hr" -> "h"; the nearest
/// spelling otherwise; empty when nothing is near. The answer is a unit, or a unit and the word `gauge`.
std::string_view suggest_unit(std::string_view wrong);
/// Is what `suggest_unit` answers the same unit in another spelling, and no guess? Only then may an edit write
/// it.
bool surely_unit(std::string_view wrong);

/// A literal's value: the double nearest to the decimal number. `number` is its text: sign, digits, '.' digits,
/// exponent; false when it is out of range ("1e999") or malformed.
bool parse_number(std::string_view number, double& value);
/// degC and degF as an interval of temperature (5 degC = 5 K): the factor only.
constexpr double difference_to_si(double number, const Unit& unit) {
    // Dividing by an integer rounds once, multiplying by its reciprocal would round twice.
    return unit.inverse != 0 ? number / unit.inverse : number * unit.factor;
}
/// Correctly rounded wherever the factor is an integer or one over an integer (min, K/min, ppm).
constexpr double to_si(double number, const Unit& unit) {
    return difference_to_si(number, unit) + unit.offset;
}
constexpr double from_si(double si, const Unit& unit) {
    const double scaled = si - unit.offset;
    return unit.inverse != 0 ? scaled * unit.inverse : scaled / unit.factor;
}

/// Nobody measures less than this share of a gas: what is told as "at most" or "up to" goes no lower, and stays
/// true (common practice, no source).
inline constexpr double least_share = 1e-12;

/// "612 °C to 648 °C", "3 K", "9.7 ppm", "1 h 30 min", "150 mbar": a value as a person writes it, in the kind's
/// display unit scaled to a readable prefix, at most `digits` significant digits, rounded to nearest. Points,
/// and ends that round to the same text, print once. Infinite ends: "53 min or more", "648 °C or less", "any
/// value".
std::string to_text(Interval si, Kind kind, int digits = 4);
std::string to_text(double si, Kind kind, int digits = 4);
/// Same, with the dimension behind a `derived` value: "3 kg m^-1 s^-1".
std::string to_text(Interval si, Type type, int digits = 4);
/// Same, in a given unit.
std::string to_text(Interval si, const Unit& unit, int digits = 6);
/// Clock form of a duration for tables of times: "02:13:20", with days in front where needed ("2 d 02:13:20").
std::string to_clock(double seconds);
/// Shortest decimal text that reads back to the same double, never in exponent form below 1e15.
std::string shortest(double value);

} // namespace athanor
