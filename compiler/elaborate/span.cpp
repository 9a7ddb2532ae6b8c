// One span: recorded, resolved by the plant, and watched for what only its course can show.
#include "compiler/elaborate/elaborator.hpp"

#include "compiler/check/gas_mixture.hpp"
#include "compiler/physics/constants.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace athanor::elaborate {

using timeline::EndingKind;
using timeline::Law;
using timeline::LawKind;
using timeline::SignalKind;

namespace {

std::string_view word(StatementKind kind) {
    switch (kind) {
    case StatementKind::ramp: return "ramp";
    case StatementKind::heat: return "heat";
    case StatementKind::cool: return "cool";
    case StatementKind::step_to: return "step";
    case StatementKind::dwell: return "dwell";
    case StatementKind::purge: return "purge";
    case StatementKind::evacuate: return "evacuate";
    case StatementKind::backfill: return "backfill";
    case StatementKind::wait: return "wait";
    case StatementKind::quench: return "quench";
    case StatementKind::repeat_until: return "accept";
    case StatementKind::run: return "start";
    default: return "step";
    }
}

/// Does it come out the same whatever happens in the tube?
bool asks_nothing(const timeline::Condition& condition) {
    return std::none_of(condition.terms.begin(), condition.terms.end(), [](const timeline::Term& term) {
        return term.kind == timeline::Term::Kind::compare &&
               (term.left.kind != SignalKind::constant || term.right_is_signal);
    });
}

/// Does it ask that a signal be below some value? `not (oxygen > 10 ppm)` does.
bool keeps_below(const timeline::Condition& condition, timeline::Signal signal) {
    using timeline::Comparison;
    struct Part {
        bool below = false, above = false;
    };
    std::vector<Part> stack;
    for (const timeline::Term& term : condition.terms) {
        const bool upper = term.comparison == Comparison::less || term.comparison == Comparison::less_equal;
        const bool meant = term.kind == timeline::Term::Kind::compare && term.left == signal;
        switch (term.kind) {
        case timeline::Term::Kind::compare:
        case timeline::Term::Kind::truth: stack.push_back({meant && upper, meant && !upper}); break;
        case timeline::Term::Kind::not_: std::swap(stack.back().below, stack.back().above); break;
        default: {
            const Part last = stack.back();
            stack.pop_back();
            stack.back() = {stack.back().below || last.below, stack.back().above || last.above};
        }
        }
    }
    return !stack.empty() && stack.back().below;
}

/// How many parts of a span are looked at to tell whether two things happen at the same time.
constexpr int outlet_parts = 32;

} // namespace

/// What a step is about, behind its word: the lines or zones that it names.
std::string Elaborator::subject(const Statement& s) const {
    std::string names;
    if (s.kind == StatementKind::purge || s.kind == StatementKind::backfill) {
        if (s.names != 0) names.append(" ").append(text_of(model.names_used[s.first_name]));
    } else if (s.kind <= StatementKind::step_to) {
        for (Index i = 0; i < s.targets; ++i)
            if (const NameRef& zone = model.targets[s.first_target + i].zone; zone.name != 0)
                names.append(" ").append(text_of(zone));
    }
    return names;
}

/// Block names, kind and subject, ordinal among equals: what `diff` knows a step by.
timeline::Path Elaborator::path_of(const Statement& s) {
    Block& block = blocks.back();
    if (block.path == 0 && !path.empty()) block.path = t->paths.keep(path);
    const std::string about = subject(s);
    // No word is that of two kinds, and what is named stands behind a blank.
    const auto same = [&](const Block::Named& known) {
        if (known.kind != s.kind) return false;
        return known.bare ? about.empty()
                          : std::string_view(t->paths.text(known.name)).substr(word(s.kind).size()) == about;
    };
    auto known = block.named.begin();
    while (known != block.named.end() && !same(*known)) ++known;
    if (known == block.named.end()) {
        const Index name = t->paths.keep(std::string(word(s.kind)) + about);
        known = block.named.insert(known, {s.kind, about.empty(), name, 0});
    }
    return {block.path, known->name, ++known->steps, 1};
}

void Elaborator::emit(const Laws& laws, const timeline::Ending& ending, const Step& step) {
    if (!work(step.statement->span)) return;
    if (step.by_way && request.corner) result.by_way.push_back(static_cast<Index>(t->spans.size()));
    timeline::Span span;
    span.state = states.intern(now, t->states);
    span.ending = ending;
    span.first_action = pending_first;
    span.actions = static_cast<Index>(t->actions.size()) - pending_first;
    span.path = t->paths.add(step_path);
    ++step_path.piece;
    span.defaulted = step.defaulted | std::exchange(defaulted_before, std::uint8_t{0});
    span.source = step.statement->span;
    pending_first = static_cast<Index>(t->actions.size());

    if (blind) {
        // Something before was reported: the state is not known, and nothing is computed from it.
        span.duration = ending.duration;
    } else {
        plant::Passage passage = plant->pass(here, {laws.data(), &t->states[span.state]}, ending);
        span.duration = passage.duration;
        if (!passage.reachable || (ending.at_most > 0 && passage.duration.hi > ending.at_most)) {
            unreachable(passage, ending, step);
        } else {
            watch_vacuum_limit(step, laws);
            bool cooling = false;
            for (std::size_t z = 0; z < laws.size(); ++z) cooling = cooling || cools(z, laws[z]);
            if (cooling && !std::isinf(span.duration.hi) && may_be_protective()) watch_outlet(span, laws, step);
        }
        here = passage.exit;
    }
    keep_ahead(laws, span.duration.lo);
    too_long(span, step);
    now.tube_open = false;
    t->spans.push_back(span);
    for (std::size_t z = 0; z < laws.size(); ++z) {
        t->laws.push_back(laws[z]);
        setpoints[z] = laws[z].to;
    }
}

/// Past any furnace's life a figure is a slip, and what is keyed for it would fill the machine's memory.
void Elaborator::too_long(const timeline::Span& span, const Step& step) {
    if (span.ending.kind == EndingKind::person || !std::isfinite(span.duration.hi)) return;
    lasts += span.duration.hi;
    if (lasts <= longest_run || stopped) return;
    stopped = true;
    out.error(Code::too_large, step.statement->span,
              fmt::format("up to the end of this step the run lasts {:.4g} years; 10 years is the most",
                          lasts / (365.25 * 86400)))
        .remedy("look for a digit too many, for a unit that is too large, or for too many passes");
}

void Elaborator::unreachable(const plant::Passage& passage, const timeline::Ending& ending, const Step& step) {
    const Statement& s = *step.statement;
    athanor::Span at = s.span, lowest = s.span;
    std::string wanted;
    Code code = step.unreachable;
    switch (ending.kind) {
    case EndingKind::certain:
        at = t->conditions[ending.condition].source;
        // What asks nothing of the run was worked out: it is told as it was written.
        wanted = "`" +
                 (asks_nothing(t->conditions[ending.condition])
                      ? std::string(files.text(at))
                      : timeline::print(t->conditions[ending.condition], *t)) +
                 "`";
        break;
    case EndingKind::passes:
        // That of the zone which goes lowest: what the cooling waits for.
        for (const ZonePlan& zone : step.zones)
            if (zone.law == LawKind::off && zone.to == step.ending.temperature) lowest = zone.target;
        at = step.instant == athanor::Span{} ? lowest : step.instant;
        wanted = fmt::format("{} by natural cooling", to_text(ending.temperature, Kind::temperature));
        break;
    default:
        wanted = fmt::format("{} within {} of the set-point", to_text(ending.duration, Kind::time),
                             to_text(ending.band, Kind::difference));
    }
    if (ending.at_most > 0 && std::isfinite(passage.duration.hi) && passage.duration.hi > ending.at_most) {
        // Told as the whole step has it, whatever an action inside it cut off.
        const Clause* most = model.clause(s, ClauseKind::at_most);
        const double takes = step.passed + passage.duration.hi;
        if (Diagnostic* d =
                error(code, most != nullptr ? span_of(most->expr) : at,
                      fmt::format("{} takes {} to be certain, more than the {} allowed", wanted,
                                  to_text(takes, Kind::time), to_text(step.ending.at_most, Kind::time))))
            d->remedy(fmt::format("allow at most {}", to_text(std::ceil(takes / 60) * 60, Kind::time)));
        return;
    }
    Diagnostic* d = error(code, at, fmt::format("{} can never be certain on rig `{}`", wanted, rig->name));
    if (d == nullptr) return;
    if (!passage.why.empty()) d->cause(passage.why);
    if (code == Code::cooling_beyond_furnace) {
        double reach = rig->ambient_temperature.hi() + 10;
        d->cause(fmt::format("ambient is {} ({})", to_text(rig->ambient_temperature.value, Kind::temperature),
                             place(rig->ambient_temperature.source)));
        // Not where neighbours keep the zone warm: cooler than asked would help no more.
        if (reach > ending.temperature &&
            std::isfinite(plant->natural_cooling(step.zones.front().from, reach).hi))
            d->remedy(rewritten(
                s, lowest,
                to_text(std::ceil(reach - physics::zero_celsius) + physics::zero_celsius, Kind::temperature)));
    } else if (code == Code::pressure_unreachable && now.regulated > 0) {
        d->cause(fmt::format("the throttle still holds {}", to_text(now.regulated, Kind::pressure)))
            .remedy("let it go before it:  stop pump");
    } else if (code == Code::pressure_unreachable && now.pump) {
        d->cause(fmt::format("pump, pipe, leak and outgassing get this rig surely to {} ({})",
                             to_text(plant->lowest_pressure().hi, Kind::pressure), place(rig->pump.source)))
            .remedy(
                fmt::format("evacuate to {}", to_text(plant->lowest_pressure().hi * 1.5, Kind::pressure, 2)));
    }
}

/// With the atmosphere pressing on a softening tube its limit is lower, whether the pump still runs or not.
void Elaborator::watch_vacuum_limit(const Step& step, const Laws& laws) {
    bool pressed = now.pump || here.pressure.lo < rig->ambient_pressure.lo() - plant::evacuated_below;
    if (rig->tube.material == none || !pressed || vacuum_limit_told) return;
    const check::Material& tube = model.materials[rig->tube.material];
    if (!tube.limit_vacuum.given) return;
    for (std::size_t z = 0; z < laws.size(); ++z) {
        double hottest = std::max(laws[z].from, laws[z].to);
        if (hottest <= tube.limit_vacuum.lo() || hottest > tube.limit.hi()) continue;
        vacuum_limit_told = true; // the dwell and the cooling behind it are no other fault
        // A step that names no temperature finds the tube hot.
        const bool named = !(step.zones[z].target == athanor::Span{});
        athanor::Span at = named ? step.zones[z].target : step.statement->span;
        const std::string limit = to_text(tube.limit_vacuum.lo(), Kind::temperature);
        if (Diagnostic* d =
                error(Code::tube_vacuum_limit, at,
                      fmt::format("{} under vacuum is above what an evacuated tube of {} stands, {}",
                                  to_text(hottest, Kind::temperature),
                                  tube.title.empty() ? tube.name : tube.title, limit)))
            d->cause(fmt::format(
                         "the limit of `{}` is declared at {}{}", tube.name, place(tube.limit_vacuum.source),
                         tube.limit_vacuum.reference.empty() ? "" : " (" + tube.limit_vacuum.reference + ")"))
                .remedy(named ? rewritten(*step.statement, at, limit)
                              : fmt::format("cool before it:  cool to {}", limit));
    }
}

/// A line of flammable gas that may be open; none: there is no such.
Index Elaborator::flammable_line() const {
    for (Index i = 0; i < rig->lines.size(); ++i)
        if (may_be_open(i) && model.gases[rig->lines[i].gas].hazards.flammable) return i;
    return none;
}

/// Whether a protective atmosphere may be asked for at all in the span that begins here. Fuel that the tube
/// surely holds all along it also holds now.
bool Elaborator::may_be_protective() const {
    return flammable_line() != none ||
           std::any_of(active.begin(), active.end(), [&](Index r) { return asks_no_oxygen(r); }) ||
           plant->signal({SignalKind::flammability, none}, here, now).lo > 0;
}

bool Elaborator::asks_no_oxygen(Index requirement) const {
    return keeps_below(t->conditions[t->requirements[requirement].condition],
                       {SignalKind::fraction, species_named("oxygen")});
}

/// Is a protective atmosphere asked for in this state? `why` receives what asks for it.
bool Elaborator::protective(const plant::State& state, std::string& why) const {
    if (const Index line = flammable_line(); line != none) {
        why = fmt::format("`{}` carries a flammable gas", rig->lines[line].name);
        return true;
    }
    for (Index r : active) {
        if (!asks_no_oxygen(r)) continue;
        const timeline::Requirement& requirement = t->requirements[r];
        if (requirement.guard != none &&
            plant->evaluate(t->conditions[requirement.guard], state, now) == plant::Verdict::violated)
            continue;
        why = fmt::format("`{}` is asked ({})", timeline::print(t->conditions[requirement.condition], *t),
                          place(requirement.source));
        return true;
    }
    if (plant->signal({SignalKind::flammability, none}, state, now).lo <= check::cleared_fuel) return false;
    why = "the tube holds fuel";
    return true;
}

/// Whether a zone gets cooler.
bool Elaborator::cools(std::size_t zone, const Law& law) const {
    switch (law.kind) {
    case LawKind::off: return true;
    case LawKind::line: return law.rate < 0;
    case LawKind::jump: return law.to < law.from;
    case LawKind::hold: break;
    }
    // A step down has left it hotter than what is held.
    return here.zones[zone].control.hi > law.to + plant->above_setpoint(law.to) + 1;
}

/// Cooling gas contracts; what does not flow in by a line is drawn in through the outlet as air.
void Elaborator::watch_outlet(const timeline::Span& span, const Laws& laws, const Step& step) {
    const plant::Drive drive{laws.data(), &t->states[span.state], nullptr, plant::band_of(span.ending)};
    const plant::State whole = plant->during(here, drive, {0, span.duration.hi});
    std::string why;
    if (!(whole.drawn_in.hi > 0) || !protective(whole, why)) return;
    const plant::Plant::Way way(*plant, here, drive);
    double length = span.duration.hi / outlet_parts;
    double contraction = 0, flows = 0; // mol/s, where the most is asked for
    Interval first;                    // K, where air comes in first
    for (int i = 0; i < outlet_parts; ++i) {
        plant::State part = way.during({i * length, (i + 1) * length});
        std::string reason;
        if (!(part.drawn_in.hi > 0) || !protective(part, reason)) continue;
        if (contraction == 0) why = std::move(reason), first = part.zones[0].control;
        if (double taken = part.drawn_in.hi + part.inflow.lo; taken > contraction)
            contraction = taken, flows = part.inflow.lo;
    }
    if (contraction == 0) return;
    Diagnostic* d = error(
        Code::air_drawn_in, step.statement->span,
        fmt::format(
            "the cooling gas contracts by up to {} and {} flows in, so air is drawn in through the outlet",
            to_text(contraction, Kind::flow, 3),
            flows > 0 ? to_text(flows, Kind::flow, 3) : std::string("nothing")));
    if (d == nullptr) return;
    d->cause(why).cause(fmt::format("it may be at {} by then", to_text(first, Kind::temperature)));
    advise_flow(*d, contraction);
}

/// The line of inert gas that covers a contraction, mol/s.
void Elaborator::advise_flow(Diagnostic& d, double contraction) const {
    Index too_little = none;
    for (Index line = 0; line < rig->lines.size(); ++line) {
        const check::Line& l = rig->lines[line];
        if (!model.gases[l.gas].hazards.inert || l.meter.range.hi() < contraction || armed_for(line) != nullptr)
            continue;
        if (!l.meter.controlled && lines_in_run[line].by_hand > 0) {
            // Nobody is there to set it anew: it gives what it is set to.
            if (plant->true_flow(line, lines_in_run[line].by_hand).lo < contraction) {
                too_little = line;
                continue;
            }
            d.remedy(
                fmt::format("keep gas flowing before this step, as its hand meter is set:  open {}", l.name));
            return;
        }
        double flow = std::max({contraction * 1.2, l.meter.range.lo(), lines_in_run[line].last});
        const std::string enough = flow_text(line, std::min(flow, l.meter.range.hi()), 3);
        d.remedy(now.open[line]
                     ? fmt::format("let more flow before this step:  set {} to {}", l.name, enough)
                     : fmt::format("keep gas flowing before this step:  open {} at {}", l.name, enough));
        return;
    }
    if (too_little != none)
        d.remedy(fmt::format(
            "`{}` is set by hand to {}, which is too little: set it to more in the whole run, or fit "
            "a controlled meter",
            rig->lines[too_little].name, flow_text(too_little, lines_in_run[too_little].by_hand, 3)));
}

} // namespace athanor::elaborate
