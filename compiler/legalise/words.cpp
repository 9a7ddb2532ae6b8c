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

/// A line that opens anew is led past its bath again.
bool differs(const Timeline& timeline, const State& a, const State& b, Index line) {
    return a.open[line] != b.open[line] || a.flows[line] != b.flows[line] ||
           (line == timeline.bubbler_line && a.bubbler && !b.bubbler);
}

/// The actions of one instant: only what differs between its begin and its end is done.
struct Instant {
    const Timeline& timeline;
    Index first = 0, count = 0;
    const State& before;

    const State& after(Index i) const { return timeline.states[timeline.actions[first + i].state]; }
    const State& ahead(Index i) const { return i == 0 ? before : after(i - 1); }
    /// Whether `changes` at action i, for good and for the last time in this instant.
    template<class Changes>
    bool lasts(Index i, const Changes& changes) const {
        if (!changes(ahead(i), after(i)) || !changes(before, after(count - 1))) return false;
        for (Index k = i + 1; k < count; ++k)
            if (changes(ahead(k), after(k))) return false;
        return true;
    }
};

/// What action i leaves of its lines: those that it opened or set first, those that it closed behind them.
void add_lines(std::string& text, const Instant& at, Index i) {
    const Timeline& timeline = at.timeline;
    const std::size_t begin = text.size();
    for (const bool open : {true, false})
        for (Index line = 0; line < timeline.lines.size(); ++line) {
            const State& after = at.after(i);
            if ((after.open[line] != 0) != open ||
                !at.lasts(i, [&](const State& a, const State& b) { return differs(timeline, a, b, line); }))
                continue;
            part_from(text, begin);
            const bool set = timeline.actions[at.first + i].kind == ActionKind::set;
            if (set && open && at.before.open[line]) {
                text.append("set ").append(timeline.lines[line].name).append(" to ");
                text += flow_text(timeline.lines[line], after.flows[line]);
                if (timeline.lines[line].output == 0) text += " by hand";
            } else {
                add_on_line(text, timeline, open ? "open" : "close", line, open ? after.flows[line] : 0);
            }
        }
}

/// Whether a device is switched by action i, and not back again in the same instant.
bool switched(const Instant& at, Index i, bool State::*device) {
    const auto changes = [&](const State& a, const State& b) { return a.*device != b.*device; };
    return !changes(at.ahead(i), at.after(i)) || at.lasts(i, changes);
}

void add_words(std::string& text, const Instant& at, Index i) {
    const Timeline& timeline = at.timeline;
    const Action& action = timeline.actions[at.first + i];
    const State& before = at.ahead(i);
    const State& last = at.after(at.count - 1);
    const auto by_hand = [&](Index output) {
        if (output == 0) text += " by hand";
    };
    const auto device = [&](std::string_view order, const timeline::Device& worked) {
        text += order;
        by_hand(worked.output);
    };
    switch (action.kind) {
    case ActionKind::open:
    case ActionKind::close:
    case ActionKind::set:
    case ActionKind::switch_to:
    case ActionKind::close_all: return add_lines(text, at, i);
    case ActionKind::light:
        if (switched(at, i, &State::burner)) device("light burner", timeline.burner);
        return;
    case ActionKind::shut:
        if (switched(at, i, &State::burner)) device("shut burner", timeline.burner);
        return;
    case ActionKind::start_pump:
        if (switched(at, i, &State::pump)) device("start pump", timeline.pump);
        return;
    case ActionKind::stop_pump:
        if (switched(at, i, &State::pump)) {
            device("stop pump", timeline.pump);
            if (before.regulated > 0) text += "; end pressure regulation";
        } else if (before.regulated > 0 && !(last.regulated > 0)) {
            text += "end pressure regulation";
        }
        return;
    case ActionKind::regulate:
        if (last.regulated != action.value) return;
        text.append("regulate pressure to ").append(to_text(action.value, Kind::pressure));
        return;
    case ActionKind::humidify:
        if (!last.bubbler || last.bath != action.value) return;
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
    const Instant at{timeline, first, count, before};
    for (Index i = 0; i < count; ++i) {
        const std::size_t said = text.size();
        part_from(text, 0);
        const std::size_t begin = text.size();
        add_words(text, at, i);
        if (text.size() == begin) text.resize(said);
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
