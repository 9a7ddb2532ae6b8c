// The end of the whole run: what is hot then is left to itself.
#include "compiler/plant/given.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"
#include "compiler/timeline/held.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>
#include <vector>

namespace athanor::prove {
namespace {

using timeline::SignalKind;
using timeline::Term;

/// K by which a controller that was tuned overshoots, at most (common practice, no source).
constexpr double tuned = 10;
/// s: what comes behind the end is looked at in pieces that grow, until all is cold or for so long (common
/// practice, no source).
constexpr double first_piece = 600, growth = 1.5, longest = 2 * 86400;

/// Does it ask for an atmosphere?
bool about_gas(const timeline::Condition& asked) {
    return std::any_of(asked.terms.begin(), asked.terms.end(), [](const Term& term) {
        return term.kind == Term::Kind::compare &&
               (term.left.kind == SignalKind::fraction || term.left.kind == SignalKind::dew_point);
    });
}

double hottest_of(const Scene& s, const plant::State& state, const timeline::State& discrete) {
    return s.plant.signal({SignalKind::temperature, timeline::none}, state, discrete).hi;
}

/// A `require` on the gas that still counts at the end, and is no longer sure behind it: with the heater off,
/// as the outputs fall, or held as it stands. While the run goes on the same would be refused.
const timeline::Requirement* broken_behind(const Scene& s, const timeline::State& last, bool holds) {
    timeline::State state = last;
    timeline::Held behind_it; // over a range of parameters it may hold anything between
    if (holds) {
        behind_it = timeline::held(s.timeline);
    } else {
        Abort off = s.aborts(last); // outputs fall as they do without power
        state = std::move(off.discrete);
        behind_it.laws = std::move(off.laws);
    }
    const timeline::Law* most = behind_it.most.empty() ? nullptr : behind_it.most.data();
    const plant::Plant::Way way(s.plant, s.walk.end, {behind_it.laws.data(), &state, most});
    const auto holds_there = [&](timeline::Index condition, const plant::State& behind) {
        return s.plant.evaluate(s.timeline.conditions[condition], behind, state);
    };
    double piece = first_piece;
    for (double at = 0; at < longest; at += piece, piece *= growth) {
        const plant::State behind = way.during({at, at + piece});
        if (!(hottest_of(s, behind, state) > plant::left_alone)) break;
        for (const timeline::Requirement& r : s.timeline.requirements) {
            if (!r.to_end || !about_gas(s.timeline.conditions[r.condition])) continue;
            if (r.guard != timeline::none && holds_there(r.guard, behind) == plant::Verdict::violated) continue;
            if (holds_there(r.condition, behind) != plant::Verdict::proven) return &r;
        }
    }
    return nullptr;
}

/// A tube that is left evacuated: whoever comes next must let gas in before they open it. What surely falls
/// open fills it.
void ends_evacuated(Scene& s, const timeline::State& last) {
    const bool holds = s.controller != nullptr && s.controller->holds_at_end;
    const std::size_t at = s.spans() - 1;
    const Interval pressure = s.plant.signal({SignalKind::pressure, timeline::none}, s.walk.end, last);
    const double room = s.rig.ambient_pressure.lo() - plant::evacuated_below;
    const bool pumped = last.pump || std::any_of(s.timeline.states.begin(), s.timeline.states.end(),
                                                 [](const timeline::State& state) { return state.pump; });
    // A shut tube that let gas out while it was hot is evacuated when it is cold.
    if (s.discrete(at).tube_open || (!pumped && pressure.lo >= room)) return;
    bool filled = false;
    if (!holds) {
        const Abort& off = s.aborts(last);
        filled = std::any_of(off.discrete.between.begin(), off.discrete.between.end(),
                             [](const Interval& flow) { return flow.lo > 0; });
    }
    const bool fine = pressure.lo >= room || filled;
    s.row("ends_evacuated", "The run ends at the room's pressure", fine,
          fmt::format("at least {}, limit {}", to_text(pressure.lo, Kind::pressure),
                      to_text(room, Kind::pressure)),
          s.walk.end_s, s.source(at))
        .warned = !fine;
    if (fine) return;
    const std::string line = s.inert_line();
    Diagnostic& d =
        s.out.warning(Code::ends_evacuated, s.source(at),
                      pressure.hi < room ? fmt::format("the run ends with the tube evacuated, to {} at most",
                                                       to_text(pressure.hi, Kind::pressure))
                                         : fmt::format("the run ends while the tube may be evacuated, to {}",
                                                       to_text(pressure.lo, Kind::pressure)));
    d.cause("whoever opens it next lets the room's air rush in, which carries plugs, shields and load along");
    if (!line.empty())
        d.remedy(fmt::format("fill it first:  backfill {} to ambient", line));
    else
        d.remedy("let gas in before the end; this rig has no line of inert gas");
    if (!pumped && s.rig.exhaust.kind == check::ExhaustKind::shut)
        d.cause("gas that left the hot tube is missing in the cold one, and nothing comes in while it is shut");
}

} // namespace

void check_end(Scene& s) {
    const timeline::State& last = s.timeline.states[s.timeline.end_state];
    ends_evacuated(s, last);
    const std::size_t at = s.spans() - 1;
    const bool holds = s.controller != nullptr && s.controller->holds_at_end;
    // Who has the tube open at the end is there and was told (`opened_hot`).
    if (s.discrete(at).tube_open && !holds) return;
    // Held, it goes on to where it was sent last.
    const double ended = hottest_of(s, s.walk.end, last);
    const double hottest = holds ? std::max(ended, hottest_of(s, s.behind_end().state, last)) : ended;
    const bool cold = hottest <= plant::left_alone;
    const timeline::Requirement* broken =
        cold || s.controller == nullptr ? nullptr : broken_behind(s, last, holds);
    Row& row = s.row("ends_hot", "The last programme ends with a cold load", cold,
                     fmt::format("at most {}, limit {}", to_text(hottest, Kind::temperature),
                                 to_text(plant::left_alone, Kind::temperature)),
                     s.walk.end_s, s.source(at));
    row.warned = !cold && broken == nullptr;
    if (cold) return;
    const std::string comes =
        fmt::format("behind the end the load may come to {}", to_text(hottest, Kind::temperature));
    std::string may = comes;
    if (ended > plant::left_alone) {
        may = fmt::format("the programme ends while the load may be at {}", to_text(ended, Kind::temperature));
        if (hottest > ended + 1) may += "; " + comes;
    }
    if (broken != nullptr) {
        s.out
            .error(Code::ends_hot, s.source(at),
                   fmt::format("{}, and what is asked of its gas is not sure behind the end", may))
            .also(broken->source, "asked here, to the end")
            .cause(holds
                       ? fmt::format("{} then holds it all as it stands (`at_end hold`)", s.controller->name)
                       : fmt::format(
                             "{} switches the heater off when it ends; as the tube cools it draws in air where "
                             "no inert gas flows",
                             s.controller->name))
            .remedy("cool while inert gas flows:  cool to 60 degC")
            .remedy(holds ? "leave a line of inert gas open"
                          : "let a line of inert gas fall open:  de_energised open");
        return;
    }
    Diagnostic& d = s.out.warning(Code::ends_hot, s.source(at), may);
    if (s.controller == nullptr) {
        d.cause("what happens then is not judged");
    } else if (holds) {
        double setpoint = 0;
        for (std::size_t z = 0; z < s.timeline.zones.size(); ++z)
            setpoint = std::max(setpoint, laws_of(s.timeline, at, z).to().hi);
        d.cause(fmt::format(
            "{} then holds its set-point, {}, until a person comes (`at_end hold`); what a failure or a "
            "person does then is not judged",
            s.controller->name, to_text(setpoint, Kind::temperature)));
    } else {
        d.cause(fmt::format("{} then switches the heater off; how the load cools, and in what, is not judged",
                            s.controller->name));
    }
    if (s.quenches(at))
        d.remedy("let a person switch the furnace off when the load is out");
    else if (const std::string first = s.colder(s.spans(), plant::left_alone); !first.empty())
        d.remedy((first.starts_with("dwell") ? "let it cool first:  " : "cool first:  ") + first);
    else if (const Interval over = plant::given(s.rig.furnace.overshoot);
             over.hi > tuned && laws_of(s.timeline, at, 0).to().hi <= plant::left_alone)
        d.cause(fmt::format("however far it is set to cool, the furnace may overshoot by {}",
                            to_text(over.hi, Kind::difference)))
            .remedy(
                fmt::format("tune the controller, measure it, and declare it:  overshoot 0 K to {} K", tuned));
}

} // namespace athanor::prove
