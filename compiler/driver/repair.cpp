// Tries repairs on the whole pipeline: what is offered has been seen to hold.
#include "compiler/driver/repair.hpp"

#include "compiler/driver/ranges.hpp"
#include "compiler/driver/text_file.hpp"
#include "targets/write_files.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <map>

namespace athanor::driver {
namespace {

constexpr unsigned most_rounds = 10, most_trials = 120; // trials in one round
constexpr unsigned most_trials_for_edits = 60;          // where only edits are wanted, in one file

/// How far a text came. A later stage may find what an earlier one hid.
enum class Stage : std::uint8_t { text, rig, rules, faults, ranges, proven };

Stage stage(const Attempt& a) {
    if (a.proven) return Stage::proven;
    if (a.fails_in_range) return Stage::ranges;
    Stage reached = Stage::faults;
    for (const Compiled& c : a.recipes) {
        if (c.proven) continue;
        if (!c.timeline_ready) return Stage::text;
        if (!c.elaborated.complete) reached = std::min(reached, Stage::rig);
    }
    if (a.recipes.empty()) return Stage::text;
    for (const Diagnostic& d : a.session->out.all()) {
        if (d.severity != Severity::error) continue;
        if (group(d.code) == Group::text) return Stage::text;
        if (group(d.code) != Group::any_fault) reached = std::min(reached, Stage::rules);
    }
    return reached;
}

bool is_step(Node kind) {
    return kind >= Node::run && kind <= Node::load && kind != Node::loop_name && kind != Node::zone_target &&
           kind != Node::default_line && kind != Node::argument && kind != Node::guard;
}

/// What a repair may not take away: every `require`, `expect`, policy and concession as it stands, and the
/// number of steps.
std::pair<std::vector<std::string>, std::size_t> demands(const Session& session) {
    std::vector<std::string> list;
    std::size_t steps = 0;
    const Tree& tree = session.units.front().tree;
    for (NodeId id = 1; id < tree.nodes().size(); ++id) {
        const Node kind = tree.kind(id);
        if (kind == Node::require || kind == Node::expect || kind == Node::policy || kind == Node::concession)
            list.emplace_back(tree.text(id, session.files));
        if (is_step(kind)) ++steps;
    }
    std::sort(list.begin(), list.end());
    return {std::move(list), steps};
}

std::map<std::string, std::size_t> counted(const Attempt& a) {
    std::map<std::string, std::size_t> count;
    for (const Diagnostic& d : a.session->out.all())
        if (d.severity == Severity::error) ++count[d.rule];
    return count;
}

/// How often each line is opened for some time, by recipe and line. What is open at the end of a run counts,
/// too.
std::map<std::pair<std::string, std::string>, std::size_t> openings(const Attempt& a) {
    std::map<std::pair<std::string, std::string>, std::size_t> count;
    for (const Compiled& c : a.recipes) {
        if (c.elaborated.plant == nullptr) continue; // nobody walked it: a slip of words hides what it does
        const timeline::Timeline& t = *c.elaborated.timeline;
        const auto open = [&](timeline::Index state, std::size_t line) {
            return state < t.states.size() && line < t.states[state].open.size() &&
                   t.states[state].open[line] != 0;
        };
        for (std::size_t line = 0; line < t.lines.size(); ++line) {
            std::size_t& times = count[{c.name, t.lines[line].name}];
            bool was = false;
            for (const timeline::Span& span : t.spans) {
                if (!(span.duration.hi > 0)) continue;
                const bool is = open(span.state, line);
                times += is && !was ? 1 : 0;
                was = is;
            }
            if (!was && open(t.end_state, line)) ++times;
        }
    }
    return count;
}

/// Is every line that the recipe opened for some time still open as often? A purge put before a step may shut
/// what was opened at that very instant: the recipe would then pass since it does nothing.
bool keeps_open(const Attempt& before, const Attempt& after) {
    const auto was = openings(before), is = openings(after);
    return std::all_of(was.begin(), was.end(), [&](const auto& entry) {
        const auto now = is.find(entry.first);
        return now == is.end() || now->second >= entry.second;
    });
}

/// Did the edit answer the finding, and make nothing worse that was known?
bool better(const Attempt& before, const Attempt& after, const Diagnostic& target, const Edit& edit) {
    const auto [old_demands, old_steps] = demands(*before.session);
    const auto [new_demands, new_steps] = demands(*after.session);
    // A slip of words or units may stand in a `require` itself, or have hidden one; a name in one is not
    // touched.
    const bool own = target.edit && target.edit->span == edit.span && target.edit->text == edit.text &&
                     (target.code == Code::syntax || target.code == Code::unknown_unit);
    const bool kept = own ? new_demands.size() >= old_demands.size() : new_demands == old_demands;
    if (!kept || new_steps < old_steps || !keeps_open(before, after)) return false;
    if (before.session->model.concessions.size() != after.session->model.concessions.size()) return false;
    // What only some values of a parameter break was not looked at before the default held; once it is, only a
    // repair that holds for all of them counts.
    if (stage(after) >= Stage::ranges) return stage(after) > stage(before);
    const auto was = counted(before), is = counted(after);
    const auto of = [](const std::map<std::string, std::size_t>& map, const std::string& rule) {
        const auto at = map.find(rule);
        return at == map.end() ? std::size_t{0} : at->second;
    };
    if (of(is, target.rule) >= of(was, target.rule)) {
        // As many of its kind as before: only a finding further down the run is progress.
        if (target.span.file != edit.span.file) return false;
        const auto grown = static_cast<std::int64_t>(edit.text.size()) -
                           static_cast<std::int64_t>(edit.span.end - edit.span.begin);
        for (const Diagnostic& d : after.session->out.all()) {
            if (d.severity != Severity::error || d.rule != target.rule || d.span.file != target.span.file)
                continue;
            // Its place in the text before; what lies inside the edit counts as its beginning.
            std::int64_t at = d.span.begin;
            if (at >= static_cast<std::int64_t>(edit.span.begin + edit.text.size()))
                at -= grown;
            else
                at = std::min<std::int64_t>(at, edit.span.begin);
            if (at <= target.span.begin) return false;
        }
    }
    // What a repair of the language uncovers was there before.
    if (target.edit && group(target.code) == Group::text) return true;
    if (stage(after) > stage(before)) return true;
    if (stage(after) < stage(before)) return false;
    return std::all_of(is.begin(), is.end(),
                       [&](const auto& entry) { return entry.second <= of(was, entry.first); });
}

std::vector<const Diagnostic*> errors_of(const Attempt& a) {
    std::size_t hidden = 0;
    std::vector<const Diagnostic*> list;
    for (const Diagnostic* d : a.session->out.sorted(100, hidden))
        if (d->severity == Severity::error) list.push_back(d);
    // These two follow from nearly every other fault of a run with flammable gas.
    std::stable_partition(list.begin(), list.end(), [](const Diagnostic* d) {
        return d->code != Code::flammable_mixture && d->code != Code::cold_ends_open_to_air;
    });
    return list;
}

} // namespace

Attempt attempt(const std::string& path, std::string text, const Options& options) {
    Attempt a;
    a.session = std::make_unique<Session>();
    a.session->open(Given{path, std::move(text)}, options);
    for (check::Index recipe : a.session->recipes(options))
        a.recipes.push_back(compile(*a.session, recipe, options, a.session->sets, a.session->out));
    if (!a.session->out.any_error())
        for (Compiled& compiled : a.recipes) {
            compiled.proven = ranges_hold(*a.session, compiled.recipe, options, Thorough::no);
            a.fails_in_range = a.fails_in_range || !compiled.proven;
        }
    a.proven = !a.session->out.any_error();
    return a;
}

std::string edited(std::string_view text, const Edit& edit) {
    return std::string(text.substr(0, edit.span.begin)) + edit.text + std::string(text.substr(edit.span.end));
}

std::optional<Repair> repair(const Attempt& found, const Diagnostic& diagnostic, bool fit,
                             const Options& options, unsigned& most) {
    const FileId file = found.session->units.front().file;
    const File& named = found.session->files[file];
    std::optional<Repair> step; // the first that helps; one after which nothing is left goes before it
    for (Repair& one : proposals(found, diagnostic)) {
        if ((one.fits && !fit) || one.edit.span.file != file) continue;
        if (step && one.fits && !step->fits) break; // hardware only where the recipe has no answer
        if (most == 0) break;
        --most;
        std::string text = edited(named.text(), one.edit);
        if (text == named.text()) continue;
        const Attempt then = attempt(named.path(), std::move(text), options);
        if (!better(found, then, diagnostic, one.edit)) continue;
        if (then.proven) return std::move(one);
        if (!step) step = std::move(one);
    }
    return step;
}

void add_edits(Session& session, const Options& options) {
    if (!session.out.any_error() || session.units.empty()) return;
    const File& named = session.files[session.units.front().file];
    const Attempt found = attempt(named.path(), std::string(named.text()), options);
    unsigned most = most_trials_for_edits;
    Diagnostics out;
    for (Diagnostic d : session.out.all()) {
        if (d.severity == Severity::error && !d.edit)
            if (std::optional<Repair> one = repair(found, d, true, options, most)) {
                d.edit = one->edit;
                d.remedy(one->fits ? "once it is so: " + one->what : one->what);
            }
        out.add(std::move(d));
    }
    session.out = std::move(out);
}

bool mend_file(const std::string& path, bool fit, const Options& options) {
    std::string error;
    const std::optional<std::string> given = read_file(path, error);
    if (!given) {
        print_file_error(path, error, options);
        return false;
    }
    std::string text = *given;
    std::vector<std::string> done, fitted;
    bool withheld = false;
    for (unsigned round = 0; round < most_rounds; ++round) {
        const Attempt found = attempt(path, text, options);
        if (found.proven || found.session->units.empty()) break;
        std::optional<Repair> taken;
        unsigned most = most_trials;
        for (const Diagnostic* d : errors_of(found)) {
            taken = repair(found, *d, false, options, most);
            if (taken) break;
        }
        // Hardware only where the recipe itself has no answer.
        if (!taken)
            for (const Diagnostic* d : errors_of(found)) {
                taken = repair(found, *d, true, options, most);
                if (taken) break;
            }
        if (!taken) break;
        if (taken->fits && !fit) {
            withheld = true;
            fmt::print(stderr, "{}: not changed: {}; see that it is so, then declare it, or say --fit\n", path,
                       taken->what);
            break;
        }
        text = edited(text, taken->edit);
        (taken->fits ? fitted : done).push_back(taken->what);
    }
    if (text == *given) {
        if (const Attempt left = attempt(path, text, options); !withheld && !left.proven)
            fmt::print(stderr, "{}: no repair is known {}\n", path,
                       left.fails_in_range ? "that holds for every value of its parameters"
                                           : "for what is left");
        return true;
    }
    const std::filesystem::path target(path);
    const std::string folder = target.parent_path().string();
    if (!targets::write_all(folder.empty() ? "." : folder, {{target.filename().string(), text}}, error)) {
        fmt::print(stderr, "{}: not written: {}\n", path, error);
        return false;
    }
    std::FILE* to = options.format == MessageFormat::json ? stderr : stdout;
    fmt::print(to, "{}", unified_diff(*given, text, path));
    for (const std::string& what : done) fmt::print(stderr, "{}: changed: {}\n", path, what);
    for (const std::string& what : fitted)
        fmt::print(stderr, "{}: changed: {}. SEE TO IT BEFORE THE RUN: the file now says that it is so\n", path,
                   what);
    return true;
}

} // namespace athanor::driver
