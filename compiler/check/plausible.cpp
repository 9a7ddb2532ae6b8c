#include "compiler/check/plausible.hpp"
#include "compiler/check/checker.hpp"
#include "compiler/physics/constants.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <cmath>

namespace athanor::check {

namespace {

/// The round number of degrees that became this many kelvins: `200 degC/h`, taken for a temperature and put
/// into kelvins, is printed as `473 K/h`. Nobody chooses a rate that ends in 3 K, and a digit or a fraction
/// more still less. 0: nothing of the kind.
double degrees_behind(double number) {
    constexpr double slowest = 10, step = 10; // a round rate, and what makes it one
    for (const double zero : {273.0, physics::zero_celsius}) {
        const double degrees = number - zero, nearest = std::round(degrees / step) * step;
        if (nearest >= slowest && std::fabs(degrees - nearest) < 1e-6) return nearest;
    }
    return 0;
}

constexpr double hottest = 3000 + physics::zero_celsius, fastest = 100.0 / 60, longest = 60 * 86400.0,
                 rough = 1333.2;

bool by_the_hour(std::string_view unit) {
    return unit == "K/h" || unit == "K/d";
}

/// There is no slip in such a value, whatever its unit.
bool surely_meant(Kind kind, double si) {
    switch (kind) {
    case Kind::temperature: return si < hottest;
    case Kind::time: return si <= longest;
    case Kind::rate:
    case Kind::pressure: return false;
    default: return true;
    }
}

} // namespace

std::optional<Slip> slip_in(Kind kind, double si, std::string_view number, std::string_view unit, bool pumped) {
    if (surely_meant(kind, si)) return std::nullopt;
    switch (kind) {
    case Kind::temperature: {
        double value = 0;
        std::string repaired;
        // Guessed only where a tenth is a furnace's temperature.
        if (parse_number(number, value) && value / 10 >= 100 && value / 10 <= 2000)
            repaired = fmt::format("{} {}", shortest(value / 10), unit);
        return Slip{fmt::format("`{} {}` is hotter than any furnace: a digit too many?", number, unit),
                    repaired};
    }
    case Kind::rate:
        if (double value = 0; by_the_hour(unit) && parse_number(number, value))
            if (const double degrees = degrees_behind(value); degrees > 0) {
                const std::string meant = fmt::format("{} {}", shortest(degrees), unit);
                return Slip{fmt::format("`{} {}` is {} with the 273 of a temperature in kelvins added: a step "
                                        "of 1 degC is one of 1 K",
                                        number, unit, meant),
                            meant};
            }
        if (si <= fastest * (1 + 1e-9) || unit.ends_with("/s")) return std::nullopt;
        return Slip{fmt::format("`{} {}` is faster than furnaces heat: per hour?", number, unit),
                    unit.ends_with("/min") ? fmt::format("{} {}/h", number, unit.substr(0, unit.rfind('/')))
                                           : ""};
    case Kind::time:
        return Slip{fmt::format("`{} {}` is longer than any run: a smaller unit?", number, unit),
                    unit == "d"   ? fmt::format("{} h", number)
                    : unit == "h" ? fmt::format("{} min", number)
                                  : ""};
    case Kind::pressure:
        if (!pumped || unit != "Torr" || si < rough) return std::nullopt;
        return Slip{fmt::format("`{} {}` is hardly a vacuum: mTorr?", number, unit),
                    fmt::format("{} mTorr", number)};
    default: return std::nullopt;
    }
}

void Checker::look_at(ExprId expr, NodeId node, std::string_view place) {
    if (expr == 0 || node == no_node) return;
    node = inner(node);
    const Expr& e = model.exprs[expr];
    if (e.op != Op::constant || kind(node) != Node::quantity) return;
    if (surely_meant(e.type.kind, e.value.lo)) return;
    const NodeId number = first(node), unit = next(number);
    if (unit == no_node || next(unit) != no_node) return;
    const std::string_view written = text(unit);
    if (e.type.kind == Kind::rate && e.value.lo <= fastest && !by_the_hour(written)) return;
    const auto slip = slip_in(e.type.kind, e.value.lo, text(number), written, place == "`evacuate to`");
    if (!slip) return;
    Diagnostic& d = out.warning(Code::implausible_value, span(node), slip->message);
    if (!slip->repaired.empty()) d.remedy(fmt::format("perhaps `{}`", slip->repaired));
}

} // namespace athanor::check
