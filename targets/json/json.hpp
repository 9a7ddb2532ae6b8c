#pragma once
#include "targets/target.hpp"

/// The table as one JSON object (RFC 8259) in the shape of docs/table.schema.json.
namespace athanor::targets::json {

/// STEM.json.
std::vector<OutputFile> write(const program::Program& program, const Context& context, std::string_view stem);

/// The grids come from the controller of `shape`; outputs, channels and zones from the table itself.
std::optional<program::Program> read(std::string_view bytes, const program::Program& shape, ReadError& error);

} // namespace athanor::targets::json
