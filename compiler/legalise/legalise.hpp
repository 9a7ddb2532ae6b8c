#pragma once
#include "compiler/check/model.hpp"
#include "compiler/plant/plant.hpp"
#include "compiler/program/program.hpp"
#include "compiler/source/diagnostic.hpp"
#include "compiler/source/file.hpp"
#include "compiler/timeline/timeline.hpp"

#include <cstdint>

namespace athanor::legalise {

/// Whether anybody reads the program. Most keyings only show that a recipe can be keyed, and what it becomes.
enum class Texts : std::uint8_t {
    all,
    none // segments without instructions and reasons, their times not rounded for people
};

struct Legalised {
    program::Program program;    // with the texts that were asked for
    timeline::Timeline timeline; // what the program really does: rounded set-points, rates and times
    double setpoint_error = 0;   // K, largest deviation from the recipe's set-point line
    double instant_error = 0;    // s, largest deviation of an event instant
    bool complete = false;       // false: errors were reported
    bool displaced = false;      // a set-point is not the nearest settable one, because that saves segments
};

} // namespace athanor::legalise
