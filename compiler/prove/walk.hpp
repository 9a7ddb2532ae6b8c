#pragma once
#include "compiler/plant/plant.hpp"
#include "compiler/timeline/timeline.hpp"

#include <vector>

namespace athanor::prove {

/// The state of the rig before and after every action and span of a timeline, computed once for all rules.
struct Walk {
    struct Step {
        plant::State arrival; // before the actions of this boundary
        plant::State entry;   // after them
        plant::State exit;    // at the end of the span
        double at_s = 0;      // nominal instant of entry
    };
    std::vector<Step> steps; // one per span
    plant::State end;        // after the last span, before the end actions
    double end_s = 0;
};

/// `plant` must have been made for a timeline with the same species, lines and thresholds.
Walk walk(const timeline::Timeline& timeline, const plant::Plant& plant);

/// How one span ends from an entry state.
plant::State leave(const timeline::Timeline& timeline, const plant::Plant& plant, std::size_t span, const plant::State& entry);

} // namespace athanor::prove
