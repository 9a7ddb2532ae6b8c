#pragma once
#include "compiler/program/program.hpp"
#include "compiler/replay/finding.hpp"
#include "compiler/timeline/timeline.hpp"

#include <map>
#include <set>
#include <string>
#include <vector>

/// From a program back to the text of a recipe: what the controller does, step by step, with what the
/// instructions ask of people. Why it does so (conditions, requirements, parameters) stands in no table.
namespace athanor::replay {

struct LiftOptions {
    std::string name, title, rig, controller;    // of the recipe
    std::string head;                            // comments and imports in front of it
    std::map<std::string, std::string> flows;    // of meters that are set by hand: "1.5 L/min", by line
    std::map<RowName, std::string> instructions; // in place of a row's own
    /// Every step is written as what the controller does (`step to`, then a wait), never as natural cooling
    /// that a plant must time: the text then says no more than the table.
    bool literal = false;
    std::set<RowName> literal_rows; // the same for single steps
    /// Zones that one row brings to their targets at different instants are written so, however many steps that
    /// takes; else they arrive together, at an instant near to all of them.
    bool exact = false;
    /// Rows that lead several zones along one line, at rates at most so many steps apart, are one ramp; 0: each
    /// is its own.
    std::int64_t joined = 0;
};

struct Lifted {
    std::string text;
    std::vector<RowName> rows;      // for each line of the text; programme 0: in front of the steps
    std::vector<Finding> missing;   // what neither table nor options say, and the recipe cannot do without
    std::vector<Finding> disagree;  // instruction and output say different things
    std::vector<std::string> notes; // what was taken for granted
};

/// `bench` gives lines, burner, pump, bubbler, slide and zones of the rig; nothing else of it is read.
Lifted lift(const program::Program& program, const timeline::Timeline& bench, const LiftOptions& options);

} // namespace athanor::replay
