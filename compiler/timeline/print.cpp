#include "compiler/timeline/timeline.hpp"

#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <iterator>
#include <utility>

namespace athanor::timeline {
namespace {

using fmt::format_to;

std::string name_at(const std::vector<std::string>& names, Index index) {
    return index < names.size() ? names[index] : "?";
}

std::string line_name(const Timeline& timeline, Index index) {
    return index < timeline.lines.size() ? timeline.lines[index].name : "?";
}

const char* text(Comparison comparison) {
    constexpr std::array texts{"<", "<=", ">", ">="};
    return texts[static_cast<std::size_t>(comparison)];
}

/// Added to a signal, a temperature is a difference.
Kind offset_kind(Kind kind) {
    return point(kind) ? Kind::difference : kind;
}

std::string print(const Term& term, const Timeline& timeline) {
    if (term.kind == Term::Kind::truth) return print(term.left, timeline);
    Kind kind = kind_of(term.left.kind);
    std::string right;
    if (term.right_is_signal) {
        right = print(term.right, timeline);
        if (!(term.value == Interval{0.0})) right += " + " + to_text(term.value, offset_kind(kind));
    } else {
        right = to_text(term.value, kind);
        if (term.left.kind == SignalKind::swept) right += " volumes";
    }
    return fmt::format("{} {} {}", print(term.left, timeline), text(term.comparison), right);
}

std::string duration_text(Interval duration) {
    if (duration.is_point()) return to_text(duration.lo, Kind::time, 8);
    if (std::isinf(duration.hi)) return "any length";
    return to_text(duration, Kind::time, 8);
}

void print_law(std::string& out, const Law& law) {
    auto at = std::back_inserter(out);
    std::string to = to_text(law.to, Kind::temperature, 6);
    switch (law.kind) {
    case LawKind::hold: format_to(at, "hold {}", to); break;
    case LawKind::line:
        format_to(at, "line {} -> {} at {}", to_text(law.from, Kind::temperature, 6), to,
                  to_text(law.rate, Kind::rate));
        break;
    case LawKind::off: format_to(at, "off {} -> {}", to_text(law.from, Kind::temperature, 6), to); break;
    case LawKind::jump: format_to(at, "jump {} -> {}", to_text(law.from, Kind::temperature, 6), to); break;
    }
}

void print_ending(std::string& out, const Ending& ending, const Timeline& timeline) {
    auto at = std::back_inserter(out);
    switch (ending.kind) {
    case EndingKind::fixed: format_to(at, "for {}", to_text(ending.duration, Kind::time, 8)); break;
    case EndingKind::band:
        format_to(at, "for {} within {}", to_text(ending.duration, Kind::time, 8),
                  to_text(ending.band, Kind::difference));
        break;
    case EndingKind::passes:
        format_to(at, "until measured passes {}", to_text(ending.temperature, Kind::temperature, 6));
        break;
    case EndingKind::certain:
        format_to(at, "until certain({})",
                  ending.condition < timeline.conditions.size()
                      ? print(timeline.conditions[ending.condition], timeline)
                      : std::string("?"));
        if (ending.at_most > 0) format_to(at, " at most {}", to_text(ending.at_most, Kind::time, 8));
        break;
    case EndingKind::person:
        format_to(at, "until operator \"{}\"", name_at(timeline.texts, ending.text));
        break;
    }
}

/// "argon open at 2.4 L/min above 200 °C"
std::string print_threshold(const Threshold& threshold, const Timeline& timeline) {
    const Line& line = timeline.lines[threshold.line];
    return fmt::format("{} {} at {} {} {}", line.name, threshold.opens ? "open" : "closed",
                       flow_text(line, threshold.flow), threshold.above ? "above" : "below",
                       to_text(threshold.temperature, Kind::temperature, 6));
}

/// The one that follows for a line after an action.
std::string armed_threshold(const Action& action, const Timeline& timeline) {
    const std::uint32_t armed = timeline.states[action.state].armed;
    for (std::size_t i = 0; i < timeline.thresholds.size(); ++i)
        if ((armed >> i & 1U) != 0 && timeline.thresholds[i].line == action.line)
            return print_threshold(timeline.thresholds[i], timeline);
    return line_name(timeline, action.line);
}

void print_action(std::string& out, const Action& action, const Timeline& timeline) {
    auto at = std::back_inserter(out);
    auto flow = [&] {
        return action.line < timeline.lines.size() ? flow_text(timeline.lines[action.line], action.value)
                                                   : to_text(action.value, Kind::flow);
    };
    std::string line = line_name(timeline, action.line);
    switch (action.kind) {
    case ActionKind::open: format_to(at, "open {} at {}", line, flow()); break;
    case ActionKind::close: format_to(at, "close {}", line); break;
    case ActionKind::set: format_to(at, "set {} to {}", line, flow()); break;
    case ActionKind::switch_to: format_to(at, "switch to {} at {}", line, flow()); break;
    case ActionKind::close_all: out += "close all"; break;
    case ActionKind::light: out += "light burner"; break;
    case ActionKind::shut: out += "shut burner"; break;
    case ActionKind::start_pump: out += "start pump"; break;
    case ActionKind::stop_pump: out += "stop pump"; break;
    case ActionKind::regulate:
        format_to(at, "regulate pressure to {}", to_text(action.value, Kind::pressure));
        break;
    case ActionKind::note: format_to(at, "note \"{}\"", name_at(timeline.texts, action.text)); break;
    case ActionKind::open_tube: out += "open tube"; break;
    case ActionKind::arm: format_to(at, "arm {}", armed_threshold(action, timeline)); break;
    case ActionKind::disarm: format_to(at, "disarm {}", line); break;
    case ActionKind::humidify:
        format_to(at, "humidify {} at {}", line, to_text(action.value, Kind::temperature));
        break;
    case ActionKind::move: format_to(at, "move \"{}\"", name_at(timeline.texts, action.text)); break;
    }
    format_to(at, " => s{}", action.state);
}

void print_actions(std::string& out, const Timeline& timeline, Index first, Index count) {
    out += '{';
    for (Index i = 0; i < count; ++i) {
        if (i != 0) out += "; ";
        print_action(out, timeline.actions[first + i], timeline);
    }
    out += '}';
}

void print_state(std::string& out, const State& state, const Timeline& timeline) {
    auto at = std::back_inserter(out);
    bool any = false;
    auto comma = [&] {
        if (any) out += ", ";
        any = true;
    };
    for (std::size_t i = 0; i < state.open.size(); ++i) {
        if (!state.open[i] && state.flows[i] == 0) continue;
        comma();
        format_to(at, "{} {} {}", timeline.lines[i].name, state.open[i] ? "open" : "shut",
                  flow_text(timeline.lines[i], state.flows[i]));
    }
    if (state.burner) comma(), out += "burner lit";
    if (state.pump) comma(), out += "pump on";
    if (state.tube_open) comma(), out += "tube open";
    if (state.regulated > 0) comma(), out += "held at " + to_text(state.regulated, Kind::pressure);
    if (state.bubbler) comma(), out += "bubbler at " + to_text(state.bath, Kind::temperature);
    if (state.place != none) comma(), out += "sample at " + timeline.places[state.place].name;
    for (std::size_t i = 0; i < timeline.thresholds.size(); ++i)
        if ((state.armed >> i & 1U) != 0) comma(), format_to(at, "threshold {} armed", i);
    if (!any) out += "all shut";
}

std::string place(athanor::Span span) {
    return fmt::format("@{}:{}-{}", span.file, span.begin, span.end);
}

std::string device(const Device& device) {
    if (!device.present) return "none";
    std::string out = device.output == 0 ? std::string("by hand") : fmt::format("output {}", device.output);
    return out + (device.on_without_power ? ", on without power" : "");
}

void print_head(std::string& out, const Timeline& timeline) {
    auto at = std::back_inserter(out);
    format_to(at, "timeline {} \"{}\" on {} for {}\n", timeline.recipe, timeline.title,
              timeline.rig.empty() ? "?" : timeline.rig,
              timeline.controller.empty() ? "?" : timeline.controller);
    for (const Parameter& p : timeline.parameters)
        format_to(at, "parameter {} = {}{}\n", p.name, p.value, p.given ? " (given)" : "");
    format_to(at, "zones {}\n", fmt::join(timeline.zones, ", "));
    format_to(at, "species {}\n", fmt::join(timeline.species, ", "));
    for (const Line& line : timeline.lines)
        format_to(at, "line {}: {}, {} without power{}{}\n", line.name,
                  line.output == 0 ? std::string("by hand") : fmt::format("output {}", line.output),
                  line.open_without_power ? "open" : "closed", line.channel ? ", channel" : "",
                  line.used ? "" : ", unused");
    format_to(at, "burner {}\npump {}\n", device(timeline.burner), device(timeline.pump));
    if (timeline.bubbler.present) format_to(at, "bubbler {}\n", device(timeline.bubbler));
    if (timeline.slide.present) {
        format_to(at, "slide {}:", device(timeline.slide));
        for (const Place& p : timeline.places) format_to(at, " {}{}", p.name, p.hot ? " (heated)" : "");
        out += '\n';
    }
    for (const Evolved& e : timeline.evolved)
        format_to(at, "evolves {} to {}{}{}\n", name_at(timeline.species, e.species),
                  to_text(e.flow, Kind::flow),
                  e.line == none ? std::string() : " while " + line_name(timeline, e.line) + " is open",
                  e.above > 0 ? " above " + to_text(e.above, Kind::temperature) : std::string());
    for (std::size_t i = 0; i < timeline.thresholds.size(); ++i) {
        const Threshold& h = timeline.thresholds[i];
        format_to(at, "threshold {}: {} {} at {} {} {} {}\n", i, line_name(timeline, h.line),
                  h.opens ? "open" : "closed", flow_text(timeline.lines[h.line], h.flow),
                  h.above ? "above" : "below", to_text(h.temperature, Kind::temperature), place(h.source));
    }
    for (std::size_t i = 0; i < timeline.states.size(); ++i) {
        format_to(at, "state s{}: ", i);
        print_state(out, timeline.states[i], timeline);
        out += '\n';
    }
}

void print_spans(std::string& out, const Timeline& timeline) {
    auto at = std::back_inserter(out);
    for (std::size_t i = 0; i < timeline.spans.size(); ++i) {
        const Span& span = timeline.spans[i];
        format_to(at, "{} [{}] s{} ", i, span.path < timeline.paths.size() ? timeline.paths[span.path] : "?",
                  span.state);
        print_actions(out, timeline, span.first_action, span.actions);
        const Law* laws = timeline.laws_of(i);
        for (std::size_t z = 0; z < timeline.zones.size(); ++z) {
            out += z == 0 ? " " : " | ";
            print_law(out, laws[z]);
        }
        out += ", ";
        print_ending(out, span.ending, timeline);
        format_to(at, ", takes {}{} {}\n", duration_text(span.duration), span.defaulted != 0 ? ", default" : "",
                  place(span.source));
    }
    out += "end ";
    print_actions(out, timeline, timeline.end_first, timeline.end_actions);
    format_to(at, " s{}\n", timeline.end_state);
}

void print_claims(std::string& out, const Timeline& timeline) {
    auto at = std::back_inserter(out);
    auto condition = [&](Index index) {
        return index < timeline.conditions.size() ? print(timeline.conditions[index], timeline)
                                                  : std::string("?");
    };
    for (const Requirement& r : timeline.requirements) {
        format_to(at, "require {}", condition(r.condition));
        if (r.guard != none) format_to(at, " while {}", condition(r.guard));
        format_to(at, ", spans {} to {} {}\n", r.first_span, r.last_span, place(r.source));
    }
    for (const Expectation& e : timeline.expectations)
        format_to(at, "expect {}, before span {} after {} actions {}\n", condition(e.condition), e.boundary,
                  e.after_actions, place(e.source));
    for (const Exit& e : timeline.exits)
        format_to(at, "before span {} a person may go on with span {}\n", e.from, e.to);
    for (const Repeat& r : timeline.repeats)
        format_to(at, "repeat {} spans from {}, {} passes {}\n", r.spans, r.first, r.passes, place(r.source));
    for (const Run& r : timeline.runs) format_to(at, "run \"{}\", spans {} to {}\n", r.name, r.first, r.last);
}

} // namespace

std::string print(Signal signal, const Timeline& timeline) {
    auto zone = [&] { return name_at(timeline.zones, signal.index); };
    switch (signal.kind) {
    case SignalKind::temperature:
        return signal.index == without_sample ? "temperature of the hot zone" : "temperature";
    case SignalKind::zone_temperature: return "temperature of " + zone();
    case SignalKind::load_temperature: return "temperature of load";
    case SignalKind::setpoint: return signal.index == none ? "setpoint" : "setpoint of " + zone();
    case SignalKind::pressure: return "pressure";
    case SignalKind::flow:
        return signal.index == none ? "flow" : "flow of " + line_name(timeline, signal.index);
    case SignalKind::hazard_flow: {
        constexpr std::array<std::string_view, 4> classes{"flammable", "oxidiser", "inert", "toxic"};
        return fmt::format("flow of {}", signal.index < classes.size() ? classes[signal.index] : "?");
    }
    case SignalKind::fraction: return name_at(timeline.species, signal.index);
    case SignalKind::dew_point: return "dew_point";
    case SignalKind::flammability: return "flammability";
    case SignalKind::ignitability: return "ignitability";
    case SignalKind::outflow_margin: return "outflow_margin";
    case SignalKind::overpressure: return "overpressure";
    case SignalKind::rated_overpressure: return "rated_overpressure";
    case SignalKind::extraction: return "extraction";
    case SignalKind::swept: return "swept";
    case SignalKind::elapsed: return "elapsed";
    case SignalKind::burning: return "burning";
    case SignalKind::burner: return "burner";
    case SignalKind::pump: return "pump";
    case SignalKind::line_open: return line_name(timeline, signal.index) + " is open";
    case SignalKind::constant: return signal.index == 1 ? "yes" : "no";
    }
    return "?";
}

std::string print(const Condition& condition, const Timeline& timeline) {
    // 0: a comparison or truth, 1: `not`, 2: `and`, 3: `or`; `and` and `or` are never mixed without
    // parentheses.
    std::vector<std::pair<std::string, int>> stack;
    for (const Term& term : condition.terms) {
        if (term.kind == Term::Kind::compare || term.kind == Term::Kind::truth) {
            stack.emplace_back(print(term, timeline), 0);
            continue;
        }
        if (term.kind == Term::Kind::not_) {
            if (stack.empty()) return "?";
            auto& [text, level] = stack.back();
            std::string_view open = " is open";
            if (level == 0 && text.ends_with(open)) {
                text = text.substr(0, text.size() - open.size()) + " is closed";
            } else {
                text = level == 0 && text.find(' ') == std::string::npos ? "not " + text : "not (" + text + ")";
                level = 1;
            }
            continue;
        }
        if (stack.size() < 2) return "?";
        auto right = std::move(stack.back());
        stack.pop_back();
        int level = term.kind == Term::Kind::and_ ? 2 : 3;
        auto wrapped = [&](const std::pair<std::string, int>& side) {
            return side.second >= 2 && side.second != level ? "(" + side.first + ")" : side.first;
        };
        std::string left = wrapped(stack.back());
        stack.back() = {left + (level == 2 ? " and " : " or ") + wrapped(right), level};
    }
    return stack.empty() ? "yes" : stack.back().first;
}

std::string print(const Timeline& timeline) {
    std::string out;
    print_head(out, timeline);
    print_spans(out, timeline);
    print_claims(out, timeline);
    return out;
}

Kind kind_of(SignalKind kind) {
    switch (kind) {
    case SignalKind::temperature:
    case SignalKind::zone_temperature:
    case SignalKind::load_temperature:
    case SignalKind::setpoint: return Kind::temperature;
    case SignalKind::pressure: return Kind::pressure;
    case SignalKind::overpressure:
    case SignalKind::rated_overpressure: return Kind::overpressure;
    case SignalKind::flow:
    case SignalKind::hazard_flow: return Kind::flow;
    case SignalKind::fraction:
    case SignalKind::ignitability:
    case SignalKind::flammability: return Kind::fraction;
    case SignalKind::dew_point: return Kind::dew_point;
    case SignalKind::outflow_margin:
    case SignalKind::swept: return Kind::count;
    case SignalKind::elapsed:
    case SignalKind::burning: return Kind::time;
    default: return Kind::boolean;
    }
}

std::string flow_text(const Line& line, double flow, int digits) {
    return line.per_volume > 0 ? to_text(flow / line.per_volume, Kind::volume_flow, digits)
                               : to_text(flow, Kind::flow, digits);
}

} // namespace athanor::timeline
