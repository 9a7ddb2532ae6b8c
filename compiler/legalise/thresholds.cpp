#include "compiler/legalise/retimed.hpp"
#include "compiler/legalise/rounding.hpp"
#include "compiler/legalise/wiring.hpp"
#include "compiler/plant/exits.hpp"
#include "compiler/quantity/unit.hpp"
#include "compiler/timeline/held.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::legalise {

using timeline::Index;
using timeline::Law;
using timeline::LawKind;
using timeline::State;
using timeline::Threshold;
using timeline::Timeline;

namespace {

bool armed(const State& state, std::size_t threshold) {
    return (state.armed >> threshold & 1U) != 0;
}

/// Whether every place that does not arm the threshold is certainly on the side where its line is closed, as
/// the sensor reads it: a keyed one goes on acting there.
bool idle_elsewhere(const Timeline& timeline, const plant::Plant& plant, std::size_t i) {
    const Threshold& threshold = timeline.thresholds[i];
    const bool open_above = threshold.opens == threshold.above;
    const auto idle = [&](const plant::State& state) {
        for (std::size_t z = 0; z < timeline.zones.size(); ++z) {
            Interval t = state.zones[z].control;
            t = {t.lo - plant.sensor_tolerance(t.lo), t.hi + plant.sensor_tolerance(t.hi)};
            if (open_above ? t.hi >= threshold.temperature : t.lo <= threshold.temperature) return false;
        }
        return true;
    };
    plant::State now = plant.start();
    plant::Exits exits(timeline);
    for (std::size_t s = 0; s < timeline.spans.size(); ++s) {
        const timeline::Span& span = timeline.spans[s];
        const State& state = timeline.states[span.state];
        exits.enter(timeline, plant, s, now);
        const plant::Drive drive = plant::drive(timeline, s);
        if (!armed(state, i) && !idle(plant.during(now, drive, {0, span.duration.hi}))) return false;
        now = plant.pass(now, drive, span.ending).exit;
    }
    exits.arrive(timeline.spans.size(), now);
    return armed(timeline.states[timeline.end_state], i) || idle(now);
}

} // namespace

void assign_thresholds(Wiring& wiring, const Timeline& timeline, const plant::Plant& plant,
                       const program::Controller& controller) {
    // A rounded temperature would be one that no proof has seen.
    constexpr double exactly = 1e-6;
    // A controller that holds lets it act behind the end as well.
    const bool holds = controller.holds_at_end && !timeline.thresholds.empty() && !timeline.spans.empty();
    const Timeline longer = holds ? timeline::held_on(timeline) : Timeline{};
    const Timeline& acts = holds ? longer : timeline;
    for (std::size_t i = 0; i < timeline.thresholds.size(); ++i) {
        const Threshold& threshold = timeline.thresholds[i];
        const timeline::Line& line = timeline.lines[threshold.line];
        if (wiring.thresholds.size() >= controller.thresholds || line.output == 0 ||
            line.output > controller.outputs || line.channel)
            continue;
        const bool opened_otherwise =
            std::any_of(timeline.states.begin(), timeline.states.end(),
                        [&](const State& state) { return state.open[threshold.line]; });
        const auto same_line =
            std::count_if(timeline.thresholds.begin(), timeline.thresholds.end(),
                          [&](const Threshold& other) { return other.line == threshold.line; });
        const auto temperature = settable_setpoint(controller, threshold.temperature - zero_celsius, exactly);
        if (opened_otherwise || same_line > 1 || !temperature || !idle_elsewhere(acts, plant, i)) continue;
        program::ThresholdOutput output;
        output.output = line.output;
        output.temperature = *temperature;
        const bool open_above = threshold.opens == threshold.above;
        output.energised_above = open_above != line.open_without_power;
        output.instruction =
            fmt::format("{} {} {} {}, {} {}", threshold.opens ? "open" : "close", line.name,
                        threshold.above ? "above" : "below",
                        to_text(controller.setpoint.value(*temperature) + zero_celsius, Kind::temperature),
                        "at", flow_text(line, threshold.flow));
        output.source = threshold.source;
        wiring.thresholds.push_back(std::move(output));
        wiring.threshold_bits |= 1U << i;
    }
}

namespace {

/// The state that a threshold gives on one side of its temperature, without the threshold itself.
State decided(State state, const Timeline& timeline, std::uint32_t bits, double setpoint) {
    for (std::size_t i = 0; i < timeline.thresholds.size(); ++i) {
        const std::uint32_t bit = 1U << i;
        if ((bits & bit) == 0) continue;
        if ((state.armed & bit) != 0) {
            const Threshold& threshold = timeline.thresholds[i];
            const bool beyond =
                threshold.above ? setpoint > threshold.temperature : setpoint < threshold.temperature;
            const bool open = beyond == threshold.opens;
            state.open[threshold.line] = open;
            state.flows[threshold.line] = open ? threshold.flow : 0;
        }
        state.armed &= ~bit;
    }
    return state;
}

class Splitter {
public:
    Splitter(const Timeline& timeline, std::uint32_t bits, const program::Controller& controller,
             Diagnostics& out)
        : timeline_(timeline), bits_(bits), controller_(controller), out_(out), built_(timeline) {}

    Split run() {
        for (std::size_t i = 0; i < timeline_.spans.size(); ++i) {
            built_.begin();
            const std::uint32_t here = timeline_.states[timeline_.spans[i].state].armed & bits_;
            if (here == 0) {
                add(i, laws(i, 0, 1), 1, true, timeline_.laws_of(i)->to);
            } else {
                split(i, here);
            }
        }
        built_.timeline.end_state =
            built_.state_index(decided(timeline_.states[timeline_.end_state], timeline_, bits_, setpoint_));
        built_.finish();
        timeline::Timeline& t = built_.timeline;
        decide(t.end_first, t.end_actions, timeline_.spans.empty() ? timeline_.states[0] : last_state_,
               setpoint_);
        return {std::move(built_.timeline), std::move(built_.map)};
    }

private:
    std::vector<Law> laws(std::size_t span, double from, double to) const {
        std::vector<Law> part(timeline_.laws_of(span), timeline_.laws_of(span) + timeline_.zones.size());
        for (Law& law : part) {
            if (law.kind != LawKind::line) continue;
            const double start = law.from;
            const double way = law.to - law.from;
            law.from = start + way * from;
            law.to = start + way * to;
        }
        return part;
    }
    /// One stretch of span `i` that lasts `share` of it; `setpoint` decides the thresholds in it.
    void add(std::size_t i, const std::vector<Law>& part, double share, bool last, double setpoint) {
        timeline::Span span = timeline_.spans[i];
        if (share < 1) {
            span.ending.duration *= share;
            span.duration = span.duration * Interval{share};
            // Where only dwells wait inside a band, the one behind the whole line does.
            if (!last && !controller_.band_on_ramps) span.ending.kind = timeline::EndingKind::fixed;
        }
        const State before = last_state_;
        last_state_ = decided(timeline_.states[span.state], timeline_, bits_, setpoint);
        span.state = built_.state_index(last_state_);
        const std::size_t spans_before = built_.timeline.spans.size();
        built_.add(span, part.data());
        const timeline::Span& added = built_.timeline.spans.back();
        decide(added.first_action, added.actions, spans_before > 0 ? before : timeline_.states[0], setpoint);
        // What the threshold itself switches has no action in the recipe. Several may stand for one line: the
        // one that is armed here does it.
        const std::uint32_t armed_here = timeline_.states[timeline_.spans[i].state].armed & bits_;
        for (std::size_t t = 0; t < timeline_.thresholds.size(); ++t) {
            const Threshold& threshold = timeline_.thresholds[t];
            if ((armed_here >> t & 1U) == 0) continue;
            const bool was =
                spans_before > 0 && before.open.size() > threshold.line && before.open[threshold.line];
            const bool is = last_state_.open[threshold.line];
            if (was == is || named(threshold.line)) continue;
            timeline::Action action;
            action.kind = is ? timeline::ActionKind::open : timeline::ActionKind::close;
            action.line = threshold.line;
            action.value = last_state_.flows[threshold.line];
            action.state = span.state;
            action.source = threshold.source;
            built_.add_action(action);
        }
        setpoint_ = part.front().to;
    }
    /// Gives actions the states that the thresholds make. What one switches where it is armed or disarmed is an
    /// action like any other: somebody may have to do it.
    void decide(Index first, Index count, State before, double setpoint) {
        for (Index a = first; a < first + count; ++a) {
            timeline::Action& action = built_.timeline.actions[a];
            const State& asked = timeline_.states[action.state];
            State after = decided(asked, timeline_, bits_, setpoint);
            // What a threshold switches at the same instant is an action of its own behind these.
            for (std::size_t t = 0; t < timeline_.thresholds.size(); ++t) {
                const Index line = timeline_.thresholds[t].line;
                if ((asked.armed & bits_ & 1U << t) == 0 || line == action.line) continue;
                after.open[line] = before.open[line];
                after.flows[line] = before.flows[line];
            }
            action.state = built_.state_index(after);
            const bool arms =
                action.kind == timeline::ActionKind::arm || action.kind == timeline::ActionKind::disarm;
            const Index l = action.line;
            if (arms && l < after.open.size() &&
                (before.open[l] != after.open[l] || before.flows[l] != after.flows[l])) {
                action.kind = after.open[l] ? timeline::ActionKind::open : timeline::ActionKind::close;
                action.value = after.flows[l];
            }
            before = after;
        }
    }
    /// Whether an action of the last added span works a line already.
    bool named(Index line) const {
        const timeline::Span& s = built_.timeline.spans.back();
        for (Index a = 0; a < s.actions; ++a) {
            const timeline::Action& action = built_.timeline.actions[s.first_action + a];
            if (action.line == line &&
                (action.kind == timeline::ActionKind::open || action.kind == timeline::ActionKind::close))
                return true;
        }
        return false;
    }

    /// Set-point of a zone in the middle of a share of a span; where a law does not run along, what it ends at.
    double middle(std::size_t i, std::size_t zone, double from, double to) const {
        const Law& law = timeline_.laws_of(i)[zone];
        return law.kind == LawKind::line ? law.from + (law.to - law.from) * 0.5 * (from + to) : law.to;
    }
    /// Cuts the span where a zone passes a threshold's temperature, so that each stretch lies on one side: one
    /// that only touches it lies on the side of its middle.
    void split(std::size_t i, std::uint32_t here) {
        const std::size_t zones = timeline_.zones.size();
        std::vector<double> cuts{1};
        for (std::size_t t = 0; t < timeline_.thresholds.size(); ++t) {
            if ((here >> t & 1U) == 0) continue;
            const double temperature = timeline_.thresholds[t].temperature;
            for (std::size_t z = 0; z < zones; ++z) {
                const Law& law = timeline_.laws_of(i)[z];
                const auto [low, high] = std::minmax(law.from, law.to);
                if (law.kind == LawKind::off || law.kind == LawKind::jump) {
                    // What ends at the temperature is on its way to it all the time.
                    if (temperature < low || temperature > high || temperature == law.from) continue;
                    refuse(i, timeline_.thresholds[t]);
                    return add(i, laws(i, 0, 1), 1, true, middle(i, 0, 0, 1)); // what follows begins behind it
                }
                if (law.kind == LawKind::line && temperature > low && temperature < high)
                    cuts.push_back((temperature - law.from) / (law.to - law.from));
            }
        }
        std::sort(cuts.begin(), cuts.end());
        double from = 0;
        for (const double to : cuts) {
            if (to <= from) continue;
            for (std::size_t t = 0; t < timeline_.thresholds.size(); ++t) {
                if ((here >> t & 1U) == 0) continue;
                Interval all{middle(i, 0, from, to)};
                for (std::size_t z = 1; z < zones; ++z) all = hull(all, middle(i, z, from, to));
                const double temperature = timeline_.thresholds[t].temperature;
                if (all.lo < temperature && all.hi > temperature) {
                    refuse_zones(i, timeline_.thresholds[t], all);
                    return add(i, laws(i, from, 1), 1 - from, true, middle(i, 0, from, 1));
                }
            }
            add(i, laws(i, from, to), to - from, to == 1, middle(i, 0, from, to));
            from = to;
        }
    }
    /// The valve would have to be open and shut: only an output that follows one zone's own temperature can
    /// tell.
    void refuse_zones(std::size_t i, const Threshold& threshold, Interval zones) {
        const std::string& line = timeline_.lines[threshold.line].name;
        const std::string at = to_text(threshold.temperature, Kind::temperature);
        out_.error(Code::too_many_outputs, timeline_.spans[i].source,
                   fmt::format("{} follows {}, and the zones stand on both sides of it, at {} to {}", line, at,
                               to_text(zones.lo, Kind::temperature), to_text(zones.hi, Kind::temperature)))
            .also(threshold.source, "the standing threshold")
            .cause(
                fmt::format("no output of {} follows it by itself, and a segment sets {} for all zones at once",
                            controller_.name, line))
            .remedy(fmt::format("switch {} in steps of the recipe instead of the `keep`", line));
    }
    std::string why(const Threshold& threshold) const {
        if (std::any_of(timeline_.states.begin(), timeline_.states.end(),
                        [&](const timeline::State& s) { return s.open[threshold.line]; }))
            return ": its output is switched in segments as well";
        const auto number = static_cast<std::size_t>(&threshold - timeline_.thresholds.data());
        if (controller_.holds_at_end && !armed(timeline_.states[timeline_.end_state], number))
            return ": held behind the end, it might move the line there, and the `keep` is over";
        return "";
    }
    void refuse(std::size_t i, const Threshold& threshold) {
        const timeline::Line& wired = timeline_.lines[threshold.line];
        const std::string& line = wired.name;
        const std::string at = to_text(threshold.temperature, Kind::temperature);
        const std::string has =
            controller_.thresholds == 0
                ? fmt::format("{} has no output that follows a temperature", controller_.name)
            : wired.channel
                ? fmt::format("an analogue channel sets the flow of {}, which no threshold output of "
                              "{} can switch",
                              line, controller_.name)
                : fmt::format("no threshold output of {} can follow it{}", controller_.name, why(threshold));
        const bool off = timeline_.laws_of(i)->kind == LawKind::off;
        const bool opens =
            (timeline_.laws_of(i)->to > threshold.temperature) == (threshold.above == threshold.opens);
        out_.error(Code::too_many_outputs, timeline_.spans[i].source,
                   fmt::format("{} passes {}, where {} must {} by itself, and {}",
                               off ? "natural cooling" : "the step", at, line, opens ? "open" : "close", has))
            .also(threshold.source, "the standing threshold")
            .cause("here no set-point says when the temperature is reached, so no segment can end there")
            .remedy(fmt::format(
                "a ramp through {}, or end the block of the `keep` before this step and {} {} there", at,
                opens ? "open" : "close", line));
    }

    const Timeline& timeline_;
    std::uint32_t bits_;
    const program::Controller& controller_;
    Diagnostics& out_;
    Retimed built_;
    State last_state_;
    double setpoint_ = 0;
};

} // namespace

Split split_thresholds(const Timeline& timeline, std::uint32_t bits, const program::Controller& controller,
                       Diagnostics& out) {
    return Splitter(timeline, bits, controller, out).run();
}

} // namespace athanor::legalise
