#pragma once
#include "targets/target.hpp"

/// The table as RFC 4180 text, one row a segment, and its metadata file.
namespace athanor::targets::csv {

/// STEM.csv and STEM.csv-metadata.json.
std::vector<OutputFile> write(const program::Program& program, const Context& context, std::string_view stem);

/// `shape` gives the controller, the outputs, the channels and the zones; its parts are not looked at.
std::optional<program::Program> read(std::string_view bytes, const program::Program& shape, ReadError& error);

} // namespace athanor::targets::csv
