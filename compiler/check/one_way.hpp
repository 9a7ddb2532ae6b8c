#pragma once
#include "compiler/check/model.hpp"

#include <optional>
#include <vector>

namespace athanor::check {

/// The first expression of a recipe, or of an operation it calls, whose value may turn inside the range of a
/// parameter, so that its extremes need not stand at the range's ends: one that multiplies or divides two
/// values which both depend on ranges, or a function that is not monotone in an argument that does.
std::optional<athanor::Span> turning_expression(const Model& model, const Recipe& recipe);

/// Constants that a parameter of a recipe is compared with: where an `if` may change what runs. SI.
std::vector<double> thresholds_of(const Model& model, const Recipe& recipe, std::size_t parameter);

} // namespace athanor::check
