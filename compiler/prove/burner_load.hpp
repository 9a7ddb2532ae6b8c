#pragma once
#include "compiler/prove/hazards.hpp"
#include "compiler/prove/walk.hpp"

#include <string>

namespace athanor::prove {

/// What the burner must be built for, a sentence: the most fuel that what flows in can push out of the tube,
/// with its heat, and the least gas that carries it there. Empty without a burner that is lit, or without fuel.
std::string burner_load(const Hazards& hazards, const Walk& walk);

} // namespace athanor::prove
