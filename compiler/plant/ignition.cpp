#include "compiler/plant/ignition.hpp"

#include "compiler/check/gas_mixture.hpp"

#include <algorithm>
#include <cmath>

namespace athanor::plant {

namespace {

constexpr double certain_share = 0.9; // of a declared limit at 20 degC
constexpr double room = 293.15;       // K
constexpr double no_limit = 873.15;   // K, from which on no limit is left

} // namespace

double limit_share(double temperature) {
    return certain_share * std::clamp((no_limit - temperature) / (no_limit - room), 0.0, 1.0);
}

Ignition::Ignition(const check::Model& model, const timeline::Timeline& timeline)
    : count_(std::min(timeline.species.size(), max_species)) {
    for (std::size_t i = 0; i < count_; ++i)
        for (const check::Gas& gas : model.gases) {
            if (gas.name != timeline.species[i] || !gas.pure) continue;
            Species& s = species_[i];
            s.oxidiser = gas.oxidises();
            if (gas.inert_equivalence.given && !s.oxidiser)
                s.equivalence = std::clamp(gas.inert_equivalence.lo(), 0.0, 1.0);
            s.fuel = gas.hazards.flammable;
            if (!s.fuel) continue;
            any_fuel_ = true;
            s.lower_limit = gas.lower_limit.given ? gas.lower_limit.lo() : 0;
            s.limiting_oxygen = gas.limiting_oxygen.given ? gas.limiting_oxygen.lo() : 0;
        }
}

/// What the least quenching gas that may be present leaves of a limit that was measured with nitrogen.
double Ignition::quenching(const Composition& gas) const {
    double least = 1;
    for (std::size_t i = 0; i < count_; ++i)
        if (gas[i].hi > 0) least = std::min(least, species_[i].equivalence);
    return least;
}

Interval Ignition::mixture(const Composition& gas, double hottest) const {
    if (!any_fuel_) return 0;
    const double quench = quenching(gas);
    // Everything over its figure at 20 degC; a temperature then only scales.
    Interval fuel = 0, oxygen = 0;
    double limiting = infinity; // least limiting oxygen of a fuel that may be there
    bool fuel_limited = true;   // a limit of each fuel is known
    for (std::size_t i = 0; i < count_; ++i) {
        const Species& s = species_[i];
        const double most = std::min(1.0, gas[i].hi), least = std::max(0.0, gas[i].lo);
        if (s.oxidiser) oxygen = {oxygen.lo + least, oxygen.hi + std::max(0.0, most)};
        if (!s.fuel || most <= 0) continue;
        if (s.lower_limit > 0)
            fuel = {fuel.lo + least / s.lower_limit, fuel.hi + most / s.lower_limit};
        else
            fuel_limited = false;
        limiting = std::min(limiting, s.limiting_oxygen);
    }
    if (!std::isfinite(limiting)) return 0; // no fuel may be there
    const double share = limit_share(hottest) * quench;
    const double over_fuel = fuel_limited ? fuel.hi / std::max(share, check::cleared_fuel) : infinity;
    const double over_oxygen = oxygen.hi / std::max(share * limiting, check::purging_oxygen);
    const double worst = std::min(over_fuel, over_oxygen);
    const double surely = limiting > 0 ? std::min(fuel.lo, oxygen.lo / limiting) : 0;
    return {std::min(surely, worst), worst};
}

} // namespace athanor::plant
