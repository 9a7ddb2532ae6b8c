#pragma once
#include "compiler/elaborate/elaborate.hpp"
#include "compiler/plant/plant.hpp"
#include "compiler/timeline/timeline.hpp"

#include <memory>
#include <string>
#include <vector>

namespace athanor::elaborate {

/// A recipe over a box of parameter values, as one timeline: its laws and endings are the least, `laws_most`
/// and `endings_most` the greatest. Whatever the values inside the box, each set-point, duration, flow and
/// limit lies between them; temperatures rise with set-points, so the two bound every run (docs/model.md).
struct Range {
    std::unique_ptr<timeline::Timeline> timeline; // null where the corners have no common shape
    std::string differs;                          // then: what is not the same in all of them
};

/// Joins the timelines of a box's corners. Their numbers must go in one direction with each parameter
/// (check::one_way), so that the extremes stand at corners; lengths that follow from the way between two
/// set-points do so only where it does not turn round inside the box. Durations of waits are the corners' own;
/// `settle` widens them.
Range join(const std::vector<const Elaborated*>& corners);

/// Resolves the durations of a joined timeline from its own joined states. False: some wait in it is not
/// certain to end for every value, and `why` says so. `plant` must have been made for this timeline.
bool settle(timeline::Timeline& range, const plant::Plant& plant, std::string& why);

} // namespace athanor::elaborate
