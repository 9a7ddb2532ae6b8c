#pragma once
#include "compiler/check/load.hpp"
#include "compiler/elaborate/elaborate.hpp"
#include "compiler/legalise/limits.hpp"
#include "compiler/prove/prove.hpp"
#include "tests/mutation/text.hpp"

#include <memory>
#include <set>

namespace athanor::mutation {

/// A mutant taken as far as it gets.
struct Compiled {
    Files files;
    Diagnostics out;
    std::vector<check::Unit> units;
    check::Model model;
    elaborate::Elaborated done;
    legalise::Legalised legalised;
    bool runs = false;     // there is a timeline that could be run, proven or not
    bool accepted = false; // no stage found an error

    const check::Rig& rig() const { return model.rigs[model.recipes[0].rig_index]; }
    /// What the controller would run; without a controller, or where it cannot hold it, what the recipe asks.
    const timeline::Timeline& timeline() const {
        return legalised.complete ? legalised.timeline : *done.timeline;
    }
    std::set<Code> errors() const;
};

/// In this process, with the library of the project; every file but recipe and rig is read from the disk.
std::unique_ptr<Compiled> compile(const Subject& subject);

} // namespace athanor::mutation
