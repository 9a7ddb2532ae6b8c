#pragma once
#include "compiler/program/program.hpp"

#include <string>
#include <vector>

/// The columns of the table, shared by its writer, its reader and its metadata.
namespace athanor::targets::csv {

enum class Field : std::uint8_t {
    program,
    segment,
    kind,
    start,
    target,
    rate,
    duration,
    dwell,
    band,
    output,
    channel,
    loop_start,
    loop_passes,
    next,
    instruction,
    source
};

struct Column {
    Field field = Field::program;
    std::size_t index = 0; // zone, output or channel
    std::string name;
    bool always = true; // false: left out of a table that does not need it
};

/// Every column that a table for this controller and these outputs can have, in order.
std::vector<Column> every_column(const program::Program& program);
/// Those that this very program needs.
std::vector<Column> needed_columns(const program::Program& program);

} // namespace athanor::targets::csv
