#pragma once
#include "compiler/timeline/timeline.hpp"

#include <string>

/// What a person reads beside a segment.
namespace athanor::legalise {

/// The actions at one boundary in words: "open argon at 1.5 slm; light burner". `before`: state before them.
std::string instruction(const timeline::Timeline& timeline, timeline::Index first, timeline::Index count,
                        const timeline::State& before);

/// Whether an action needs a row of its own to stand in even where no state changes.
bool speaks(timeline::ActionKind kind);

} // namespace athanor::legalise
