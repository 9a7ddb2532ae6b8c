#pragma once
#include "compiler/plant/plant.hpp"

#include <algorithm>
#include <cstddef>
#include <span>
#include <vector>

namespace athanor::prove {

/// What every plant::State has, however many zones and gases there are.
struct Always {
    Interval pressure, swept, elapsed, burning, inflow, drawn_in, taken;
};

/// A plant::State where it is kept, field for field: whoever reads one or two of them needs no whole state.
struct KeptState : Always {
    std::span<const plant::ZoneState> zones;
    std::span<const Interval> fraction, pore;

    /// The whole of it, for the plant.
    operator plant::State() const {
        plant::State state;
        state.pressure = pressure;
        state.swept = swept;
        state.elapsed = elapsed;
        state.burning = burning;
        state.inflow = inflow;
        state.drawn_in = drawn_in;
        state.taken = taken;
        std::copy(zones.begin(), zones.end(), state.zones.overwrite(zones.size()));
        std::copy(fraction.begin(), fraction.end(), state.fraction.overwrite(fraction.size()));
        std::copy(pore.begin(), pore.end(), state.pore.overwrite(pore.size()));
        return state;
    }
};

/// States of one rig, side by side: as many zones and as many gases each. A plant::State has room for the most
/// that a rig may have; of a long recipe two states a span are kept, and most of their memory would be empty
/// room.
class KeptStates {
public:
    /// Room for `count` states like this one: until there are more, what was read of one stays where it is.
    void reserve(std::size_t count, const plant::State& like);
    /// The state becomes the last one.
    void keep(const plant::State& state);
    KeptState operator[](std::size_t number) const {
        const plant::ZoneState* const zones = zones_.data() + number * zones_each_;
        const Interval* const gases = gases_.data() + number * (gases_each_ + pores_each_);
        return {
            always_[number], {zones, zones_each_}, {gases, gases_each_}, {gases + gases_each_, pores_each_}};
    }
    std::size_t size() const { return always_.size(); }

private:
    std::size_t zones_each_ = 0, gases_each_ = 0, pores_each_ = 0;
    std::vector<Always> always_;
    std::vector<plant::ZoneState> zones_;
    std::vector<Interval> gases_; // of each state the free ones, then those in the pores
};

} // namespace athanor::prove
