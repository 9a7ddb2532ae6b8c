#pragma once
#include "compiler/plant/plant.hpp"
#include "compiler/prove/kept_states.hpp"
#include "compiler/timeline/timeline.hpp"

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <vector>

namespace athanor::prove {

/// What the set-point of a zone does in a span. Where the timeline stands for a range of parameters it lies
/// between two laws, of the lowest and of the highest; else they are one.
struct Laws {
    const timeline::Law &least, &most;
    Interval from() const { return {least.from, most.from}; }
    Interval to() const { return {least.to, most.to}; }
    double highest() const { return std::max(most.from, most.to); }
    double lowest() const { return std::min(least.from, least.to); }
};
inline Laws laws_of(const timeline::Timeline& timeline, std::size_t span, std::size_t zone) {
    const std::size_t at = span * timeline.zones.size() + zone;
    return {timeline.laws[at], timeline.laws_most.empty() ? timeline.laws[at] : timeline.laws_most[at]};
}

/// The state of the rig at every boundary of a timeline, computed once for all rules. Only what differs is
/// kept: the entry of a span, and the arrival before it where an action changes the contents. What the plant
/// remembers is read there.
struct Walk {
    struct Step {
        double at_s = 0;         // nominal instant of entry
        std::size_t arrival = 0; // 1 + index into `arrivals`; 0: the actions leave the contents as they are
    };
    std::vector<Step> steps; // one per span
    KeptStates entries;      // one per span, after the actions of its boundary
    KeptStates arrivals;
    plant::State end; // after the last span, before the end actions
    double end_s = 0;
    const timeline::Timeline* timeline = nullptr;
    const plant::Plant* plant = nullptr;

    plant::State entry(std::size_t span) const { return entries[span]; }
    /// The state before the actions of a boundary.
    plant::State arrival(std::size_t boundary) const {
        if (boundary == steps.size()) return end;
        std::size_t kept = steps[boundary].arrival;
        return kept == 0 ? entries[boundary] : arrivals[kept - 1];
    }
    /// Bounds over the whole of a span, worked out when they are first asked for. They stay as long as this
    /// does.
    KeptState over(std::size_t span) const {
        const std::uint32_t known = whole_of_[span];
        return whole_[(known != 0 ? known : ask(span)) - 1];
    }
    double at_s(std::size_t boundary) const { return boundary == steps.size() ? end_s : steps[boundary].at_s; }
    /// The same over `timeline::held_on(*timeline)`, which must outlive it.
    Walk held_on(const timeline::Timeline& longer) const;

private:
    friend Walk walk(const timeline::Timeline& timeline, const plant::Plant& plant);
    std::uint32_t ask(std::size_t span) const; // sets `whole_of_`

    /// Per span: what the plant remembers of it; null where it does not, or says more than its length.
    std::vector<const plant::Remembered*> passed_;
    mutable KeptStates whole_;                    // in the order of asking
    mutable std::vector<std::uint32_t> whole_of_; // per span: 1 + index into `whole_`; 0: not asked yet
};

/// `plant` must have been made for a timeline with the same species, lines and thresholds.
Walk walk(const timeline::Timeline& timeline, const plant::Plant& plant);

} // namespace athanor::prove
