// Natural cooling: a step of the set-point and a wait, in a band where the controller sees when the temperature
// is there, else for the longest time that a rig needs.
#include "compiler/legalise/walker.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::legalise {

using program::SegmentKind;
using timeline::EndingKind;
using timeline::Law;
using timeline::LawKind;

/// Spans that cool one behind the other to one set-point.
struct Walker::Cooling {
    Index first, last;
    Values to;
    Laws laws{};                   // of the span that is at hand
    bool timed = false;            // a time inside natural cooling, not a temperature
    std::vector<double> longest{}; // s, of each span
    double seconds = 0;            // of all
    bool hazardous = false;        // while it cools, where the controller has no longest wait
    program::Why why{};

    /// The next span goes on where this one ends.
    void go_on() {
        for (Law& l : laws) l.from = l.to;
    }
};

bool Walker::goes_on_off(Index last, Index next) const {
    if (!goes_on(last, next) || input_.rearmed[next]) return false;
    if (span(last).ending.kind != EndingKind::passes || span(next).ending.kind != EndingKind::passes)
        return false;
    for (std::size_t z = 0; z < zones(); ++z)
        if (law(last, z).kind != LawKind::off || law(next, z).kind != LawKind::off ||
            law(next, z).to > law(last, z).to)
            return false;
    // Each ends where its own target is reached: the next one begins there.
    return span(last).ending.temperature >= span(next).ending.temperature;
}

timeline::Index Walker::off(Index first) {
    Cooling cooling{first, end_of_off(first), {}};
    if (any(first, LawKind::line))
        out_.error(Code::value_not_settable, span(first).source,
                   fmt::format(
                       "{} cannot cool one zone with its heater off while another follows a ramp: a segment "
                       "is either a step or a ramp",
                       c_.name))
            .remedy("cool every zone at a rate, or one after the other");
    cooling.to = targets(cooling.last, setpoint_budget);
    for (std::size_t z = 0; z < zones(); ++z) {
        const double from = setpoint_[z] + zero_celsius;
        const double end = keys_.setpoint.value(cooling.to[z]) + zero_celsius;
        cooling.laws.push_back(
            {law(first, z).kind == LawKind::off ? LawKind::off : LawKind::hold, from, end, 0});
    }
    cooling.timed = span(first).ending.kind == EndingKind::fixed;
    cooling.why = why("natural cooling", first, cooling.last);
    if (measure(cooling)) {
        const std::int64_t band = c_.soak_band ? band_below(setpoint_budget) : -1;
        if (sees_the_end(cooling, band))
            cool_within(cooling, band);
        else
            cool_for_time(cooling);
    }
    set_setpoints(cooling.to);
    return cooling.last + 1;
}

/// Where the target was rounded, the temperature that ends the step goes with it.
timeline::Ending Walker::ending_of(const Cooling& cooling, Index i) const {
    timeline::Ending ending = span(i).ending;
    if (ending.kind == EndingKind::passes)
        for (std::size_t z = 0; z < zones(); ++z)
            if (cooling.laws[z].kind == LawKind::off && ending.temperature == law(cooling.last, z).to)
                ending.temperature = cooling.laws[z].to;
    return ending;
}

/// How long each span takes at most. False: some rig never ends it; that is told, and the spans are passed
/// over.
bool Walker::measure(Cooling& cooling) {
    const Index first = cooling.first, last = cooling.last;
    const plant::State entry = here_.state();
    for (Index i = first; i <= last; ++i) {
        const timeline::Ending ending = ending_of(cooling, i);
        cooling.longest.push_back(ending.duration);
        double& longest = cooling.longest.back();
        if (!cooling.timed) {
            const plant::Passage p = passage(i, cooling.laws.data(), ending);
            if (!p.reachable || !std::isfinite(p.duration.hi)) {
                out_.error(
                    Code::condition_unreachable, span(i).source,
                    fmt::format("not every rig in the declared intervals ever cools to {} after rounding{}{}",
                                to_text(ending.temperature, Kind::temperature), p.why.empty() ? "" : ": ",
                                p.why));
                here_.state() = entry;
                set_setpoints(cooling.to);
                for (Index n = first; n <= last; ++n) {
                    if (n != first) enter(n);
                    add_span(n, holding().data(), fixed(0));
                }
                return false;
            }
            longest = p.duration.hi;
            if (std::isfinite(span(i).duration.hi)) longest = std::max(longest, span(i).duration.hi);
            const timeline::State& discrete = recipe_.states[span(i).state];
            if (!c_.longest_wait && !cooling.hazardous && input_.limits.hazardous)
                cooling.hazardous = input_.limits.hazardous(
                    input_.plant.during(here_.state(), {cooling.laws.data(), &discrete}, {0, longest}),
                    discrete);
            if (i != last) here_.state() = passage(i, cooling.laws.data(), fixed(longest)).exit;
        }
        cooling.seconds += longest;
    }
    here_.state() = entry;
    return true;
}

/// In a band the controller itself sees when the temperature is there. Without a longest wait it may never go
/// on where the sensor fails.
bool Walker::sees_the_end(const Cooling& cooling, std::int64_t band) const {
    const timeline::Ending ending = ending_of(cooling, cooling.last);
    if (band < 0 || ending.kind != EndingKind::passes) return false;
    const bool to_target = std::all_of(cooling.laws.begin(), cooling.laws.end(), [&](const Law& l) {
        return l.kind != LawKind::off || l.to == ending.temperature;
    });
    // Who begins inside the band does not wait at all.
    const bool outside = std::any_of(cooling.laws.begin(), cooling.laws.end(), [&](const Law& l) {
        return l.kind == LawKind::off && l.from > ending.temperature + c_.soak_band->value(band) + 1e-6;
    });
    return to_target && outside && (c_.longest_wait ? *c_.longest_wait >= cooling.seconds : !cooling.hazardous);
}

void Walker::cool_within(Cooling& cooling, std::int64_t band) {
    const double width = c_.soak_band->value(band);
    cooling.why.more = fmt::format(", waits inside a band of {} K", c_.soak_band->text(band));
    program::Segment& row = add_row(SegmentKind::step, cooling.first);
    row.why = std::move(cooling.why);
    row.targets = cooling.to;
    row.band = band;
    timeline::Ending ending = ending_of(cooling, cooling.last);
    ending.temperature += width;
    Interval duration;
    for (Index i = cooling.first; i <= cooling.last; ++i) {
        if (i != cooling.first) enter(i);
        // What comes before the last one cannot pass where the last one ends.
        timeline::Ending own = i == cooling.last ? ending : ending_of(cooling, i);
        own.temperature = std::max(own.temperature, ending.temperature);
        own.band = width;
        duration = duration + add_span(i, cooling.laws.data(), own);
        cooling.go_on();
    }
    program::Segment& keyed = walked_.rows.segments.back();
    keyed.duration_s = duration.middle();
    keyed.duration_lo_s = duration.lo;
    keyed.duration_hi_s = duration.hi;
}

/// As long as the slowest rig needs.
void Walker::cool_for_time(Cooling& cooling) {
    const Index first = cooling.first, last = cooling.last;
    double seconds = cooling.seconds;
    if (!cooling.timed) seconds = std::max(seconds, input_.at_least[first]);
    const DwellPlan plan = plan_dwell(keys_, seconds, cooling.timed ? Rounding::nearest : Rounding::up);
    if (plan.pieces.empty()) {
        out_.error(Code::value_not_settable, span(first).source,
                   fmt::format("{} cannot hold a dwell of {}", c_.name, to_text(seconds, Kind::time)));
        for (Index i = first; i <= last; ++i) {
            if (i != first) enter(i);
            add_span(i, cooling.laws.data(), fixed(cooling.longest[i - first]));
        }
        return;
    }
    if (cooling.timed) {
        const double error = std::abs(plan.duration - seconds);
        walked_.instant_error = std::max(walked_.instant_error, error);
        if (error > instant_budget(keys_) + 1e-9)
            out_.error(Code::rounding_too_coarse, span(first).source,
                       fmt::format("{} becomes {} on {}, whose dwells go in steps of {} s",
                                   to_text(seconds, Kind::time), to_text(plan.duration, Kind::time), c_.name,
                                   c_.dwell.step.text()));
    } else {
        walked_.waits[first] = plan.duration;
        cooling.why.more = ", by the longest time that a rig of these intervals needs";
    }
    program::Segment& row = add_row(SegmentKind::step, first);
    row.why = std::move(cooling.why);
    row.targets = cooling.to;
    row.dwell = plan.pieces[0];
    row.duration_s = row.duration_lo_s = row.duration_hi_s = keys_.dwell.value(plan.pieces[0]);
    double left = plan.duration;
    for (Index i = first; i <= last; ++i) {
        if (i != first) enter(i);
        // Rounding up falls into the last one.
        const double own = i == last ? left : std::min(left, cooling.longest[i - first]);
        add_span(i, cooling.laws.data(), fixed(own));
        cooling.go_on();
        left -= own;
    }
    DwellPlan rest;
    rest.pieces.assign(plan.pieces.begin() + 1, plan.pieces.end());
    if (rest.pieces.empty()) return;
    set_setpoints(cooling.to);
    program::Why reason;
    reason.what = "the rest of the natural cooling";
    key_dwell(rest, -1, first, 0, reason);
}

} // namespace athanor::legalise
