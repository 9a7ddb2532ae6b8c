#include "compiler/prove/kept_states.hpp"

namespace athanor::prove {

using plant::State;
using plant::ZoneState;

namespace {

constexpr std::size_t per_zone = 5; // intervals
constexpr std::size_t always = 7;   // intervals that every state has
static_assert(sizeof(State) ==
                  sizeof(plant::ZoneStates) + 2 * sizeof(plant::Composition) + always * sizeof(Interval),
              "every part of a state is kept");

/// Shows them one after the other.
template<class Kept, class Show>
void show_always(Kept& state, Show show) {
    show(state.pressure);
    show(state.swept);
    show(state.elapsed);
    show(state.burning);
    show(state.inflow);
    show(state.drawn_in);
    show(state.taken);
}

} // namespace

void KeptStates::reserve(std::size_t count, std::size_t zones, std::size_t species) {
    places_.reserve(count);
    intervals_.reserve(count * (per_zone * zones + 2 * species + always));
}

void KeptStates::keep(const State& state) {
    const std::size_t first = intervals_.size();
    places_.push_back({static_cast<std::uint32_t>(first), static_cast<std::uint8_t>(state.zones.size()),
                       static_cast<std::uint8_t>(state.fraction.size()),
                       static_cast<std::uint8_t>(state.pore.size())});
    intervals_.resize(first + always + per_zone * state.zones.size() + state.fraction.size() +
                      state.pore.size());
    Interval* to = intervals_.data() + first;
    show_always(state, [&](const Interval& part) { *to++ = part; });
    for (const ZoneState& zone : state.zones) {
        *to++ = zone.control;
        *to++ = zone.load;
        *to++ = zone.setpoints;
        *to++ = {zone.setpoint,
                 (zone.comes_down ? 1.0 : 0.0) + (zone.comes_up ? 2.0 : 0.0) + (zone.untouched ? 4.0 : 0.0)};
        *to++ = {zone.unread.below, zone.unread.above};
    }
    for (const Interval& gas : state.fraction) *to++ = gas;
    for (const Interval& gas : state.pore) *to++ = gas;
}

State KeptStates::operator[](std::size_t number) const {
    const Place& place = places_[number];
    const Interval* from = intervals_.data() + place.first;
    State state;
    show_always(state, [&](Interval& part) { part = *from++; });
    state.zones.grow(place.zones);
    for (ZoneState& zone : state.zones) {
        zone.control = *from++;
        zone.load = *from++;
        zone.setpoints = *from++;
        const auto still_to_come = static_cast<unsigned>(from->hi);
        zone.setpoint = (from++)->lo;
        zone.comes_down = (still_to_come & 1U) != 0;
        zone.comes_up = (still_to_come & 2U) != 0;
        zone.untouched = (still_to_come & 4U) != 0;
        zone.unread = {from->lo, from->hi};
        ++from;
    }
    state.fraction.grow(place.fractions);
    for (Interval& gas : state.fraction) gas = *from++;
    state.pore.grow(place.pores);
    for (Interval& gas : state.pore) gas = *from++;
    return state;
}

} // namespace athanor::prove
