#pragma once
#include "compiler/plant/plant.hpp"

namespace athanor::plant {

/// The exit of a span that begins at what is measured, not at its laws' own start: nobody knows where in the
/// room's interval that is, so that it lasts `duration` (s) instead of about its ending's. Its set-points run
/// at the laws' rates to the laws' ends.
State exit_from_measured(const Plant& plant, const State& entry, Drive drive, const timeline::Ending& ending,
                         Interval duration);

} // namespace athanor::plant
