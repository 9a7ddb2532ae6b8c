// Ramps: one straight line of the recipe, keyed as one ramp, several, or a staircase of ramps and holds.
#include "compiler/replay/compare.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace athanor::replay {

/// The recipe's set-point `t` seconds into the group, K.
double Walk::wanted(std::size_t z, double t) const {
    const timeline::Law& law = group().laws[z];
    if (law.kind != timeline::LawKind::line || law.rate == 0) return law.to;
    double length = (law.to - law.from) / law.rate;
    return t >= length ? law.to : law.from + law.rate * std::max(0.0, t);
}

/// Both paths are straight between their corners, so the corners decide.
void Walk::check_path(const Stretch& s, double began) {
    std::vector<double> corners{0, s.duration_s};
    for (double zone_end : s.zone_s) corners.push_back(zone_end);
    for (const timeline::Law& law : group().laws)
        if (law.kind == timeline::LawKind::line && law.rate != 0)
            corners.push_back((law.to - law.from) / law.rate - began);
    double worst = 0, have = 0, want = 0;
    std::size_t where = 0;
    for (double t : corners) {
        if (t < 0 || t > s.duration_s) continue;
        for (std::size_t z = 0; z < zones_; ++z) {
            double error = std::abs(keyed(s, z, t) - wanted(z, began + t));
            if (error <= worst) continue;
            worst = error;
            have = keyed(s, z, t);
            want = wanted(z, began + t);
            where = z;
        }
    }
    note_off(worst);
    if (worst > allowed() + 1e-6)
        say(s.row(), fmt::format("the set-point{} is {} where the recipe has {}; {:.2g} K are allowed",
                                 zone(where), temperature(have), temperature(want), allowed()));
}

bool Walk::reached(const std::vector<double>& setpoint_degC) const {
    for (std::size_t z = 0; z < zones_; ++z) {
        const timeline::Law& law = group().laws[z];
        double rest = law.to - (setpoint_degC[z] + zero_celsius);
        if (law.to < law.from) rest = -rest;
        if (law.to == law.from) rest = std::abs(rest);
        if (rest > near_) return false;
    }
    return true;
}

bool Walk::shortest(const Stretch& s) const {
    return s.duration_s <= program_.controller.dwell.lo.value() + second;
}

/// A line that waits in its band on the way, at a note, say: something waits there, too. `stop`: the next
/// of the group's stops.
void Walk::pass_stops(const Stretch& s, std::size_t& stop) {
    for (; stop < group().stops.size(); ++stop) {
        const std::vector<double>& at = group().stops[stop];
        // An end may lie beyond that of its line, never short of it.
        const double furthest = std::max(budget_, near_) + 1e-6;
        bool there = true, beyond = false;
        for (std::size_t z = 0; z < zones_; ++z) {
            double past = s.to_degC[z] + zero_celsius - at[z];
            if (group().laws[z].rate < 0) past = -past;
            there = there && past >= -near_ && past <= furthest;
            beyond = beyond || past > furthest;
        }
        if (!beyond && !(there && s.band_K > 0)) return;
        if (beyond)
            say(s.row(), fmt::format("no soak band at {}, the recipe has {:g} K there", temperature(at[0]),
                                     group().band));
    }
}

/// The band of a ramp on a controller that has bands on dwells only: the dwell that follows waits in one as
/// narrow, or a shortest dwell of its own does, in the ramp's own state.
void Walk::band_behind(const Stretch& last) {
    const Group& g = group();
    const Group* next = next_group();
    bool behind = !program_.controller.band_on_ramps && more() && stretch().kind == Stretch::Kind::hold &&
                  stretch().band_K > 0 && shows(stretch(), state(g));
    if (!behind) return say(last.row(), fmt::format("no soak band at its end, the recipe has {:g} K", g.band));
    const Stretch& s = stretch();
    bool own = shortest(s) && stands_for(s.band_K, g.band);
    bool shared = fits_next(s) && stands_for(s.band_K, next->band) && s.band_K <= g.band + 1e-9;
    if (own && shared) {
        // It is the ramp's own when the dwell comes behind it all the same.
        const Stretch* after = now_ + 1 < run_.stretches.size() ? &run_.stretches[now_ + 1] : nullptr;
        own = after && after->kind == Stretch::Kind::hold && fits_next(*after) &&
              stands_for(after->band_K, next->band);
    }
    if (!own && !shared) {
        say(s.row(), fmt::format("a soak band of {:g} K for {}, the ramp before it has {:g} K", s.band_K,
                                 seconds(s.duration_s), g.band));
    } else if (own) {
        check_level(s, allowed());
        advance();
    }
}

double Walk::end_time(std::size_t z, double have_degC, double want) const {
    double rate = std::abs(group().laws[z].rate);
    double off = std::min(std::abs(have_degC + zero_celsius - want), near_);
    return rate > 0 ? off / rate : 0;
}

bool Walk::line() {
    const Group& g = group();
    double have = 0, rounding = 0;
    double waits = 0; // s of shortest dwells that stand for the band of a stop
    const RowName where = more() ? stretch().row() : end_of_table;
    std::size_t first = now_, stop = 0;
    // A ramp shorter than half a set-point step cannot be keyed as one: the controller is there already.
    if (more() && stretch().kind == Stretch::Kind::hold && reached(stretch().to_degC)) return hold();
    while (more()) {
        const Stretch& s = stretch();
        // A line slower than any settable rate is keyed as a staircase: holds between short ramps. It begins
        // with a hold where the recipe does something before the first step of the set-point is due.
        bool stair = s.kind == Stretch::Kind::hold;
        if (s.kind != Stretch::Kind::line && !stair) break;
        if (now_ != first && reached(s.from_degC)) break;
        if (now_ == first)
            for (std::size_t z = 0; z < zones_; ++z)
                rounding = std::max(rounding, end_time(z, s.from_degC[z], g.laws[z].from));
        check_outputs(s);
        // Where only dwells have a band, one behind the line has it; the steps of a staircase need none.
        bool without = s.band_K == 0 && (stair || !program_.controller.band_on_ramps);
        if (!without) check_band(s);
        check_path(s, have);
        pass_stops(s, stop);
        const bool wait = stair && s.band_K > 0 && !program_.controller.band_on_ramps && shortest(s);
        (wait ? waits : have) += left();
        advance();
    }
    if (now_ == first) return lost();
    const Stretch& last = run_.stretches[now_ - 1];
    if (!reached(last.to_degC)) {
        say(last.row(), fmt::format("the ramp ends at {:g} °C, the recipe goes on to {}", last.to_degC[0],
                                    temperature(g.laws[0].to)));
        if (!more()) return lost();
    }
    check_level(last, allowed());
    // An end that is rounded to the display makes the line that much longer or shorter.
    for (std::size_t z = 0; z < zones_; ++z)
        rounding = std::max(rounding, end_time(z, last.to_degC[z], g.laws[z].to));
    check_time(where, have, g.duration.lo - rounding - waits, g.duration.hi + rounding);
    if (g.band > 0 && last.band_K == 0) band_behind(last);
    return true;
}

} // namespace athanor::replay
