#pragma once
#include "compiler/program/program.hpp"
#include "compiler/timeline/timeline.hpp"

#include <string>
#include <vector>

namespace athanor::driver {

/// Which segment of the controller keys each span of the legalised timeline: "1.4", or "1.4-1.5" where one span
/// takes several; empty for a wait between two programmes. Found by adding up times, so the result is empty as
/// a whole when the two do not meet at every boundary: no number is better than a wrong one.
std::vector<std::string> segments_of(const timeline::Timeline& timeline, const program::Program& program);

} // namespace athanor::driver
