#pragma once
#include "compiler/timeline/timeline.hpp"

#include <vector>

/// What a controller that holds at the end goes on with: its last set-points, those of a natural cooling too,
/// which it is keyed to step to, and the outputs of the end.
namespace athanor::timeline {

/// One law for each zone; `most` as `Timeline::laws_most`, empty where there is no range.
struct Held {
    std::vector<Law> laws, most;
};
/// The timeline's spans must not be empty.
Held held(const Timeline& timeline);

/// With one more step, in which all this goes on until a person comes; for two days, by when it stands still
/// (common practice, no source).
Timeline held_on(const Timeline& timeline);

} // namespace athanor::timeline
