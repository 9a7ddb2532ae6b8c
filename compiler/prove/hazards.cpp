#include "compiler/prove/hazards.hpp"

#include "compiler/physics/constants.hpp"
#include "compiler/physics/substance.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::prove {
namespace {

/// mol/(m s): half of diffusivity times density of water vapour in cold air (Massman 1998, from memory), as for
/// the walls' water, and its mass, kg/mol. Others go as the root of it, which lies below what is published for
/// hydrogen, methane, carbon monoxide, propane, hexane, ethanol and toluene in air.
constexpr double vapour_spreads = 0.5 * 9.7e-4, vapour_mass = 0.018015;

bool warm(double temperature) { // a draught is the tube's own only where it is hot
    return temperature >= plant::left_alone;
}

/// Each fuel of the load over its lower limit, thinned by what carries it (mol/s).
template<typename F>
double over_limits(const check::Model& model, const timeline::Timeline& timeline, F carried) {
    double sum = 0;
    for (const timeline::Evolved& e : timeline.evolved) {
        const check::Index index = model.gas_named(timeline.species[e.species]);
        if (index == check::none || !model.gases[index].hazards.flammable || !(e.flow > 0)) continue;
        const check::Gas& gas = model.gases[index];
        const double out = carried(gas, warm(e.above)),
                     limit = gas.lower_limit.given ? gas.lower_limit.lo() : 0;
        sum += out > 0 && limit > 0 ? e.flow / out / limit : infinity;
    }
    return sum;
}

/// A flow that was written somewhere, as it was written: the shorter of two texts.
std::string written_flow(const check::Meter& meter, double flow) {
    std::string text = to_text(flow, Kind::flow, 12);
    if (!meter.has_reference) return text;
    std::string at_meter = to_text(flow / meter.molar(1), Kind::volume_flow, 12);
    return at_meter.size() < text.size() ? at_meter : text;
}

} // namespace

std::string inert_line(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline) {
    for (std::size_t l = 0; l < rig.lines.size(); ++l) {
        const check::Line& line = rig.lines[l];
        if (!inert_without_fuel(model, line)) continue;
        if (!line.meter.controlled)
            for (const timeline::State& state : timeline.states)
                if (l < state.flows.size() && state.flows[l] > 0)
                    return line.name + " at " + written_flow(line.meter, state.flows[l]);
        return line.name + " at " + to_text(line.meter.range.hi(), Kind::flow, 3);
    }
    return {};
}

std::string flows_by_itself(const check::Rig& rig, const timeline::Timeline& timeline, timeline::Index l) {
    const check::Line& line = rig.lines[l];
    const double most = line.meter.range.hi();
    if (line.meter.controlled)
        return fmt::format(
            "`{}` opens, and its meter is set to nothing then: a needle valve beside it, set by hand, "
            "and declared:  de_energised open, {} to {}",
            line.name, to_text(most / 2, Kind::flow, 2), to_text(most, Kind::flow, 2));
    // A hand meter has one flow in a run.
    std::string flow = to_text(most / 2, Kind::flow, 2);
    for (const timeline::State& state : timeline.states)
        if (l < state.flows.size() && state.flows[l] > 0) flow = written_flow(line.meter, state.flows[l]);
    return fmt::format(
        "`{0}` opens, and its hand meter may stand at nothing by then: let the recipe set it once "
        "before:  open {0} at {1}",
        line.name, flow);
}

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

double OpenTube::share(timeline::Index species) const {
    const check::Index index = model_.gas_named(timeline_.species[species]);
    if (index == check::none) return 1;
    const double swept = rig_.ends.draught.given ? rig_.mixing.lo() * rig_.ends.draught.lo() : 0;
    double sum = 0;
    for (const timeline::Evolved& e : timeline_.evolved) {
        if (e.species != species || !(e.flow > 0)) continue;
        const double out = std::max(spreads(model_.gases[index]), warm(e.above) ? swept : 0.0);
        sum += out > 0 ? e.flow / out : infinity;
    }
    return std::min(sum, 1.0);
}

double OpenTube::clears(timeline::Index species, double share) const {
    const check::Index index = model_.gas_named(timeline_.species[species]);
    if (index == check::none || !model_.gases[index].molar_mass.given || !(share > 0)) return infinity;
    // Both ends open, full at first: the mean of a tube that long falls no slower than 4/pi exp(-pi2 D t / L2)
    // (Crank, The Mathematics of Diffusion; from memory).
    const double air = rig_.ambient_pressure.hi() / (physics::gas_constant * rig_.ambient_temperature.lo());
    const double diffusivity =
        vapour_spreads * std::sqrt(vapour_mass / model_.gases[index].molar_mass.hi()) / air;
    const double rate = diffusivity * std::pow(physics::pi / rig_.tube.length.hi(), 2);
    return std::max(0.0, std::log(4 / physics::pi / share)) / rate;
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

double ignites_at(const check::Model& model, const check::Gas& gas) {
    double ignites = infinity;
    for (const auto& [index, part] : gas.parts)
        if (const check::Gas& fuel = model.gases[index]; fuel.hazards.flammable && part.hi > 0)
            ignites = std::min(ignites, fuel.autoignition.given ? fuel.autoignition.lo() : plant::left_alone);
    return ignites;
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
        const double part = share(s, state, discrete);
        const check::Figure& limit = model.gases[index].exposure_limit;
        if (part > 0) load += limit.given && limit.lo() > 0 ? part / limit.lo() : infinity;
    }
    return load > 1 || made(state, discrete);
}

double Hazards::share(timeline::Index species, const plant::State& state,
                      const timeline::State& discrete) const {
    const double all = plant.signal({timeline::SignalKind::fraction, species}, state, discrete).hi;
    const OpenTube open = open_tube();
    if (!(all > 0) || !open.applies()) return all;
    for (timeline::Index l = 0; l < rig.lines.size(); ++l)
        if (timeline.lines[l].ever_open() && gas(l) != nullptr)
            for (const auto& [part, share] : gas(l)->parts)
                if (model.gases[part].name == timeline.species[species]) return all;
    return std::min(all, open.share(species));
}

std::optional<Hazards::Made> Hazards::carbon_monoxide(const plant::State& state,
                                                      const timeline::State& discrete, double each) const {
    std::optional<Made> found;
    for (timeline::Index s = 0; s < timeline.species.size(); ++s) {
        const check::Index index = model.gas_named(timeline.species[s]);
        if (index == check::none || model.gases[index].formula != "CO2") continue;
        // CO2 + H2 = CO + H2O, CO2 + CH4 = 2 CO + 2 H2: a fuel takes twice the atoms of oxygen that it takes to
        // burn, one from each carbon dioxide, and its own carbon leaves as carbon monoxide as well.
        const double donor = share(s, state, discrete);
        for (timeline::Index f = 0; donor > each && f < timeline.species.size(); ++f) {
            const check::Index other = model.gas_named(timeline.species[f]);
            if (other == check::none) continue;
            const check::Gas& fuel = model.gases[other];
            if (!fuel.hazards.flammable || fuel.formula == "CO") continue;
            const double part = share(f, state, discrete);
            if (!(part > each)) continue;
            const bool carbon = physics::composition(fuel.formula).contains("C");
            const double takes = 2 * physics::oxygen_demand(fuel.formula).value_or(infinity);
            const double most = std::min({1.0, std::max(1.0, takes) * part, (carbon ? 2 : 1) * donor});
            if (!found || most > found->most)
                found = Made{"carbon_monoxide", fuel.name + " and " + model.gases[index].name, most};
        }
    }
    return found;
}

std::optional<Hazards::Made> Hazards::made(const plant::State& state, const timeline::State& discrete) const {
    double hottest = 0;
    for (const plant::ZoneState& zone : state.zones)
        hottest = std::max({hottest, zone.control.hi, zone.load.hi});
    // What breaks up, by its own declaration.
    for (timeline::Index s = 0; s < timeline.species.size(); ++s) {
        const check::Index index = model.gas_named(timeline.species[s]);
        if (index == check::none) continue;
        const check::Gas& gas = model.gases[index];
        if (!gas.toxic_above.given || gas.hazards.toxic || hottest < gas.toxic_above.lo()) continue;
        if (const double part = share(s, state, discrete); part > trace)
            return Made{"what " + gas.name + " breaks up to", gas.name, part};
    }
    return hottest < reacts ? std::nullopt : carbon_monoxide(state, discrete, trace);
}

std::optional<Hazards::Made> Hazards::made_before(const plant::State& state,
                                                  const timeline::State& discrete) const {
    const std::optional<Made> rest = carbon_monoxide(state, discrete, 0);
    const check::Index gas = model.gas_named("carbon_monoxide");
    const double limit =
        gas != check::none && model.gases[gas].exposure_limit.given ? model.gases[gas].exposure_limit.lo() : 0;
    return rest && rest->most > limit ? rest : std::nullopt;
}

bool Hazards::comes(check::Index substance) const {
    for (timeline::Index l = 0; l < rig.lines.size(); ++l)
        if (timeline.lines[l].ever_open() && gas(l) != nullptr)
            for (const auto& [part, share] : gas(l)->parts)
                if (part == substance && share.hi > 0) return true;
    return std::any_of(timeline.evolved.begin(), timeline.evolved.end(), [&](const timeline::Evolved& e) {
        return model.gas_named(timeline.species[e.species]) == substance;
    });
}

bool Hazards::any_toxic() const {
    bool carbon_dioxide = false, fuel = false;
    for (const std::string& name : timeline.species) {
        const check::Index index = model.gas_named(name);
        if (index == check::none) continue;
        const check::Gas& gas = model.gases[index];
        if (gas.hazards.toxic || gas.toxic_above.given) return true;
        carbon_dioxide = carbon_dioxide || (gas.formula == "CO2" && comes(index));
        fuel = fuel || (gas.hazards.flammable && comes(index));
    }
    return carbon_dioxide && fuel;
}

std::string_view Hazards::unattended(const plant::State& state, const timeline::State& discrete) const {
    if (flammable(state, discrete)) return "a flammable state";
    if (toxic(state, discrete)) return "a toxic state";
    if (evacuated(state.pressure, discrete)) return "a tube under vacuum";
    return {};
}

} // namespace athanor::prove
