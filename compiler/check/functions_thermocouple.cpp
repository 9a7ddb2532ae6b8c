// Functions of thermocouples: voltage and temperature both ways, sensitivity, tolerance.
#include "compiler/check/function_rows.hpp"
#include "compiler/physics/thermocouple.hpp"

#include <algorithm>
#include <cmath>
#include <fmt/format.h>

namespace athanor::check {

using namespace rows;

namespace {

constexpr std::string_view subject = "thermocouples";
constexpr std::string_view its90 = "NIST Monograph 175 (ITS-90), as in IEC 60584-1:2013";
/// Where the voltage of type B is least; the other types rise throughout.
constexpr double least_of_b = physics::zero_celsius + 21.0202619;

FunctionParameter turning(FunctionParameter p, double at) {
    p.turning = at;
    return p;
}
FunctionParameter junction() {
    return otherwise(celsius("junction", -20, 100), physics::zero_celsius);
}
FunctionParameter temperature() {
    return celsius("temperature", -270, 1820);
}

std::string shown(double t) {
    return readable(t, type_of(Kind::temperature), 6);
}

std::optional<physics::Couple> couple(FunctionCall& c) {
    const Thermocouple& t = c.thermocouple(0);
    if (t.broken) {
        c.silent();
        return std::nullopt;
    }
    const auto found = physics::couple_named(t.name);
    if (!found) c.refuse(0, fmt::format("no reference function is known here for `{}`", t.name));
    return found;
}

/// Inside the reference function and inside what the declaration allows.
bool inside(FunctionCall& c, physics::Couple which, std::size_t at) {
    const Thermocouple& t = c.thermocouple(0);
    const double low = std::max(physics::coldest(which), t.range.given ? t.range.lo() : 0.0),
                 high = std::min(physics::hottest(which), t.range.given ? t.range.hi() : infinity);
    if (c[at] >= low - 1e-9 && c[at] <= high + 1e-9) return true;
    c.refuse(at, fmt::format("{} is outside the range of `{}`, {} to {}", shown(c[at]), t.name, shown(low),
                             shown(high)));
    return false;
}

double nothing() {
    return std::numeric_limits<double>::quiet_NaN();
}

double tolerance(FunctionCall& c) {
    const Thermocouple& t = c.thermocouple(0);
    if (t.broken) return c.silent();
    std::string known;
    for (const Tolerance& k : t.classes) {
        known += fmt::format("{}{}", known.empty() ? "" : ", ", k.number);
        if (k.number != static_cast<int>(std::lround(c[2])) || std::fabs(c[2] - k.number) > 1e-9) continue;
        if (c[1] < k.range.lo - 1e-9 || c[1] > k.range.hi + 1e-9)
            return c.refuse(1, fmt::format("class {} of `{}` is stated for {} to {}", k.number, t.name,
                                           shown(k.range.lo), shown(k.range.hi)));
        const double degrees = c[1] - physics::zero_celsius;
        if (k.added) return k.absolute + k.relative * std::max(0.0, degrees - k.from);
        return std::max(k.absolute, k.relative * std::fabs(degrees));
    }
    return c.refuse(2,
                    fmt::format("`{}` has no such class; it has {}", t.name, known.empty() ? "none" : known));
}

} // namespace

void add_thermocouple_functions(Functions& into) {
    into.push_back({"emf",
                    subject,
                    {word("couple", Takes::thermocouple), turning(temperature(), least_of_b),
                     turning(junction(), least_of_b)},
                    0,
                    type_of(Kind::voltage),
                    [](FunctionCall& c) {
                        const auto which = couple(c);
                        if (!which || !inside(c, *which, 1) || !inside(c, *which, 2)) return nothing();
                        return physics::emf(*which, c[1]) - physics::emf(*which, c[2]);
                    },
                    "voltage of a thermocouple, E(temperature) - E(junction)",
                    its90,
                    "emf(type_k, 900 degC)",
                    {}});
    into.push_back({"emf_temperature",
                    subject,
                    {word("couple", Takes::thermocouple), quantity("voltage", Kind::voltage, -0.01, 0.08),
                     turning(junction(), least_of_b)},
                    0,
                    type_of(Kind::temperature),
                    [](FunctionCall& c) {
                        const auto which = couple(c);
                        if (!which || !inside(c, *which, 2)) return nothing();
                        const double volts = c[1] + physics::emf(*which, c[2]);
                        const Thermocouple& t = c.thermocouple(0);
                        const double low = std::max(physics::coldest_inverse(*which), t.range.lo()),
                                     high = std::min(physics::hottest(*which), t.range.hi());
                        // A printed table rounds its ends to 1 uV, and they belong to it.
                        constexpr double printed = 0.5e-6 + 1e-9;
                        const double least = physics::emf(*which, low), most = physics::emf(*which, high);
                        if (volts < least - printed || volts > most + printed)
                            return c.refuse(
                                1, fmt::format("no temperature of `{}` from {} to {} gives this voltage",
                                               t.name, shown(low), shown(high)));
                        return physics::temperature_of(*which, std::clamp(volts, least, most));
                    },
                    "temperature from a voltage, the reference function inverted; type B from 50 degC on",
                    its90,
                    "emf_temperature(type_k, 30 mV, 23.5 degC)",
                    {}});
    into.push_back({"seebeck",
                    subject,
                    {word("couple", Takes::thermocouple), certain(temperature())},
                    0,
                    derived(volt_per_kelvin),
                    [](FunctionCall& c) {
                        const auto which = couple(c);
                        if (!which || !inside(c, *which, 1)) return nothing();
                        return physics::seebeck(*which, c[1]);
                    },
                    "sensitivity of a thermocouple, dE/dT",
                    its90,
                    "seebeck(type_s, 1000 degC)",
                    {}});
    into.push_back({"thermocouple_tolerance",
                    subject,
                    {word("couple", Takes::thermocouple), turning(temperature(), physics::zero_celsius),
                     quantity("class", Kind::count, 1, 3)},
                    0,
                    type_of(Kind::difference),
                    tolerance,
                    "tolerance of a class as delivered, not after drift",
                    "IEC 60584-1:2013, as declared",
                    "thermocouple_tolerance(type_k, 1000 degC, 1)",
                    {}});
}

} // namespace athanor::check
