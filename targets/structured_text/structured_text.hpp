#pragma once
#include "compiler/program/decimal.hpp"
#include "targets/target.hpp"

#include <memory>
#include <string>
#include <utility>
#include <vector>

/// The program as data types and constants of IEC 61131-3:2013, structured text. The standard wants VAR_GLOBAL
/// inside a CONFIGURATION; programming systems that keep lists of global variables take the block as it stands.
namespace athanor::targets::structured_text {

/// STEM.st
std::vector<OutputFile> write(const program::Program& program, const Context& context, std::string_view stem);
std::optional<program::Program> read(std::string_view bytes, const program::Program& shape, ReadError& error);

/// The largest number of which every value of a grid is a whole multiple: the step, where the grid begins at a
/// multiple of it.
Decimal unit_of(const Grid& grid);
std::int64_t count_of(const Grid& grid, std::int64_t k);

/// What stands behind `:=`.
struct Value {
    std::string text; // a literal, a string without its quotes
    bool string = false;
    std::vector<Value> list;                           // [ … ]
    std::vector<std::pair<std::string, Value>> fields; // ( name := … )
    std::size_t line = 1, column = 1;
};

/// The constants of a text, in order. False with `error` set where it cannot be read.
bool parse(std::string_view bytes, std::vector<std::pair<std::string, Value>>& constants, ReadError& error);

} // namespace athanor::targets::structured_text
