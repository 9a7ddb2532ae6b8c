#pragma once
#include "compiler/plant/plant.hpp"
#include "compiler/program/program.hpp"
#include "compiler/timeline/timeline.hpp"

#include <vector>

/// Outputs of one segment move together, in no order that anyone has promised.
namespace athanor::legalise {

struct Ordered {
    timeline::Timeline timeline;
    std::vector<timeline::Index> map; // as Retimed::map; an inserted span belongs to the one behind it
    std::vector<bool> inserted;       // per span of `timeline`
};

/// Puts the shortest settable dwell between two actions of one instant that are only safe in the order in which
/// they are written: a hazardous gas shut before the pump starts or before the burner goes out, the burner lit
/// before flammable gas comes, fuel shut before an oxidiser opens and the reverse.
Ordered keep_order(const timeline::Timeline& timeline, const plant::Plant& plant,
                   const program::Controller& controller);

} // namespace athanor::legalise
