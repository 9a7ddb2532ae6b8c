#include "compiler/review/review.hpp"

#include "compiler/quantity/unit.hpp"
#include "compiler/review/align.hpp"

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

/// One step of the process as a reviewer sees it: what it is, what it acts on, and its values by name.
struct Item {
    std::string block;   // names of the blocks around it
    std::string kind;    // "ramp", "dwell", "open", "require" …
    std::string subject; // zone or line
    std::vector<std::pair<std::string, std::string>> values;

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
    const std::string& text = t.paths[path];
    std::size_t cut = text.rfind(" / ");
    return cut == std::string::npos ? std::string{} : text.substr(0, cut);
}

/// One item per zone whose set-point moves, or one for a hold.
void add_span(const Timeline& t, std::size_t index, std::vector<Item>& items) {
    const timeline::Span& span = t.spans[index];
    std::string block = block_of(t, span.path);
    const timeline::Ending& ending = span.ending;
    if (ending.kind == EndingKind::person) {
        items.push_back({block,
                         "wait for operator",
                         "",
                         {{"text", ending.text == timeline::none ? "" : t.texts[ending.text]}}});
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
                  {{"target", degrees(law.to)}}};
        if (law.kind == LawKind::line)
            item.values.emplace_back("rate", to_text(std::abs(law.rate), Kind::rate, 6));
        else if (law.kind == LawKind::off)
            item.values.emplace_back("duration", seconds(span.duration));
        item.values.emplace_back(
            "soak band", ending.kind == EndingKind::band ? to_text(ending.band, Kind::difference) : "none");
        items.push_back(std::move(item));
    }
    if (moved) return;
    Item item{block, "dwell", "", {}};
    if (ending.kind == EndingKind::certain) {
        item.kind = "hold until certain";
        item.values.emplace_back(
            "condition", ending.condition == timeline::none ? "" : print(t.conditions[ending.condition], t));
        item.values.emplace_back("duration", seconds(span.duration));
        item.values.emplace_back("at most", ending.at_most > 0 ? seconds(ending.at_most) : "none");
    } else {
        item.values.emplace_back("duration", seconds(ending.duration));
        item.values.emplace_back(
            "soak band", ending.kind == EndingKind::band ? to_text(ending.band, Kind::difference) : "none");
    }
    items.push_back(std::move(item));
}

void add_action(const Timeline& t, const timeline::Action& action, const std::string& block,
                std::vector<Item>& items) {
    std::string line = action.line == timeline::none ? std::string{} : t.lines[action.line].name;
    std::string flow =
        action.line == timeline::none ? std::string{} : flow_text(t.lines[action.line], action.value, 6);
    switch (action.kind) {
    case ActionKind::open: items.push_back({block, "open", line, {{"flow", flow}}}); break;
    case ActionKind::set: items.push_back({block, "set", line, {{"flow", flow}}}); break;
    case ActionKind::switch_to: items.push_back({block, "switch to", line, {{"flow", flow}}}); break;
    case ActionKind::close: items.push_back({block, "close", line, {}}); break;
    case ActionKind::close_all: items.push_back({block, "close all", "", {}}); break;
    case ActionKind::light: items.push_back({block, "light burner", "", {}}); break;
    case ActionKind::shut: items.push_back({block, "shut burner", "", {}}); break;
    case ActionKind::start_pump: items.push_back({block, "start pump", "", {}}); break;
    case ActionKind::stop_pump: items.push_back({block, "stop pump", "", {}}); break;
    case ActionKind::regulate:
        items.push_back(
            {block, "regulate pressure", "", {{"pressure", to_text(action.value, Kind::pressure, 6)}}});
        break;
    case ActionKind::humidify:
        items.push_back({block, "humidify", line, {{"bath", to_text(action.value, Kind::temperature, 6)}}});
        break;
    case ActionKind::move: items.push_back({block, "move sample", line, {}}); break;
    case ActionKind::open_tube: items.push_back({block, "open tube", "", {}}); break;
    case ActionKind::note:
        items.push_back(
            {block, "note", "", {{"text", action.text == timeline::none ? "" : t.texts[action.text]}}});
        break;
    case ActionKind::arm:
    case ActionKind::disarm: break; // standing thresholds are items of their own
    }
}

std::vector<Item> items_of(const Timeline& t) {
    std::vector<Item> items;
    for (const timeline::Parameter& p : t.parameters)
        items.push_back({"", "parameter", p.name, {{"value", p.value}}});
    items.push_back({"", "rig", "", {{"name", t.rig}}});
    const auto step = [&](timeline::Index i) {
        return i < t.spans.size() && t.spans[i].path != timeline::none ? t.paths[t.spans[i].path]
                                                                       : std::string{};
    };
    for (const timeline::Requirement& r : t.requirements) {
        std::string guard = r.guard == timeline::none ? "always" : print(t.conditions[r.guard], t);
        const timeline::Condition& c = t.conditions[r.condition];
        std::string subject = c.terms.empty() ? "" : print(c.terms.front().left, t);
        std::string from = r.first_span == 0 ? "the start" : step(r.first_span);
        std::string to = r.last_span >= t.spans.size() ? "the end" : step(r.last_span);
        items.push_back({"",
                         "require",
                         subject,
                         {{"condition", print(c, t)}, {"while", guard}, {"holds from", from}, {"until", to}}});
    }
    for (const timeline::Expectation& e : t.expectations) {
        const timeline::Condition& c = t.conditions[e.condition];
        items.push_back({"",
                         "expect",
                         c.terms.empty() ? "" : print(c.terms.front().left, t),
                         {{"condition", print(c, t)},
                          {"before", e.boundary >= t.spans.size() ? "the end" : step(e.boundary)}}});
    }
    for (const timeline::Threshold& k : t.thresholds)
        items.push_back({"",
                         k.opens ? "keep open" : "keep closed",
                         t.lines[k.line].name,
                         {{"flow", flow_text(t.lines[k.line], k.flow, 6)},
                          {k.above ? "above" : "below", degrees(k.temperature)}}});
    // A folded repeat is one item with its count, then its body once.
    std::map<timeline::Index, const timeline::Repeat*> repeats;
    for (const timeline::Repeat& r : t.repeats) repeats[r.first] = &r;
    for (std::size_t i = 0; i < t.spans.size();) {
        std::size_t next = i + 1, body_end = i + 1;
        auto found = repeats.find(static_cast<timeline::Index>(i));
        if (found != repeats.end() && found->second->spans > 0) {
            const timeline::Repeat& r = *found->second;
            items.push_back(
                {block_of(t, t.spans[i].path), "repeat", "", {{"passes", std::to_string(r.passes)}}});
            body_end = i + r.spans;
            next = i + static_cast<std::size_t>(r.spans) * r.passes;
        }
        for (std::size_t k = i; k < body_end; ++k) {
            const timeline::Span& span = t.spans[k];
            for (timeline::Index a = 0; a < span.actions; ++a)
                add_action(t, t.actions[span.first_action + a], block_of(t, span.path), items);
            add_span(t, k, items);
        }
        i = next;
    }
    for (timeline::Index a = 0; a < t.end_actions; ++a) add_action(t, t.actions[t.end_first + a], "", items);
    return items;
}

std::string label(const Item& item) {
    std::string text = item.block.empty() ? item.kind : item.block + " / " + item.kind;
    return item.subject.empty() ? text : text + " " + item.subject;
}

std::string listed(const Item& item) {
    std::string text;
    for (const auto& [name, value] : item.values)
        if (!value.empty() && value != "none") text += (text.empty() ? "" : ", ") + name + " " + value;
    return text.empty() ? "whole step" : text;
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

} // namespace

std::vector<Change> diff(const Timeline& before, const Timeline& after) {
    std::vector<Item> a = items_of(before), b = items_of(after);
    std::vector<std::string> names_a = labels(a), names_b = labels(b);
    std::vector<Change> changes;
    auto removed = [&](std::size_t i) { changes.push_back({Change::Kind::removed, names_a[i], listed(a[i])}); };
    auto added = [&](std::size_t j) { changes.push_back({Change::Kind::added, names_b[j], listed(b[j])}); };
    std::size_t i = 0, j = 0;
    const auto pairs =
        align(a.size(), b.size(), [&](std::size_t x, std::size_t y) { return likeness(a[x], b[y]); });
    for (auto [x, y] : pairs) {
        while (i < x) removed(i++);
        while (j < y) added(j++);
        for (std::size_t k = 0; k < b[y].values.size() || k < a[x].values.size(); ++k) {
            const auto named = [k](const Item& item) {
                return k < item.values.size() ? item.values[k]
                                              : std::pair<std::string, std::string>{"", "none"};
            };
            const auto [old_what, old_value] = named(a[x]);
            const auto [new_what, new_value] = named(b[y]);
            if (old_what != new_what && !old_what.empty() && !new_what.empty()) { // above 200 °C, below it
                changes.push_back({Change::Kind::changed, names_b[y],
                                   fmt::format("{} {} -> {} {}", old_what, old_value, new_what, new_value)});
                continue;
            }
            const std::string& what = new_what.empty() ? old_what : new_what;
            if (old_value != new_value)
                changes.push_back(
                    {Change::Kind::changed, names_b[y], what + " " + old_value + " -> " + new_value});
        }
        i = x + 1;
        j = y + 1;
    }
    while (i < a.size()) removed(i++);
    while (j < b.size()) added(j++);
    return changes;
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
