#pragma once
#include "compiler/program/program.hpp"

#include <string>
#include <vector>

/// The table itself, free of any text form: the columns and what stands in them. Every back end that writes
/// rows shares it.
namespace athanor::targets::sheet {

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

/// A field as it was read, with the place for a message.
struct Cell {
    std::string text;
    std::size_t line = 1, column = 1; // where it begins; columns in bytes
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

} // namespace athanor::targets::sheet
