#pragma once
#include "compiler/check/equipment_readers.hpp"

#include <vector>

namespace athanor::check {

/// A pure gas that a site declares must not claim less than its formula says: one that burns is `flammable`,
/// one that gives oxygen off is an `oxidiser` (by what it burns to), it carries every hazard that a gas or a
/// `substance` of the same formula has, and none of its figures is less careful. Else `rig_inconsistent`. Of a
/// formula that is not known and holds other elements than C, H, N, O, S and noble gases: a warning where it
/// claims no danger. Then what has one formula becomes one substance: a site's gas takes the parts of the
/// library's, or of the one that the site declares first, and the careful figures of both bind. `of`: the
/// declaration of each gas of the model.
void check_formulas(const Reading& reading, const std::vector<Declaration*>& of);

/// Two formulas of one substance, however they are written; isomers count as one.
bool same_formula(const std::string& a, const std::string& b);

} // namespace athanor::check
