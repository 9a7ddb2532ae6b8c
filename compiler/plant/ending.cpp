// How long a span lasts and what state it leaves.
#include "compiler/plant/data.hpp"
#include "compiler/quantity/unit.hpp"

#include <algorithm>
#include <cmath>
#include <fmt/format.h>

namespace athanor::plant {

using timeline::Comparison;
using timeline::Condition;
using timeline::Ending;
using timeline::EndingKind;
using timeline::SignalKind;
using timeline::Term;

namespace {

constexpr double longest_search = 90 * 86400.0; // s: a condition that takes longer counts as unreachable
constexpr double search_accuracy = 2e-4;        // of the time found
constexpr double proof_share = 0.1;             // the condition is asked again this much later

bool of_the_zones(timeline::Signal signal) {
    return signal.kind == SignalKind::temperature || signal.kind == SignalKind::zone_temperature ||
           signal.kind == SignalKind::load_temperature;
}

std::string setpoints_of(const State& state) {
    Interval all = state.zones[0].setpoints;
    for (const ZoneState& zone : state.zones) all = hull(all, zone.setpoints);
    return to_text(all, Kind::temperature, 3);
}

/// The state with its zones uncertain towards one side only, so that `explain` speaks of that side.
State one_sided(State state, bool upper) {
    for (ZoneState& zone : state.zones) {
        Interval &load = zone.load, &control = zone.control;
        if (upper) {
            control.lo = std::max(control.lo, zone.setpoints.lo);
            load.lo = std::max(load.lo, control.lo);
        } else {
            control.hi = std::min(control.hi, zone.setpoints.hi);
            load.hi = std::min(load.hi, control.hi);
        }
    }
    return state;
}

std::string amount_of(timeline::Signal signal, Interval value) {
    switch (signal.kind) {
    case SignalKind::temperature:
    case SignalKind::zone_temperature:
    case SignalKind::load_temperature:
    case SignalKind::setpoint: return to_text(value, Kind::temperature, 3);
    case SignalKind::dew_point: return to_text(value, Kind::dew_point, 3);
    case SignalKind::pressure: return to_text(value, Kind::pressure, 3);
    case SignalKind::flow: return to_text(value, Kind::flow, 3);
    case SignalKind::fraction:
    case SignalKind::flammability: return to_text(value, Kind::fraction, 3);
    case SignalKind::elapsed: return to_text(value, Kind::time, 3);
    default: return fmt::format("{:.3g}", value.middle());
    }
}

} // namespace

Passage Plant::pass(const State& entry, Drive drive, const Ending& ending) const {
    drive.counts = ending.kind != EndingKind::person;
    Passage passage;
    if (drive.most != nullptr) {
        Sweep sweep;
        data_->resolve(*this, entry, drive, ending, passage, sweep);
        return passage;
    }
    const Memory& memory = data_->memory;
    if (const Remembered* known = data_->memory.find(entry, drive, ending)) {
        passage.remembered = known;
        passage.duration = known->duration;
        memory.read(*known->exit, passage.exit);
        passage.exit.swept = known->exit->sweep.after(entry.swept);
        add_time(entry, drive, passage.duration, passage.exit);
        return passage;
    }
    data_->resolve_new(*this, entry, drive, ending, passage);
    return passage;
}

/// And remembers it.
void Plant::Data::resolve_new(const Plant& plant, const State& entry, const Drive& drive, const Ending& ending,
                              Passage& passage) const {
    Sweep sweep;
    if (ending.kind != EndingKind::fixed) {
        resolve(plant, entry, drive, ending, passage, sweep);
        passage.remembered = memory.keep(entry, passage, sweep, nullptr, {});
        return;
    }
    // Who proves the span asks for the whole of it next, on the same course.
    const Course course(*this, entry, drive);
    State whole;
    Sweep sweep_of_whole;
    passage.duration = ending.duration;
    course.during(ending.duration, passage.exit, sweep);
    course.during({0, ending.duration}, whole, sweep_of_whole);
    passage.remembered = memory.keep(entry, passage, sweep, &whole, sweep_of_whole);
}

const Remembered* Plant::pass_on(const Remembered& before, const Drive& drive, const Ending& ending) const {
    return drive.most == nullptr ? data_->memory.behind(before, drive, ending) : nullptr;
}

namespace {

/// From the entry's counts to a state that is remembered, `time` later.
void go_on(const Memory& memory, const Bounds& to, const Drive& drive, Interval time, KeptState& here) {
    here.swept = to.sweep.after(here.swept);
    add_time(here, drive, time, here);
    memory.read(to, here);
}

} // namespace

void Plant::leave(const Remembered& passage, const Drive& drive, KeptState& here) const {
    go_on(data_->memory, *passage.exit, drive, passage.duration, here);
}

bool Plant::whole(const Remembered& passage, const Drive& drive, KeptState& here) const {
    if (passage.whole == nullptr) return false;
    go_on(data_->memory, *passage.whole, drive, {0, passage.duration.hi}, here);
    return true;
}

namespace {

/// Narrows what a condition that holds says of the gas. Only plain conjunctions are read.
void assume(State& state, const Condition& condition, const Substances& substances) {
    for (const Term& term : condition.terms) {
        if (term.kind == Term::Kind::or_ || term.kind == Term::Kind::not_) return;
    }
    for (const Term& term : condition.terms) {
        if (term.kind != Term::Kind::compare || term.right_is_signal) continue;
        const bool below = term.comparison == Comparison::less || term.comparison == Comparison::less_equal;
        // The limit itself is not reached: a wait is found to a part in ten thousand, on the side that holds.
        constexpr double inside = 1e-9;
        const double top = term.value.hi - inside * std::abs(term.value.hi);
        const double foot = term.value.lo + inside * std::abs(term.value.lo);
        const auto clip = [&](Interval& x) {
            if (below)
                x = {std::min(x.lo, top), std::min(x.hi, top)};
            else
                x = {std::max(x.lo, foot), std::max(x.hi, foot)};
        };
        switch (term.left.kind) {
        case SignalKind::fraction:
            if (term.left.index >= substances.count()) break;
            clip(state.fraction[term.left.index]);
            clip(state.pore[term.left.index]);
            break;
        case SignalKind::pressure: clip(state.pressure); break;
        case SignalKind::swept: clip(state.swept); break;
        case SignalKind::flammability: // no fuel alone is over the sum
            for (std::size_t i = 0; below && i < substances.count(); ++i)
                if (const double inverse = substances.flammable(i); inverse > 0) {
                    const double most = top / inverse;
                    for (Interval* x : {&state.fraction[i], &state.pore[i]})
                        *x = {std::min(x->lo, most), std::min(x->hi, most)};
                }
            break;
        default: break;
        }
    }
}

/// Laws of a range at the first set-points that the zones come up (down) to, from an entry widened until they
/// do.
struct Turned {
    State entry;
    std::array<timeline::Law, max_zones> laws{};

    Turned(const Zone& of, std::size_t zones, const State& at, const Drive& drive, bool up) : entry(at) {
        for (std::size_t z = 0; z < zones; ++z) {
            const timeline::Law &low = drive.laws[z], &high = drive.most[z];
            Interval& control = entry.zones[z].control;
            const double least = setpoint_at(low, 0), most = setpoint_at(high, 0), error = of.control_error();
            const double turns = up ? control.lo + error : control.hi - error;
            const double share = most > least ? std::clamp((turns - least) / (most - least), 0.0, 1.0) : 0;
            const auto between = [&](double a, double b) { return a + share * (b - a); };
            laws[z] = {low.kind, between(low.from, high.from), between(low.to, high.to),
                       between(low.rate, high.rate)};
            if (share <= 0 || share >= 1) continue;
            const double beyond = of.tolerance()(std::max(turns, control.hi)) + 1e-6;
            up ? control.lo -= beyond : control.hi += beyond;
        }
    }
};

} // namespace

Passage Plant::pass(const State& entry, Drive drive, const Ending& first, const Ending& last) const {
    drive.counts = first.kind != EndingKind::person;
    const Data& d = *data_;
    Passage passage;
    Sweep sweep; // of no interest: such passages are not remembered
    switch (first.kind) {
    case EndingKind::fixed: passage.duration = {first.duration, last.duration}; break;
    case EndingKind::person: passage.duration = {0, infinity}; break;
    case EndingKind::certain: {
        d.resolve(*this, entry, drive, first, passage, sweep);
        if (!passage.reachable) return passage;
        passage.duration = hull(passage.duration, Interval{first.duration, last.duration});
        break;
    }
    case EndingKind::band:
    case EndingKind::passes: {
        // One parameter may give the lower set-points and another the longer time: each with each. A swing is
        // longest at the first set-point that a zone comes up or down to, which may lie between.
        const Turned up(d.zone, d.zones, entry, drive, true), down(d.zone, d.zones, entry, drive, false);
        // Where the band is a parameter the clock waits as for the narrowest, and the run ends anywhere in the
        // widest.
        const double narrowest = std::min(first.band, last.band), widest = std::max(first.band, last.band);
        if (first.kind == EndingKind::band) drive.band = narrowest;
        ZoneStates zones;
        bool any = false;
        for (const auto& [from, laws] :
             {std::pair{&entry, drive.laws}, std::pair{&entry, drive.most},
              std::pair{&up.entry, up.laws.data()}, std::pair{&down.entry, down.laws.data()}})
            for (Ending end : {first, last}) {
                Passage one;
                end.band = narrowest;
                if (end.kind == EndingKind::band)
                    d.resolve_band(*from, {laws, drive.state}, end, widest, one, sweep);
                else
                    d.resolve(*this, *from, {laws, drive.state}, end, one, sweep);
                passage.duration = any ? hull(passage.duration, one.duration) : one.duration;
                passage.reachable = passage.reachable && one.reachable;
                if (passage.why.empty()) passage.why = one.why;
                if (any)
                    d.join(zones, one.exit.zones);
                else
                    zones = one.exit.zones;
                any = true;
            }
        passage.exit = during(entry, drive, passage.duration);
        passage.exit.zones = zones;
        return passage;
    }
    }
    passage.exit = during(entry, drive, passage.duration);
    if (first.kind == EndingKind::certain)
        assume(passage.exit, d.timeline.conditions[first.condition], d.substances);
    return passage;
}

void Plant::Data::resolve(const Plant& plant, const State& entry, Drive drive, const Ending& ending,
                          Passage& passage, Sweep& sweep) const {
    switch (ending.kind) {
    case EndingKind::fixed:
        passage.duration = ending.duration;
        return Course(*this, entry, drive).during(passage.duration, passage.exit, sweep);
    case EndingKind::band: return resolve_band(entry, drive, ending, ending.band, passage, sweep);
    case EndingKind::passes: return resolve_passes(entry, drive, ending, passage, sweep);
    case EndingKind::person:
        passage.duration = {0, infinity};
        return Course(*this, entry, drive).during(passage.duration, passage.exit, sweep);
    case EndingKind::certain: return resolve_certain(plant, entry, drive, ending, passage, sweep);
    }
}

/// A clock that counts inside the band only; at its end the zones are in the band, or in `widest`.
void Plant::Data::resolve_band(const State& entry, Drive drive, const Ending& ending, double widest,
                               Passage& passage, Sweep& sweep) const {
    const Data& d = *this;
    double first = 0, later = 0, all = 0, share = 1, delay = 0;
    std::string driven; // the zone that others keep out of the band
    d.slowest(entry.zones, drive.laws, ending.band, share, delay);
    drive.band = ending.band;
    for (std::size_t z = 0; z < d.zones; ++z) {
        const Zones::View view = d.furnace.view(z, entry.zones, drive.laws, for_ever);
        timeline::Law law = drive.laws[z];
        Zone::Outside outside;
        if (law.kind == timeline::LawKind::line) {
            // Clock and set-point end together: what is missing then may still have to come, but no swing
            // about the end counts.
            const bool outlives = std::abs(law.rate) * ending.duration > std::abs(law.to - law.from) + 1e-6;
            law.rate *= share;
            ZoneState at =
                d.zone.during(view.entry, law, ending.duration / std::max(share, 1e-9), view.furnace);
            at.comes_down = at.comes_up = false; // taken: an overshoot on the way does not stop the clock
            if (!outlives && law.rate >= 0) at.control.hi = std::min(at.control.hi, law.to);
            if (!outlives && law.rate < 0) at.control.lo = std::max(at.control.lo, law.to);
            const timeline::Law end{timeline::LawKind::hold, law.to, law.to, 0};
            outside = d.zone.settling_time(at, end, ending.band, view.furnace, outlives);
        } else {
            outside = d.zone.settling_time(view.entry, law, ending.band, view.furnace);
        }
        const double kept = view.furnace.coupled() ? view.furnace.driven() : 0;
        if (driven.empty() && !std::isfinite(outside.all) && kept > setpoint_at(law, infinity) + ending.band)
            driven = fmt::format("zone {} is not certain to come within {} of its set-point of {}: the zones "
                                 "beside it may drive it to {} (`zone_opening` of the furnace)",
                                 d.timeline.zones[z], to_text(ending.band, Kind::difference, 3),
                                 to_text(setpoint_at(law, infinity), Kind::temperature, 3),
                                 to_text(kept, Kind::temperature, 3));
        first = std::max(first, outside.first);
        later += outside.later;
        all += outside.all;
    }
    // The clock stands while any zone is outside: pieces that begin with the entry lie over each other,
    // later ones may come one after the other.
    double extra = std::min(all, first + later);
    extra += delay + ending.duration * (1 / share - 1);
    if (!std::isfinite(extra)) {
        passage.reachable = false;
        passage.why =
            !driven.empty()
                ? driven
                : fmt::format("the measured temperature is not certain to come within {} of the set-point",
                              to_text(ending.band, Kind::difference, 3));
        extra = 0;
    }
    passage.duration = {ending.duration, ending.duration + extra};
    Course(d, entry, drive).during(passage.duration, passage.exit, sweep);
    for (std::size_t z = 0; z < d.zones; ++z) {
        passage.exit.zones[z].setpoints = passage.exit.zones[z].setpoint;
        d.zone.narrow(passage.exit.zones[z], widest);
    }
}

/// A temperature that all zones which are waited for have passed.
void Plant::Data::resolve_passes(const State& entry, Drive drive, const Ending& ending, Passage& passage,
                                 Sweep& sweep) const {
    const Data& d = *this;
    // A zone that is held beside cooling ones is not waited for.
    bool cooling = false;
    for (std::size_t z = 0; z < d.zones; ++z) cooling = cooling || drive.laws[z].kind == timeline::LawKind::off;
    const auto counts = [&](std::size_t z) { return !cooling || drive.laws[z].kind == timeline::LawKind::off; };
    Interval time = 0;
    std::size_t last = 0; // the zone that may take longest
    bool any = false;
    std::size_t waited = 0;
    for (std::size_t z = 0; z < d.zones; ++z) {
        if (!counts(z)) continue;
        const Zones::View view = d.furnace.view(z, entry.zones, drive.laws, for_ever);
        const Interval one = d.zone.passing(view.entry, drive.laws[z], ending.temperature, view.furnace);
        if (!any || one.hi > time.hi) last = z;
        time = any ? max(time, one) : one;
        any = true;
        ++waited;
    }
    if (!std::isfinite(time.hi)) {
        passage.reachable = false;
        const Zones::View view = d.furnace.view(last, entry.zones, drive.laws, for_ever);
        const double start = view.entry.control.hi;
        const double kept = view.furnace.coupled() ? view.furnace.driven() : 0;
        passage.why =
            start >= ending.temperature && kept > d.zone.furnace().ambient().hi + 2 &&
                    kept >= ending.temperature - d.zone.tolerance()(ending.temperature)
                ? fmt::format("zone {} is not certain to pass {}: the zones beside it may keep it at {}",
                              d.timeline.zones[last], to_text(ending.temperature, Kind::temperature, 3),
                              to_text(kept, Kind::temperature, 3))
            : start >= ending.temperature
                ? fmt::format("natural cooling from {} is not certain to pass {}: the room may have {}",
                              to_text(start, Kind::temperature, 3),
                              to_text(ending.temperature, Kind::temperature, 3),
                              to_text(d.zone.furnace().ambient().hi, Kind::temperature, 3))
                : fmt::format("the furnace is not certain to pass {} on low mains",
                              to_text(ending.temperature, Kind::temperature, 3));
        passage.duration = {time.lo, infinity};
        Course(d, entry, drive).during(passage.duration, passage.exit, sweep);
        return;
    }
    passage.duration = time;
    State& exit = passage.exit;
    exit = entry;
    d.furnace.during(entry.zones, drive.laws, time, exit.zones);
    for (std::size_t z = 0; z < d.zones; ++z) {
        if (!counts(z)) continue;
        const Zones::View view = d.furnace.view(z, entry.zones, drive.laws, time.hi);
        exit.zones[z] =
            d.zone.at_passing(view.entry, drive.laws[z], ending.temperature, time, waited == 1, view.furnace);
    }
    d.displace(entry.zones, exit.zones, *drive.state);
    sweep = Course(d, entry, drive).contents(time, exit);
    add_time(entry, drive, time, exit);
}

/// Which terms of a condition are not certain in `late`, and why.
std::string Plant::Data::unreached(const Plant& plant, const Condition& condition, const State& late,
                                   Drive drive) const {
    std::string why;
    for (const Term& term : condition.terms) {
        if (term.kind != Term::Kind::compare && term.kind != Term::Kind::truth) continue;
        Condition alone;
        alone.terms.push_back(term);
        if (plant.evaluate(alone, late, *drive.state) == Verdict::proven) continue;
        const Interval reached = plant.signal(term.left, late, *drive.state);
        const bool upper = term.comparison == Comparison::less || term.comparison == Comparison::less_equal;
        const std::string name = timeline::print(term.left, timeline);
        std::string text;
        const bool never = plant.evaluate(alone, late, *drive.state) == Verdict::violated;
        // Only what is so for every rig inside the intervals is told as a fact.
        if (term.kind == Term::Kind::truth)
            text = fmt::format("{} never becomes certain", name);
        else if (never)
            text = fmt::format("{} remains {}", name, amount_of(term.left, reached));
        else
            text = fmt::format("{} may be as {} as {}", name, upper ? "high" : "low",
                               amount_of(term.left, upper ? reached.hi : reached.lo));
        const std::string cause = never && of_the_zones(term.left)
                                      ? "the set-point is " + setpoints_of(late)
                                      : plant.explain(term.left, one_sided(late, upper), *drive.state);
        if (!cause.empty()) text += ": " + cause;
        if (!why.empty()) why += "; ";
        why += text;
    }
    return why;
}

/// A condition: the time is searched after which it is proven.
void Plant::Data::resolve_certain(const Plant& plant, const State& entry, Drive drive, const Ending& ending,
                                  Passage& passage, Sweep& sweep) const {
    const Data& d = *this;
    const Condition& condition = d.timeline.conditions[ending.condition];
    const Course course(d, entry, drive);
    State there;
    const auto holds = [&](double t) {
        course.during(t, there, sweep);
        return plant.evaluate(condition, there, *drive.state) == Verdict::proven;
    };
    // The tail is asked too: a bound that only passes through the condition does not count.
    const auto certain = [&](double t) { return holds(t) && holds(t * (1 + proof_share)); };
    double bad = 0, good = 0;
    if (!certain(0) || !holds(1.0)) {
        good = 1;
        while (!certain(good)) {
            bad = good;
            good *= 1.7;
            if (good > longest_search) break;
        }
        if (good > longest_search) {
            passage.reachable = false;
            course.during(longest_search, there, sweep);
            passage.why = unreached(plant, condition, there, drive);
            passage.duration = {0, infinity};
            passage.exit = there; // not reached, so not remembered
            return;
        }
        while (good - bad > search_accuracy * good && good - bad > 1e-3) {
            const double middle = 0.5 * (good + bad);
            (certain(middle) ? good : bad) = middle;
        }
    }
    passage.duration = good;
    course.during(good, passage.exit, sweep);
    if (ending.at_most > 0 && good > ending.at_most) {
        passage.reachable = false;
        passage.why = fmt::format("it takes {} to be certain of {}, and at most {} are given",
                                  to_text(good, Kind::time, 4), timeline::print(condition, d.timeline),
                                  to_text(ending.at_most, Kind::time, 4));
    }
}

} // namespace athanor::plant
