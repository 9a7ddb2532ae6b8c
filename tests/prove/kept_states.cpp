#include "compiler/prove/kept_states.hpp"

#include <doctest/doctest.h>
#include <rapidcheck.h>

#include <algorithm>
#include <vector>

using namespace athanor;
using plant::State;

namespace {

Interval any_interval() {
    return {*rc::gen::arbitrary<double>(), *rc::gen::arbitrary<double>()};
}

State any_state(std::size_t zones, std::size_t gases) {
    State state;
    for (std::size_t z = 0; z < zones; ++z)
        state.zones[state.zones.size()] = {*rc::gen::arbitrary<double>(),
                                           any_interval(),
                                           any_interval(),
                                           any_interval(),
                                           *rc::gen::arbitrary<bool>(),
                                           *rc::gen::arbitrary<bool>(),
                                           *rc::gen::arbitrary<bool>(),
                                           {*rc::gen::arbitrary<double>(), *rc::gen::arbitrary<double>()}};
    for (plant::Composition* gas : {&state.fraction, &state.pore})
        for (std::size_t s = 0; s < gases; ++s) (*gas)[s] = any_interval();
    for (Interval* one : {&state.pressure, &state.swept, &state.elapsed, &state.burning, &state.inflow,
                          &state.drawn_in, &state.taken})
        *one = any_interval();
    return state;
}

bool same(const plant::ZoneState& a, const plant::ZoneState& b) {
    return a.setpoint == b.setpoint && a.control == b.control && a.load == b.load &&
           a.setpoints == b.setpoints && a.comes_down == b.comes_down && a.comes_up == b.comes_up &&
           a.untouched == b.untouched && a.unread.below == b.unread.below && a.unread.above == b.unread.above;
}

bool same(const State& a, const State& b) {
    return std::equal(a.zones.begin(), a.zones.end(), b.zones.begin(), b.zones.end(),
                      [](const auto& x, const auto& y) { return same(x, y); }) &&
           std::equal(a.fraction.begin(), a.fraction.end(), b.fraction.begin(), b.fraction.end()) &&
           std::equal(a.pore.begin(), a.pore.end(), b.pore.begin(), b.pore.end()) && a.pressure == b.pressure &&
           a.swept == b.swept && a.elapsed == b.elapsed && a.burning == b.burning && a.inflow == b.inflow &&
           a.drawn_in == b.drawn_in && a.taken == b.taken;
}

} // namespace

TEST_CASE("a state that was kept comes back as it was, however many zones and gases it has") {
    CHECK(rc::check("kept states", [] {
        prove::KeptStates kept;
        const auto zones = *rc::gen::inRange<std::size_t>(0, plant::max_zones + 1),
                   gases = *rc::gen::inRange<std::size_t>(0, plant::max_species + 1);
        if (*rc::gen::arbitrary<bool>()) kept.reserve(4);
        prove::KeptStates elsewhere;
        elsewhere.reserve(8);
        std::vector<State> states;
        for (int count = *rc::gen::inRange(0, 8); count-- > 0;) {
            states.push_back(any_state(zones, gases));
            elsewhere.keep(states.back());
            if (*rc::gen::arbitrary<bool>())
                kept.keep(states.back());
            else
                kept.refer(elsewhere[elsewhere.size() - 1]);
            RC_ASSERT(kept.size() == states.size());
        }
        for (std::size_t i = 0; i < states.size(); ++i) {
            RC_ASSERT(same(kept[i], states[i]));
            RC_ASSERT(kept[i].zones.size() == zones);
            RC_ASSERT(kept[i].inflow == states[i].inflow);
        }
    }));
}
