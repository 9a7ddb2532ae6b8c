// The end of the whole run: what is hot then is left to itself.
#include "compiler/prove/checks.hpp"
#include "compiler/prove/fault.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace athanor::prove {
namespace {

using timeline::SignalKind;
using timeline::Term;

/// K, 100 degC: a load that is left alone hotter than this is told of (common practice, no source).
constexpr double left_alone = 373.15;
/// s behind the end in which gas contracts the fastest.
constexpr double contracts = 600;

bool about_oxygen(const Scene& s, const timeline::Condition& asked) {
    return std::any_of(asked.terms.begin(), asked.terms.end(), [&](const Term& term) {
        return term.kind == Term::Kind::compare && term.left.kind == SignalKind::fraction &&
               term.left.index < s.timeline.species.size() && s.timeline.species[term.left.index] == "oxygen" &&
               (term.comparison == timeline::Comparison::less ||
                term.comparison == timeline::Comparison::less_equal);
    });
}

/// A `require` on oxygen in a hot tube that still counts at the end, where the tube cools with the heater off
/// and what then flows does not make up for the contraction: elaboration refuses the same as `air_drawn_in`
/// while the run goes on.
const timeline::Requirement* broken_behind(const Scene& s, const timeline::State& last) {
    const Abort off = PowerFailure(s.rig, s.timeline)(last); // outputs fall as they do without power
    const plant::State cooling = s.plant.during(s.walk.end, {off.laws.data(), &off.discrete}, {0, contracts});
    if (!(cooling.drawn_in.hi > 0)) return nullptr;
    for (const timeline::Requirement& r : s.timeline.requirements)
        if (r.last_span == s.spans() && r.guard != timeline::none &&
            about_oxygen(s, s.timeline.conditions[r.condition]) &&
            s.plant.evaluate(s.timeline.conditions[r.guard], s.walk.end, last) != plant::Verdict::violated)
            return &r;
    return nullptr;
}

} // namespace

void check_end(Scene& s) {
    const timeline::State& last = s.timeline.states[s.timeline.end_state];
    const std::size_t at = s.spans() - 1;
    const bool holds = s.controller != nullptr && s.controller->holds_at_end;
    // Who has the tube open at the end is there and was told (`opened_hot`).
    if (s.discrete(at).tube_open && !holds) return;
    const double hottest = s.plant.signal({SignalKind::temperature, timeline::none}, s.walk.end, last).hi;
    const bool cold = hottest <= left_alone;
    const timeline::Requirement* broken =
        cold || holds || s.controller == nullptr ? nullptr : broken_behind(s, last);
    Row& row = s.row("ends_hot", "The last programme ends with a cold load", cold,
                     fmt::format("at most {}, limit {}", to_text(hottest, Kind::temperature),
                                 to_text(left_alone, Kind::temperature)),
                     s.walk.end_s, s.source(at));
    row.warned = !cold && broken == nullptr;
    if (cold) return;
    const std::string may =
        fmt::format("the programme ends while the load may be at {}", to_text(hottest, Kind::temperature));
    if (broken != nullptr) {
        s.out
            .error(Code::ends_hot, s.source(at),
                   fmt::format("{}, and as it cools the tube then draws in air", may))
            .also(broken->source, "asked here, to the end")
            .cause(fmt::format("{} switches the heater off when it ends, and no inert gas surely flows then",
                               s.controller->name))
            .remedy("cool while inert gas flows:  cool to 60 degC")
            .remedy("let a line of inert gas fall open:  de_energised open");
        return;
    }
    Diagnostic& d = s.out.warning(Code::ends_hot, s.source(at), may);
    if (s.controller == nullptr) {
        d.cause("what happens then is not judged");
    } else if (holds) {
        double setpoint = 0;
        for (std::size_t z = 0; z < s.timeline.zones.size(); ++z)
            setpoint = std::max(setpoint, s.timeline.laws_of(at)[z].to);
        d.cause(fmt::format(
            "{} then holds its set-point, {}, until a person comes (`at_end hold`); what happens then "
            "is not judged",
            s.controller->name, to_text(setpoint, Kind::temperature)));
    } else {
        d.cause(fmt::format("{} then switches the heater off; how the load cools, and in what, is not judged",
                            s.controller->name));
    }
    d.remedy("cool first:  cool to 60 degC");
}

} // namespace athanor::prove
