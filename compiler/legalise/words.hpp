#pragma once
#include "compiler/timeline/timeline.hpp"

#include <string>

/// What a person reads beside a segment.
namespace athanor::legalise {

/// Adds the actions at one boundary in words: "open argon at 1.5 slm; light burner", behind "; " where
/// something stands there already. `before`: state before them. What is undone at the same boundary is not
/// said.
void add_instruction(std::string& text, const timeline::Timeline& timeline, timeline::Index first,
                     timeline::Index count, const timeline::State& before);

/// What goes on by itself behind the last row, as a person finds it: "at the end argon falls open and flows
/// until it is shut by hand". `last`: state after the last action; `holds`: the controller's outputs stay as
/// keyed.
void add_after_end(std::string& text, const timeline::Timeline& timeline, const timeline::State& last,
                   bool holds);

/// Takes "tube may be opened" off the end of an instruction: it counts only while that very person is waited
/// for.
std::string take_opening(std::string& text);

/// Whether an action needs a row of its own to stand in even where no state changes.
bool speaks(timeline::ActionKind kind);

} // namespace athanor::legalise
