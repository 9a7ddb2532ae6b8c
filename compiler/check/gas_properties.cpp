#include "compiler/check/gas_properties.hpp"

#include "compiler/physics/cylinder.hpp"
#include "compiler/physics/transport.hpp"
#include "compiler/quantity/unit.hpp"

#include <algorithm>
#include <fmt/format.h>

namespace athanor::check {

namespace {

constexpr double nan = std::numeric_limits<double>::quiet_NaN();
/// Traces change no figure that is asked for here.
constexpr double trace = 1e-3;

std::string shown(double si, Kind kind) {
    return to_text(si, kind, 5);
}

/// The pure gases of it, traces left out, with their substances.
struct Part {
    const Gas* gas;
    const physics::Substance* substance;
    double share;
};
std::vector<Part> parts_of(FunctionCall& call, std::size_t i) {
    const Gas& whole = call.gas(i);
    std::vector<Part> parts;
    if (whole.broken) {
        call.silent();
        return parts;
    }
    double total = 0;
    for (const auto& [index, share] : whole.parts) {
        const Gas& gas = call.model().gases[index];
        if (whole.parts.size() > 1 && share.middle() <= trace) continue;
        const physics::Substance* known = physics::substance(gas.formula);
        if (known == nullptr) {
            call.refuse(i, fmt::format("no equation is known here for `{}`{}", gas.name,
                                       gas.formula.empty() ? ", which declares no formula" : ""));
            return {};
        }
        parts.push_back({&gas, known, share.middle()});
        total += share.middle();
    }
    for (Part& part : parts) part.share /= total;
    if (parts.empty()) call.refuse(i, fmt::format("`{}` has no parts", whole.name));
    return parts;
}

} // namespace

double molar_mass(FunctionCall& call, std::size_t i) {
    const Gas& gas = call.gas(i);
    if (gas.molar_mass.given && gas.molar_mass.lo() > 0) return gas.molar_mass.value.middle();
    if (gas.broken) return call.silent();
    return call.refuse(i, fmt::format("`{}` declares no `molar_mass`", gas.name));
}

const physics::Substance* substance(FunctionCall& call, std::size_t i) {
    const std::vector<Part> parts = parts_of(call, i);
    if (parts.empty()) return nullptr;
    if (parts.size() == 1) return parts.front().substance;
    call.refuse(i, fmt::format("`{}` is a mixture; a pure gas is due here", call.gas(i).name));
    return nullptr;
}

double viscosity(FunctionCall& call, std::size_t i, double temperature, std::size_t at) {
    std::vector<physics::Share> shares;
    for (const Part& part : parts_of(call, i)) {
        const physics::ViscosityFit& fit = part.substance->viscosity;
        if (temperature < fit.coldest || temperature > fit.hottest)
            return call.refuse(at, fmt::format("{} is outside what is known of the viscosity of {}: {} to {}",
                                               shown(temperature, Kind::temperature), part.gas->name,
                                               shown(fit.coldest, Kind::temperature),
                                               shown(fit.hottest, Kind::temperature)));
        shares.push_back(
            {part.share, part.gas->molar_mass.value.middle(), physics::viscosity(fit, temperature)});
    }
    if (shares.empty()) return nan;
    return shares.size() == 1 ? shares.front().viscosity : physics::mixture_viscosity(shares);
}

double compressibility(FunctionCall& call, std::size_t i, double temperature, std::size_t temperature_at,
                       double pressure, std::size_t pressure_at) {
    const std::vector<Part> parts = parts_of(call, i);
    if (parts.empty()) return nan;
    double z = 0;
    for (const Part& part : parts) {
        const physics::Range range = physics::compressibility_range(*part.substance);
        if (temperature < range.coldest || temperature > range.hottest)
            return call.refuse(
                temperature_at,
                fmt::format("{} is outside {} to {}, where the equation for {} holds{}",
                            shown(temperature, Kind::temperature), shown(range.coldest, Kind::temperature),
                            shown(range.hottest, Kind::temperature), part.gas->name,
                            temperature < range.coldest ? "; a gas that liquefies in its cylinder is weighed"
                                                        : ""));
        if (pressure > range.pressure)
            return call.refuse(pressure_at, fmt::format("the equation for {} holds up to {}, not {}",
                                                        part.gas->name, shown(range.pressure, Kind::pressure),
                                                        shown(pressure, Kind::pressure)));
        z += part.share * physics::compressibility(*part.substance, temperature, pressure);
    }
    return z;
}

double oxygen_demand(FunctionCall& call, std::size_t i) {
    const Gas& whole = call.gas(i);
    if (whole.broken) return call.silent();
    double demand = 0;
    for (const auto& [index, share] : whole.parts) {
        const Gas& gas = call.model().gases[index];
        const bool counts = gas.hazards.flammable || gas.formula == "O2";
        if (!counts) continue; // N2, CO2, water: they do not burn and give no oxygen
        const auto own = physics::oxygen_demand(gas.formula);
        if (!own)
            return call.refuse(i, fmt::format("what `{}` burns to does not follow from its formula {}",
                                              gas.name, gas.formula.empty() ? "(none)" : gas.formula));
        demand += share.middle() * *own;
    }
    if (demand <= 0) return call.refuse(i, fmt::format("`{}` does not burn", whole.name));
    return demand;
}

} // namespace athanor::check
