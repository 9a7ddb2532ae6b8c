#pragma once
#include "compiler/program/decimal.hpp"
#include "compiler/quantity/unit.hpp"

#include <cstdint>
#include <optional>
#include <string>

namespace athanor::targets::layout {

/// Which quantity stands in a place of the table; each has one unit there.
enum class Measure : std::uint8_t { none, temperature, difference, rate, time, flow };

/// "degC", "K", "K/min", "s", "sccm": the unit of the table.
std::string_view table_unit(Measure measure);

/// A figure of the table in the unit of a user's form, exact in both directions:
/// table = (shown - offset) * numerator / denominator.
struct Scale {
    std::int64_t numerator = 1, denominator = 1;
    Decimal offset;
    std::optional<Decimal> step; // of the figure shown; without one as many places as it needs, at most nine
    std::string unit;
};

/// Nothing where the unit belongs to another quantity or has no exact ratio to the table's.
std::optional<Scale> scale_in(const Unit& unit, Measure measure);

/// How many steps the figure shown is; nothing where it is no whole number of them. `step` must be given.
std::optional<std::int64_t> steps(const Scale& scale, Decimal table);
/// The figure shown; nothing where it is no multiple of the step, or needs more than nine places.
std::optional<std::string> shown(const Scale& scale, Decimal table);
/// The figure of the table, rounded to nine places where the user's form says one that is not exact.
std::optional<Decimal> table_figure(const Scale& scale, Decimal shown);

} // namespace athanor::targets::layout
