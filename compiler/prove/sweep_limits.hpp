#pragma once
#include "compiler/check/model.hpp"

#include <string>

namespace athanor::prove {

/// Until when a tube is swept, as a step of a recipe says it: the strictest figure of any rule that is in
/// force, a site's own ones too, with some room for rounding. With the standard policy alone: as in quotes.
struct SweepLimits {
    std::string little_oxygen; // "oxygen < 0.5 %"
    std::string air_gone;      // "oxygen < 0.5 % and swept > 5.5 volumes"
    std::string fuel_gone;     // "flammability < 20 %"
    std::string burner_burns;  // "2 min"
};
SweepLimits sweep_limits(const check::Model& model);

} // namespace athanor::prove
