#pragma once
#include "compiler/program/program.hpp"
#include "compiler/prove/prove.hpp"
#include "compiler/source/file.hpp"

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// A back end: a program in, files out; where the format can be read, files in, program out.
namespace athanor::targets {

struct OutputFile {
    std::string name; // without folder
    std::string bytes;
};

struct SourceHash {
    std::string path, sha256;
};

/// What goes beside the program into a table.
struct Context {
    const Files* files = nullptr;
    prove::Assurance assurance;
    std::vector<SourceHash> sources;
    std::string compiler;                      // "athanor 0.1.0"
    std::string rig_source, controller_source; // canonical source text, so that a table replays alone
    std::vector<std::pair<std::string, std::string>> parameters;
    double duration_lo = 0, duration_hi = 0;                                // s, whole recipe
    std::vector<std::pair<std::string, std::pair<double, double>>> gas_mol; // line, [lo, hi] mol
    double energy_lo = 0, energy_hi = 0;                                    // J
};

struct ReadError {
    std::size_t line = 0, column = 0; // from 1; 0 = the file as a whole
    std::string message;
};

struct Target {
    std::string_view name;        // "csv"
    std::string_view description; // one line
    std::vector<OutputFile> (*write)(const program::Program&, const Context&, std::string_view stem);
    /// nullptr where the format cannot be read. `controller` is needed where the format does not embed one.
    std::optional<program::Program> (*read)(std::string_view bytes, const program::Program& shape,
                                            ReadError& error);
};

/// Every back end that is linked in, by name.
std::span<const Target> all_targets();
const Target* target_named(std::string_view name);

} // namespace athanor::targets
