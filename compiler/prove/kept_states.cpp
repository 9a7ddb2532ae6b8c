#include "compiler/prove/kept_states.hpp"

#include <algorithm>
#include <array>

namespace athanor::prove {

using plant::State;
using plant::ZoneState;

namespace {

constexpr std::size_t per_zone = 4; // intervals
/// What every state has.
constexpr std::array always{&State::pressure, &State::swept,    &State::elapsed, &State::burning,
                            &State::inflow,   &State::drawn_in, &State::taken};
static_assert(sizeof(State) ==
                  sizeof(plant::ZoneStates) + 2 * sizeof(plant::Composition) + always.size() * sizeof(Interval),
              "every part of a state is kept");

} // namespace

void KeptStates::reserve(std::size_t count, std::size_t zones, std::size_t species) {
    places_.reserve(count);
    intervals_.reserve(count * (per_zone * zones + 2 * species + always.size()));
}

void KeptStates::keep(const State& state) {
    const std::size_t first = intervals_.size();
    places_.push_back({static_cast<std::uint32_t>(first), static_cast<std::uint8_t>(state.zones.size()),
                       static_cast<std::uint8_t>(state.fraction.size()),
                       static_cast<std::uint8_t>(state.pore.size())});
    intervals_.resize(first + always.size() + per_zone * state.zones.size() + state.fraction.size() +
                      state.pore.size());
    Interval* to = intervals_.data() + first;
    for (const auto part : always) *to++ = state.*part;
    for (const ZoneState& zone : state.zones) {
        *to++ = zone.control;
        *to++ = zone.load;
        *to++ = zone.setpoints;
        *to++ = {zone.setpoint, (zone.comes_down ? 1.0 : 0.0) + (zone.comes_up ? 2.0 : 0.0)};
    }
    to = std::copy(state.fraction.begin(), state.fraction.end(), to);
    std::copy(state.pore.begin(), state.pore.end(), to);
}

State KeptStates::operator[](std::size_t number) const {
    const Place& place = places_[number];
    const Interval* from = intervals_.data() + place.first;
    State state;
    for (const auto part : always) state.*part = *from++;
    state.zones.grow(place.zones);
    for (ZoneState& zone : state.zones) {
        zone.control = *from++;
        zone.load = *from++;
        zone.setpoints = *from++;
        const auto still_to_come = static_cast<unsigned>(from->hi);
        zone.setpoint = (from++)->lo;
        zone.comes_down = (still_to_come & 1U) != 0;
        zone.comes_up = (still_to_come & 2U) != 0;
    }
    state.fraction.grow(place.fractions);
    std::copy_n(from, place.fractions, state.fraction.begin());
    state.pore.grow(place.pores);
    std::copy_n(from + place.fractions, place.pores, state.pore.begin());
    return state;
}

} // namespace athanor::prove
