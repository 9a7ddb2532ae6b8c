#pragma once
#include "compiler/check/model.hpp"
#include "compiler/plant/plant.hpp"
#include "compiler/program/program.hpp"
#include "compiler/source/diagnostic.hpp"
#include "compiler/source/file.hpp"
#include "compiler/timeline/timeline.hpp"

#include <optional>
#include <string>

namespace athanor::legalise {

struct Legalised {
    program::Program program;
    timeline::Timeline timeline; // what the program really does: rounded set-points, rates and times
    double setpoint_error = 0;   // K, largest deviation from the recipe's set-point line
    double instant_error = 0;    // s, largest deviation of an event instant
    bool complete = false;       // false: errors were reported
    bool displaced = false;      // a set-point is not the nearest settable one, because that saves segments
};

/// Turns a timeline into a program that the controller can hold, left to right: every `until` is resolved again
/// on the rounded prefix. Reports the rules of the group `controller`. `nearest`: every set-point is the
/// nearest settable one, even where another inside the budget saves segments; for when only that is proven
/// safe.
Legalised legalise(const timeline::Timeline& timeline, const plant::Plant& plant,
                   const program::Controller& controller, const Files& files, Diagnostics& out,
                   bool nearest = false);

} // namespace athanor::legalise
