#include "compiler/prove/kept_states.hpp"

#include <cassert>

namespace athanor::prove {

using plant::State;

static_assert(sizeof(State) == sizeof(plant::ZoneStates) + 2 * sizeof(plant::Composition) + sizeof(Always),
              "every part of a state is kept");

void KeptStates::reserve(std::size_t count, const State& like) {
    always_.reserve(count);
    zones_.reserve(count * like.zones.size());
    gases_.reserve(count * (like.fraction.size() + like.pore.size()));
}

void KeptStates::keep(const State& state) {
    if (always_.empty()) {
        zones_each_ = state.zones.size();
        gases_each_ = state.fraction.size();
        pores_each_ = state.pore.size();
    }
    assert(state.zones.size() == zones_each_ && state.fraction.size() == gases_each_ &&
           state.pore.size() == pores_each_);
    always_.push_back(
        {state.pressure, state.swept, state.elapsed, state.burning, state.inflow, state.drawn_in, state.taken});
    for (const plant::ZoneState& zone : state.zones) zones_.push_back(zone);
    for (const Interval& gas : state.fraction) gases_.push_back(gas);
    for (const Interval& gas : state.pore) gases_.push_back(gas);
}

} // namespace athanor::prove
