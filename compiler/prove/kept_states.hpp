#pragma once
#include "compiler/plant/plant.hpp"

#include <cstddef>
#include <cstdint>
#include <vector>

namespace athanor::prove {

using plant::Always;
using plant::KeptState;

/// States of one rig, side by side: as many zones and as many gases each. A plant::State has room for the most
/// that a rig may have; of a long recipe two states a span are kept, and most of their memory would be empty
/// room. What the plant remembers already stays there.
class KeptStates {
public:
    /// Until there are more than `count`, what was read of one stays where it is.
    void reserve(std::size_t count);
    /// The state becomes the last one.
    void keep(const plant::State& state);
    /// The same of one that lies elsewhere as long as this does.
    void refer(const KeptState& state) {
        zones_each_ = state.zones.size();
        gases_each_ = state.fraction.size();
        places_.push_back({state, state.zones.data(), state.fraction.data(), elsewhere});
    }
    KeptState operator[](std::size_t number) const {
        const Place& at = places_[number];
        const bool here = at.number != elsewhere;
        const plant::ZoneState* const zones = here ? zones_.data() + at.number * zones_each_ : at.zones;
        const Interval* const gases = here ? gases_.data() + at.number * 2 * gases_each_ : at.gases;
        return {at, {zones, zones_each_}, {gases, gases_each_}, {gases + gases_each_, gases_each_}};
    }
    std::size_t size() const { return places_.size(); }

private:
    static constexpr std::size_t elsewhere = SIZE_MAX;
    struct Place : Always {
        const plant::ZoneState* zones; // where it lies elsewhere
        const Interval* gases;
        std::size_t number; // of those that lie here
    };
    void make_room();

    std::size_t most_ = 0, here_ = 0;
    std::size_t zones_each_ = 0, gases_each_ = 0;
    std::vector<Place> places_;
    std::vector<plant::ZoneState> zones_;
    std::vector<Interval> gases_; // of each state the free ones, then those in the pores
};

} // namespace athanor::prove
