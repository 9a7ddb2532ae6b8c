#pragma once
#include "compiler/check/equipment.hpp"

/// What a meter lets through, mol/s, of a flow that is set or of any.
namespace athanor::prove {

/// The true flow of a set one, over the meter's error.
Interval with_error(Interval set, const check::Meter& meter);
/// The greatest true flow that the meter can be set to; infinite where its range is not declared.
double most_flow(const check::Meter& meter);

} // namespace athanor::prove
