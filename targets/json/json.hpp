#pragma once
#include "targets/target.hpp"

#include <map>
#include <string>
#include <utility>
#include <vector>

/// The table as one JSON object (RFC 8259) in the shape of docs/table.schema.json.
namespace athanor::targets::json {

/// STEM.json.
std::vector<OutputFile> write(const program::Program& program, const Context& context, std::string_view stem);

/// The grids come from the controller of `shape`; outputs, channels and zones from the table itself.
std::optional<program::Program> read(std::string_view bytes, const program::Program& shape, ReadError& error);

/// Why these bytes are no JSON object; nothing when they are one.
std::optional<ReadError> malformed(std::string_view bytes);

/// What a table says of itself beside the program. Each pair is the least and the greatest; infinite where it
/// is null.
struct Figures {
    std::pair<double, double> duration_s, energy_kWh;
    std::map<std::string, std::pair<double, double>> gas_NL;
    struct Row {
        std::string rule, verdict;
        std::string rest; // title, margin, instant and what decides, in one text
    };
    std::vector<Row> assurance;
};
/// Of a table that `read` takes.
std::optional<Figures> figures(std::string_view bytes);

} // namespace athanor::targets::json
