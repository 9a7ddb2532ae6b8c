#include "compiler/prove/kept_states.hpp"

#include <cassert>

namespace athanor::prove {

using plant::State;

static_assert(sizeof(State) == sizeof(plant::ZoneStates) + 2 * sizeof(plant::Composition) + sizeof(Always),
              "every part of a state is kept");

void KeptStates::reserve(std::size_t count) {
    most_ = count;
    places_.reserve(count);
    if (here_ > 0) make_room();
}

void KeptStates::make_room() {
    zones_.reserve(most_ * zones_each_);
    gases_.reserve(most_ * 2 * gases_each_);
}

void KeptStates::keep(const State& state) {
    const std::size_t zones = state.zones.size(), gases = state.fraction.size();
    if (here_ == 0) {
        zones_each_ = zones;
        gases_each_ = gases;
        make_room();
    }
    assert(zones == zones_each_ && gases == gases_each_ && state.pore.size() == gases);
    places_.push_back({state, nullptr, nullptr, here_++});
    zones_.insert(zones_.end(), state.zones.begin(), state.zones.end());
    gases_.insert(gases_.end(), state.fraction.begin(), state.fraction.end());
    gases_.insert(gases_.end(), state.pore.begin(), state.pore.end());
}

} // namespace athanor::prove
