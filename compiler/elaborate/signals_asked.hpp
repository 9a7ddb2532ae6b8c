#pragma once
#include "compiler/check/model.hpp"

#include <vector>

namespace athanor::elaborate {

/// The signals that conditions ask for where they can apply to a recipe on a rig: its own, those of the
/// operations that it calls, the rules and the rig's interlocks; in the order of the model. What other recipes
/// and rigs ask is not here.
std::vector<check::ExprId> signals_asked(const check::Model& model, const check::Recipe& recipe,
                                         const check::Rig& rig);

} // namespace athanor::elaborate
