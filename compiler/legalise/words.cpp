#include "compiler/legalise/words.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

namespace athanor::legalise {

using timeline::Action;
using timeline::ActionKind;
using timeline::Index;
using timeline::State;
using timeline::Timeline;

namespace {

std::string on_line(const Timeline& timeline, const char* verb, Index line, double flow) {
    const timeline::Line& l = timeline.lines[line];
    std::string text = fmt::format("{} {}", verb, l.name);
    if (flow > 0) text += fmt::format(" at {}", flow_text(l, flow));
    if (l.output == 0) text += " by hand";
    return text;
}

std::string closed_lines(const Timeline& timeline, const State& before, const State& after) {
    std::string text;
    for (Index i = 0; i < timeline.lines.size(); ++i)
        if (before.open[i] && !after.open[i]) {
            if (!text.empty()) text += "; ";
            text += on_line(timeline, "close", i, 0);
        }
    return text;
}

std::string text_of(const Timeline& timeline, Index text) {
    return text < timeline.texts.size() ? timeline.texts[text] : std::string{};
}

std::string words(const Timeline& timeline, const Action& action, const State& before) {
    const State& after = timeline.states[action.state];
    const bool on_one_line =
        action.kind == ActionKind::open || action.kind == ActionKind::close || action.kind == ActionKind::set;
    if (on_one_line && before.open[action.line] == after.open[action.line] &&
        before.flows[action.line] == after.flows[action.line])
        return {}; // it is so already
    switch (action.kind) {
    case ActionKind::open: return on_line(timeline, "open", action.line, action.value);
    case ActionKind::close: return on_line(timeline, "close", action.line, 0);
    case ActionKind::set:
        return fmt::format("set {} to {}{}", timeline.lines[action.line].name,
                           flow_text(timeline.lines[action.line], action.value),
                           timeline.lines[action.line].output == 0 ? " by hand" : "");
    case ActionKind::switch_to: {
        const std::string closed = closed_lines(timeline, before, after);
        return on_line(timeline, "open", action.line, action.value) + (closed.empty() ? "" : "; " + closed);
    }
    case ActionKind::close_all: return closed_lines(timeline, before, after);
    case ActionKind::light: return timeline.burner.output == 0 ? "light burner by hand" : "light burner";
    case ActionKind::shut: return timeline.burner.output == 0 ? "shut burner by hand" : "shut burner";
    case ActionKind::start_pump: return timeline.pump.output == 0 ? "start pump by hand" : "start pump";
    case ActionKind::stop_pump: return timeline.pump.output == 0 ? "stop pump by hand" : "stop pump";
    case ActionKind::regulate:
        return action.value > 0 ? fmt::format("regulate pressure to {}", to_text(action.value, Kind::pressure))
                                : std::string{"end pressure regulation"};
    case ActionKind::humidify:
        return fmt::format("lead {} through the bath at {}{}", timeline.lines[action.line].name,
                           to_text(action.value, Kind::temperature),
                           timeline.bubbler.output == 0 ? " by hand" : "");
    case ActionKind::note:
    case ActionKind::move: return text_of(timeline, action.text);
    case ActionKind::open_tube: return "tube may be opened";
    case ActionKind::arm:
    case ActionKind::disarm: break; // the threshold's own row, or the spans it became, say it
    }
    return {};
}

} // namespace

std::string instruction(const Timeline& timeline, Index first, Index count, const State& before) {
    std::string text;
    const State* state = &before;
    for (Index i = 0; i < count; ++i) {
        const Action& action = timeline.actions[first + i];
        const std::string part = words(timeline, action, *state);
        state = &timeline.states[action.state];
        if (part.empty()) continue;
        if (!text.empty()) text += "; ";
        text += part;
    }
    return text;
}

bool speaks(ActionKind kind) {
    return kind == ActionKind::note || kind == ActionKind::move;
}

} // namespace athanor::legalise
