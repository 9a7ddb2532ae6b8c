// Checks of gas and pressure that need the rig's declaration and the state at hand: seals, supplies, meters,
// and flammable against oxidising lines.
#include "compiler/elaborate/elaborator.hpp"

#include "compiler/check/gas_mixture.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <utility>

namespace athanor::elaborate {
namespace {

/// An inert purge is done when oxygen is certain under 1 %, the fuel under a quarter of its lower limit: the
/// limits of `no_inert_purge_first` and of burning out in the standard policy.
constexpr double purged_oxygen = check::purging_oxygen;
constexpr double purged_flammability = check::cleared_fuel;

/// Two settings nearer than this are one even where rounding to four digits parts them: purities of gases as
/// sold make flows of a blend differ by parts per million.
constexpr double one_setting = 1e-4;

/// A flow that is this many times beside what a meter sets may be meant as its end (our own judgement).
constexpr double meant_at_most = 2;

} // namespace

bool Elaborator::is_air(Index gas) const {
    if (gas == none) return false;
    if (model.gases[gas].name == "air") return true;
    Index oxygen = model.gas_named("oxygen"), nitrogen = model.gas_named("nitrogen");
    bool has_oxygen = false, has_nitrogen = false;
    for (auto [part, share] : model.gases[gas].parts) {
        if (part == oxygen) has_oxygen = share.lo > 0.19 && share.hi < 0.23;
        if (part == nitrogen) has_nitrogen = share.lo > 0.75;
    }
    return has_oxygen && has_nitrogen;
}

bool Elaborator::oxidising(Index line) const {
    return model.gases[rig->lines[line].gas].oxidises();
}

bool Elaborator::may_be_open(Index line) const {
    return now.open[line] || armed_for(line) != nullptr;
}

const timeline::Threshold* Elaborator::armed_for(Index line) const {
    for (std::size_t i = 0; i < t->thresholds.size(); ++i)
        if ((now.armed >> i & 1U) != 0 && t->thresholds[i].line == line) return &t->thresholds[i];
    return nullptr;
}

void Elaborator::need_seals(athanor::Span at, const std::string& what) {
    if (rig->seals.gas_tight || std::exchange(seals_told, true)) return;
    if (Diagnostic* d = error(Code::seals_missing, at,
                              fmt::format("{}, and the ends of the tube have no gas-tight seals", what)))
        d->cause(fmt::format("the seals of rig `{}` are declared at {}", rig->name,
                             place(rig->seals.source == athanor::Span{} ? rig->source : rig->seals.source)))
            .remedy("fit seals and declare them in the rig: `seals gas_tight { rated 200 mbar gauge }`");
}

/// The flow that a person has set by hand before in this run, where the new one reads the same; else the new
/// one.
double Elaborator::as_set(Index line, double flow_) const {
    const double set = lines_in_run[line].by_hand;
    if (rig->lines[line].meter.controlled || !(flow_ > 0) || !(set > 0)) return flow_;
    return reads_the_same(line, flow_, set) ? set : flow_;
}

bool Elaborator::reads_the_same(Index line, double a, double b) const {
    return std::fabs(a - b) <= one_setting * b || flow_text(line, a) == flow_text(line, b);
}

/// A settable flow may come out a few units in the last place beside the end of the range.
bool Elaborator::meter_sets(Index line, double flow_) const {
    const check::Figure& range = rig->lines[line].meter.range;
    return !range.given || (flow_ >= range.lo() * (1 - 1e-9) && flow_ <= range.hi() * (1 + 1e-9));
}

void Elaborator::use_line(const Statement& s, Index line, double flow_) {
    const check::Line& l = rig->lines[line];
    t->lines[line].used = true;
    if (lines_in_run[line].named_first == athanor::Span{}) lines_in_run[line].named_first = shown(s.span);
    const Clause* clause = model.clause(s, ClauseKind::at);
    const ExprId asked = clause != nullptr ? clause->expr : s.kind == StatementKind::set ? s.value : 0;
    const athanor::Span at = asked != 0 ? span_of(asked) : s.span;

    check_flow(s, line, flow_, asked);
    lines_in_run[line].last = flow_;
    if (!l.meter.controlled && flow_ > 0) set_by_hand(s, line, flow_, at);

    if (!rig->seals.gas_tight && !seals_told && !is_air(l.gas))
        need_seals(s.span, fmt::format("`{}` carries {}", l.name, model.gases[l.gas].name));
    check_supply(s, line);
}

/// "5 slm (5.367 L/min at this meter)": as it is written, and as the meter shows it.
std::string Elaborator::flow_said(Index line, double flow_, ExprId asked) const {
    const std::string shown = flow_text(line, flow_);
    // A blend's total is not the flow of its line.
    if (asked == 0 || blending != nullptr || !rig->lines[line].meter.has_reference ||
        model.exprs[asked].type.kind != Kind::flow)
        return shown;
    const std::string_view written = files.text(span_of(asked));
    const bool figure = std::isdigit(static_cast<unsigned char>(written.front())) != 0;
    return fmt::format("{} ({} at this meter)", figure ? written : to_text(flow_, Kind::flow), shown);
}

/// The statement with another flow, whether it states one, at `at`, or leaves it unsaid behind the line's name.
std::string Elaborator::with_flow(const Statement& s, athanor::Span at, const std::string& flow_) const {
    if (!(at == s.span) || s.names == 0) return rewritten(s, at, flow_);
    const athanor::Span name = model.names_used[s.first_name].span;
    return rewritten(s, name, fmt::format("{} at {}", files.text(name), flow_));
}

void Elaborator::check_flow(const Statement& s, Index line, double flow_, ExprId asked) {
    const check::Line& l = rig->lines[line];
    const athanor::Span at = asked != 0 ? span_of(asked) : s.span;
    const bool unsaid = asked == 0 && blending == nullptr;
    const double kept = unsaid ? lines_in_run[line].last : 0; // judged where it was set
    if (kept > 0 && flow_ == kept) return;
    const ExprId by_default = unsaid ? default_flow(line) : 0;
    const auto told_whose = [&](Diagnostic& d) {
        if (by_default != 0)
            d.cause(fmt::format("this flow is that of `defaults` at {}", place(span_of(by_default))));
    };
    if (!(flow_ > 0))
        if (Diagnostic* d = error(Code::flow_out_of_range, at,
                                  fmt::format("at {} `{}` stays shut", flow_text(line, flow_), l.name))) {
            d->cause(fmt::format("its meter sets {} ({})", flow_text(line, l.meter.range.value),
                                 place(l.meter.source)));
            told_whose(*d);
            if (s.kind == StatementKind::switch_to)
                d->remedy("close all");
            else if (s.kind == StatementKind::open || s.kind == StatementKind::set)
                d->remedy("close " + l.name);
            else
                d->remedy(with_flow(s, at, flow_text(line, l.meter.range.hi(), 3)));
        }
    const Interval range = l.meter.range.value;
    if (flow_ > 0 && !meter_sets(line, flow_)) {
        const double nearest = flow_ < range.lo ? range.lo : range.hi;
        if (Diagnostic* d = error(Code::flow_out_of_range, at,
                                  fmt::format("{} of `{}` is outside what its meter sets, {}",
                                              flow_said(line, flow_, asked), l.name, flow_text(line, range)))) {
            const std::string end = flow_as_written(by_default != 0 ? span_of(by_default) : at, line, nearest);
            d->cause(fmt::format("the meter of `{}` is declared at {}", l.name, place(l.meter.source)));
            told_whose(*d);
            d->remedy(with_flow(s, at, end));
            // `24 slm` for 2.4: further off, the figure itself is likely wrong, and the meter's end is not it.
            if (asked != 0 && flow_ <= meant_at_most * nearest && nearest <= meant_at_most * flow_)
                d->mend(at, end);
            else
                d->remedy("or, where the figure is a slip, the flow that is meant");
            ++timeline_kept; // it flows as it is written
        }
    }
}

/// The pressure that a line is fed with, against what seals and tube stand.
void Elaborator::check_supply(const Statement& s, Index line) {
    const check::Line& l = rig->lines[line];
    double limit = check::usual_pressure;
    const check::Figure* rating = nullptr; // nullptr: the usual limit decides
    std::string_view rated_part;
    auto rated_for = [&](const check::Figure& figure, std::string_view part) {
        if (!figure.given || figure.lo() >= limit) return;
        limit = figure.lo(), rating = &figure, rated_part = part;
    };
    if (rig->seals.gas_tight) rated_for(rig->seals.rated, "the seals are");
    rated_for(rig->tube.rated, "the tube is");
    if (l.supply.given && l.supply.hi() > limit && !lines_in_run[line].supply_told) {
        lines_in_run[line].supply_told = true;
        if (Diagnostic* d =
                error(Code::supply_pressure, s.span,
                      fmt::format("`{}` is fed with {} gauge, more than {} gauge", l.name,
                                  to_text(l.supply.hi(), Kind::pressure), to_text(limit, Kind::pressure))))
            d->cause(fmt::format("the supply is declared at {}", place(l.supply.source)))
                .cause(rating != nullptr
                           ? fmt::format("{} rated for {} gauge ({})", rated_part,
                                         to_text(limit, Kind::pressure), place(rating->source))
                           : std::string("200 mbar gauge is what a tube with clamped ends is fed with at "
                                         "most (common practice, no source)"))
                .remedy(fmt::format("fit a second pressure regulator and declare it: supply {} gauge",
                                    to_text(limit, Kind::pressure)));
    }
}

/// A person sets a meter once in a run.
void Elaborator::set_by_hand(const Statement& s, Index line, double flow_, athanor::Span at) {
    const check::Line& l = rig->lines[line];
    const double set = lines_in_run[line].by_hand;
    if (!(set > 0)) {
        if (!meter_sets(line, flow_)) return; // told: nobody can set it, and nothing is measured by it
        lines_in_run[line].by_hand = flow_;
        lines_in_run[line].set_first = at;
        lines_in_run[line].written = blending != nullptr ? std::string() : std::string(files.text(at));
        return;
    }
    if (std::fabs(set - flow_) <= 1e-9 * flow_ || (blending != nullptr && !blending->inside)) return;
    Diagnostic* d = error(Code::hand_meter_changed, at,
                          fmt::format("`{}` is set to {} here and to {} before in the same run, and its "
                                      "meter is set by hand",
                                      l.name, flow_text(line, flow_), flow_text(line, set)));
    if (d == nullptr) return;
    d->also(lines_in_run[line].set_first, "set here first")
        .cause(fmt::format("the meter of `{}` is declared `hand` at {}; no output can turn it", l.name,
                           place(l.meter.source)));
    double scale = 1;
    if (blending == nullptr) {
        // What was written first keeps its digits; a blend's total is not the flow of its line.
        const std::string& first = lines_in_run[line].written;
        const bool literal = !first.empty() && std::isdigit(static_cast<unsigned char>(first.front())) != 0;
        d->remedy(with_flow(s, at, literal ? first : flow_text(line, set)));
        // Outside the meter's range the figure itself may be a slip: `24 slm` for 2.4.
        if (meter_sets(line, flow_) && !(at == s.span)) d->mend(at, literal ? first : flow_text(line, set, 12));
    } else if (const std::string total = another_total(true, scale); !total.empty()) {
        d->remedy(rewritten(s, at, total));
    } else {
        d->remedy(
            fmt::format("{} of `{}` also where it is set first in this run", flow_text(line, flow_), l.name));
    }
}

/// A flammable and an oxidising line open together, or one after the other without an inert purge between.
void Elaborator::check_opposing(const Statement& s, Index opened) {
    const auto& gas = [&](Index line) -> const check::Gas& { return model.gases[rig->lines[line].gas]; };
    bool fuel = gas(opened).hazards.flammable, air = oxidising(opened);
    if (air) air_was_open = true;
    if (!fuel && !air) return;
    const std::string& name = rig->lines[opened].name;
    for (Index i = 0; i < rig->lines.size(); ++i) {
        if (i == opened || !may_be_open(i)) continue;
        if (!(fuel && oxidising(i)) && !(air && gas(i).hazards.flammable)) continue;
        if (Diagnostic* d =
                error(Code::opposing_valves, s.span,
                      fmt::format("`{}` opens while `{}` may be open: fuel and oxygen meet in the tube", name,
                                  rig->lines[i].name)))
            d->cause(fmt::format("the lines are declared at {} and {}", place(rig->lines[opened].source),
                                 place(rig->lines[i].source)))
                .remedy("put an inert purge between them: `switch to` an inert line, `dwell until flammability "
                        "< 25 % and oxygen < 1 %`");
        return;
    }
    if (blind) return;
    plant::State state = here;
    if (air) {
        Interval left = plant->signal({timeline::SignalKind::flammability, none}, state, now);
        if (left.hi > purged_flammability)
            if (Diagnostic* d =
                    error(Code::opposing_valves, s.span,
                          fmt::format(
                              "`{}` opens while fuel may still be in the tube, at up to {} of its lower limit",
                              name, to_text(left.hi, Kind::fraction))))
                d->remedy("clear it with an inert gas first: dwell until flammability < 25 %");
    }
    if (fuel && air_was_open) {
        Index oxygen = species_named("oxygen");
        Interval left = oxygen == none ? Interval{0.0}
                                       : plant->signal({timeline::SignalKind::fraction, oxygen}, state, now);
        if (left.hi > purged_oxygen)
            if (Diagnostic* d =
                    error(Code::opposing_valves, s.span,
                          fmt::format("`{}` opens while oxygen may still be in the tube, at up to {}", name,
                                      to_text(left.hi, Kind::fraction))))
                d->cause("an oxidising line was open before in this run")
                    .remedy("purge with an inert gas first: dwell until oxygen < 1 %");
    }
}

/// The legaliser counts the channels that a recipe needs; here are those that the rig names and the controller
/// does not have.
void Elaborator::missing_channels(const program::Controller& controller) {
    Index needed = 0;
    for (Index i = 0; i < rig->lines.size(); ++i) needed += t->lines[i].used && t->lines[i].channel ? 1 : 0;
    if (needed > controller.channels) return;
    for (Index i = 0; i < rig->lines.size(); ++i) {
        const check::Line& l = rig->lines[i];
        if (!t->lines[i].used || !t->lines[i].channel || l.meter.channel <= controller.channels) continue;
        if (Diagnostic* d = error(Code::too_many_outputs, lines_in_run[i].named_first,
                                  fmt::format("the meter of `{}` is on channel {}, {} has {}", l.name,
                                              l.meter.channel, controller.name, controller.channels)))
            d->cause(fmt::format("the channel is declared at {}", place(l.meter.source)))
                .remedy(fmt::format("a controller with {} channels, or a rig that drives `{}` by a lower one",
                                    l.meter.channel, l.name));
    }
}

void Elaborator::held_at_end(const program::Controller& controller) {
    // No gas is to be shut off from a hot load.
    const bool hot =
        !blind && plant->signal({timeline::SignalKind::temperature, none}, here, now).hi > plant::left_alone;
    const auto told = [&](athanor::Span at, const std::string& what, const std::string& remedy) {
        if (Diagnostic* d = warning(Code::gas_flows_after_end, at,
                                    fmt::format("{} when the programme ends, and {} holds it so until a person "
                                                "comes",
                                                what, controller.name)))
            d->cause(fmt::format("its outputs stand at the end as they are keyed: `at_end hold` ({})",
                                 place(controller.source)))
                .remedy((hot ? "cool to 60 degC, then " : "") + remedy + "  before the end");
    };
    for (Index i = 0; i < rig->lines.size(); ++i)
        if (now.open[i] && rig->lines[i].output != 0)
            told(lines_in_run[i].named_first, fmt::format("`{}` is open", rig->lines[i].name),
                 "close " + rig->lines[i].name);
    if (now.burner && rig->exhaust.output != 0) told(first_light, "the burner burns", "shut burner");
}

/// What the controller holds open, or lets fall open, when the programme ends goes on flowing until a person
/// shuts it.
void Elaborator::end_of_run() {
    const Index runs_on = request.controller != none ? request.controller : recipe->controller_index;
    if (runs_on != none) missing_channels(model.controllers[runs_on]);
    if (runs_on != none && model.controllers[runs_on].holds_at_end) {
        held_at_end(model.controllers[runs_on]);
        first_light = {};
        air_was_open = false;
        return;
    }
    for (Index i = 0; i < rig->lines.size(); ++i) {
        const check::Line& l = rig->lines[i];
        if (!t->lines[i].falls_open()) continue;
        // An inert guard that the recipe does not name is the rig's own affair; the room is judged all the
        // same.
        if (!t->lines[i].used && l.gas != none && model.gases[l.gas].hazards.inert) continue;
        if (Diagnostic* d = warning(
                Code::gas_flows_after_end, t->lines[i].used ? lines_in_run[i].named_first : recipe->span,
                fmt::format("`{}` falls open when the programme ends and flows until a person shuts it",
                            l.name)))
            d->cause(fmt::format("output {} is `de_energised open` ({})", l.output, place(l.source)));
    }
    if (rig->exhaust.output != 0 && rig->exhaust.feed_open_without_power && !(first_light == athanor::Span{}))
        if (Diagnostic* d = warning(Code::gas_flows_after_end, first_light,
                                    "the burner's feed opens when the programme ends and burns until a person "
                                    "shuts it"))
            d->cause(fmt::format("output {} is energised to shut it: `de_energised open` ({})",
                                 rig->exhaust.output, place(rig->exhaust.source)))
                .remedy("let the feed fall closed, and a pilot with its own gas light what leaves:  exhaust "
                        "afterburner { pilot yes ; de_energised closed }");
    first_light = {};
    air_was_open = false;
}

} // namespace athanor::elaborate
