#include "compiler/prove/hazards.hpp"

namespace athanor::prove {

const check::Gas* Hazards::gas(timeline::Index line) const {
    const check::Index index = rig.lines[line].gas;
    return index == check::none ? nullptr : &model.gases[index];
}

bool Hazards::may_be_open(timeline::Index line, const plant::State& state,
                          const timeline::State& discrete) const {
    return plant.signal({timeline::SignalKind::line_open, line}, state, discrete).hi > 0.5;
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
    return plant.signal({timeline::SignalKind::flammability, timeline::none}, state, discrete).hi >=
           flammable_rest;
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
