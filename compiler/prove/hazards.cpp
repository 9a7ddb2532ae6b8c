#include "compiler/prove/hazards.hpp"

#include "compiler/physics/constants.hpp"

#include <algorithm>
#include <cmath>

namespace athanor::prove {
namespace {

/// mol/(m s): half of diffusivity times density of water vapour in cold air (Massman 1998, from memory), as for
/// the walls' water, and its mass, kg/mol. Others go as the root of it, which lies below what is published for
/// hydrogen, methane, carbon monoxide, propane, hexane, ethanol and toluene in air.
constexpr double vapour_spreads = 0.5 * 9.7e-4, vapour_mass = 0.018015;

/// K, 100 degC: a draught is the tube's own only where it is hot (common practice, no source).
constexpr double warm = 373.15;

/// Each fuel of the load over its lower limit, thinned by what carries it (mol/s).
template<typename F>
double over_limits(const check::Model& model, const timeline::Timeline& timeline, F carried) {
    double sum = 0;
    for (const timeline::Evolved& e : timeline.evolved) {
        const check::Index index = model.gas_named(timeline.species[e.species]);
        if (index == check::none || !model.gases[index].hazards.flammable || !(e.flow > 0)) continue;
        const check::Gas& gas = model.gases[index];
        const double out = carried(gas, e.above >= warm),
                     limit = gas.lower_limit.given ? gas.lower_limit.lo() : 0;
        sum += out > 0 && limit > 0 ? e.flow / out / limit : infinity;
    }
    return sum;
}

} // namespace

double OpenTube::spreads(const check::Gas& gas) const {
    if (!gas.molar_mass.given) return 0;
    // From the middle of the tube, the farthest place from its ends, to both of them.
    const double bore = rig_.tube.inner_diameter.lo(), area = physics::pi / 4 * bore * bore;
    return 4 * vapour_spreads * std::sqrt(vapour_mass / gas.molar_mass.hi()) * area / rig_.tube.length.hi();
}

double OpenTube::most() const {
    const double swept = rig_.ends.draught.given ? rig_.mixing.lo() * rig_.ends.draught.lo() : 0;
    return over_limits(model_, timeline_, [&](const check::Gas& gas, bool hot) {
        return std::max(spreads(gas), hot ? swept : 0.0);
    });
}

double OpenTube::draught() const {
    return over_limits(model_, timeline_, [](const check::Gas&, bool) { return 1.0; }) / flammable_rest /
           rig_.mixing.lo();
}

double fuel_in(const check::Model& model, const check::Gas& gas) {
    double share = 0;
    for (const auto& [index, part] : gas.parts) {
        const check::Gas& fuel = model.gases[index];
        if (!fuel.hazards.flammable || !(part.hi > 0)) continue;
        share += fuel.lower_limit.given ? part.hi / fuel.lower_limit.lo() : infinity;
    }
    return share;
}

bool inert_without_fuel(const check::Model& model, const check::Line& line) {
    if (line.gas >= model.gases.size()) return false;
    const check::Gas& gas = model.gases[line.gas];
    return gas.hazards.inert && fuel_in(model, gas) < flammable_rest;
}

const check::Gas* Hazards::gas(timeline::Index line) const {
    const check::Index index = rig.lines[line].gas;
    return index == check::none ? nullptr : &model.gases[index];
}

bool Hazards::may_be_open(timeline::Index line, const plant::State& state,
                          const timeline::State& discrete) const {
    return plant.signal({timeline::SignalKind::line_open, line}, state, discrete).hi > 0.5;
}

bool Hazards::gives_off(const timeline::Evolved& gas, const plant::State& state,
                        const timeline::State& discrete) const {
    if (gas.line != timeline::none && !may_be_open(gas.line, state, discrete)) return false;
    return std::any_of(state.zones.begin(), state.zones.end(), [&](const plant::ZoneState& zone) {
        return std::max(zone.control.hi, zone.load.hi) >= gas.above;
    });
}

bool Hazards::uses(check::Hazard hazard) const {
    for (timeline::Index l = 0; l < rig.lines.size(); ++l)
        if (timeline.lines[l].ever_open() && gas(l) != nullptr && gas(l)->hazards.of(hazard)) return true;
    for (const timeline::Evolved& e : timeline.evolved) {
        const check::Index index = model.gas_named(timeline.species[e.species]);
        if (index != check::none && model.gases[index].hazards.of(hazard)) return true;
    }
    return false;
}

bool Hazards::flammable(const plant::State& state, const timeline::State& discrete) const {
    for (timeline::Index l = 0; l < rig.lines.size(); ++l)
        if (gas(l) != nullptr && gas(l)->hazards.flammable && may_be_open(l, state, discrete)) return true;
    // A line that ISO 10156 counts as not flammable leaves no flammable rest.
    if (!uses(check::Hazard::flammable)) return false;
    return fuel(state, discrete) >= flammable_rest;
}

double Hazards::fuel(const plant::State& state, const timeline::State& discrete) const {
    const double all = plant.signal({timeline::SignalKind::flammability, timeline::none}, state, discrete).hi;
    const OpenTube open = open_tube();
    return open.applies() ? std::min(all, open.most()) : all;
}

bool Hazards::toxic(const plant::State& state, const timeline::State& discrete) const {
    for (timeline::Index l = 0; l < rig.lines.size(); ++l)
        if (gas(l) != nullptr && gas(l)->hazards.toxic && may_be_open(l, state, discrete)) return true;
    double load = 0; // the shares of each limit are added (ACGIH, mixtures of like effect; from memory)
    for (timeline::Index s = 0; s < timeline.species.size(); ++s) {
        const check::Index index = model.gas_named(timeline.species[s]);
        if (index == check::none || !model.gases[index].hazards.toxic) continue;
        const double share = plant.signal({timeline::SignalKind::fraction, s}, state, discrete).hi;
        const check::Figure& limit = model.gases[index].exposure_limit;
        if (share > 0) load += limit.given && limit.lo() > 0 ? share / limit.lo() : infinity;
    }
    return load > 1;
}

bool Hazards::evacuated(const plant::State& state, const timeline::State& discrete) const {
    return discrete.pump || state.pressure.lo < rig.ambient_pressure.lo() - plant::evacuated_below;
}

std::string_view Hazards::unattended(const plant::State& state, const timeline::State& discrete) const {
    if (flammable(state, discrete)) return "a flammable state";
    if (toxic(state, discrete)) return "a toxic state";
    if (evacuated(state, discrete)) return "a tube under vacuum";
    return {};
}

} // namespace athanor::prove
