#pragma once
#include "compiler/check/evaluate.hpp"
#include "compiler/check/model.hpp"

#include <optional>
#include <vector>

namespace athanor::check {

/// Whether the ends of a recipe's ranges are enough to prove what lies between them.
struct OneWay {
    enum class Fault : std::uint8_t {
        none,
        turns,   // this value may have its extremes inside a range
        decides, // what runs, or whether it runs, may change inside a range at values that cannot be told
        length,  // how this step runs follows from values that together may turn
        lines    // which lines give this blend may change inside a range
    };
    Fault fault = Fault::none;
    athanor::Span span;                    // of what it is, in the recipe or in an operation that it calls
    std::vector<std::vector<double>> cuts; // of each parameter: what comparisons change their answer at, SI
};

/// Follows a recipe and the operations it calls, along the way that each number goes with each parameter that
/// has a range. `values` holds the parameters, a range as the interval of all its values; `ranged` says which
/// are ranges. `rig` may be nullptr: then no blend that depends on a range is trusted.
///
/// A number that the recipe states must go one way with each parameter. Where one is worked out of several (the
/// length of a ramp out of two set-points and a rate) they must be straight lines, or go such ways that it
/// cannot turn. A comparison that decides must have one answer over all values, or compare the parameter
/// itself with one number: the range is then cut there.
OneWay one_way(const Model& model, const Recipe& recipe, const Frame& values, const std::vector<bool>& ranged,
               const Rig* rig);

} // namespace athanor::check
