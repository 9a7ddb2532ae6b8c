#include "compiler/review/review.hpp"

#include "compiler/quantity/unit.hpp"
#include "compiler/review/align.hpp"
#include "compiler/timeline/words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>

namespace athanor::review {
namespace {

using timeline::ActionKind;
using timeline::EndingKind;
using timeline::LawKind;
using timeline::SignalKind;
using timeline::Term;
using timeline::Timeline;

/// Places that are no step.
constexpr std::size_t at_start = static_cast<std::size_t>(-1), at_end = static_cast<std::size_t>(-2);

/// Values that go without saying where a step is told as a whole.
constexpr const char *nothing = "none", *alone = "alone", *shut = "stays shut";

/// Which zones move beside one.
constexpr const char* moves = "moves";

/// Kinds of the two ends of a `keep`.
constexpr const char *keep_begins = "begin of keep", *keep_ends = "end of keep";

/// One step of the process as a reviewer sees it: what it is, what it acts on, and its values by name.
struct Item {
    std::string block;   // names of the blocks around it
    std::string kind;    // "ramp", "dwell", "open", "require" …
    std::string subject; // zone or line
    std::vector<std::pair<std::string, std::string>> values;
    athanor::Span source{};
    bool head = false; // of the recipe as a whole: nothing happens there
    /// Steps that it begins before, or holds until.
    struct Place {
        const char* name = "";
        std::size_t item = 0; // or one of the two below
    };
    std::vector<Place> places{};

    bool aligns(const Item& o) const { return kind == o.kind && subject == o.subject && block == o.block; }
};

std::string degrees(double kelvin) {
    return to_text(kelvin, Kind::temperature, 6);
}
std::string seconds(Interval t) {
    return to_text(t, Kind::time, 8); // seconds of days, too
}

/// Blocks of a path: everything before its last " / ".
std::string block_of(const Timeline& t, timeline::Index path) {
    if (path == timeline::none) return {};
    const std::string text = t.paths[path];
    std::size_t cut = text.rfind(" / ");
    return cut == std::string::npos ? std::string{} : text.substr(0, cut);
}

/// The path of the whole step that a span is a piece of: without "/2".
std::string step_of(const Timeline& t, std::size_t index) {
    if (t.spans[index].path == timeline::none) return {};
    const std::string path = t.paths[t.spans[index].path];
    const std::size_t cut = path.find_last_not_of("0123456789");
    const bool piece = cut != std::string::npos && cut + 1 < path.size() && path[cut] == '/';
    return piece ? path.substr(0, cut) : path;
}

/// A free cooling goes on below: something is only placed where it passes.
bool goes_on(const Timeline& t, std::size_t index, std::size_t zone) {
    if (t.laws_of(index)[zone].kind != LawKind::off || index + 1 >= t.spans.size()) return false;
    return t.laws_of(index + 1)[zone].kind == LawKind::off && !step_of(t, index).empty() &&
           step_of(t, index) == step_of(t, index + 1);
}

/// The zones that move at the same time.
std::string company(const Timeline& t, std::size_t index, std::size_t zone) {
    std::string others;
    for (std::size_t z = 0; z < t.zones.size(); ++z)
        if (z != zone && t.laws_of(index)[z].kind != LawKind::hold)
            others += (others.empty() ? "together with " : ", ") + t.zones[z];
    return others.empty() ? alone : others;
}

/// One item per zone whose set-point moves, or one for a hold.
void add_span(const Timeline& t, std::size_t index, std::vector<Item>& items) {
    const timeline::Span& span = t.spans[index];
    std::string block = block_of(t, span.path);
    const timeline::Ending& ending = span.ending;
    if (ending.kind == EndingKind::person) {
        std::string text = ending.text == timeline::none ? "" : t.texts[ending.text];
        const bool accepts = text.starts_with(timeline::accepting);
        if (accepts) text.erase(0, timeline::accepting.size());
        items.push_back({block,
                         accepts ? "wait for operator to accept" : "wait for operator",
                         "",
                         {{"text", text}, {"tube", t.states[span.state].tube_open ? "may be opened" : shut}},
                         span.source});
        return;
    }
    const timeline::Law* laws = t.laws_of(index);
    bool moved = false;
    for (std::size_t zone = 0; zone < t.zones.size(); ++zone) {
        const timeline::Law& law = laws[zone];
        if (law.kind == LawKind::hold) continue;
        moved = true;
        Item item{block,
                  law.kind == LawKind::line  ? (law.to >= law.from ? "ramp" : "cool")
                  : law.kind == LawKind::off ? "cool freely"
                                             : "step",
                  t.zones.size() > 1 ? t.zones[zone] : "",
                  {{goes_on(t, index, zone) ? "passes" : "target", degrees(law.to)}},
                  span.source};
        if (law.kind == LawKind::line)
            item.values.emplace_back("rate", to_text(std::abs(law.rate), Kind::rate, 6));
        else if (law.kind == LawKind::off)
            item.values.emplace_back("duration", seconds(span.duration));
        item.values.emplace_back(
            "soak band", ending.kind == EndingKind::band ? to_text(ending.band, Kind::difference) : nothing);
        if (t.zones.size() > 1) item.values.emplace_back(moves, company(t, index, zone));
        items.push_back(std::move(item));
    }
    if (moved) return;
    Item item{block, "dwell", "", {}, span.source};
    if (ending.kind == EndingKind::certain) {
        item.kind = "hold until certain";
        item.values.emplace_back(
            "condition", ending.condition == timeline::none ? "" : print(t.conditions[ending.condition], t));
        item.values.emplace_back("duration", seconds(span.duration));
        item.values.emplace_back("at most", ending.at_most > 0 ? seconds(ending.at_most) : nothing);
    } else {
        item.values.emplace_back("duration", seconds(ending.duration));
        item.values.emplace_back(
            "soak band", ending.kind == EndingKind::band ? to_text(ending.band, Kind::difference) : nothing);
    }
    items.push_back(std::move(item));
}

/// Where the sample stands in a state.
std::string place_of(const Timeline& t, timeline::Index state) {
    const timeline::Index place = t.states[state].place;
    return place < t.places.size() ? t.places[place].name : "the hot zone";
}

void add_action(const Timeline& t, const timeline::Action& action, const std::string& block,
                std::vector<Item>& items) {
    std::string line = action.line == timeline::none ? std::string{} : t.lines[action.line].name;
    std::string flow =
        action.line == timeline::none ? std::string{} : flow_text(t.lines[action.line], action.value, 6);
    using Values = std::vector<std::pair<std::string, std::string>>;
    const auto add = [&](const char* kind, std::string subject, Values values) {
        items.push_back({block, kind, std::move(subject), std::move(values), action.source});
    };
    switch (action.kind) {
    case ActionKind::open: return add("open", line, {{"flow", flow}});
    case ActionKind::set: return add("set", line, {{"flow", flow}});
    case ActionKind::switch_to: return add("switch to", line, {{"flow", flow}});
    case ActionKind::close: return add("close", line, {});
    case ActionKind::close_all: return add("close all", "", {});
    case ActionKind::light: return add("light burner", "", {});
    case ActionKind::shut: return add("shut burner", "", {});
    case ActionKind::start_pump: return add("start pump", "", {});
    case ActionKind::stop_pump: return add("stop pump", "", {});
    case ActionKind::regulate:
        return add("regulate pressure", "", {{"pressure", to_text(action.value, Kind::pressure, 6)}});
    case ActionKind::humidify:
        return add("humidify", line, {{"bath", to_text(action.value, Kind::temperature, 6)}});
    case ActionKind::move: return add("move sample", "", {{"to", place_of(t, action.state)}});
    case ActionKind::open_tube: return; // the wait says it
    case ActionKind::note:
        return add("note", "", {{"text", action.text == timeline::none ? "" : t.texts[action.text]}});
    // What a standing threshold does is an item of its own; from where to where it stands is here.
    case ActionKind::arm: return add(keep_begins, line, {});
    case ActionKind::disarm: return add(keep_ends, line, {});
    }
}

std::vector<Item> items_of(const Timeline& t) {
    std::vector<Item> items;
    const auto head = [&](const char* kind, std::string subject,
                          std::vector<std::pair<std::string, std::string>> values, athanor::Span source,
                          std::vector<Item::Place> places = {}) {
        items.push_back({"", kind, std::move(subject), std::move(values), source, true, std::move(places)});
    };
    for (const timeline::Parameter& p : t.parameters) head("parameter", p.name, {{"value", p.value}}, {});
    head("rig", "", {{"name", t.rig}}, {});
    // The steps come behind the heads: until then a place is the number of a span.
    const auto before = [&](timeline::Index i) { return i < t.spans.size() ? std::size_t{i} : at_end; };
    for (const timeline::Requirement& r : t.requirements) {
        std::string guard = r.guard == timeline::none ? "always" : print(t.conditions[r.guard], t);
        const timeline::Condition& c = t.conditions[r.condition];
        std::string subject = c.terms.empty() ? "" : print(c.terms.front().left, t);
        head("require", subject, {{"condition", print(c, t)}, {"while", guard}}, r.source,
             {{"holds from", r.first_span == 0 ? at_start : before(r.first_span)},
              {"until", before(r.last_span)}});
    }
    for (const timeline::Expectation& e : t.expectations) {
        const timeline::Condition& c = t.conditions[e.condition];
        head("expect", c.terms.empty() ? "" : print(c.terms.front().left, t), {{"condition", print(c, t)}},
             e.source, {{"before", before(e.boundary)}});
    }
    for (const timeline::Threshold& k : t.thresholds)
        head(k.opens ? "keep open" : "keep closed", t.lines[k.line].name,
             {{"flow", flow_text(t.lines[k.line], k.flow, 6)},
              {k.above ? "above" : "below", degrees(k.temperature)}},
             k.source);
    std::vector<std::size_t> item_of(t.spans.size(), at_end); // the first of each span
    // A folded repeat is one item with its count, then its body once.
    std::map<timeline::Index, const timeline::Repeat*> repeats;
    for (const timeline::Repeat& r : t.repeats) repeats[r.first] = &r;
    for (std::size_t i = 0; i < t.spans.size();) {
        std::size_t next = i + 1, body_end = i + 1;
        auto found = repeats.find(static_cast<timeline::Index>(i));
        if (found != repeats.end() && found->second->spans > 0) {
            const timeline::Repeat& r = *found->second;
            items.push_back(
                {block_of(t, t.spans[i].path), "repeat", "", {{"passes", std::to_string(r.passes)}}, r.source});
            body_end = i + r.spans;
            next = i + static_cast<std::size_t>(r.spans) * r.passes;
        }
        for (std::size_t k = i; k < body_end; ++k) {
            const timeline::Span& span = t.spans[k];
            for (timeline::Index a = 0; a < span.actions; ++a)
                add_action(t, t.actions[span.first_action + a], block_of(t, span.path), items);
            item_of[k] = items.size();
            add_span(t, k, items);
        }
        for (std::size_t k = body_end; k < next; ++k) item_of[k] = item_of[k - (body_end - i)];
        i = next;
    }
    for (Item& item : items)
        for (Item::Place& place : item.places)
            if (place.item < t.spans.size()) place.item = item_of[place.item];
    for (timeline::Index a = 0; a < t.end_actions; ++a) add_action(t, t.actions[t.end_first + a], "", items);
    return items;
}

std::string label(const Item& item) {
    std::string text = item.block.empty() ? item.kind : item.block + " / " + item.kind;
    return item.subject.empty() ? text : text + " " + item.subject;
}

std::string name_of(std::size_t place, const std::vector<std::string>& names) {
    return place == at_start ? "the start" : place == at_end ? "the end" : names[place];
}

/// `names`: of all items of its version.
std::string listed(const Item& item, const std::vector<std::string>& names) {
    std::string text;
    const auto add = [&](const std::string& name, const std::string& value) {
        text += (text.empty() ? "" : ", ") + name + " " + value;
    };
    for (const auto& [name, value] : item.values)
        if (!value.empty() && value != nothing && value != alone && value != shut) add(name, value);
    for (const Item::Place& place : item.places) add(place.name, name_of(place.item, names));
    return text.empty() ? "whole step" : text;
}

/// What makes two steps the same one at two places, whatever moves beside them.
std::string identity(const Item& item) {
    std::string text = label(item);
    for (const auto& [name, value] : item.values)
        if (name != moves) text.append("\x1f").append(name).append(" ").append(value);
    return text;
}

/// Ordinals among equals, so that "dwell (2)" names one step of many: counted in the version that has it.
std::vector<std::string> labels(const std::vector<Item>& items) {
    std::map<std::string, int> total, seen;
    for (const Item& item : items) ++total[label(item)];
    std::vector<std::string> list;
    for (const Item& item : items) {
        std::string text = label(item);
        int n = ++seen[text];
        list.push_back(total[text] > 1 ? fmt::format("{} ({})", text, n) : text);
    }
    return list;
}

/// Steps are aligned by block, kind and subject.
Likeness likeness(const Item& a, const Item& b) {
    if (!a.aligns(b)) return unlike;
    return a.values == b.values ? equal : same_kind;
}

/// What stands before an item in its version.
std::string behind(const std::vector<Item>& items, const std::vector<std::string>& names, std::size_t i) {
    return i == 0 || items[i - 1].head ? "the start" : names[i - 1];
}

/// Two versions side by side.
class Comparison {
public:
    Comparison(const Timeline& before, const Timeline& after)
        : a_(items_of(before)), b_(items_of(after)), names_a_(labels(a_)), names_b_(labels(b_)) {}

    std::vector<Change> changes() {
        const std::size_t first_a = heads(a_), first_b = heads(b_);
        auto pairs = align(a_.size() - first_a, b_.size() - first_b, [&](std::size_t x, std::size_t y) {
            return likeness(a_[first_a + x], b_[first_b + y]);
        });
        beside_.assign(a_.size(), none);
        paired_.assign(b_.size(), false);
        for (auto& [x, y] : pairs) pair(x += first_a, y += first_b);
        find_moved();
        pair_heads(first_a, first_b);
        drop_ends_of_keep();
        for (std::size_t i = 0; i < first_a; ++i) beside_[i] == none ? removed(i) : values(i, beside_[i]);
        for (std::size_t j = 0; j < first_b; ++j)
            if (!paired_[j]) added(j);
        std::size_t i = first_a, j = first_b;
        const auto unpaired = [&](std::size_t x, std::size_t y) {
            for (; i < x; ++i) removed(i);
            for (; j < y; ++j) added(j);
        };
        for (auto [x, y] : pairs) {
            unpaired(x, y);
            values(x, y);
            i = x + 1;
            j = y + 1;
        }
        unpaired(a_.size(), b_.size());
        return std::move(changes_);
    }

private:
    static constexpr std::size_t none = static_cast<std::size_t>(-1);

    static std::size_t heads(const std::vector<Item>& items) {
        return static_cast<std::size_t>(
            std::find_if(items.begin(), items.end(), [](const Item& item) { return !item.head; }) -
            items.begin());
    }
    void pair(std::size_t x, std::size_t y) {
        beside_[x] = y;
        paired_[y] = true;
    }

    /// Places are the same where their steps are, whatever number those have now.
    bool same_place(std::size_t x, std::size_t y) const {
        if (x >= a_.size() || y >= b_.size()) return x == y;
        return beside_[x] == y || moved_[x] == y;
    }
    bool same_places(const Item& a, const Item& b) const {
        return std::equal(
            a.places.begin(), a.places.end(), b.places.begin(), b.places.end(),
            [&](const Item::Place& x, const Item::Place& y) { return same_place(x.item, y.item); });
    }
    /// Parameters, requirements and thresholds hold in whatever order they are written: equal ones are the
    /// same, and only what is left over of a kind and a subject is compared.
    void pair_heads(std::size_t first_a, std::size_t first_b) {
        const auto by = [&](const auto& same) {
            for (std::size_t i = 0; i < first_a; ++i)
                for (std::size_t j = 0; j < first_b && beside_[i] == none; ++j)
                    if (!paired_[j] && a_[i].aligns(b_[j]) && same(a_[i], b_[j])) pair(i, j);
        };
        by([&](const Item& a, const Item& b) { return a.values == b.values && same_places(a, b); });
        by([](const Item& a, const Item& b) { return a.values == b.values; });
        by([](const Item&, const Item&) { return true; });
    }

    /// The same step at another place is one change, not two.
    void find_moved() {
        moved_.assign(a_.size(), none);
        came_.assign(b_.size(), false);
        quiet_a_.assign(a_.size(), false);
        quiet_b_.assign(b_.size(), false);
        std::map<std::string, std::vector<std::size_t>> came; // the last one first
        for (std::size_t j = b_.size(); j-- > 0;)
            if (!paired_[j] && !b_[j].head) came[identity(b_[j])].push_back(j);
        for (std::size_t i = 0; i < a_.size(); ++i) {
            if (beside_[i] != none || a_[i].head) continue;
            const auto found = came.find(identity(a_[i]));
            if (found == came.end() || found->second.empty()) continue;
            moved_[i] = found->second.back();
            came_[moved_[i]] = true;
            found->second.pop_back();
        }
    }

    /// Where a `keep` came or went as a whole its two ends say no more.
    void drop_ends_of_keep() {
        const auto ends = [](const std::vector<Item>& items, const Item& keep, std::vector<bool>& quiet) {
            for (std::size_t k = 0; k < items.size(); ++k)
                if ((items[k].kind == keep_begins || items[k].kind == keep_ends) &&
                    items[k].subject == keep.subject)
                    quiet[k] = true;
        };
        const auto is_keep = [](const Item& item) { return item.head && item.kind.starts_with("keep "); };
        const auto only = [&](const std::vector<Item>& items, const Item& keep) {
            return std::count_if(items.begin(), items.end(), [&](const Item& item) {
                       return is_keep(item) && item.subject == keep.subject;
                   }) == 1;
        };
        for (std::size_t i = 0; i < a_.size(); ++i)
            if (is_keep(a_[i]) && beside_[i] == none && only(a_, a_[i])) ends(a_, a_[i], quiet_a_);
        for (std::size_t j = 0; j < b_.size(); ++j)
            if (is_keep(b_[j]) && !paired_[j] && only(b_, b_[j])) ends(b_, b_[j], quiet_b_);
    }

    void removed(std::size_t i) {
        if (const std::size_t j = moved_[i]; j != none) {
            changes_.push_back(
                {Change::Kind::changed,
                 names_b_[j],
                 fmt::format("moved: behind {} -> behind {}", behind(a_, names_a_, i), behind(b_, names_b_, j)),
                 a_[i].source,
                 b_[j].source,
                 {}});
            values(i, j);
        } else if (!quiet_a_[i]) {
            changes_.push_back(
                {Change::Kind::removed, names_a_[i], listed(a_[i], names_a_), a_[i].source, {}, {}});
        }
    }
    void added(std::size_t j) {
        if (!came_[j] && !quiet_b_[j])
            changes_.push_back(
                {Change::Kind::added, names_b_[j], listed(b_[j], names_b_), {}, b_[j].source, {}});
    }

    void values(std::size_t x, std::size_t y) {
        for (std::size_t k = 0; k < b_[y].values.size() || k < a_[x].values.size(); ++k) {
            const auto named = [k](const Item& item) {
                return k < item.values.size() ? item.values[k]
                                              : std::pair<std::string, std::string>{"", "none"};
            };
            const auto [old_what, old_value] = named(a_[x]);
            const auto [new_what, new_value] = named(b_[y]);
            const std::string& what = new_what.empty() ? old_what : new_what;
            std::string text;
            if (old_what != new_what && !old_what.empty() && !new_what.empty()) // above 200 °C, below it
                text = fmt::format("{} {} -> {} {}", old_what, old_value, new_what, new_value);
            else if (old_value != new_value)
                text = what + " " + old_value + " -> " + new_value;
            if (!text.empty())
                changes_.push_back(
                    {Change::Kind::changed, names_b_[y], std::move(text), a_[x].source, b_[y].source, what});
        }
        for (std::size_t k = 0; k < a_[x].places.size() && k < b_[y].places.size(); ++k) {
            const Item::Place &old_place = a_[x].places[k], &new_place = b_[y].places[k];
            if (same_place(old_place.item, new_place.item)) continue;
            changes_.push_back({Change::Kind::changed, names_b_[y],
                                fmt::format("{} {} -> {}", new_place.name, name_of(old_place.item, names_a_),
                                            name_of(new_place.item, names_b_)),
                                a_[x].source, b_[y].source, new_place.name});
        }
    }

    std::vector<Item> a_, b_;
    std::vector<std::string> names_a_, names_b_;
    std::vector<std::size_t> beside_;     // which of b_ each of a_ is; `none`: it is in this one only
    std::vector<bool> paired_;            // of each of b_
    std::vector<std::size_t> moved_;      // to where, of each of a_
    std::vector<bool> came_;              // of each of b_: told as moved
    std::vector<bool> quiet_a_, quiet_b_; // said by another change
    std::vector<Change> changes_;
};

} // namespace

std::vector<Change> diff(const Timeline& before, const Timeline& after) {
    return Comparison(before, after).changes();
}

std::vector<Change> concessions(const std::vector<std::string>& before, const std::vector<std::string>& after) {
    std::vector<Change> changes;
    const auto missing = [](const std::vector<std::string>& from, const std::vector<std::string>& in) {
        std::vector<std::string> list;
        for (const std::string& text : from)
            if (std::find(in.begin(), in.end(), text) == in.end()) list.push_back(text);
        return list;
    };
    for (const std::string& text : missing(before, after))
        changes.push_back({Change::Kind::removed, "concession", text});
    for (const std::string& text : missing(after, before))
        changes.push_back({Change::Kind::added, "concession", text});
    return changes;
}

} // namespace athanor::review
