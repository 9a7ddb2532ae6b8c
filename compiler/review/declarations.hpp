#pragma once
#include "compiler/check/load.hpp"
#include "compiler/review/review.hpp"

#include <string_view>
#include <vector>

/// What changed in what files declare, property by property, in the words and units they are written in. Equal
/// values in other units, another order of properties, layout, comments and titles never show.
namespace athanor::review {

/// A file with everything that it imports. No units: there was no file.
struct Sources {
    const std::vector<check::Unit>& units;
    const Files& files;
    bool file_alone = false; // some import could not be read: what is imported is not compared
};

/// Names of the recipes that the file itself has, whether they can be worked out or not.
std::vector<std::string> recipes(const Sources& sources);

/// Rigs, gases, materials, thermocouples, controllers, layouts, policies, operations and values. Recipes have
/// their own comparison, below, and what is declared in the standard library is no one's change.
std::vector<Change> declarations(const Sources& before, const Sources& after);

/// What a recipe's timeline does not hold: the ranges of its parameters, what its load gives off, its
/// controller.
std::vector<Change> heads(const Sources& before, std::string_view old_name, const Sources& after,
                          std::string_view new_name);

/// The steps as written, of a recipe with parameters: its timeline shows them at one value of each only, and a
/// branch that is not taken not at all. Nothing for a recipe without, unless `all`: one that cannot be worked
/// out has no timeline that could be trusted. `told`: what the two timelines differ in; it is not said again.
std::vector<Change> written_steps(const Sources& before, std::string_view old_name, const Sources& after,
                                  std::string_view new_name, bool all = false,
                                  const std::vector<Change>& told = {});

} // namespace athanor::review
