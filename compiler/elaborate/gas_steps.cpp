// Steps that change what is in the tube: purge, evacuate, backfill, and what a person does.
#include "compiler/elaborate/elaborator.hpp"

#include "compiler/check/gas_mixture.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <cmath>
#include <utility>

namespace athanor::elaborate {

using timeline::Comparison;
using timeline::EndingKind;
using timeline::SignalKind;

namespace {

timeline::Condition compare(SignalKind kind, Comparison comparison, Interval value, athanor::Span source) {
    timeline::Term term;
    term.kind = timeline::Term::Kind::compare;
    term.comparison = comparison;
    term.left = {kind, timeline::none};
    term.value = value;
    return {{term}, source};
}

} // namespace

bool Elaborator::sweeps_with_air(Index line) const {
    double share = 0;
    for (const auto& [part, x] : model.gases[rig->lines[line].gas].parts)
        if (model.gases[part].oxidises()) share += x.hi;
    return share > check::purging_oxygen;
}

void Elaborator::purge(const Statement& s) {
    Step step = holding(s);
    NameRef name = s.names != 0 ? model.names_used[s.first_name] : NameRef{};
    const auto* block = defaults_with([](const check::Defaults& d) { return d.purge_line.name != 0; });
    if (name.name == 0 && name.slot == none && block != nullptr) {
        name = block->purge_line;
        defaulted_value |= timeline::defaulted::gas;
    }
    if (name.name == 0 && name.slot == none) {
        error(Code::value_missing, s.span, "this purge names no gas line, and no default gives one");
        return void(blind = true);
    }
    Index line = line_of(name);
    double flow = 0;
    if (line == none || !flow_asked(s, line, flow)) return void(blind = true);
    if (!now.open[line] || now.flows[line] != flow)
        open(s, line, flow, now.open[line] ? timeline::ActionKind::set : timeline::ActionKind::open);
    if (const Clause* until = model.clause(s, ClauseKind::until)) {
        step.ending.kind = EndingKind::certain;
        step.ending.condition = condition(until->expr);
        if (step.ending.condition == none) return void(blind = true);
    } else if (const Clause* time = model.clause(s, ClauseKind::duration)) {
        if (!duration(time->expr, step.ending.duration)) return void(blind = true);
        if (!(step.ending.duration > 0)) {
            error(Code::misplaced, span_of(time->expr), "a purge of no time sweeps nothing");
            return void(blind = true);
        }
    } else if (const Clause* volumes = model.clause(s, ClauseKind::volumes)) {
        double n = 0;
        if (!number(volumes->expr, n)) return void(blind = true);
        if (n < 0) {
            error(Code::misplaced, span_of(volumes->expr), "a purge sweeps 0 volumes or more");
            return void(blind = true);
        }
        if (sweeps_with_air(line)) return purge_with_air(s, step, n, line, flow);
        step.ending.kind = EndingKind::certain;
        step.ending.condition =
            intern(compare(SignalKind::swept, Comparison::greater_equal, here.swept.lo + n, volumes->span),
                   volumes->expr);
    } else {
        if (Diagnostic* d =
                error(Code::value_missing, s.span,
                      "this purge does not say how long: until a condition, for a time or for volumes"))
            d->remedy(std::string(files.text(s.span)) + " until oxygen < 10 ppm");
        return void(blind = true);
    }
    if (!at_most(s, step.ending)) return void(blind = true);
    perform(step);
}

/// `swept` stands at nothing while such a gas flows: its volumes are told by time.
void Elaborator::purge_with_air(const Statement& s, Step& step, double volumes, Index line, double flow_) {
    const double time = plant->time_of_volumes(volumes, line, flow_);
    if (!std::isfinite(time)) {
        error(Code::condition_unreachable, model.clause(s, ClauseKind::volumes)->span,
              fmt::format("at {} it is not certain that any gas flows through `{}`", flow_text(line, flow_),
                          rig->lines[line].name));
        return void(blind = true);
    }
    step.ending.duration = time;
    perform(step);
}

/// A pump only draws down, a fill only lifts: where the tube surely stands beyond its aim already, the step
/// would be over before it begins.
void Elaborator::misses_vacuum(ExprId aim, Interval pressure) {
    const Interval room = rig->ambient_pressure.value;
    if (pressure.hi >= room.lo) {
        if (Diagnostic* d =
                error(Code::pressure_unreachable, span_of(aim),
                      fmt::format("{} is no vacuum: the room may stand at {}",
                                  to_text(pressure, Kind::pressure), to_text(room.lo, Kind::pressure))))
            d->cause(fmt::format("the room is declared at {}", place(rig->ambient_pressure.source)))
                .remedy("a pressure below the room's, for example `evacuate to 1 mbar`");
        return;
    }
    if (blind) return;
    const Interval stands = plant->signal({SignalKind::pressure, none}, here, now);
    if (stands.hi >= pressure.lo) return;
    // As a checkpoint it does no harm.
    if (Diagnostic* d = warning(Code::misplaced, span_of(aim),
                                fmt::format("the tube stands at {} already: this step is over at once",
                                            to_text(stands, Kind::pressure))))
        d->remedy("a lower pressure, or `dwell`, which holds the vacuum");
}

void Elaborator::misses_fill(ExprId aim, Interval pressure) {
    if (blind) return;
    const Interval stands = plant->signal({SignalKind::pressure, none}, here, now);
    if (pressure.hi >= stands.lo) return;
    if (Diagnostic* d =
            error(Code::misplaced, span_of(aim),
                  fmt::format("the tube stands at {} already, and a fill does not bring it down to {}",
                              to_text(stands, Kind::pressure), to_text(pressure, Kind::pressure))))
        d->remedy(stands.lo >= rig->ambient_pressure.lo() && rig->pump.present
                      ? "evacuate the tube first, or fill it further: `to ambient + 20 mbar`"
                      : "fill it further: `to ambient + 20 mbar`");
}

void Elaborator::evacuate(const Statement& s) {
    Step step = holding(s);
    step.unreachable = Code::pressure_unreachable;
    ExprId expr = s.value;
    if (const Clause* to = model.clause(s, ClauseKind::to); expr == 0 && to != nullptr) expr = to->expr;
    check::Value p = value(expr);
    if (p.poison()) return void(blind = true);
    if (!(p.number.lo > 0)) {
        error(Code::pressure_unreachable, span_of(expr),
              fmt::format("{} is no pressure a pump can reach", to_text(p.number, Kind::pressure)));
        return void(blind = true);
    }
    misses_vacuum(expr, p.number);
    if (!now.pump) start_pump(s);
    if (!now.pump) return;
    step.ending.kind = EndingKind::certain;
    step.ending.condition =
        intern(compare(SignalKind::pressure, Comparison::less_equal, p.number, span_of(expr)), expr);
    if (!at_most(s, step.ending)) return void(blind = true);
    perform(step);
}

void Elaborator::backfill(const Statement& s) {
    Step step = holding(s);
    step.unreachable = Code::pressure_unreachable;
    const Clause* to = model.clause(s, ClauseKind::to);
    if (s.names == 0) return;
    Index line = line_of(model.names_used[s.first_name]);
    double flow = 0;
    const auto give_up = [&] { // what follows stands behind a fill all the same
        now.pump = false;
        blind = true;
    };
    if (line == none || !flow_asked(s, line, flow)) return give_up();
    if (to == nullptr) {
        error(Code::value_missing, s.span,
              "a backfill needs the pressure at which it ends: `to ambient + 20 mbar`");
        return give_up();
    }
    check::Value p = value(to->expr);
    if (p.poison()) return give_up();
    misses_fill(to->expr, p.number);
    if (now.pump) stop_pump(s);
    if (!now.open[line] || now.flows[line] != flow)
        open(s, line, flow, now.open[line] ? timeline::ActionKind::set : timeline::ActionKind::open);
    step.ending.kind = EndingKind::certain;
    step.ending.condition =
        intern(compare(SignalKind::pressure, Comparison::greater_equal, p.number, span_of(to->expr)), to->expr);
    if (!at_most(s, step.ending)) return give_up();
    perform(step);
    close(s, line);
}

void Elaborator::person(const Statement& s, std::string text, bool tube_open, bool quench_) {
    Step step = holding(s);
    step.ending.kind = EndingKind::person;
    step.ending.text = text_index(std::move(text));
    step.ending.quench = quench_;
    defaulted_value = 0; // those of the step before it
    if (tube_open) {
        now.tube_open = true;
        commit(timeline::ActionKind::open_tube, s);
        here = plant->open_tube(here);
    }
    perform(step);
    now.tube_open = false;
}

void Elaborator::wait(const Statement& s) {
    person(s, s.text == none ? std::string() : model.texts[s.text], s.flag);
}

/// The load leaves the hot tube: a person opens it, and the run ends there.
void Elaborator::quench(const Statement& s) {
    person(s, "quench in " + (s.text == none ? std::string("air") : model.texts[s.text]), true, true);
    quenched = true;
}

} // namespace athanor::elaborate
