#pragma once
#include "compiler/check/equipment_readers.hpp"

#include <vector>

namespace athanor::check {

/// A pure gas that a site declares must not claim less than its formula says: one that burns is `flammable`,
/// one that gives oxygen off is an `oxidiser` (by what it burns to), and it carries every hazard that the
/// standard library gives to the same formula. Else `rig_inconsistent`. Of other elements than C, H, N, O, S
/// and noble gases nothing is known: a warning where it claims no danger. `of`: the declaration of each gas of
/// the model.
void check_formulas(Reading& reading, const std::vector<Declaration*>& of);

} // namespace athanor::check
