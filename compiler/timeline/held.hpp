#pragma once
#include "compiler/timeline/timeline.hpp"

/// What a controller that holds at the end goes on with.
namespace athanor::timeline {

/// Of one zone: to its last set-point, and there; a heater that is off stays so.
Law behind_end(const Law& law);

/// The timeline with one more step: the last set-points and the outputs of the end, until a person comes; for
/// two days, by when all stands still (common practice, no source). Its spans must not be empty.
Timeline held_on(const Timeline& timeline);

} // namespace athanor::timeline
