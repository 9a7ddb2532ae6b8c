#pragma once
#include "compiler/check/model.hpp"
#include "compiler/timeline/timeline.hpp"

#include <string>
#include <vector>

namespace athanor::prove {

/// The usual cautions for what this timeline uses: gas, vacuum, heat. They defer to local codes and licensed
/// practice.
std::vector<std::string> cautions(const check::Model& model, const check::Rig& rig,
                                  const timeline::Timeline& timeline);

/// What "proven" rests on, and which figures of the rig are defaults.
std::vector<std::string> assumptions(const check::Rig& rig);
/// What people do before the programme is started; no row says it.
std::vector<std::string> beforehand(const timeline::Timeline& timeline);

/// What a site policy takes upon itself: "rule: because (approved …)".
std::vector<std::string> concessions(const check::Model& model);

} // namespace athanor::prove
