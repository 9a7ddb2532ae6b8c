// Temperature steps: from a statement to a plan per zone and an ending.
#include "compiler/elaborate/elaborator.hpp"

#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::elaborate {

using timeline::EndingKind;
using timeline::LawKind;

namespace {

/// A rate in K/s rounded down to 0.1 K/min; slow ones would lose too much and stay.
double readable(double rate) {
    constexpr double step = 0.1 / 60, slow = 0.5 / 60;
    if (!(rate >= slow) || std::isinf(rate)) return rate;
    // A rate on a step, but for the last bits, is not taken a step lower.
    return std::min(rate, std::floor(rate / step + 1e-9) * step);
}

/// What working in kelvins and seconds leaves behind a length that a person would write is taken off: 757 K at
/// 6 K/min last 7570 s, not a picosecond more.
double tidied(double seconds) {
    constexpr double nanoseconds = 1e9, noise = 1e-13;
    const double whole = std::round(seconds * nanoseconds) / nanoseconds;
    return std::fabs(whole - seconds) <= noise * seconds ? whole : seconds;
}

bool rises(const ZonePlan& zone) {
    return zone.law == LawKind::line && zone.to > zone.from;
}
bool falls(const ZonePlan& zone) {
    return zone.law == LawKind::line && zone.to < zone.from;
}

} // namespace

void Elaborator::step(const Statement& s) {
    // Outside a run a person stands at a wait, and can put the next load in.
    if (s.kind == StatementKind::wait && !in_run) quenched = false;
    if (quenched) {
        error(Code::misplaced, s.span,
              "nothing can follow a quench in the same run: the load is out of the tube");
        return;
    }
    ++steps;
    defaulted_value = 0;
    switch (s.kind) {
    case StatementKind::ramp: ramp(s); return;
    case StatementKind::heat: heat(s); return;
    case StatementKind::cool: cool(s); return;
    case StatementKind::step_to: step_to(s); return;
    case StatementKind::dwell: dwell(s); return;
    case StatementKind::purge: purge(s); return;
    case StatementKind::evacuate: evacuate(s); return;
    case StatementKind::backfill: backfill(s); return;
    case StatementKind::wait: wait(s); return;
    default: quench(s); return;
    }
}

/// All zones where they are.
Step Elaborator::holding(const Statement& s) const {
    Step step;
    step.statement = &s;
    for (const double at : setpoints) step.zones.push_back({LawKind::hold, at, at});
    return step;
}

/// Sends the zones that the statement names to their targets; the others go on holding.
bool Elaborator::targets(const Statement& s, Few<ZonePlan>& zones) {
    for (Index i = 0; i < s.targets; ++i) {
        const check::ZoneTarget& target = model.targets[s.first_target + i];
        double to = 0;
        if (!number(target.target, to)) return false;
        Index named = none;
        if (target.zone.name != 0 && (named = zone_of(target.zone)) == none) return false;
        for (Index z = 0; z < zones.size(); ++z) {
            if (named != none && z != named) continue;
            zones[z].to = to;
            zones[z].target = span_of(target.target);
            zones[z].law = LawKind::line;
        }
    }
    return s.targets != 0;
}

/// One target of a step as it is written there, with its zone's name: "to 500 °C", "back to 500 °C".
std::string Elaborator::towards(const Statement& s, const ZonePlan& zone) const {
    for (Index i = 0; i < s.targets; ++i) {
        const check::ZoneTarget& target = model.targets[s.first_target + i];
        if (span_of(target.target) == zone.target && target.zone.name != 0)
            return fmt::format("{} to {}", text_of(target.zone), degrees(zone.to));
    }
    return "to " + degrees(zone.to);
}

bool Elaborator::band(const Statement& s, timeline::Ending& ending) {
    const Clause* within = model.clause(s, ClauseKind::within);
    if (within == nullptr) return true;
    if (!number(within->expr, ending.band)) return false;
    if (!(ending.band > 0)) {
        error(Code::misplaced, span_of(within->expr), "a soak band must be above 0 K");
        return false;
    }
    ending.kind = EndingKind::band;
    return true;
}

bool Elaborator::duration(ExprId expr, double& seconds) {
    if (!number(expr, seconds)) return false;
    if (seconds >= 0) return true;
    error(Code::misplaced, span_of(expr),
          fmt::format("{} is no duration: a step takes 0 s or more", to_text(seconds, Kind::time)));
    return false;
}

void Elaborator::ramp(const Statement& s) {
    Step step = holding(s);
    if (!targets(s, step.zones)) return void(blind = true);
    ramp(s, step);
}

/// To targets that are known.
void Elaborator::ramp(const Statement& s, Step& step) {
    if (!band(s, step.ending)) return void(blind = true);
    const Clause* at = model.clause(s, ClauseKind::at);
    const Clause* over = model.clause(s, ClauseKind::over);
    if (at == nullptr && over == nullptr && cools_by_default(step)) {
        if (step.ending.kind == EndingKind::band || std::any_of(step.zones.begin(), step.zones.end(), rises)) {
            if (blind) return;
            if (Diagnostic* d = error(
                    Code::value_missing, s.span,
                    fmt::format(
                        "this ramp has neither rate nor time, and the natural cooling of the defaults {}",
                        step.ending.kind == EndingKind::band ? "follows no set-point, so it has no soak band"
                                                             : "does not end with the zones that go up")))
                d->remedy(std::string(files.text(s.span)) + " at 1 K/min")
                    .remedy(recipe->defaults.natural_cooling
                                ? "or once for all, in place of `cooling natural`:  cooling 1 K/min"
                                : "or once for all: defaults { cooling 1 K/min }");
            return void(blind = true);
        }
        defaulted_value |= timeline::defaulted::rate;
        return cool_naturally(step);
    }
    double time = 0;
    Rates rate;
    if (over != nullptr ? !duration(over->expr, time) : !rates(s, step, rate)) return void(blind = true);
    athanor::Span rate_span = over != nullptr ? span_of(over->expr)
                              : at != nullptr ? span_of(at->expr)
                                              : s.span;

    for (ZonePlan& z : step.zones) {
        if (z.law != LawKind::line) continue;
        bool sound = check_target(s, z, z.to < z.from);
        if (z.to == z.from) {
            z.law = LawKind::hold;
            z.length = time; // `over` says how long it takes, wherever the set-point stands already
            continue;
        }
        double way = z.to - z.from;
        if (over != nullptr && time == 0) {
            error(Code::misplaced, rate_span,
                  fmt::format("{} in no time: write `step {}`", to_text(std::fabs(way), Kind::difference),
                              towards(s, z)));
            return void(blind = true);
        }
        const double pace = falls(z) ? rate.down : rate.up;
        z.length = over != nullptr ? time : tidied(std::fabs(way) / pace);
        z.rate = over != nullptr ? way / time : std::copysign(pace, way);
        if (sound) check_ramp(s, z, rate_span);
    }
    for (const ZonePlan& z : step.zones) step.ending.duration = std::max(step.ending.duration, z.length);
    step.by_way = over == nullptr;
    perform(step);
}

/// Whether what goes down in a ramp without rate or time does so by natural cooling.
bool Elaborator::cools_by_default(const Step& step) const {
    const check::Defaults* cooling = defaults_with(
        [](const check::Defaults& block) { return block.natural_cooling || block.cooling_rate != 0; });
    return cooling != nullptr && cooling->natural_cooling &&
           std::any_of(step.zones.begin(), step.zones.end(), falls);
}

bool Elaborator::rates(const Statement& s, const Step& step, Rates& found) {
    const bool down = std::any_of(step.zones.begin(), step.zones.end(), falls);
    const bool up = !down || std::any_of(step.zones.begin(), step.zones.end(), rises);
    ExprId heating = 0, cooling = 0;
    check::Frame* outer = frame;
    if (const Clause* at = model.clause(s, ClauseKind::at)) {
        heating = cooling = at->expr;
    } else {
        // Whoever gives a rate for what goes down, it is meant before one for what goes up.
        if (const auto* block = defaults_with([](const check::Defaults& d) { return d.heating != 0; }))
            heating = cooling = block->heating;
        if (const auto* block = defaults_with([](const check::Defaults& d) { return d.cooling_rate != 0; }))
            cooling = block->cooling_rate;
        if ((up && heating == 0) || (down && cooling == 0)) {
            if (Diagnostic* d = error(Code::value_missing, s.span,
                                      "this ramp has neither rate nor time, and no default gives one"))
                d->remedy(std::string(files.text(s.span)) + " at 5 K/min")
                    .remedy("or once for all: defaults { heating 5 K/min }");
            return false;
        }
        defaulted_value |= timeline::defaulted::rate;
        frame = &recipe_frame;
    }
    const auto read = [&](ExprId expr, double& rate) {
        if (!number(expr, rate)) return false;
        if (rate > 0) return true;
        error(Code::misplaced, span_of(expr),
              "a rate must be above 0 K/min; the targets say whether it goes up or down");
        return false;
    };
    const bool good = (!up || read(heating, found.up)) && (!down || read(cooling, found.down));
    frame = outer;
    return good;
}

void Elaborator::heat(const Statement& s) {
    Step step = holding(s);
    if (!targets(s, step.zones) || !band(s, step.ending)) return void(blind = true);
    for (ZonePlan& z : step.zones) {
        if (z.law != LawKind::line) continue;
        bool sound = check_target(s, z, false);
        if (z.to <= z.from) {
            if (z.to < z.from)
                error(Code::misplaced, z.target,
                      fmt::format("`heat` goes up, and the set-point is at {} already: write `cool to {}`",
                                  degrees(z.from), degrees(z.to)));
            z.law = LawKind::hold;
            z.to = z.from;
            continue;
        }
        const check::Figure* row = nullptr;
        double furnace = plant->certain_heating_rate(z.from, z.to);
        z.rate = std::min(furnace, tube_allowance(z.from, z.to, row));
        if (!(z.rate > 0)) {
            if (sound && !blind)
                if (Diagnostic* d =
                        error(Code::rate_beyond_furnace, z.target,
                              fmt::format("not every furnace inside the stated data gets to {} at all",
                                          degrees(z.to))))
                    d->cause(fmt::format("the furnace of rig `{}` is declared at {}", rig->name,
                                         place(rig->furnace.source)));
            setpoints.assign(setpoints.size(), z.to);
            return void(blind = true);
        }
        z.rate = readable(z.rate);
        z.length = tidied((z.to - z.from) / z.rate);
        step.ending.duration = std::max(step.ending.duration, z.length);
    }
    perform(step);
}

void Elaborator::cool(const Statement& s) {
    Step step = holding(s);
    const Clause* at = model.clause(s, ClauseKind::at);
    const Clause* over = model.clause(s, ClauseKind::over);
    // Without either the furnace cools by itself, whatever rate `defaults` has for ramps that go down.
    const bool natural = at == nullptr && over == nullptr;
    if (!targets(s, step.zones)) return void(blind = true);
    for (ZonePlan& z : step.zones)
        if (z.law == LawKind::line && z.to > z.from && !blind) {
            error(Code::misplaced, z.target,
                  fmt::format("`cool` goes down, and the set-point is at {}: write `ramp {}`", degrees(z.from),
                              towards(s, z)));
            if (!natural) continue;
            z.law = LawKind::hold;
            z.to = z.from;
        }
    if (!natural) return ramp(s, step);
    cool_naturally(step);
}

void Elaborator::cool_naturally(Step& step) {
    double lowest = infinity;
    bool any = false;
    for (ZonePlan& z : step.zones) {
        if (z.law != LawKind::line) continue;
        check_target(*step.statement, z, true);
        if (z.to == z.from) {
            z.law = LawKind::hold;
            continue;
        }
        z.law = LawKind::off;
        lowest = std::min(lowest, z.to);
        any = true;
    }
    step.ending.kind = any ? EndingKind::passes : EndingKind::fixed;
    step.ending.temperature = any ? lowest : 0;
    step.unreachable = Code::cooling_beyond_furnace;
    perform(step);
}

void Elaborator::step_to(const Statement& s) {
    Step step = holding(s);
    if (!targets(s, step.zones)) return void(blind = true);
    std::vector<Index> shocks;
    for (Index i = 0; i < step.zones.size(); ++i) {
        ZonePlan& z = step.zones[i];
        if (z.law != LawKind::line) continue;
        z.law = LawKind::jump;
        const bool sound = check_target(s, z, z.to < z.from);
        if (sound && !blind && z.to > z.from && !check_jump(s, i, z)) shocks.push_back(i);
    }
    perform(step);
    for (const Index i : shocks) ahead[i] = {}; // told: what follows is no other fault
}

void Elaborator::dwell(const Statement& s) {
    Step step = holding(s);
    const Clause* until = model.clause(s, ClauseKind::until);
    if (until != nullptr) {
        step.ending.kind = EndingKind::certain;
        step.ending.condition = condition(until->expr);
        if (step.ending.condition == none || !at_most(s, step.ending)) return void(blind = true);
        return perform(step);
    }
    ExprId time = s.value;
    if (const Clause* clause = model.clause(s, ClauseKind::duration); time == 0 && clause != nullptr)
        time = clause->expr;
    check::Frame* outer = frame;
    const auto* block = defaults_with([](const check::Defaults& d) { return d.soak != 0; });
    if (time == 0 && block != nullptr) {
        time = block->soak;
        defaulted_value |= timeline::defaulted::time;
        frame = &recipe_frame;
    }
    if (time == 0) {
        error(Code::value_missing, s.span, "this dwell has no time, and no default gives one");
        return void(blind = true);
    }
    bool good = duration(time, step.ending.duration);
    frame = outer;
    if (!good || !band(s, step.ending)) return void(blind = true);
    perform(step);
}

bool Elaborator::at_most(const Statement& s, timeline::Ending& ending) {
    const Clause* most = model.clause(s, ClauseKind::at_most);
    if (most == nullptr) return true;
    if (!duration(most->expr, ending.at_most)) return false;
    if (ending.at_most > 0) return true; // 0 would stand for no limit
    if (Diagnostic* d = error(Code::misplaced, span_of(most->expr),
                              "`at most` no time leaves none for what this step waits for"))
        d->remedy("state a time above 0 s, or leave `at most` out where there is no limit");
    return false;
}

} // namespace athanor::elaborate
