#pragma once
#include "compiler/check/equipment_readers.hpp"

#include <vector>

namespace athanor::check {

/// A pure gas that a site declares must not claim less than its formula says: one that burns is `flammable`,
/// one that gives oxygen off is an `oxidiser` (by what it burns to), it carries every hazard that a gas or a
/// `substance` of the same formula has, and none of its figures is less careful. Else `rig_inconsistent`. Of a
/// formula that is not known and holds other elements than C, H, N, O, S and noble gases: a warning where it
/// claims no danger. `of`: the declaration of each gas of the model.
void check_formulas(Reading& reading, const std::vector<Declaration*>& of);

} // namespace athanor::check
