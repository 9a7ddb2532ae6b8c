#pragma once
#include "compiler/driver/pipeline.hpp"
#include "compiler/driver/table_rows.hpp"
#include "compiler/replay/replay.hpp"

#include <vector>

namespace athanor::driver {

/// A table may wait longer for a condition than `build` would have it. Then what was proven is not what it
/// does: every rule, requirement and condition of the recipe is proven again with the table's own waits. What
/// does not hold any more.
std::vector<Misfit> broken_by_waits(const ReadTable& table, const std::vector<replay::OtherWait>& waits,
                                    const Session& session, const Compiled& compiled);

} // namespace athanor::driver
