#pragma once
#include "compiler/driver/pipeline.hpp"
#include "compiler/driver/session.hpp"

#include <memory>
#include <optional>
#include <string>
#include <vector>

/// Repairs of a refused file: proposals from its tree and from what was found, each tried on the whole pipeline
/// before it is offered. A repair inserts steps, makes one slower or longer, or moves one behind the others. It
/// never touches a `require`, an `expect`, a policy or a concession, never takes a step away, and changes the
/// named file only.
namespace athanor::driver {

struct Repair {
    std::string what;  // "put inert_purge(feed = 2.4 slm) before line 8"
    Edit edit;         // in the named file
    bool fits = false; // it changes what the rig or the controller is declared to have: fit it first
};

/// A text taken through every stage, with every value that its parameters may take.
struct Attempt {
    std::unique_ptr<Session> session;
    std::vector<Compiled> recipes;
    bool proven = false;
    bool fails_in_range = false; // each recipe holds with its defaults, not with every other value
};
Attempt attempt(const std::string& path, std::string text, const Options& options);

/// Repairs that might answer one finding, the best first; not tried.
std::vector<Repair> proposals(const Attempt& found, const Diagnostic& diagnostic);

/// The text with an edit made.
std::string edited(std::string_view text, const Edit& edit);

/// The first repair after which the text is proven, else the first that answers this finding. `most`: trials at
/// most; counted down.
std::optional<Repair> repair(const Attempt& found, const Diagnostic& diagnostic, bool fit,
                             const Options& options, unsigned& most);

/// Gives each error of a session that has none an edit that was tried. For editors and other programs.
void add_edits(Session& session, const Options& options);

/// What `check --fix` does to one file. False: it could not be read or written; standard error says why.
bool mend_file(const std::string& path, bool fit, const Options& options);

/// Lines that differ, with three lines around them, as patch(1) reads them; empty for equal texts.
std::string unified_diff(const std::string& before, const std::string& after, const std::string& path);

} // namespace athanor::driver
