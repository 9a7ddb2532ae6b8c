#pragma once
#include <random>
#include <string>
#include <vector>

/// Random rigs and recipes as text of the language.
namespace athanor::simulator {

struct RigText {
    std::string text;
    bool pump = false, plugs = false, shut = false, tight = true;
    std::vector<std::string> zones;
};

struct RecipeText {
    RigText rig;
    std::vector<std::string> steps;
    std::string text() const;
};

RigText random_rig(std::mt19937& random);
RecipeText random_recipe(std::mt19937& random);
/// The same where carbon dioxide brings oxygen, which sweeps nothing.
RecipeText random_oxygen(std::mt19937& random);
/// A tight tube that cools, mostly in less than its gas contracts by.
RecipeText random_cooling(std::mt19937& random);
/// A shut tube with a leak, and flows of a tenth of it to its threefold, for hours.
RecipeText random_leaky(std::mt19937& random);

} // namespace athanor::simulator
