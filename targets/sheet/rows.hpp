#pragma once
#include "targets/sheet/columns.hpp"
#include "targets/target.hpp"

#include <optional>
#include <string>
#include <vector>

namespace athanor::targets::sheet {

/// The program row by row, a text for each column: decimals in degC, K/min, s and K, words, or nothing.
std::vector<std::vector<std::string>> rows(const program::Program& program, const std::vector<Column>& columns,
                                           const Context& context);

/// The way back. `shape` gives the controller, the outputs, the channels and the zones; its parts are not
/// looked at. Columns may stand in any order and under any name; a column that is `always` must be there.
/// Whatever is not settable, missing or too much is refused at its cell. A segment's `source` begins and ends
/// with the number of the line that its row stands in, 0 where the format has no lines.
std::optional<program::Program> assemble(const std::vector<Column>& columns,
                                         const std::vector<std::vector<Cell>>& rows,
                                         const program::Program& shape, ReadError& error);

/// Where two programs for one controller key something different: "programme 1, segment 3: rate 4 K/min is
/// read back as 5 K/min". Empty: they do the same. What only people read is left out, except what a person does
/// between programmes.
std::vector<std::string> differences(const program::Program& written, const program::Program& back);

} // namespace athanor::targets::sheet
