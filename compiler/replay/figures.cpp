#include "compiler/replay/figures.hpp"

#include "compiler/quantity/unit.hpp"

#include <algorithm>
#include <cmath>

namespace athanor::replay {
namespace {

/// What half a unit of the fourth digit is of a number: our instructions show no more. 5e-4 of 1.000, 5e-5 of
/// 9.999.
double half_digit(double number) {
    if (number == 0 || !std::isfinite(number)) return 0;
    const double digits = std::abs(number) / std::pow(10, std::floor(std::log10(std::abs(number))));
    return 5e-4 / digits * (1 + 1e-9);
}

} // namespace

std::optional<Quantity> quantity(std::string_view text) {
    const std::size_t blank = text.find(' ');
    if (blank == std::string_view::npos) return std::nullopt;
    double number = 0;
    if (!parse_number(text.substr(0, blank), number)) return std::nullopt;
    std::string_view spelling = text.substr(blank + 1);
    const Unit* unit = unit_named(spelling == "?C" ? "degC" : spelling);
    if (!unit) return std::nullopt;
    return Quantity{to_si(number, *unit), unit->kind, half_digit(number)};
}

bool near(const Quantity& a, const Quantity& b) {
    constexpr double kelvin = 0.05; // half of the last digit of "125.3 °C"
    if (a.kind == Kind::temperature) return std::abs(a.si - b.si) <= kelvin + 1e-9;
    // One whole digit more or less is another number, though each of the two may be rounded by half of one.
    const double open = a.shown > 0 && b.shown > 0 ? 0.999 * (a.shown + b.shown) : a.shown + b.shown;
    return std::abs(a.si - b.si) <= open * std::max(std::abs(a.si), std::abs(b.si));
}

std::optional<Quantity> flow_said(const timeline::Line& line, std::string_view text) {
    std::optional<Quantity> value = quantity(text);
    if (!value) return std::nullopt;
    if (value->kind == Kind::volume_flow && line.per_volume > 0)
        return Quantity{value->si * line.per_volume, Kind::flow, value->shown};
    if (value->kind != Kind::flow) return std::nullopt;
    return value;
}

const timeline::Line* line_named(const timeline::Timeline& timeline, std::string_view name) {
    for (const timeline::Line& line : timeline.lines)
        if (line.name == name) return &line;
    return nullptr;
}

} // namespace athanor::replay
