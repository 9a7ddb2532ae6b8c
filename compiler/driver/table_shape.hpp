#pragma once
#include "compiler/program/program.hpp"
#include "compiler/timeline/timeline.hpp"
#include "targets/target.hpp"

#include <optional>
#include <string_view>

/// What of a rig's outputs and channels a table has a place for.
namespace athanor::driver {

/// Adds outputs and channels of the rig to `shape`: a line that no row of the table ever names has none.
/// `declaration`: the text of the layout that the table is written in; empty: another format.
void shape_of(program::Program& shape, const timeline::Timeline& bench, std::string_view bytes,
              std::string_view declaration, bool json);

/// A layout need not say the flow of a line that never opens: the table read without the set-points of such
/// lines, of as few as may be. nullopt: it cannot be read so either.
std::optional<program::Program> without_idle_channels(const targets::Target& target, std::string_view bytes,
                                                      const program::Program& shape);

} // namespace athanor::driver
