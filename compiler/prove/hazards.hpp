#pragma once
#include "compiler/check/model.hpp"
#include "compiler/plant/plant.hpp"
#include "compiler/timeline/timeline.hpp"

#include <string_view>

namespace athanor::prove {

/// A flammable rest counts until it is certain under this share of the lower limit, as in the standard policy.
inline constexpr double flammable_rest = 0.25;

/// What in a state of the rig is a danger to people. `timeline`: its lines, species and what its load gives
/// off.
struct Hazards {
    const check::Model& model;
    const check::Rig& rig;
    const timeline::Timeline& timeline;
    const plant::Plant& plant;

    const check::Gas* gas(timeline::Index line) const;
    bool may_be_open(timeline::Index line, const plant::State& state, const timeline::State& discrete) const;
    bool uses(check::Hazard hazard) const; // some used line carries it, or the load gives it off
    bool flammable(const plant::State& state, const timeline::State& discrete) const; // open, or a rest
    bool toxic(const plant::State& state, const timeline::State& discrete) const; // open, or above its limit
    bool evacuated(const plant::State& state, const timeline::State& discrete) const;
    /// Why nobody may be away from a state for long; empty: no reason.
    std::string_view unattended(const plant::State& state, const timeline::State& discrete) const;
};

} // namespace athanor::prove
