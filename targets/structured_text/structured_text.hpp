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
    std::string type, unit; // of a constant: its type, blanks as one, and the comment behind it
};

/// A text in its parts.
struct Parsed {
    std::vector<std::pair<std::string, Value>> constants; // in order
    std::string types; // from TYPE to END_TYPE, comments and all, blanks as one; empty: there are none
    std::size_t types_line = 1;
    std::vector<std::pair<std::string, std::size_t>>
        outputs; // comments that say what a bit drives, their lines
};

/// What stands between TYPE and END_TYPE for a program, with both.
std::string type_declarations(const program::Program& program);
/// "bit 0 of Outputs: output 1, argon; without power open"
std::string output_comment(const program::Output& output);
/// Blanks and line ends as one blank each.
std::string single_blanks(std::string_view text);

/// False with `error` set where it cannot be read.
bool parse(std::string_view bytes, Parsed& parsed, ReadError& error);

} // namespace athanor::targets::structured_text
