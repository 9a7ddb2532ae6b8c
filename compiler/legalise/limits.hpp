#pragma once
#include "compiler/legalise/legalise.hpp"

#include <functional>

namespace athanor::legalise {

/// What keying must not pass, where the recipe itself does not.
struct Limits {
    /// Fastest rate in K/s that the tube stands between two temperatures in K. Empty: any.
    std::function<double(double from, double to)> tube;
    /// Whether nobody may be away from a state for long: then no wait is keyed that may have no end. Empty:
    /// never.
    std::function<bool(const plant::State& state, const timeline::State& discrete)> hazardous;
};

/// Turns a timeline into a program that the controller can hold, left to right: every `until` is resolved again
/// on the rounded prefix. Reports the rules of the group `controller`. No keyed piece of a ramp is faster than
/// the limits, or than the furnace surely cools. `nearest`: every set-point is the nearest settable one, even
/// where another inside the budget saves segments; for when only that is proven safe.
/// `texts`: what only people read of the program.
Legalised legalise_within(const Limits& limits, const timeline::Timeline& timeline, const plant::Plant& plant,
                          const program::Controller& controller, const Files& files, Diagnostics& out,
                          bool nearest = false, Texts texts = Texts::all);

} // namespace athanor::legalise
