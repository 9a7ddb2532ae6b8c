#pragma once
#include "compiler/check/model.hpp"

namespace athanor::plant {

/// Fastest rate in K/s that the tube's material stands between two temperatures in K, as its declaration says
/// (common practice by material and diameter). Infinite where it says nothing for this tube; `row` is what
/// decides.
double tube_allowance(const check::Model& model, const check::Rig& rig, double from, double to,
                      const check::Figure** row = nullptr);

} // namespace athanor::plant
