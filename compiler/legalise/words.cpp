#include "compiler/legalise/words.hpp"
#include "compiler/quantity/unit.hpp"

#include <string_view>

namespace athanor::legalise {

using timeline::Action;
using timeline::ActionKind;
using timeline::Index;
using timeline::State;
using timeline::Timeline;

namespace {

constexpr std::string_view opened = "tube may be opened";

void add_on_line(std::string& text, const Timeline& timeline, std::string_view verb, Index line, double flow) {
    const timeline::Line& l = timeline.lines[line];
    text.append(verb).append(" ").append(l.name);
    if (flow > 0) text.append(" at ").append(flow_text(l, flow));
    if (l.output == 0) text += " by hand";
}

/// Behind `first`, "; " parts what follows.
void part_from(std::string& text, std::size_t first) {
    if (text.size() > first) text += "; ";
}

void add_closed_lines(std::string& text, const Timeline& timeline, const State& before, const State& after) {
    const std::size_t first = text.size();
    for (Index i = 0; i < timeline.lines.size(); ++i)
        if (before.open[i] && !after.open[i]) {
            part_from(text, first);
            add_on_line(text, timeline, "close", i, 0);
        }
}

void add_words(std::string& text, const Timeline& timeline, const Action& action, const State& before) {
    const State& after = timeline.states[action.state];
    const bool on_one_line =
        action.kind == ActionKind::open || action.kind == ActionKind::close || action.kind == ActionKind::set;
    if (on_one_line && before.open[action.line] == after.open[action.line] &&
        before.flows[action.line] == after.flows[action.line])
        return; // it is so already
    const auto by_hand = [&](Index output) {
        if (output == 0) text += " by hand";
    };
    const auto device = [&](std::string_view order, const timeline::Device& worked) {
        text += order;
        by_hand(worked.output);
    };
    switch (action.kind) {
    case ActionKind::open: return add_on_line(text, timeline, "open", action.line, action.value);
    case ActionKind::close: return add_on_line(text, timeline, "close", action.line, 0);
    case ActionKind::set: {
        const timeline::Line& line = timeline.lines[action.line];
        text.append("set ").append(line.name).append(" to ").append(flow_text(line, action.value));
        return by_hand(line.output);
    }
    case ActionKind::switch_to: {
        add_on_line(text, timeline, "open", action.line, action.value);
        const std::size_t opened = text.size();
        text += "; ";
        add_closed_lines(text, timeline, before, after);
        if (text.size() == opened + 2) text.resize(opened);
        return;
    }
    case ActionKind::close_all: return add_closed_lines(text, timeline, before, after);
    case ActionKind::light: return device("light burner", timeline.burner);
    case ActionKind::shut: return device("shut burner", timeline.burner);
    case ActionKind::start_pump: return device("start pump", timeline.pump);
    case ActionKind::stop_pump:
        device("stop pump", timeline.pump);
        if (before.regulated > 0) text += "; end pressure regulation";
        return;
    case ActionKind::regulate:
        text.append("regulate pressure to ").append(to_text(action.value, Kind::pressure));
        return;
    case ActionKind::humidify:
        text.append("lead ").append(timeline.lines[action.line].name).append(" through the bath at ");
        text += to_text(action.value, Kind::temperature);
        return by_hand(timeline.bubbler.output);
    case ActionKind::note:
    case ActionKind::move:
        if (action.text < timeline.texts.size()) text += timeline.texts[action.text];
        return;
    case ActionKind::open_tube: text += opened; return;
    case ActionKind::arm:
    case ActionKind::disarm: return; // the threshold's own row, or the spans it became, say it
    }
}

} // namespace

void add_instruction(std::string& text, const Timeline& timeline, Index first, Index count,
                     const State& before) {
    const State* state = &before;
    for (Index i = 0; i < count; ++i) {
        const Action& action = timeline.actions[first + i];
        const std::size_t said = text.size();
        part_from(text, 0);
        const std::size_t begin = text.size();
        add_words(text, timeline, action, *state);
        if (text.size() == begin) text.resize(said);
        state = &timeline.states[action.state];
    }
}

void add_after_end(std::string& text, const Timeline& timeline, const State& last, bool holds) {
    // Where an output works it, it goes where it goes without power; else it stays as it is.
    const auto add = [&](Index output, bool on, bool without_power, const std::string& name,
                         std::string_view falls, std::string_view goes_on) {
        const bool released = output != 0 && !holds;
        if (!(released ? on || without_power : on)) return;
        part_from(text, 0);
        text.append("at the end ").append(name);
        if (released && !without_power)
            text += " falls closed";
        else
            text.append(on ? goes_on : falls).append(" until it is shut by hand");
    };
    for (Index i = 0; i < timeline.lines.size(); ++i) {
        const timeline::Line& line = timeline.lines[i];
        add(line.output, last.open[i] != 0, line.open_without_power, line.name, " falls open and flows",
            " flows on");
    }
    const auto device = [&](const timeline::Device& d, bool on, const std::string& valve,
                            std::string_view goes_on) {
        if (d.present) add(d.output, on, d.on_without_power, valve, " falls open and stays open", goes_on);
    };
    device(timeline.burner, last.burner, "the burner's feed", " stays open");
    device(timeline.pump, last.pump, "the pump's valve", " stays open");
}

std::string take_opening(std::string& text) {
    if (!text.ends_with(opened)) return {};
    text.resize(text.size() - opened.size());
    if (text.ends_with("; ")) text.resize(text.size() - 2);
    return std::string(opened);
}

bool speaks(ActionKind kind) {
    return kind == ActionKind::note || kind == ActionKind::move;
}

} // namespace athanor::legalise
