#pragma once
#include "compiler/program/program.hpp"
#include "compiler/replay/replay.hpp"
#include "compiler/timeline/timeline.hpp"

#include <string>
#include <vector>

/// A small hand-built run in which everything happens that a table can say: purge, ramps, soak band, gas
/// exchange, burner, loop, natural cooling. The recipe (timeline) and the table (program) are written down
/// apart.
namespace bench {

using namespace athanor;

program::Controller controller();
timeline::Timeline recipe();
program::Program table();

/// What compare() says about a table, problems of the run included.
std::vector<std::string> check(const program::Program& table, const timeline::Timeline& recipe);
std::string joined(const std::vector<std::string>& messages);
std::string joined(const std::vector<replay::Finding>& findings);

} // namespace bench
