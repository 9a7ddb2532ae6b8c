#pragma once
#include "compiler/replay/person.hpp"
#include "targets/target.hpp"

#include <cstddef>
#include <string_view>
#include <utility>

/// Where an instruction stands in a table's bytes.
namespace athanor::driver {

/// Line and column, from 1, of the instruction that is meant; of its row where the row has none.
std::pair<std::size_t, std::size_t> place_of(const replay::Asked& asked, const targets::Target& target,
                                             std::string_view bytes, const program::Program& table);

/// The same of the row that a message of the run begins with ("programme 1 segment 8: …"); 0, 0 where it names
/// none.
std::pair<std::size_t, std::size_t> place_of(std::string_view message, const targets::Target& target,
                                             std::string_view bytes, const program::Program& table);

} // namespace athanor::driver
