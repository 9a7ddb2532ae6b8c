// Fuel in a gas that ISO 10156 counts as not flammable. The standard judges it at room temperature, and air in
// a hot tube is the same oxidiser whether a valve, an opened end or a cooling tube let it in.
#include "compiler/prove/checks.hpp"
#include "compiler/prove/sweep_limits.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <optional>
#include <utility>

namespace athanor::prove {
namespace {

using timeline::SignalKind;
using timeline::Term;

/// K: where no ignition temperature of a fuel is declared.
constexpr double warm = plant::left_alone;
/// K by which a load may stay behind a tube that cools: for advice only.
constexpr double lag = 50;

/// A lean line's share of fuel over its lower limit, and the temperature from which its fuel lights itself.
struct Lean {
    timeline::Index line = timeline::none; // of the richest
    double richest = 0, ignites = infinity;
};

Lean lean_lines(const Scene& s) {
    Lean found;
    for (timeline::Index l = 0; l < s.rig.lines.size(); ++l) {
        const check::Gas* gas = s.gas(l);
        if (gas == nullptr || gas->hazards.flammable || !s.timeline.lines[l].ever_open()) continue;
        const double share = fuel_in(s.model, *gas);
        if (share < flammable_rest) continue;
        found.ignites = std::min(found.ignites, ignites_at(s.model, *gas));
        if (share > found.richest) found.richest = share, found.line = l;
    }
    return found;
}

class LeanGas {
public:
    LeanGas(Scene& s, Lean lean)
        : s_(s), lean_(lean), name_(s.rig.lines[lean.line].name),
          hot_(to_text(lean.ignites, Kind::temperature)) {}

    void judge() {
        const std::size_t opening = opened();
        // With any air a leaner gas is below its lower limit, and burns away where it meets a hot wall.
        if (!(lean_.richest > 1)) return;
        mixture(opening);
        falls_ = falls();
        left_at_end();
        without_power();
    }

private:
    double most(SignalKind kind, const plant::State& state, const timeline::State& discrete) const {
        return s_.plant.signal({kind, timeline::none}, state, discrete).hi;
    }
    bool hot(const plant::State& state, const timeline::State& discrete) const {
        return most(SignalKind::temperature, state, discrete) >= lean_.ignites;
    }
    bool burns(const plant::State& state, const timeline::State& discrete) const {
        return hot(state, discrete) && most(SignalKind::flammability, state, discrete) >= 1 &&
               most(SignalKind::ignitability, state, discrete) >= 1;
    }
    bool flows(std::size_t span) const { return s_.may_be_open(lean_.line, span); }

    std::string inert() const {
        const std::string line = s_.inert_line();
        return line.empty() ? "switch to an inert gas" : "switch to " + line;
    }
    /// Carbon dioxide makes carbon monoxide of the fuel's hydrogen.
    bool clears(timeline::Index l) const {
        const check::Gas* gas = s_.gas(l);
        const check::Index dioxide = s_.model.gas_named("carbon_dioxide");
        return s_.inert_without_fuel(l) &&
               std::none_of(gas->parts.begin(), gas->parts.end(),
                            [&](const auto& part) { return part.first == dioxide && part.second.hi > 0.01; });
    }
    /// A hand meter that the recipe has not set yet may stand at nothing; a controlled one may be shut without
    /// power, unless a needle valve's flow is declared.
    std::string falls_open(const timeline::State& failed) const {
        for (timeline::Index l = 0; l < s_.rig.lines.size(); ++l)
            if (clears(l) && s_.timeline.lines[l].falls_open() && !s_.rig.lines[l].meter.controlled &&
                !(failed.between[l].lo > 0))
                return flows_by_itself(s_.rig, s_.timeline, l);
        for (timeline::Index l = 0; l < s_.rig.lines.size(); ++l) {
            const check::Line& line = s_.rig.lines[l];
            if (!clears(l) || s_.timeline.lines[l].falls_open()) continue;
            const double most = line.meter.range.hi();
            return fmt::format(
                "let `{}` fall open, through a needle valve that is set by hand:  de_energised open{}",
                line.name,
                line.meter.controlled
                    ? fmt::format(", {} to {}", to_text(most / 2, Kind::flow, 2), to_text(most, Kind::flow, 2))
                    : "");
        }
        return "fit a line of inert gas that falls open";
    }
    std::string cleared() const { return inert() + " ; dwell until " + sweep_limits(s_.model).fuel_gone; }

    Diagnostic& tell(Diagnostic& d, double at_s) {
        d.with_label(s_.moment(at_s));
        d.cause(
            fmt::format("at room temperature ISO 10156 counts {} as not flammable; from {} on its fuel, up to "
                        "{} of the lower limit, lights where it meets air",
                        s_.gas(lean_.line)->name, hot_, to_text(lean_.richest, Kind::fraction, 3)));
        return d;
    }

    /// The person may come at once, or after any time in which what the wait begins with goes on. Returns the
    /// span of what is refused, else the number of spans.
    std::size_t opened() {
        std::optional<std::size_t> first, found;
        double rest = 0, heat = 0;
        for (std::size_t i = 0; i < s_.spans() && !found; ++i) {
            if (!s_.discrete(i).tube_open) continue;
            // What flows into the open tube, or was let in between two waits.
            rest = most(SignalKind::flammability, s_.over(i), s_.discrete(i));
            heat = most(SignalKind::temperature, s_.over(i), s_.discrete(i));
            if (const std::optional<Scene::Opening> met = s_.opening(i)) {
                const auto either = [&](SignalKind kind) {
                    return std::max(most(kind, met->before, met->was), most(kind, met->meanwhile, met->shut));
                };
                rest = std::max(rest, either(SignalKind::flammability));
                heat = std::max(heat, either(SignalKind::temperature));
            }
            if (!first) first = i;
            if (rest >= flammable_rest && heat >= lean_.ignites) found = i;
        }
        if (!first) return s_.spans();
        const std::size_t at = found.value_or(*first);
        s_.row("opening_tube", "A hot tube is opened only without fuel", !found, "", s_.walk.at_s(at),
               s_.source(at));
        if (!found || s_.out.has_error(Code::opening_tube)) return found.value_or(s_.spans());
        Diagnostic& d =
            tell(s_.out.error(
                     Code::opening_tube, s_.source(at),
                     fmt::format("the tube is opened while it may be at {}, with fuel at up to {} of its "
                                 "lower limit in it",
                                 to_text(heat, Kind::temperature), to_text(rest, Kind::fraction, 3))),
                 s_.walk.at_s(at))
                .remedy("clear it first:  " + cleared());
        if (!s_.quenches(at)) d.remedy("or cool first:  cool to 50 degC");
        return at;
    }

    /// What follows a refused opening is no other fault.
    void mixture(std::size_t opening) {
        const auto found = s_.first([&](const plant::State& state, const timeline::State& discrete) {
            return !discrete.tube_open && burns(state, discrete);
        });
        std::size_t opens = 0; // the fuel flows from here on
        while (opens + 1 < s_.spans() && !flows(opens)) ++opens;
        s_.row("flammable_mixture", "Fuel of a gas that cannot burn cold meets no air in a hot tube", !found,
               "", s_.walk.at_s(found ? found->span : opens), s_.source(found ? found->span : opens));
        if (!found || found->span >= opening || s_.out.has_error(Code::flammable_mixture)) return;
        const timeline::State& discrete = s_.discrete(found->span);
        Diagnostic& d = tell(
            s_.out.error(
                Code::flammable_mixture, s_.entered_by(found->span),
                fmt::format("fuel at up to {} of its lower limit may meet air in a tube at up to {}",
                            to_text(most(SignalKind::flammability, found->state, discrete), Kind::fraction, 3),
                            to_text(most(SignalKind::temperature, found->state, discrete), Kind::temperature))),
            found->at_s);
        advise(d, found->span);
    }

    void advise(Diagnostic& d, std::size_t span) {
        if (!flows(span)) {
            d.cause(s_.rig.pump.present ? "no gas flows for certain, and what was there meets it"
                                        : "no gas flows for certain, and the room's air comes in");
            d.remedy(fmt::format("clear the tube before `{}` is shut:  {}", name_, cleared()));
            d.remedy(fmt::format("or let it flow until the tube is below {}:  cool to {}", hot_,
                                 to_text(lean_.ignites - lag, Kind::temperature)));
            return;
        }
        std::size_t opens = span;
        while (opens > 0 && flows(opens - 1)) --opens;
        const auto oxygen = s_.species("oxygen");
        const bool air_before =
            !oxygen || s_.plant.signal({SignalKind::fraction, *oxygen}, s_.walk.arrival(opens),
                                       s_.discrete(opens == 0 ? 0 : opens - 1))
                               .hi >= 0.01;
        if (air_before)
            d.remedy(fmt::format("purge before `{}` opens:  {} ; dwell until {}", name_, inert(),
                                 sweep_limits(s_.model).little_oxygen));
        else
            d.remedy(
                fmt::format("more gas, so that no air comes in while `{}` flows; or clear the tube first:  {}",
                            name_, cleared()));
    }

    /// The lean line, or one of several, that falls open without power and when the programme ends.
    timeline::Index falls() const {
        for (timeline::Index l = 0; l < s_.rig.lines.size(); ++l) {
            const check::Gas* gas = s_.gas(l);
            if (gas == nullptr || gas->hazards.flammable || !s_.timeline.lines[l].falls_open()) continue;
            if (fuel_in(s_.model, *gas) > 1) return l;
        }
        return timeline::none;
    }

    timeline::Condition harmless() const {
        const auto below = [](SignalKind kind, double limit) {
            Term term;
            term.kind = Term::Kind::compare;
            term.comparison = timeline::Comparison::less;
            term.left = {kind, timeline::none};
            term.value = limit;
            return term;
        };
        Term either;
        either.kind = Term::Kind::or_;
        timeline::Condition c;
        c.terms = {below(SignalKind::flammability, 1), below(SignalKind::temperature, lean_.ignites), either};
        return c;
    }

    /// A failure of power, or an end, that shuts the gas of a hot tube.
    Instance instance() const {
        Instance i;
        i.require = i.until = harmless();
        // A line that falls open brings its fuel later: only a cold tube ends it.
        if (falls_ != timeline::none) i.until.terms = {i.until.terms[1]};
        Term term = i.require.terms.front(), either = i.require.terms.back();
        term.left.kind = SignalKind::ignitability;
        i.require.terms.push_back(term);
        i.require.terms.push_back(either);
        return i;
    }

    Diagnostic& meets_air(Code code, athanor::Span source, double at_s, std::string_view when,
                          const plant::State& state, const timeline::State& discrete) {
        const check::Line& line = s_.rig.lines[falls_];
        return tell(s_.out.error(
                        code, source,
                        fmt::format(
                            "{} `{}` falls open, and its fuel, up to {} of the lower limit, meets "
                            "air in a tube at up to {}",
                            when, line.name, to_text(fuel_in(s_.model, *s_.gas(falls_)), Kind::fraction, 3),
                            to_text(most(SignalKind::temperature, state, discrete), Kind::temperature))),
                    at_s)
            .also(line.source, "the line")
            .remedy(fmt::format("let `{}` fall closed:  de_energised closed", line.name));
    }

    void left_at_end() {
        const timeline::State& last = s_.timeline.states[s_.timeline.end_state];
        if (!hot(s_.walk.end, last) ||
            (falls_ == timeline::none && most(SignalKind::flammability, s_.walk.end, last) < 1))
            return;
        if (s_.controller != nullptr && s_.controller->holds_at_end)
            return;                         // judged with the run, which goes on
        const Abort& off = s_.aborts(last); // outputs fall as they do without power
        const Judge judge(s_.timeline, s_.plant, s_.walk);
        const Instance asked = instance();
        const timeline::Condition always;
        const std::size_t at = s_.spans() - 1;
        const Course course{
            s_.walk.end, {off.laws.data(), &off.discrete}, s_.walk.end_s, s_.source(at), at, infinity, true};
        Judgement judged;
        bool active = true;
        double piece = 8;
        for (double t = 0; active && !judged.witness && t < longest_abort; t += piece, piece *= 1.5)
            judge.over_piece({asked.require, always, &asked.until}, course, t, t + piece, 8, active, judged);
        const bool holds = !judged.witness;
        s_.row("flammable_left_at_end", "A hot tube is left without fuel that may meet air", holds, "",
               s_.walk.end_s, s_.source(at));
        if (holds || s_.out.has_error(Code::flammable_left_at_end) || s_.out.has_error(Code::flammable_mixture))
            return;
        if (falls_ != timeline::none) {
            meets_air(Code::flammable_left_at_end, s_.source(at), s_.walk.end_s, "when the run ends",
                      s_.walk.end, last)
                .remedy("cool before the end, while an inert gas flows:  cool to 60 degC");
            return;
        }
        tell(s_.out.error(
                 Code::flammable_left_at_end, s_.source(at),
                 fmt::format("the run ends with fuel at up to {} of its lower limit in a tube at up to "
                             "{}, and as it cools it draws in air",
                             to_text(most(SignalKind::flammability, s_.walk.end, last), Kind::fraction, 3),
                             to_text(most(SignalKind::temperature, s_.walk.end, last), Kind::temperature))),
             s_.walk.end_s)
            .remedy("cool while the gas flows:  cool to 60 degC")
            .remedy("or clear it:  " + cleared());
    }

    void without_power() {
        const Judge judge(s_.timeline, s_.plant, s_.walk);
        const FaultJudge faults(s_.timeline, s_.plant, s_.walk, judge, s_.aborts);
        if (s_.out.any_error()) return; // what is wrong without any failure comes first
        const Instance asked = instance();
        const Judgement judged = faults.rules(std::array{&asked})[0];
        if (!judged.applied) return;
        const bool holds = !judged.witness;
        const double at_s = holds ? judged.margin.at_s : judged.witness->at_s;
        const athanor::Span source = holds ? judged.margin.source : judged.witness->source;
        Row& row =
            s_.row("no_inert_on_abort", "Without power no air meets the fuel of a gas that cannot burn cold",
                   holds, "", at_s, source);
        row.warned = !holds && falls_ == timeline::none;
        if (holds) return;
        if (falls_ != timeline::none) {
            const std::size_t span = std::min(judged.witness->span, s_.spans() - 1);
            meets_air(Code::flammable_mixture, source, at_s, "when power fails here", s_.over(span),
                      s_.discrete(span));
            return;
        }
        tell(
            s_.out.warning(Code::no_inert_on_abort, source,
                           fmt::format("when power fails here, `{}` shuts and the cooling tube draws air in to "
                                       "fuel at up to {} of its lower limit",
                                       name_, to_text(lean_.richest, Kind::fraction, 3))),
            at_s)
            .remedy(falls_open(judged.witness->discrete));
    }

    Scene& s_;
    Lean lean_;
    std::string name_, hot_;
    timeline::Index falls_ = timeline::none;
};

} // namespace

void check_lean(Scene& s) {
    if (const Lean lean = lean_lines(s); lean.line != timeline::none) LeanGas(s, lean).judge();
}

} // namespace athanor::prove
