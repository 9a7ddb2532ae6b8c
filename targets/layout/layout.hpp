#pragma once
#include "grammar/syntax.hpp"
#include "targets/layout/scale.hpp"
#include "targets/sheet/columns.hpp"
#include "targets/target.hpp"

#include <string>
#include <utility>
#include <vector>

/// Another controller's table, or a plant computer's, as a user declares it in the language: `layout NAME for
/// CONTROLLER { … }`. One row a segment.
namespace athanor::targets::layout {

enum class Form : std::uint8_t {
    columns, // a delimiter between fields
    fixed,   // every field as wide as the title of its column
    blocks   // a block of `key = value` lines for each row
};

/// What one column, or one key, holds.
struct Item {
    athanor::Span span;
    std::string title;
    sheet::Field field = sheet::Field::program;
    std::vector<std::string> names; // of the zone, the output or outputs, the channel; empty: the first
    bool bits = false;              // outputs as a row of 0 and 1, else as one binary number
    Measure measure = Measure::none;
    Scale scale;
};

struct Layout {
    std::string name, controller;
    athanor::Span span;
    Form form = Form::columns;
    std::string delimiter = ";", decimal = ".", comment, ending = "txt", empty, assign = " = ",
                block = "[segment]";
    bool header = true, ascii = false, crlf = true;
    std::vector<std::pair<std::string, std::string>> kinds; // word of the table, what stands here
    std::vector<Item> items;

    bool has(sheet::Field field) const;
};

/// Reads one declaration; reports what is wrong with it. Nothing when it cannot be used.
std::optional<Layout> read_declaration(const Tree& tree, NodeId id, const Files& files, Diagnostics& out);

/// Said of a form that names outputs: which of this program's it forgets. "" for none.
std::string forgotten_outputs(const std::vector<std::string>& named, const program::Program& program);

/// The table's text, and a second file of provenance.
std::vector<OutputFile> write(const Layout& layout, const program::Program& program, const Context& context,
                              std::string_view stem);
std::optional<program::Program> read(const Layout& layout, std::string_view bytes,
                                     const program::Program& shape, ReadError& error);
/// Everything that steers the process and does not come back when the layout reads its own text.
std::vector<Loss> losses(const Layout& layout, const program::Program& program, const Context& context);

} // namespace athanor::targets::layout
