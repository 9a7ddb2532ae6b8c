// `athanor diff A B`: what changes in the process.
#include "compiler/driver/commands.hpp"
#include "compiler/driver/pipeline.hpp"
#include "compiler/driver/text_file.hpp"
#include "compiler/prove/cautions.hpp"
#include "compiler/review/review.hpp"

#include <fmt/format.h>

#include <map>
#include <memory>

namespace athanor::driver {
namespace {

struct Side {
    Session session;
    std::vector<Compiled> recipes;
    bool absent = false; // git's /dev/null: the file does not exist on this side
};

bool open_side(Side& side, const Given& given, const Options& options) {
    if (side.absent) return true;
    side.session.open(given, options);
    for (check::Index recipe : side.session.recipes(options))
        side.recipes.push_back(compile(side.session, recipe, options, {}, side.session.out));
    bool usable = true;
    for (const Compiled& compiled : side.recipes) usable = usable && compiled.timeline_ready;
    if (!usable || (side.recipes.empty() && side.session.out.any_error())) {
        print_messages(side.session.out, side.session.files, options);
        return false;
    }
    return true;
}

/// Prints the changes of one recipe; true when there are any.
bool print_changes(const Compiled* before, const Compiled* after) {
    const std::string& name = before ? before->name : after->name;
    if (!before || !after) {
        fmt::print("recipe {}: {}\n", name, before ? "removed" : "added");
        return true;
    }
    std::vector<std::string> lines;
    for (const review::Change& change :
         review::diff(*before->elaborated.timeline, *after->elaborated.timeline)) {
        char mark = change.kind == review::Change::Kind::added     ? '+'
                    : change.kind == review::Change::Kind::removed ? '-'
                                                                   : '~';
        lines.push_back(fmt::format("  {} {}: {}", mark, change.path, change.what));
    }
    if (before->proven != after->proven)
        lines.push_back(fmt::format("  ~ verdict: {} -> {}", before->proven ? "proven" : "refused",
                                    after->proven ? "proven" : "refused"));
    if (before->legalised.complete && after->legalised.complete &&
        program::segment_count(before->legalised.program) != program::segment_count(after->legalised.program))
        lines.push_back(fmt::format("  ~ segments: {} -> {}", program::segment_count(before->legalised.program),
                                    program::segment_count(after->legalised.program)));
    if (lines.empty()) return false;
    fmt::print("recipe {}\n", name);
    for (const std::string& line : lines) fmt::print("{}\n", line);
    return true;
}

/// A rule that is conceded now binds no recipe any more, whatever its steps are.
bool print_policy(const Side& before, const Side& after) {
    const std::vector<review::Change> changes =
        review::concessions(prove::concessions(before.session.model), prove::concessions(after.session.model));
    if (changes.empty()) return false;
    fmt::print("policy\n");
    for (const review::Change& change : changes)
        fmt::print("  {} {}: {}\n", change.kind == review::Change::Kind::added ? '+' : '-', change.path,
                   change.what);
    return true;
}

} // namespace

int run_diff(const DiffOptions& options) {
    // Git calls an external diff with: path old-file old-hex old-mode new-file new-hex new-mode.
    const std::vector<std::string>& a = options.arguments;
    bool git = a.size() == 7 || a.size() == 9;
    if (!git && a.size() != 2) {
        fmt::print(stderr,
                   "athanor diff: takes two files (or the seven arguments of git's external diff), not {}\n",
                   a.size());
        return exit_usage;
    }
    std::string old_file = git ? a[1] : a[0], new_file = git ? a[4] : a[1];
    auto before = std::make_unique<Side>(), after = std::make_unique<Side>();
    for (auto [side, file] : {std::pair{before.get(), &old_file}, std::pair{after.get(), &new_file}}) {
        Given given;
        // Git's temporary copy lies elsewhere: its imports are those beside the path in the work tree.
        given.path = git ? a[0] : *file;
        side->absent = git && *file == "/dev/null";
        if (!side->absent) {
            std::string error;
            std::optional<std::string> text = read_file(*file, error);
            if (!text) {
                print_file_error(*file, error, options);
                return exit_usage;
            }
            given.text = std::move(*text);
        }
        if (!open_side(*side, given, options)) {
            if (!git) return exit_refused;
            fmt::print("{}: the {} version has errors, so the process cannot be compared\n", a[0],
                       side == before.get() ? "old" : "new");
            return exit_proven; // git takes any other status for a crash
        }
    }
    if (git) fmt::print("process of {}\n", a[0]);
    std::map<std::string, std::pair<const Compiled*, const Compiled*>> pairs;
    for (const Compiled& compiled : before->recipes) pairs[compiled.name].first = &compiled;
    for (const Compiled& compiled : after->recipes) pairs[compiled.name].second = &compiled;
    // One recipe on each side is the same recipe even when it was renamed.
    if (before->recipes.size() == 1 && after->recipes.size() == 1)
        pairs = {{"", {&before->recipes[0], &after->recipes[0]}}};
    bool changed = print_policy(*before, *after);
    for (const auto& [name, pair] : pairs) changed = print_changes(pair.first, pair.second) || changed;
    if (git && !changed) fmt::print("  same process\n");
    return git || !changed ? exit_proven : exit_refused;
}

} // namespace athanor::driver
