#pragma once
#include "targets/sheet/columns.hpp"
#include "targets/target.hpp"

/// The metadata file beside a table: W3C "Metadata Vocabulary for Tabular Data" (2015-12-17), in the profile of
/// docs/csvw-profile.schema.json. Units are UCUM codes.
namespace athanor::targets::csv {

std::string metadata(const program::Program& program, const std::vector<sheet::Column>& columns,
                     const Context& context, const std::string& stem);

} // namespace athanor::targets::csv
