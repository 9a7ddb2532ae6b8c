#include "compiler/review/declarations.hpp"

#include "compiler/review/align.hpp"
#include "compiler/review/parts.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

namespace athanor::review {
namespace {

using Kind = Change::Kind;

/// "heat_up (2)" where a block has several of one name.
std::vector<std::string> labels(const std::vector<Part>& parts) {
    std::map<std::string_view, unsigned> total, seen;
    for (const Part& part : parts) ++total[part.name];
    std::vector<std::string> list;
    for (const Part& part : parts) {
        const unsigned n = ++seen[part.name];
        list.push_back(total[part.name] > 1 ? part.name + " (" + std::to_string(n) + ")" : part.name);
    }
    return list;
}

std::string behind(const std::string& where, const std::string& name) {
    return where.empty() ? name : where + " " + name;
}

/// What the timelines have told of the steps that are written.
class Told {
public:
    explicit Told(const std::vector<Change>& list) : list_(list) {}

    /// `changed` values of one clause of a step: the timeline has told just those, of just this step.
    bool clause(const Part& before, const Part& after, Node kind, std::size_t changed) const {
        if (unseen(before.kind) || varies(before, kind) || varies(after, kind)) return false;
        const auto found = std::count_if(list_.begin(), list_.end(), [&](const Change& change) {
            return !change.value.empty() && names(kind, change.value) &&
                   (in_head(change.before, before) || in_head(change.after, after));
        });
        return found > 0 && static_cast<std::size_t>(found) >= changed;
    }
    /// A step with all that is in it. `moved`: it stands in the other version, too, with the same formulas.
    bool whole(const Part& part, bool came, bool moved = false) const {
        if (unseen(part.kind)) return false;
        for (const Value& value : part.values)
            if (value.varies && !moved) return false;
        const auto about = [&](const Change& change) {
            return change.value.empty() && in_head(came ? change.after : change.before, part);
        };
        const bool block = part.kind == Node::repeat || part.kind == Node::run;
        return (block || std::any_of(list_.begin(), list_.end(), about)) &&
               std::all_of(part.parts.begin(), part.parts.end(),
                           [&](const Part& inner) { return whole(inner, came, moved); });
    }

private:
    /// What a formula gives for other values of the parameters is in no timeline.
    static bool varies(const Part& part, Node kind) {
        return std::any_of(part.values.begin(), part.values.end(),
                           [&](const Value& value) { return value.kind == kind && value.varies; });
    }
    /// A timeline has the steps that run, not why, and an operation's where the operation is declared.
    static bool unseen(Node kind) {
        return kind == Node::none || kind == Node::if_else || kind == Node::let || kind == Node::call ||
               kind == Node::defaults || kind == Node::for_each || kind == Node::repeat_until;
    }
    static bool inside(Span at, Span step) {
        return at.end > at.begin && at.file == step.file && at.begin >= step.begin && at.end <= step.end;
    }
    /// In the step itself, not in one of those in its block.
    static bool in_head(Span at, const Part& part) {
        return inside(at, part.source) &&
               std::none_of(part.parts.begin(), part.parts.end(),
                            [&](const Part& inner) { return inside(at, inner.source); });
    }
    /// Whether a clause is where the timeline's value comes from.
    static bool names(Node clause, std::string_view value) {
        switch (clause) {
        case Node::at: return value == "rate" || value == "flow" || value == "bath" || value == "pressure";
        case Node::over: return value == "rate" || value == "duration";
        case Node::within: return value == "soak band";
        case Node::until:
        case Node::volumes: return value == "condition" || value == "duration";
        case Node::duration: return value == "duration";
        case Node::at_most: return value == "at most";
        case Node::to: return value == "target" || value == "to" || value == "pressure";
        case Node::guard: return value == "while";
        case Node::none: return value != "holds from" && value != "until" && value != "before";
        default: return false;
        }
    }

    const std::vector<Change>& list_;
};

/// Changes inside one declaration; `where`: the names of the blocks around.
class Comparison {
public:
    Comparison(std::string path, std::vector<Change>& changes, const std::vector<Change>& told = {})
        : path_(std::move(path)), changes_(changes), told_(told) {}

    void values(const Part& before, const Part& after, const std::string& where) {
        std::set<Node> kinds;
        for (const Part* part : {&before, &after})
            for (const Value& value : part->values) kinds.insert(value.kind);
        for (Node kind : kinds) {
            const std::vector<const Value*> a = of(before, kind), b = of(after, kind);
            std::size_t changed = 0;
            for (std::size_t i = 0; i < std::max(a.size(), b.size()); ++i)
                if (i >= b.size() || i >= a.size() || a[i]->meaning != b[i]->meaning) ++changed;
            if (changed == 0 || told_.clause(before, after, kind, changed)) continue;
            for (std::size_t i = 0; i < std::max(a.size(), b.size()); ++i) {
                if (i >= b.size())
                    add(Kind::removed, where, a[i]->text);
                else if (i >= a.size())
                    add(Kind::added, where, b[i]->text);
                else if (a[i]->meaning != b[i]->meaning)
                    add(Kind::changed, where, a[i]->text + " -> " + b[i]->text);
            }
        }
    }

    void parts(const std::vector<Part>& before, const std::vector<Part>& after, const std::string& where) {
        const std::vector<std::string> old_names = labels(before), new_names = labels(after);
        const auto pairs = align(before.size(), after.size(), [&](std::size_t i, std::size_t j) {
            if (before[i].name != after[j].name) return unlike;
            return before[i].meaning == after[j].meaning ? equal : same_kind;
        });
        const std::vector<std::size_t> moved = moves(before, after, pairs);
        std::size_t i = 0, j = 0;
        const auto gone = [&](std::size_t x) {
            if (told_.whole(before[x], false, moved[x] != none)) return;
            if (const std::size_t y = moved[x]; y != none)
                add(Kind::changed, where,
                    fmt::format("{} moved: behind {} -> behind {}", new_names[y],
                                x == 0 ? "the start" : old_names[x - 1],
                                y == 0 ? "the start" : new_names[y - 1]));
            else
                add(Kind::removed, where, written(before[x]));
        };
        const auto came = [&](std::size_t y) {
            if (std::find(moved.begin(), moved.end(), y) == moved.end() && !told_.whole(after[y], true))
                add(Kind::added, where, written(after[y]));
        };
        const auto unpaired = [&](std::size_t x, std::size_t y) {
            for (; i < x; ++i) gone(i);
            for (; j < y; ++j) came(j);
        };
        for (auto [x, y] : pairs) {
            unpaired(x, y);
            inside(before[x], after[y], behind(where, new_names[y]));
            i = x + 1;
            j = y + 1;
        }
        unpaired(before.size(), after.size());
    }

    void inside(const Part& before, const Part& after, const std::string& where) {
        if (before.meaning == after.meaning) return;
        values(before, after, where);
        parts(before.parts, after.parts, where);
    }

private:
    static constexpr std::size_t none = static_cast<std::size_t>(-1);

    /// Of each step that stands at another place of its block now, that place.
    static std::vector<std::size_t> moves(const std::vector<Part>& before, const std::vector<Part>& after,
                                          const std::vector<std::pair<std::size_t, std::size_t>>& pairs) {
        std::vector<std::size_t> moved(before.size(), none);
        std::vector<bool> stays(before.size(), false), taken(after.size(), false);
        for (auto [x, y] : pairs) stays[x] = true, taken[y] = true;
        std::map<std::string, std::vector<std::size_t>> came; // the last one first
        const auto whole = [](const Part& part) { return part.name + "\x1f" + part.meaning; };
        for (std::size_t j = after.size(); j-- > 0;)
            if (!taken[j] && after[j].kind != Node::none) came[whole(after[j])].push_back(j);
        for (std::size_t i = 0; i < before.size(); ++i) {
            if (stays[i] || before[i].kind == Node::none) continue;
            const auto found = came.find(whole(before[i]));
            if (found == came.end() || found->second.empty()) continue;
            moved[i] = found->second.back();
            found->second.pop_back();
        }
        return moved;
    }

    static std::vector<const Value*> of(const Part& part, Node kind) {
        std::vector<const Value*> list;
        for (const Value& value : part.values)
            if (value.kind == kind) list.push_back(&value);
        return list;
    }
    /// A part of a declaration is named by the declaration; a part of a recipe, that has no path, by itself.
    void add(Kind kind, const std::string& where, const std::string& what) {
        changes_.push_back({kind, path_, behind(where, what)});
    }

    std::string path_;
    std::vector<Change>& changes_;
    Told told_;
};

bool compared(Node kind) {
    switch (kind) {
    case Node::let:
    case Node::operation:
    case Node::gas:
    case Node::gas_mix:
    case Node::rig:
    case Node::material:
    case Node::thermocouple:
    case Node::substance:
    case Node::controller:
    case Node::schema:
    case Node::layout:
    case Node::policy: return true;
    default: return false;
    }
}

Names names_of(const Sources& sources) {
    Names all;
    for (const check::Unit& unit : sources.units) {
        const Tree& tree = unit.tree;
        const auto named = [&](NodeId node) {
            const NodeId name = node == no_node ? no_node : tree.child(node, Node::name);
            return name == no_node ? std::string() : std::string(tree.text(name, sources.files));
        };
        for (NodeId node = 0; node < tree.nodes().size(); ++node) {
            const Node kind = tree.kind(node);
            if (kind == Node::let || kind == Node::parameter || kind == Node::for_each ||
                kind == Node::loop_name)
                all.variables.insert(named(node));
            if (kind != Node::operation) continue;
            std::vector<std::string>& names = all.operations[named(node)];
            names.clear();
            if (const NodeId list = tree.child(node, Node::parameters); list != no_node)
                for (NodeId one : tree.children(list)) names.push_back(named(one));
        }
    }
    return all;
}

std::vector<Part> declared(const Sources& sources) {
    std::vector<Part> list;
    const Names names = names_of(sources);
    for (const check::Unit& unit : sources.units) {
        if (unit.standard || (sources.file_alone && !unit.named)) continue;
        const Reader reader(unit.tree, sources.files, names);
        for (NodeId node : unit.tree.children(unit.tree.root)) {
            if (!compared(unit.tree.kind(node))) continue;
            Part part = reader.declaration(node);
            // A policy of concessions only is compared as such.
            if (unit.tree.kind(node) == Node::policy && part.parts.empty()) continue;
            list.push_back(std::move(part));
        }
    }
    sort(list);
    return list;
}

constexpr std::string_view operation = "operation ";

/// Operations that have another name now and are otherwise the same: old name to new name.
std::map<std::string, std::string> renamed(const std::vector<Part>& before, const std::vector<Part>& after) {
    const auto gone = [](const Part& part, const std::vector<Part>& from) {
        return part.name.starts_with(operation) &&
               std::none_of(from.begin(), from.end(),
                            [&](const Part& other) { return other.name == part.name; });
    };
    std::map<std::string, std::string> names;
    std::set<std::string> taken;
    for (const Part& old : before) {
        if (!gone(old, after)) continue;
        for (const Part& now : after)
            if (now.meaning == old.meaning && gone(now, before) && taken.insert(now.name).second) {
                names[old.name.substr(operation.size())] = now.name.substr(operation.size());
                break;
            }
    }
    return names;
}

/// Calls by the new names.
void rename_calls(std::vector<Part>& steps, const std::map<std::string, std::string>& names) {
    for (Part& step : steps) {
        if (const auto found = names.find(step.name); found != names.end()) step.name = found->second;
        rename_calls(step.parts, names);
        settle(step);
    }
}

/// The name of an operation is no part of the process.
void take_new_names(std::vector<Part>& before, const std::map<std::string, std::string>& names) {
    for (Part& part : before) {
        if (!part.name.starts_with(operation)) continue;
        rename_calls(part.parts, names);
        settle(part);
        if (const auto found = names.find(part.name.substr(operation.size())); found != names.end())
            part.name = std::string(operation) + found->second;
    }
    sort(before);
}

std::string base_of(const Part& part) {
    for (const Value& value : part.values)
        if (value.kind == Node::from && part.name.starts_with("rig "))
            return "rig " + value.text.substr(value.text.rfind(' ') + 1);
    return {};
}

/// A variant has what its base has, so it changes with it.
void add_variants(const std::vector<Part>& after, std::vector<Change>& changes) {
    std::set<std::string> changed;
    for (const Change& change : changes)
        if (change.kind == Kind::changed || !change.what.empty()) changed.insert(change.path);
    for (bool more = true; more;) {
        more = false;
        for (const Part& part : after) {
            const std::string base = base_of(part);
            if (base.empty() || changed.count(base) == 0) continue;
            const bool told = std::any_of(changes.begin(), changes.end(), [&](const Change& c) {
                return c.path == part.name && (c.what == "with its base, " + base || c.what.empty());
            });
            if (told) continue;
            changes.push_back({Kind::changed, part.name, "with its base, " + base});
            changed.insert(part.name);
            more = true;
        }
    }
}

/// A recipe of the file itself, in its tree.
template<class Read>
Part recipe_part(const Sources& sources, std::string_view wanted, Read read) {
    const Names names = names_of(sources);
    for (const check::Unit& unit : sources.units) {
        if (!unit.named) continue;
        for (NodeId node : unit.tree.children(unit.tree.root))
            if (unit.tree.kind(node) == Node::recipe &&
                unit.tree.text(unit.tree.child(node, Node::name), sources.files) == wanted)
                return read(Reader(unit.tree, sources.files, names), node,
                            unit.tree.child(node, Node::parameters) != no_node);
    }
    return {};
}

} // namespace

std::vector<Change> declarations(const Sources& before, const Sources& after) {
    std::vector<Part> a = declared(before), b = declared(after);
    if (const auto names = renamed(a, b); !names.empty()) take_new_names(a, names);
    std::vector<Change> changes;
    std::size_t i = 0, j = 0;
    // Both are in the order of their names.
    while (i < a.size() || j < b.size()) {
        if (j == b.size() || (i < a.size() && a[i].name < b[j].name)) {
            changes.push_back({Kind::removed, a[i++].name, {}});
        } else if (i == a.size() || b[j].name < a[i].name) {
            changes.push_back({Kind::added, b[j++].name, {}});
        } else {
            Comparison(b[j].name, changes).inside(a[i], b[j], {});
            ++i;
            ++j;
        }
    }
    add_variants(b, changes);
    std::stable_sort(changes.begin(), changes.end(),
                     [](const Change& x, const Change& y) { return x.path < y.path; });
    return changes;
}

std::vector<std::string> recipes(const Sources& sources) {
    std::vector<std::string> names;
    for (const check::Unit& unit : sources.units) {
        if (!unit.named) continue;
        for (NodeId node : unit.tree.children(unit.tree.root))
            if (unit.tree.kind(node) == Node::recipe)
                if (const NodeId name = unit.tree.child(node, Node::name); name != no_node)
                    names.emplace_back(unit.tree.text(name, sources.files));
    }
    return names;
}

std::vector<Change> heads(const Sources& before, std::string_view old_name, const Sources& after,
                          std::string_view new_name) {
    const auto head = [](const Reader& reader, NodeId node, bool) { return reader.recipe_head(node); };
    std::vector<Change> changes;
    Comparison({}, changes).inside(recipe_part(before, old_name, head), recipe_part(after, new_name, head), {});
    return changes;
}

std::vector<Change> written_steps(const Sources& before, std::string_view old_name, const Sources& after,
                                  std::string_view new_name, bool all, const std::vector<Change>& told) {
    const auto steps = [all](const Reader& reader, NodeId node, bool parameters) {
        return all || parameters ? reader.recipe_steps(node) : Part{};
    };
    Part old_steps = recipe_part(before, old_name, steps);
    if (const auto names = renamed(declared(before), declared(after)); !names.empty()) {
        rename_calls(old_steps.parts, names);
        settle(old_steps);
    }
    std::vector<Change> changes;
    Comparison({}, changes, told).inside(old_steps, recipe_part(after, new_name, steps), {});
    return changes;
}

} // namespace athanor::review
