// `athanor diff A B`: what changes in the process, and in what the process rests on.
#include "compiler/driver/commands.hpp"
#include "compiler/driver/pipeline.hpp"
#include "compiler/driver/text_file.hpp"
#include "compiler/prove/cautions.hpp"
#include "compiler/review/declarations.hpp"
#include "compiler/review/review.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <map>
#include <memory>

namespace athanor::driver {
namespace {

struct Side {
    Session session;
    std::vector<Compiled> recipes;
    std::string path;      // as it is told
    bool absent = false;   // git's /dev/null: the file does not exist on this side
    bool unread = false;   // git's temporary copy lies away from its imports, and one is no longer where it was
    bool unusable = false; // nothing in it can be worked out

    /// Some recipe has steps that cannot be worked out.
    bool unfinished() const {
        return std::any_of(recipes.begin(), recipes.end(),
                           [](const Compiled& compiled) { return !compiled.elaborated.complete; });
    }
    bool wrong() const { return session.files_wrong || unfinished(); }
    const Compiled* compiled(const std::string& name) const {
        for (const Compiled& one : recipes)
            if (one.name == name) return &one;
        return nullptr;
    }
};

void open_side(Side& side, const Given& given, const Options& options, bool git) {
    if (side.absent) return;
    Session& session = side.session;
    session.open(given, options);
    side.unread = git && session.out.has(Code::import_not_found);
    for (check::Index recipe : session.recipes(options))
        side.recipes.push_back(compile(session, recipe, options, session.sets, session.out));
    for (const Compiled& compiled : side.recipes) side.unusable = side.unusable || !compiled.timeline_ready;
    // What `--set` asks for must be had: else two recipes that were never worked out would be the same.
    side.unusable = side.unusable || session.out.has(Code::parameter_out_of_range) ||
                    (side.recipes.empty() && session.out.any_error());
}

review::Sources sources(const Side& side, bool file_alone) {
    return {side.session.units, side.session.files, file_alone};
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

/// One recipe in both versions; a name is empty where a version has none.
struct Pair {
    std::string before, after;
};

/// Prints the changes of one recipe; true when there are any.
bool print_changes(const Side& old_side, const Side& new_side, const Pair& pair, bool file_alone) {
    const std::string& name = pair.before.empty() ? pair.after : pair.before;
    if (pair.before.empty() || pair.after.empty()) {
        fmt::print("recipe {}: {}\n", name, pair.after.empty() ? "removed" : "added");
        return true;
    }
    std::vector<std::string> lines;
    const auto add = [&](const std::vector<review::Change>& changes) {
        for (const review::Change& change : changes) lines.push_back(line_of(change));
    };
    const review::Sources a = sources(old_side, file_alone), b = sources(new_side, file_alone);
    add(review::heads(a, pair.before, b, pair.after));
    const Compiled *before = old_side.compiled(pair.before), *after = new_side.compiled(pair.after);
    const auto complete = [](const Compiled* one) { return one && one->elaborated.complete; };
    if (complete(before) && complete(after)) {
        const std::vector<review::Change> told =
            review::diff(*before->elaborated.timeline, *after->elaborated.timeline);
        add(told);
        // The timelines are those of the parameters' own values: what they do not show stands in the text.
        add(review::written_steps(a, pair.before, b, pair.after, false, told));
    } else {
        // A step that cannot be worked out is in no timeline, nor are those behind it.
        add(review::written_steps(a, pair.before, b, pair.after, true));
    }
    if (before && after && !file_alone) {
        if (before->proven != after->proven)
            lines.push_back(fmt::format("  ~ verdict: {} -> {}", before->proven ? "proven" : "refused",
                                        after->proven ? "proven" : "refused"));
        const auto segments = [](const Compiled* one) {
            return one->legalised.complete ? program::segment_count(one->legalised.program) : 0;
        };
        if (segments(before) != 0 && segments(after) != 0 && segments(before) != segments(after))
            lines.push_back(fmt::format("  ~ segments: {} -> {}", segments(before), segments(after)));
    }
    return print_list("recipe " + name, lines);
}

/// The recipes that are asked for: as written where a version cannot be worked out.
std::vector<std::string> names(const Side& side, const Options& options) {
    std::vector<std::string> list;
    if (side.absent) return list;
    for (std::string& name : review::recipes(sources(side, false)))
        if (options.recipe.empty() || options.recipe == name) list.push_back(std::move(name));
    return list;
}

std::vector<Pair> pairs(const Side& before, const Side& after, const Options& options) {
    const std::vector<std::string> a = names(before, options), b = names(after, options);
    // One recipe on each side is the same recipe even when it was renamed.
    if (a.size() == 1 && b.size() == 1) return {{a[0], b[0]}};
    std::map<std::string, Pair> by_name;
    for (const std::string& name : a) by_name[name].before = name;
    for (const std::string& name : b) by_name[name].after = name;
    std::vector<Pair> list;
    for (auto& [name, pair] : by_name) list.push_back(std::move(pair));
    return list;
}

/// Says what is wrong with a version, where something is.
void tell(const Side& side, const char* which, const Options& options) {
    if (side.unread) {
        fmt::print("{}: imports of the {} version not found, compared as written\n", side.path, which);
        return;
    }
    if (!side.unusable && !side.wrong()) return;
    print_messages(side.session.out, side.session.files, options);
    fmt::print("{}: the {} version has errors, so {}\n", side.path, which,
               side.unusable ? "the process is compared as written" : "nothing in it is proven");
}

} // namespace

int run_diff(const DiffOptions& options) {
    // Git calls an external diff with: path old-file old-hex old-mode new-file new-hex new-mode [new-path
    // similarity].
    const std::vector<std::string>& a = options.arguments;
    bool git = a.size() == 7 || a.size() == 9;
    // While a merge conflict is open it has only the path to give.
    if (a.size() == 1 && std::getenv("GIT_DIFF_PATH_TOTAL") != nullptr) {
        fmt::print("unmerged: {}\n", a[0]);
        return exit_proven;
    }
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
        // A file that git takes to be renamed has its new path behind the others.
        given.path = !git ? *file : a.size() == 9 && file == &new_file ? a[7] : a[0];
        side->path = git ? a[0] : *file;
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
        open_side(*side, given, options, git);
        tell(*side, side == before.get() ? "old" : "new", options);
        if (!git && side->session.asked_wrong) return exit_usage;
    }
    if (git) fmt::print("process of {}\n", a[0]);
    const bool file_alone = before->unread || after->unread;
    bool changed = false;
    // A rule that is conceded now binds no recipe any more, whatever its steps are.
    if (!file_alone)
        changed = print_list("policy", review::concessions(prove::concessions(before->session.model),
                                                           prove::concessions(after->session.model)));
    changed = print_list("declarations",
                         review::declarations(sources(*before, file_alone), sources(*after, file_alone))) ||
              changed;
    const std::vector<Pair> compared = pairs(*before, *after, options);
    for (const Pair& pair : compared) changed = print_changes(*before, *after, pair, file_alone) || changed;
    const bool worked_out = !file_alone && !before->unusable && !after->unusable;
    if (git && !changed)
        fmt::print("  same {}\n", compared.empty() ? "declarations"
                                  : worked_out     ? "process"
                                                   : "steps as written");
    // Git takes any other status for a crash.
    const bool wrong = !worked_out || before->wrong() || after->wrong();
    return git || !(changed || wrong) ? exit_proven : exit_refused;
}

} // namespace athanor::driver
