#include "compiler/check/gas_mixture.hpp"
#include "compiler/physics/flammability.hpp"
#include "compiler/quantity/unit.hpp"

#include <algorithm>
#include <cmath>
#include <fmt/format.h>

namespace athanor::check {

namespace {

using Parts = std::vector<std::pair<Index, Interval>>;

bool is_fuel(const Gas& gas) {
    return gas.hazards.flammable;
}

double equivalence(const Gas& gas) {
    return gas.inert_equivalence.given ? gas.inert_equivalence.lo() : least_inert_equivalence;
}

/// Tci where it is known, else the lower limit in air, which is never above it.
double threshold(const Gas& gas) {
    return gas.fuel_threshold.given ? gas.fuel_threshold.lo() : gas.lower_limit.lo();
}

/// As the equations of ISO 10156 see them; of an interval the end that burns sooner.
std::vector<physics::Component> components(const std::vector<Gas>& gases, const Parts& parts) {
    std::vector<physics::Component> list;
    for (const auto& [index, share] : parts) {
        const Gas& gas = gases[index];
        const bool fuel = is_fuel(gas);
        list.push_back({share.middle(), fuel, fuel ? gas.lower_limit.lo() : 0, fuel ? gas.upper_limit.hi() : 0,
                        fuel ? threshold(gas) : 0, equivalence(gas)});
    }
    return list;
}

struct Sums {
    double fuel = 0, other = 0, weighted = 0, oxidising = 0, inert = 0;
};

Sums sums_of(const std::vector<Gas>& gases, const Parts& parts) {
    Sums s;
    for (const auto& [index, share] : parts) {
        const Gas& gas = gases[index];
        const double x = share.middle();
        if (is_fuel(gas)) {
            s.fuel += x;
            continue;
        }
        s.other += x;
        s.weighted += equivalence(gas) * x;
        if (gas.oxidises()) s.oxidising += x;
        if (gas.hazards.inert) s.inert += x;
    }
    return s;
}

std::string percent(double share) {
    return to_text(share, Kind::fraction, 3);
}

/// The greatest share of the mixture's fuels, among its other parts as they are, that ISO 10156 lets pass.
double greatest_share(const Sums& s, double sum) {
    // The sum grows with A', so the fuels together have the threshold A'_now / sum; K is the mean equivalence.
    const double now = s.fuel / (s.fuel + s.weighted);
    return physics::greatest_fuel(now / sum, s.weighted / s.other);
}

std::string name_of_fuels(const std::vector<Gas>& gases, const Parts& parts) {
    std::string text;
    for (const auto& [index, share] : parts)
        if (is_fuel(gases[index])) text += (text.empty() ? "" : " and ") + gases[index].name;
    return text;
}

std::string largest_other(const std::vector<Gas>& gases, const Parts& parts) {
    std::string text;
    double most = 0;
    for (const auto& [index, share] : parts)
        if (!is_fuel(gases[index]) && share.hi > most) {
            most = share.hi;
            text = gases[index].name;
        }
    return text;
}

void judge_fuel(const std::vector<Gas>& gases, Gas& mixture, const Sums& s) {
    if (s.fuel <= 0) return;
    const std::string fuels = name_of_fuels(gases, mixture.parts);
    if (s.other < 0.01) {
        mixture.hazards.flammable = true;
        mixture.hazard_reason = fmt::format("it is {}, but for less than 1 %", fuels);
        return;
    }
    // The standard's sum is for mixtures without an oxidiser; beside one, a quarter of the limit in air is the
    // line that is usual for a safe rest.
    if (s.oxidising >= oxidiser_share) {
        const double limit = lower_limit(gases, mixture.parts);
        mixture.hazards.flammable = limit <= 4;
        mixture.hazard_reason =
            fmt::format("{} {} beside {} oxidiser: {} a quarter of its lower limit", percent(s.fuel), fuels,
                        percent(s.oxidising), limit <= 4 ? "over" : "under");
        return;
    }
    const double sum = flammability_sum(gases, mixture.parts);
    mixture.hazards.flammable = sum > 1;
    mixture.hazard_reason = fmt::format("{} {} in {}: {} {} by ISO 10156", percent(s.fuel), fuels,
                                        largest_other(gases, mixture.parts), sum > 1 ? "over" : "within",
                                        percent(greatest_share(s, sum)));
}

/// Figures that only fuels have, in terms of the whole mixture.
void fuel_figures(const std::vector<Gas>& gases, Gas& mixture, const Sums& s) {
    if (s.fuel <= 0) return;
    const auto set = [&](Figure& figure, double value, const Figure& from) {
        figure.value = value;
        figure.given = true;
        figure.source = mixture.source;
        figure.reference = from.reference;
    };
    double heat = 0;
    bool heat_known = true;
    for (const auto& [index, share] : mixture.parts) {
        const Gas& gas = gases[index];
        if (!is_fuel(gas)) continue;
        // The most careful part decides: the highest safety temperature, the lowest ignition.
        const auto& safe = gas.safety_temperature;
        const auto& ignites = gas.autoignition;
        const auto& oxygen = gas.limiting_oxygen;
        if (safe.given && (!mixture.safety_temperature.given || safe.hi() > mixture.safety_temperature.hi()))
            set(mixture.safety_temperature, safe.hi(), safe);
        if (ignites.given && (!mixture.autoignition.given || ignites.lo() < mixture.autoignition.lo()))
            set(mixture.autoignition, ignites.lo(), ignites);
        if (oxygen.given && (!mixture.limiting_oxygen.given || oxygen.lo() < mixture.limiting_oxygen.lo()))
            set(mixture.limiting_oxygen, oxygen.lo(), oxygen);
        heat += share.middle() * gas.heat_of_combustion.value.middle();
        heat_known = heat_known && gas.heat_of_combustion.given;
    }
    const Figure by{{}, {}, true, false, "Le Chatelier with the correction of ISO 10156:2017"};
    const double lower = lower_limit(gases, mixture.parts), upper = upper_limit(gases, mixture.parts);
    if (lower <= 1) set(mixture.lower_limit, lower, by);
    if (lower <= 1 && upper > lower) set(mixture.upper_limit, upper, by);
    if (heat_known) set(mixture.heat_of_combustion, heat, by);
    if (heat_known) mixture.heat_of_combustion.reference = "mole-weighted mean of the parts";
}

void other_hazards(const std::vector<Gas>& gases, Gas& mixture, const Sums& s) {
    mixture.hazards.oxidiser = s.oxidising >= oxidiser_share;
    mixture.hazards.enriched = s.oxidising > enriched_share;
    mixture.hazards.inert = s.inert >= inert_share && !mixture.hazards.flammable;
    mixture.hazards.asphyxiant = s.oxidising < breathable_share;
    double load = 0;
    for (const auto& [index, share] : mixture.parts) {
        const Gas& gas = gases[index];
        if (gas.hazards.pyrophoric && share.hi > pyrophoric_trace) mixture.hazards.pyrophoric = true;
        if (!gas.hazards.toxic || share.hi <= 0) continue;
        if (!gas.exposure_limit.given)
            mixture.hazards.toxic = true; // no safe share is known
        else
            load += share.hi / gas.exposure_limit.lo();
    }
    if (load > 1) mixture.hazards.toxic = true;
    if (load > 0) {
        mixture.exposure_limit.value = 1 / load;
        mixture.exposure_limit.given = load >= 1;
        mixture.exposure_limit.source = mixture.source;
        mixture.exposure_limit.reference = "the parts' limits, added as shares of each";
    }
}

} // namespace

double flammability_sum(const std::vector<Gas>& gases, const Parts& parts) {
    return physics::flammability_sum(components(gases, parts));
}

double lower_limit(const std::vector<Gas>& gases, const Parts& parts) {
    return physics::mixture_lower_limit(components(gases, parts));
}

double upper_limit(const std::vector<Gas>& gases, const Parts& parts) {
    return physics::mixture_upper_limit(components(gases, parts));
}

void derive_mixture(const std::vector<Gas>& gases, Gas& mixture) {
    const Sums s = sums_of(gases, mixture.parts);
    Interval mass = 0;
    double reading = 0;
    bool meter_known = true;
    for (const auto& [index, share] : mixture.parts) {
        const Gas& gas = gases[index];
        mass = mass + share * gas.molar_mass.value;
        if (share.middle() <= 1e-3) continue; // a trace does not move a flow meter
        meter_known = meter_known && gas.meter_factor.given;
        if (gas.meter_factor.given) reading += share.middle() / gas.meter_factor.value.middle();
    }
    mixture.molar_mass = {mass, mixture.source, true, false, "mole-weighted mean of the parts"};
    if (meter_known && reading > 0) {
        // 1/F = sum x_i / F_i for thermal meters.
        mixture.meter_factor = {1 / reading, mixture.source, true, false, "1/F = sum of x/F of the parts"};
    }
    judge_fuel(gases, mixture, s);
    fuel_figures(gases, mixture, s);
    other_hazards(gases, mixture, s);
}

} // namespace athanor::check
