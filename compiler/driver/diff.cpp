// `athanor diff A B`: what changes in the process, and in what the process rests on.
#include "compiler/driver/commands.hpp"
#include "compiler/driver/pipeline.hpp"
#include "compiler/driver/text_file.hpp"
#include "compiler/prove/cautions.hpp"
#include "compiler/review/declarations.hpp"
#include "compiler/review/review.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <memory>

namespace athanor::driver {
namespace {

struct Side {
    Session session;
    std::vector<Compiled> recipes;
    bool absent = false; // git's /dev/null: the file does not exist on this side

    /// Some recipe has steps that cannot be worked out.
    bool unfinished() const {
        return std::any_of(recipes.begin(), recipes.end(),
                           [](const Compiled& compiled) { return !compiled.elaborated.complete; });
    }
};

bool open_side(Side& side, const Given& given, const Options& options) {
    if (side.absent) return true;
    side.session.open(given, options);
    for (check::Index recipe : side.session.recipes(options))
        side.recipes.push_back(compile(side.session, recipe, options, side.session.sets, side.session.out));
    bool usable = true;
    for (const Compiled& compiled : side.recipes) usable = usable && compiled.timeline_ready;
    // What `--set` asks for must be had: else two recipes that were never worked out would be the same.
    usable = usable && !side.session.out.has(Code::parameter_out_of_range);
    if (!usable || (side.recipes.empty() && side.session.out.any_error())) {
        print_messages(side.session.out, side.session.files, options);
        return false;
    }
    return true;
}

review::Sources sources(const Side& side) {
    return {side.session.units, side.session.files};
}

std::string line_of(const review::Change& change) {
    const char mark = change.kind == review::Change::Kind::added     ? '+'
                      : change.kind == review::Change::Kind::removed ? '-'
                                                                     : '~';
    const char* colon = change.path.empty() || change.what.empty() ? "" : ": ";
    return fmt::format("  {} {}{}{}", mark, change.path, colon, change.what);
}

/// Prints the changes under a heading; true when there are any.
bool print_list(const std::string& heading, const std::vector<std::string>& lines) {
    if (lines.empty()) return false;
    fmt::print("{}\n", heading);
    for (const std::string& line : lines) fmt::print("{}\n", line);
    return true;
}

bool print_list(const std::string& heading, const std::vector<review::Change>& changes) {
    std::vector<std::string> lines;
    for (const review::Change& change : changes) lines.push_back(line_of(change));
    return print_list(heading, lines);
}

/// Prints the changes of one recipe; true when there are any.
bool print_changes(const Side& old_side, const Compiled* before, const Side& new_side, const Compiled* after) {
    const std::string& name = before ? before->name : after->name;
    if (!before || !after) {
        fmt::print("recipe {}: {}\n", name, before ? "removed" : "added");
        return true;
    }
    std::vector<std::string> lines;
    const auto add = [&](const std::vector<review::Change>& changes) {
        for (const review::Change& change : changes) lines.push_back(line_of(change));
        return !changes.empty();
    };
    add(review::heads(sources(old_side), before->name, sources(new_side), after->name));
    const auto timelines = [&] {
        return add(review::diff(*before->elaborated.timeline, *after->elaborated.timeline));
    };
    const auto written = [&](bool all) {
        return add(review::written_steps(sources(old_side), before->name, sources(new_side), after->name, all));
    };
    if (!before->elaborated.complete || !after->elaborated.complete) {
        // A step that cannot be worked out is in no timeline.
        if (!written(true)) timelines();
    } else if (!timelines()) {
        // The timelines are those of the parameters' own values: what those do not show stands in the text.
        written(false);
    }
    if (before->proven != after->proven)
        lines.push_back(fmt::format("  ~ verdict: {} -> {}", before->proven ? "proven" : "refused",
                                    after->proven ? "proven" : "refused"));
    if (before->legalised.complete && after->legalised.complete &&
        program::segment_count(before->legalised.program) != program::segment_count(after->legalised.program))
        lines.push_back(fmt::format("  ~ segments: {} -> {}", program::segment_count(before->legalised.program),
                                    program::segment_count(after->legalised.program)));
    return print_list("recipe " + name, lines);
}

} // namespace

int run_diff(const DiffOptions& options) {
    // Git calls an external diff with: path old-file old-hex old-mode new-file new-hex new-mode [new-path
    // similarity].
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
    bool broken = false, wrong = false;
    for (auto [side, file] : {std::pair{before.get(), &old_file}, std::pair{after.get(), &new_file}}) {
        Given given;
        // Git's temporary copy lies elsewhere: its imports are those beside the path in the work tree.
        // A file that git takes to be renamed has its new path behind the others.
        given.path = !git ? *file : a.size() == 9 && file == &new_file ? a[7] : a[0];
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
        const char* which = side == before.get() ? "old" : "new";
        if (!open_side(*side, given, options)) {
            if (!git) return side->session.asked_wrong ? exit_usage : exit_refused;
            fmt::print("{}: the {} version has errors, so the process cannot be compared\n", a[0], which);
            broken = true;
        } else if (side->session.files_wrong || side->unfinished()) {
            print_messages(side->session.out, side->session.files, options);
            fmt::print("{}: the {} version has errors, so nothing in it is proven\n", git ? a[0] : *file,
                       which);
            wrong = true;
        }
    }
    if (broken) { // what is declared can be compared all the same
        print_list("declarations", review::declarations(sources(*before), sources(*after)));
        return exit_proven; // git takes any other status for a crash
    }
    if (git) fmt::print("process of {}\n", a[0]);
    std::map<std::string, std::pair<const Compiled*, const Compiled*>> pairs;
    for (const Compiled& compiled : before->recipes) pairs[compiled.name].first = &compiled;
    for (const Compiled& compiled : after->recipes) pairs[compiled.name].second = &compiled;
    // One recipe on each side is the same recipe even when it was renamed.
    if (before->recipes.size() == 1 && after->recipes.size() == 1)
        pairs = {{"", {&before->recipes[0], &after->recipes[0]}}};
    // A rule that is conceded now binds no recipe any more, whatever its steps are.
    bool changed = print_list("policy", review::concessions(prove::concessions(before->session.model),
                                                            prove::concessions(after->session.model)));
    changed = print_list("declarations", review::declarations(sources(*before), sources(*after))) || changed;
    for (const auto& [name, pair] : pairs)
        changed = print_changes(*before, pair.first, *after, pair.second) || changed;
    if (git && !changed) fmt::print("  same {}\n", pairs.empty() ? "declarations" : "process");
    return git || !(changed || wrong) ? exit_proven : exit_refused;
}

} // namespace athanor::driver
