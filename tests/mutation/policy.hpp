#pragma once
#include "compiler/prove/instance.hpp"
#include "tests/mutation/condition.hpp"

#include <set>
#include <string>
#include <vector>

/// The clauses of the policy asked of one simulated run, instant by instant. Most of them ask for a margin: a
/// rule may be broken without any danger.
namespace athanor::mutation {

/// Names of the rules that this run breaks on this rig. A clause about a signal that the simulator does not
/// have counts as kept. `failed`: the run ends with what follows a failure of power, and only `after abort` is
/// asked.
std::set<std::string> broken_rules(const std::vector<prove::Instance>& instances, const check::Model& model,
                                   const check::Rig& rig, const timeline::Timeline& timeline,
                                   const simulator::Draw& draw, const simulator::Trajectory& run, bool failed);

} // namespace athanor::mutation
