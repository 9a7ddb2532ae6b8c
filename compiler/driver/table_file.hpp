#pragma once
#include "compiler/driver/declared.hpp"
#include "compiler/driver/pipeline.hpp"
#include "compiler/driver/table_rows.hpp"
#include "compiler/replay/lift.hpp"

#include <memory>
#include <optional>
#include <string>
#include <vector>

/// A table from outside, without the recipe it was made from.
namespace athanor::driver {

struct TableOptions : Options {
    std::string table, from; // `from`: a format or a layout; empty: by the file's ending
    std::string folder;      // where a recipe lifted from it will stand; empty: beside the rig
    std::vector<std::string> flows, instructions; // "argon=1.5 L/min", "1.2=open argon at 1.5 L/min"
};

struct Table {
    std::string bytes;
    program::Program program;
    targets::Target target;                       // the format it was read in
    std::unique_ptr<elaborate::Elaborated> bench; // an empty recipe on the rig: lines, zones, start
    replay::LiftOptions lift;                     // names, imports, what the options say
    std::string folder;                           // against which the imports of `lift.head` are written
    bool embedded = false;                        // rig and controller come out of the table itself
    ReadTable read() const { return {target, bytes, program}; }
};

/// Reads the table with `--rig FILE[:NAME]` and `--controller FILE[:NAME]`, or with what a JSON table embeds.
/// Nothing: it was reported; `status` is the exit status.
std::optional<Table> open_table(const TableOptions& options, int& status);

/// A table that its format's reader does not take.
void print_unreadable(const std::string& table, const std::string& bytes, const targets::ReadError& wrong,
                      const Options& options);

/// Says what neither table nor options say and where instruction and output disagree; false when there is any.
bool print_findings(const Table& table, const replay::Lifted& lifted, const TableOptions& options);

/// Messages about the lifted text, moved to the rows of the table that its lines came from.
Diagnostics at_rows(const Diagnostics& out, const Table& table, const std::string& path,
                    const replay::Lifted& lifted, Files& files);

/// A name of the language out of any text.
std::string recipe_name(const std::string& text);

} // namespace athanor::driver
