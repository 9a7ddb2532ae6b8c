#pragma once
#include "compiler/plant/plant.hpp"
#include "compiler/program/program.hpp"
#include "compiler/timeline/timeline.hpp"

#include <optional>
#include <vector>

/// Outputs of one segment move together, in no order that anyone has promised.
namespace athanor::legalise {

struct Ordered {
    std::optional<timeline::Timeline> timeline; // nothing: no span was inserted, the timeline stays as it is
    std::vector<timeline::Index> map; // as Retimed::map; an inserted span belongs to the one behind it
    std::vector<bool> inserted;       // per span of the new timeline
};

/// Puts the shortest settable dwell between two actions of one instant where some order of their outputs passes
/// a danger that the written one does not have: a flammable, oxidising or toxic gas against the pump, fuel or a
/// toxic gas without the burner, fuel and an oxidiser together.
Ordered keep_order(const timeline::Timeline& timeline, const plant::Plant& plant,
                   const program::Controller& controller);

} // namespace athanor::legalise
