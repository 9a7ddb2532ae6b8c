#pragma once
#include <cstdint>
#include <random>
#include <string>
#include <string_view>
#include <vector>

/// Recipes and rigs as text that small accidents are done to.
namespace athanor::mutation {

/// One accepted recipe with the rig that it runs on.
struct Subject {
    std::string path;                // of the recipe, absolute
    std::vector<std::string> recipe; // lines, without `test` blocks and without ranges of parameters
    std::string rig_path, rig;       // the file of the rig: as the recipe names it, and its text
    bool flammable = false;          // its recipe opens a flammable line
};

/// Reads a recipe and the rig it uses. Throws where a file cannot be read.
Subject subject(const std::string& path);

std::string joined(const std::vector<std::string>& lines);

/// Which accident, and the seed of its own choices: the same accident can be done again, alone.
struct Accident {
    std::size_t kind = 0;
    unsigned seed = 0;
};

std::size_t kinds();
std::string_view name(std::size_t kind);

/// False when there is nothing in the text that it can be done to; the text is then unchanged.
bool happen(Accident accident, Subject& subject);

/// One to three accidents that can be done to the subject one after the other; `mutant` receives the result.
std::vector<Accident> mutate(const Subject& subject, std::mt19937& random, Subject& mutant);

} // namespace athanor::mutation
