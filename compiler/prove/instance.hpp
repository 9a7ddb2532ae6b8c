#pragma once
#include "compiler/check/model.hpp"
#include "compiler/source/diagnostic.hpp"
#include "compiler/timeline/timeline.hpp"

#include <string>
#include <vector>

namespace athanor::prove {

/// One clause of a rule with its words replaced by this rig's: one whose event names a hazard is read once for
/// every used line whose gas carries it.
struct Instance {
    const check::Rule* rule = nullptr;
    const check::RuleRequire* clause = nullptr;
    /// The line of the event; without one, the only line of the hazard that the clause names.
    timeline::Index line = timeline::none;
    timeline::Condition require, guard, until;
    double temperature = 0; // K, for `heating above T`
    /// Lines and gases that a site's clause names and this rig does not have: nothing of them flows or is in
    /// the tube. A constant of index `first_absent` + n stands for the n-th, which is text for a message.
    std::vector<std::string> absent;
};

constexpr timeline::Index first_absent = 2;

/// Every clause of every rule that can apply to this timeline. A rule whose words this rig does not know is
/// reported at its place and left out.
std::vector<Instance> instances(const check::Model& model, const check::Rig& rig,
                                const timeline::Timeline& timeline, Diagnostics& out);

} // namespace athanor::prove
