#pragma once
#include "compiler/check/load.hpp"
#include "compiler/elaborate/elaborate.hpp"
#include "compiler/prove/prove.hpp"

#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// Recipes as text, taken through everything up to the proof, in memory: no file is read.
namespace athanor::prove::test {

struct Case {
    Files files;
    Diagnostics out;
    std::vector<check::Unit> units;
    check::Model model;
    elaborate::Elaborated done;
    Assurance assurance;

    const check::Rig& rig() const { return model.rigs[model.recipes[0].rig_index]; }
    /// Errors as "rule:line", in the order of the text, separated by blanks; the line is the recipe text's own.
    std::string errors() const;
    /// Every finding in its short form, with causes: what a failing test prints.
    std::string all() const;
    /// The only error; fails the test when there are none or more.
    const Diagnostic& only() const;
    /// The first error of a code; fails the test when there is none.
    const Diagnostic& first(Code code) const;
    /// The row of a rule; of several (`require`), the n-th.
    const Row& row(std::string_view rule, std::size_t n = 0) const;
};

/// A small quartz tube with argon, hydrogen and oxygen on controlled meters, a pump and a burner, named
/// `small`; variants `three` (zones left, centre, right) and `slow` (a furnace too weak to shock the tube).
extern const std::string_view rigs;

/// The whole text of a file; it may `use "rigs.ath"`, or "vented.ath", the same without a pump. `standard` is
/// added to the library that is built in.
std::unique_ptr<Case> run(std::string_view text, std::string_view standard = {});

/// Steps on a rig. The first step stands on line 3; a policy's body, if any, is one line of its own: line 2.
std::unique_ptr<Case> steps(std::string_view text, std::string_view policy = {}, std::string_view rig = "small",
                            std::string_view standard = {});

} // namespace athanor::prove::test
