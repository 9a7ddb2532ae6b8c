#pragma once
#include "compiler/program/program.hpp"
#include "compiler/prove/prove.hpp"
#include "compiler/source/diagnostic.hpp"
#include "compiler/source/file.hpp"

#include <functional>
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

/// Why this very program cannot be written in a form that a user declared.
struct Loss {
    Code code = Code::layout_loses;
    athanor::Span span; // in the declaration, or of the segment
    std::string message;
};

struct Target {
    using Write = std::vector<OutputFile>(const program::Program&, const Context&, std::string_view stem);
    /// `shape` gives the controller, the outputs, the channels and the zones, where the format does not embed
    /// them; its parts are not looked at.
    using Read = std::optional<program::Program>(std::string_view bytes, const program::Program& shape,
                                                 ReadError& error);
    using Losses = std::vector<Loss>(const program::Program&, const Context&);

    std::string name;        // "csv"
    std::string description; // one line
    /// The first file is the one that `read` reads. Empty: a family whose members a file declares.
    std::function<Write> write;
    std::function<Read> read; // empty where the format cannot be read
    std::string ending;       // of the first file, without the point
    /// Asked before `write`; empty where the format holds every program.
    std::function<Losses> losses;
    /// `read` brings back what a person does: every instruction, also those of thresholds.
    bool instructions = false;
};

/// Every back end that is linked in, by name.
std::span<const Target> all_targets();
const Target* target_named(std::string_view name);

/// One more back end, from outside the tree: a constant of this type in a source file that is linked into the
/// program. A name that is taken is a mistake of the programmer's and ends the program at its start.
struct Registration {
    explicit Registration(Target target);
};

} // namespace athanor::targets
