#pragma once
#include "targets/target.hpp"

#include <nlohmann/json.hpp>

#include <string>
#include <vector>

namespace athanor::targets {

/// Where a table comes from and what was taken for granted, for formats that have no place of their own for it:
/// recipe, rig, controller, parameters, compiler, SHA-256 of every source, defaults, assumptions, concessions,
/// cautions.
nlohmann::ordered_json provenance_json(const program::Program& program, const Context& context);

/// The same without cautions, as lines of text for comments.
std::vector<std::string> provenance_lines(const program::Program& program, const Context& context);

/// "programme 1, segment 3: rate by default (copper_sinter.ath:18)" for every segment whose rate the recipe
/// leaves to its defaults.
std::vector<std::string> defaults_used(const program::Program& program, const Context& context);

/// Letters that are no printable ASCII become `?`, a tab a blank.
std::string ascii(std::string_view text);

} // namespace athanor::targets
