#pragma once
#include "compiler/driver/pipeline.hpp"
#include "compiler/replay/replay.hpp"

#include <vector>

/// What a table says of itself beside what is keyed: starts, lengths, totals, verdicts. A reader may rely on
/// it, so it must agree with what the table does.
namespace athanor::driver {

/// `start`: K that the tube may have when the first programme begins. `compiled`: the recipe, where there is
/// one and the table keys the very same as it; then every figure must be that of the recipe.
std::vector<Misfit> figure_misfits(const ReadTable& table, const replay::Run& run, Interval start,
                                   const Session* session, const Compiled* compiled);

} // namespace athanor::driver
