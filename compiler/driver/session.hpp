#pragma once
#include "compiler/check/load.hpp"
#include "compiler/check/model.hpp"
#include "compiler/source/diagnostic.hpp"
#include "compiler/source/file.hpp"

#include <string>
#include <utility>
#include <vector>

namespace athanor::driver {

enum class MessageFormat : std::uint8_t { pretty, short_, json };

/// Exit statuses of every command.
enum Exit : int { exit_proven = 0, exit_refused = 1, exit_usage = 2, exit_internal = 3 };

/// What the command line says about all files of one call.
struct Options {
    std::string root;
    std::string recipe, rig, controller; // names; empty = as the file says
    std::vector<std::string> sets;       // "peak=930 degC"
    MessageFormat format = MessageFormat::pretty;
    bool colour = false;
};

/// One text that does not come from the named path (git's old version of a file, say).
struct Given {
    std::string path;
    std::string text;
};

/// One file with everything it imports, parsed and checked.
struct Session {
    Files files;
    Diagnostics out;
    std::vector<check::Unit> units;
    check::Model model;
    check::Library library = check::Library::named;          // what of it is read
    std::vector<std::pair<std::string, check::ExprId>> sets; // typed values of --set
    bool files_wrong = false; // the files have errors of their own: nothing in them is proven
    bool asked_wrong = false; // an option gives or names what cannot be: told, and nothing is judged

    /// False: the file could not be read; a message went to standard error.
    bool open(const std::string& path, const Options& options);
    /// The text may differ from what stands on disk under that path; imports resolve beside it.
    bool open(Given given, const Options& options);
    /// Recipes of the named file that the options select. Reports a name that is not there.
    std::vector<check::Index> recipes(const Options& options);
    check::Index rig(const Options& options);
    check::Index controller(const Options& options, check::Index recipe);
    /// The exit status that what was found so far gives: a wrong option is no verdict on the recipe.
    Exit status() const { return asked_wrong ? exit_usage : out.any_error() ? exit_refused : exit_proven; }

private:
    Diagnostic& unknown(std::string_view option, std::string_view kind, const std::string& wanted,
                        const std::vector<std::string>& known);
};

/// The "file" in which options stand in messages, and the one in which the values of `--set` are read.
inline constexpr std::string_view command_line = "command line", values_file = "--set";
bool is_command_line(const File& file);

/// A message of the grammar about a text that is no file: what ends there is the option's `what`.
std::string in_an_option(std::string message, std::string_view what);

/// The standard library as sources.
std::vector<check::Source> standard_library();

/// Prints what a session found, in source order, to standard error; JSON goes to standard output.
void print_messages(const Diagnostics& out, const Files& files, const Options& options);
void print_file_error(const std::string& path, const std::string& why, const Options& options);

} // namespace athanor::driver
