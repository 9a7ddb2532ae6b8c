#pragma once
#include "compiler/check/load.hpp"
#include "compiler/elaborate/elaborate.hpp"

#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

/// Recipes as text, taken through parsing and checking, so that tests say what a user would.
namespace athanor::elaborate::test {

struct Case {
    Files files;
    Diagnostics out;
    std::vector<check::Unit> units;
    check::Model model;
    Elaborated done;

    /// An empty one where nothing was elaborated.
    const timeline::Timeline& timeline() const { return done.timeline ? *done.timeline : empty; }
    timeline::Timeline empty;
    /// Names of all errors, once each, in the order of the text, separated by blanks.
    std::string errors() const;
    std::string warnings() const;
    /// Every finding as one line of text with causes and remedies: what a failing test prints.
    std::string all() const;
    const Diagnostic* first(Code code) const;
};

/// A 60 mm quartz tube with porous plugs; argon and hydrogen by hand, an oxygen and a forming gas line.
/// Variants: `shields` (with a pump), `loose` (no seals), `ceramic` (alumina tube).
extern const std::string_view rigs;

/// Elaborates the first recipe of `rigs` + `text`. The text is the whole of a file; line 1 is its first line.
std::unique_ptr<Case> run(std::string_view text, std::vector<std::pair<std::string, check::Value>> values = {});
/// The steps of a recipe on a rig.
std::unique_ptr<Case> steps(std::string_view text, std::string_view rig = "bench");
std::unique_ptr<Case> file(const std::string& path);

check::Value temperature(double degC);

} // namespace athanor::elaborate::test
