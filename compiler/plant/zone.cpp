#include "compiler/plant/zone.hpp"

#include "compiler/plant/given.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace athanor::plant {

using timeline::Law;
using timeline::LawKind;

namespace {

/// A time is looked at in pieces that halve towards its end: piece i ends at passed[i] of it.
constexpr std::size_t last_piece = 7;
constexpr double passed[last_piece + 1] = {0, 1.0 / 2, 3.0 / 4, 7.0 / 8, 15.0 / 16, 31.0 / 32, 63.0 / 64, 1};

/// How many of the pieces lie so far back that a lag has forgotten them: their weight at the end is below
/// 1e-12, and the bound of all times stands for them.
std::size_t forgotten(double time, double lag) {
    constexpr double lags = 28;
    std::size_t pieces = 0;
    while (pieces < last_piece - 1 && time * (1 - passed[pieces + 1]) > lags * lag) ++pieces;
    return pieces;
}

/// Tracking times behind which what is left of 10,000 K is lost in the rounding of a kelvin.
constexpr double lost = 50;

} // namespace

Zone::Zone(const check::Model& model, const check::Rig& rig)
    : furnace_(rig.furnace, rig.ambient_temperature.value), tolerance_(model, rig.sensor) {
    const check::Furnace& f = rig.furnace;
    tracking_ = std::max(0.0, given(f.tracking).hi);
    error_ = std::max(0.0, given(f.control_error).hi);
    least_error_ = std::max(0.0, given(f.control_error).lo);
    overshoot_ = std::max(0.0, given(f.overshoot).hi);
    lag_ = given(rig.load_lag);
    offset_ = given(rig.load_offset);
    left_of_tracking_ = left_after(lag_.hi, tracking_);
    if (f.range.given) top_ = f.range.hi();
    offset_share_ = 1 + std::max(std::abs(offset_.lo), std::abs(offset_.hi)) / 100;
    below_ = -std::min(0.0, offset_.lo);
    usual_chord_ = chord(FurnaceZone(furnace_), top_);
}

ZoneState Zone::start() const {
    ZoneState z;
    z.setpoint = furnace_.ambient().middle();
    z.control = z.load = furnace_.ambient();
    z.setpoints = shown(furnace_.ambient());
    z.untouched = true;
    return z;
}

Interval Zone::shown(Interval t) const {
    return {t.lo - tolerance_(t.lo), t.hi + tolerance_(t.hi)};
}

/// The set-point of the start is what is measured, so anything that the room may have.
bool Zone::from_room(const ZoneState& entry, const Law& law) const {
    const Interval room = furnace_.ambient();
    const double from = law.kind == LawKind::line ? law.from : setpoint_at(law, 0);
    return (law.kind == LawKind::hold || (law.kind == LawKind::line && law.rate >= 0 && law.to > room.hi)) &&
           entry.untouched && entry.setpoint == from && room.contains(from) &&
           Interval{room.lo, room.hi + error_ + 1e-9}.contains(entry.control);
}

// --- control sensor --------------------------------------------------------------------------------

/// K that are still missing towards a line moving away at `rate`, t s after `missing` were:
/// D' = rate - min(full, D / tracking).
double Zone::still_missing(double missing, double rate, double full, double t) const {
    const double edge = tracking_ * full;
    double d = missing;
    if (d > edge) {
        if (full <= rate) return std::isfinite(t) || rate > full ? d + (rate - full) * t : d;
        const double linear = (d - edge) / (full - rate);
        if (t <= linear) return d - (full - rate) * t;
        t -= linear;
        d = edge;
    } else if (full < rate) {
        return d + rate * t;
    }
    const double end = tracking_ * rate;
    return tracking_ > 0 ? end + (d - end) * std::exp(-t / tracking_) : end;
}

Zone::Approach Zone::approach_below(double from, double line, const FurnaceZone& f) const {
    Approach way{from, line, line - from};
    const double pace = tracking_ * std::max(0.0, f.heating_rate(from).lo);
    if (const double rest = std::max(pace, near_band); rest < way.rest) {
        way.far = true;
        way.rest = rest;
        way.powered = f.heating_time(from, line - rest).hi;
    }
    return way;
}

Zone::Approach Zone::approach_above(double from, double line, const FurnaceZone& f) const {
    Approach way{from, line, from - line};
    const double pace = tracking_ * f.cooling_rate(from).lo;
    if (const double rest = std::max(pace, near_band); rest < way.rest) {
        way.far = true;
        way.rest = rest;
        way.powered = f.longest_cooling(from, line + rest);
    }
    return way;
}

/// K below a line that rises at `rate`. `full`: K/s that every furnace has as far as is asked.
double Zone::below_line(const Approach& way, double rate, double full, double t, const FurnaceZone& f) const {
    if (way.far && t <= way.powered) return way.line + rate * t - f.least_heated(way.from, t);
    return still_missing(way.rest + rate * way.powered, rate, full, t - way.powered);
}

/// K above a line that falls.
double Zone::above_line(const Approach& way, double rate, double full, double t, const FurnaceZone& f) const {
    if (way.far && t <= way.powered) return f.warmest(way.from, t) - way.line + rate * t;
    return still_missing(way.rest + rate * way.powered, rate, full, t - way.powered);
}

/// Some zone comes down to a held set-point, below which it may undershoot.
bool Zone::undershoots(const ZoneState& entry, double s) const {
    if (overshoot_ <= 0) return false;
    if (entry.comes_down) return true;
    const double tol = tolerance_(entry.control.hi);
    return entry.control.hi > s + error_ + tol || (entry.setpoint != s && entry.control.hi + tol > s + error_);
}

/// s from which on every zone has come down and no undershoot stands any more.
inline double Zone::settled_at(const Course& c) const {
    // It may arrive late: the undershoot begins when the slowest has come down.
    if (!c.settled)
        c.settled = c.f.longest_cooling(std::max(c.entry.control.hi, c.low), c.low) + settling * tracking_;
    return *c.settled;
}

bool Zone::settles_after(const Course& c, double time) const {
    return c.undershoots && (time < settling * tracking_ || settled_at(c) > time);
}

/// The same for coming up; s until the slowest has arrived.
double Zone::arrived_above(const ZoneState& entry, double s, Interval band, const FurnaceZone& f) const {
    const bool comes_up = entry.comes_up || entry.control.lo < band.lo ||
                          (entry.setpoint != s && entry.control.lo - tolerance_(s) < s - error_);
    if (!comes_up) return -1;
    const double missing = band.hi - entry.control.lo;
    if (missing <= 0) return 0;
    if (missing > near_band) return f.heating_time(entry.control.lo, band.hi).hi;
    const double rate = f.heating_rate(band.hi).lo;
    return rate > 0 ? missing / rate : infinity;
}

Zone::Course::Course(const Zone& zone, const ZoneState& entry_, const Law& law_, const FurnaceZone& f_)
    : entry(entry_), law(law_), f(f_), setpoint(setpoint_at(law_, 0)),
      floor(std::min(f.ambient().lo, entry.control.lo)), ceiling(std::min(f.ambient().hi, entry.control.hi)),
      holdable(f.holdable()) {
    const double error = zone.error_, tracking = zone.tracking_, overshoot = zone.overshoot_;
    const SensorTolerance& tolerance = zone.tolerance_;
    switch (law.kind) {
    case LawKind::hold:
    case LawKind::jump:
        steady = true;
        low = zone.band(setpoint).lo;
        high = zone.band(setpoint).hi;
        undershoots = zone.undershoots(entry, setpoint);
        arrived = zone.arrived_above(entry, setpoint, {low, high}, f);
        if (entry.control.lo < low || undershoots) heats = std::max(0.0, f.heating_rate(low).lo);
        if (entry.control.hi > high || arrived >= 0) cools = f.cooling_rate(high).lo;
        missed = 0;
        if (entry.control.lo < low) {
            below = zone.approach_below(entry.control.lo, low, f);
            const double edge = tracking * heats;
            missed = tracking > 0 ? below.powered + std::max(0.0, below.rest - edge) / heats + lost * tracking
                                  : infinity;
        }
        // Until the last furnace has arrived and settled the greatest of all stands.
        peak = std::max(entry.control.hi, arrived >= 0 ? high + overshoot : high);
        if (entry.control.hi > high + overshoot) above = zone.approach_above(entry.control.hi, high, f);
        eases = peak - high <= near_band && entry.control.hi <= high + overshoot &&
                !(arrived >= 0 && entry.control.hi < low - near_band);
        break;
    case LawKind::line: {
        const double end = std::max(law.from, law.to), lag = std::abs(law.rate) * tracking;
        falls = law.rate < 0;
        slack_below = error + tolerance(end);
        slack_above = error + tolerance(end + error);
        // Rates fall with temperature in heating and grow with it in cooling: a furnace that has the rate at
        // the line's end has it all the way.
        const double there = falls ? f.cooling_rate(law.to).lo : f.heating_rate(law.to).lo;
        const bool all_the_way = there >= std::abs(law.rate) && !f.coupled();
        plain = zone.plain_ramp(*this, there);
        // What stands within an overshoot of the line is the swing of the step before.
        comes_down = entry.comes_down || entry.control.hi > law.from + slack_above + overshoot;
        comes_up = entry.comes_up || entry.control.lo < law.from - slack_below - overshoot;
        if (falls) {
            follows = all_the_way ? 0 : f.cools_down_to(-law.rate);
            const double line = law.from + slack_above;
            head = std::max({entry.control.hi, line + (comes_up ? overshoot : 0), f.ambient().hi,
                             f.coupled() ? f.driven() : 0.0});
            // It may have yet to arrive where the line starts, and overshoot.
            peak = comes_up ? std::max(entry.control.hi, line + overshoot) : entry.control.hi;
            if (peak - law.from - slack_above > lag) above = zone.approach_above(peak, line, f);
        } else {
            follows = all_the_way ? infinity : f.heats_up_to(law.rate);
            const double line = law.from - slack_below;
            foot = std::max(floor, std::min({entry.control.lo, line - (comes_down ? overshoot : 0), holdable}));
            if (line - entry.control.lo > lag) below = zone.approach_below(entry.control.lo, line, f);
        }
        break;
    }
    case LawKind::off: falls = true; break;
    }
    rises = law.kind == LawKind::line && !falls;
    highest_first = !f.coupled() && (falls || eases);
    if (law.kind != LawKind::off) unread = zone.unread_at(entry, setpoint, f);
}

inline double Zone::held_lower(const Course& c, double t) const {
    double bound = c.low;
    if (t < c.missed) bound -= below_line(c.below, 0, c.heats, t, c.f);
    if (c.undershoots) {
        const double since = t > settling * tracking_ ? t - settled_at(c) : 0, under = c.low - overshoot_;
        bound = std::min(bound, since > 0 ? std::min(c.low, under + c.heats * since) : under);
    }
    return std::min(bound, c.holdable);
}

inline double Zone::held_upper(const Course& c, Interval t) const {
    const double since = t.lo - std::max(0.0, c.arrived) - settling * tracking_;
    const double bound = since > 0 ? std::max(c.high, c.peak - c.cools * since) : c.peak;
    return c.eases ? bound : held_from_afar(c, t, bound);
}

/// Of a zone that is far off its band, `since` s after the overshoot began to go.
double Zone::held_from_afar(const Course& c, Interval t, double bound) const {
    const double high = c.high, since = t.lo - std::max(0.0, c.arrived) - settling * tracking_;
    if (since > 0 && c.peak - high > near_band)
        bound = std::max(high, std::min(bound, c.f.warmest(c.peak, since)));
    // An excess left from before starts to go at once.
    if (c.entry.control.hi > high + overshoot_)
        bound = std::max(std::min(bound, high + overshoot_), high + above_line(c.above, 0, c.cools, t.lo, c.f));
    else if (c.arrived >= 0 && c.entry.control.hi < c.low - near_band)
        bound = std::min(bound, c.f.most_heated(c.entry.control.hi, t.hi));
    return std::max(bound, high);
}

inline double Zone::lower(const Course& c, Interval over) const {
    // Under a falling law the lower bound falls, so the end of the stretch decides; else its beginning.
    const double t = c.falls ? over.hi : over.lo;
    return std::max(t == 0 ? lower_at_entry(c) : regulated_lower(c, t), c.floor);
}

inline double Zone::lower_at_entry(const Course& c) const {
    if (!c.lower_at_entry) c.lower_at_entry = regulated_lower(c, 0);
    return *c.lower_at_entry;
}

/// Without the room's temperature as a floor: a curve whose shape the lag of the load relies on.
inline double Zone::regulated_lower(const Course& c, double t) const {
    return c.steady ? held_lower(c, t) : moving_lower(c, t);
}

double Zone::moving_lower(const Course& c, double t) const {
    const ZoneState& entry = c.entry;
    const Law& law = c.law;
    const FurnaceZone& f = c.f;
    if (law.kind == LawKind::off) {
        const double least = std::min(law.to - error_ - tolerance_(law.to) - overshoot_, c.holdable);
        if (!c.fastest) c.fastest.emplace(furnace_, entry.control.lo);
        return std::max(std::min(least, entry.control.lo), f.coolest(*c.fastest, t));
    }
    const double s = setpoint_at(law, t), slack = c.slack_below;
    if (c.falls) return std::min({s - slack - overshoot_, entry.control.lo, c.holdable});
    const double lag = law.rate * tracking_;
    const double missing = law.from - slack - entry.control.lo;
    // The line is followed as far as every furnace can; from there on at full power.
    const double last = std::clamp(c.follows, law.from, std::max(s, law.from));
    const double full = missing > lag ? std::max(0.0, f.heating_rate(last).lo) : 0;
    // From rest the lag builds up; one that a ramp before this one left goes on.
    const auto behind = [&](double at, double line) {
        double k = missing > 0 ? lag : std::min(lag, line - law.from);
        if (missing > lag) k = std::max(k, below_line(c.below, law.rate, full, at, f));
        return c.comes_down ? std::max(k, overshoot_) : k;
    };
    if (s <= last) return std::min(s - behind(t, s) - slack, c.holdable);
    const double until = law.rate > 0 ? (last - law.from) / law.rate : 0;
    const double heated =
        f.least_heated(last - std::max(lag, behind(until, last)) - slack, std::max(0.0, t - until));
    return std::min({s - lag - slack, heated, c.holdable});
}

inline double Zone::upper_at_entry(const Course& c) const {
    if (!c.upper_at_entry) c.upper_at_entry = upper(c, 0);
    return *c.upper_at_entry;
}

/// From entry to `until`.
inline double Zone::upper_until(const Course& c, double until) const {
    if (c.highest_first) return upper_at_entry(c);
    if (!c.greatest || c.greatest_until != until) {
        c.greatest = upper(c, {0, until});
        c.greatest_until = until;
    }
    return *c.greatest;
}

inline double Zone::upper(const Course& c, Interval over) const {
    double bound = c.steady ? held_upper(c, over) : moving_upper(c, over);
    // Neighbours may drive a zone above its law, however little power it gets.
    if (c.f.coupled() && c.f.driven() > bound) bound = c.f.warmest(bound, over.hi);
    return std::max(bound, c.ceiling);
}

double Zone::moving_upper(const Course& c, Interval over) const {
    const ZoneState& entry = c.entry;
    const Law& law = c.law;
    const FurnaceZone& f = c.f;
    if (law.kind == LawKind::off) {
        if (!c.slowest) c.slowest.emplace(furnace_, entry.control.hi);
        return std::max(law.to + error_ + tolerance_(law.to), f.warmest(*c.slowest, over.lo));
    }
    const double slack = c.slack_above;
    // Under a rising line the upper bound rises, so the end of the stretch decides; else its beginning.
    if (!c.falls) return std::max(setpoint_at(law, over.hi) + slack + overshoot_, entry.control.hi);
    const double t = over.lo, s = setpoint_at(law, t), lag = -law.rate * tracking_;
    const double excess = c.peak - law.from - slack;
    const double last = std::clamp(c.follows, std::min(s, law.from), law.from);
    const auto behind = [&](double at, double line) {
        double k = excess > 0 ? lag : std::min(lag, law.from - line);
        if (excess > lag) {
            const double stands =
                c.comes_up
                    ? settling * tracking_ + std::max(0.0, arrived_above(entry, law.from, band(law.from), f))
                    : 0;
            const double full = f.cooling_rate(last).lo;
            k = std::max(k, at <= stands ? excess : above_line(c.above, -law.rate, full, at - stands, f));
        }
        return k;
    };
    if (s >= last) return s + behind(t, s) + slack;
    const double until = (law.from - last) / -law.rate;
    return std::max(s + lag + slack,
                    f.warmest(last + std::max(lag, behind(until, last)) + slack, std::max(0.0, t - until)));
}

// --- load ------------------------------------------------------------------------------------------

/// A line that every furnace follows: its bounds are straight lines. `there`: K/s of every furnace at its end.
bool Zone::plain_ramp(const Course& c, double there) const {
    const ZoneState& entry = c.entry;
    const Law& law = c.law;
    const double lag = std::abs(law.rate) * tracking_;
    if (std::abs(law.rate) > there) return false;
    if (law.rate >= 0) return entry.control.lo >= law.from - c.slack_above - lag && law.to <= c.holdable;
    return entry.control.hi <= law.from + c.slack_above + lag;
}

/// A time in pieces, and what a lag leaves of a difference behind each; both bounds of a load ask for them.
struct Zone::Pieces {
    bool known = false;
    std::size_t first;                            // those up to it are forgotten
    std::array<double, last_piece + 1> end, left; // s; from `first` (`first` + 1) on

    void need(double time, double lag) {
        if (known) return;
        known = true;
        first = forgotten(time, lag);
        end[first] = time * passed[first];
        for (std::size_t i = first + 1; i <= last_piece; ++i) {
            end[i] = time * passed[i];
            left[i] = lag > 0 ? std::exp(-length(i) / lag) : 0;
        }
    }
    double length(std::size_t i) const { return end[i] - end[i - 1]; }
};

inline double Zone::load_lower(const Course& c, Interval t, double control, Pieces& pieces) const {
    const ZoneState& entry = c.entry;
    const double room = std::min(c.f.ambient().lo, entry.load.lo);
    const auto towards = [&](double least) {
        return std::max(room,
                        entry.load.lo >= least ? least : lag_after(entry.load.lo, least, 0, lag_.hi, t.lo));
    };
    if (c.f.coupled()) // towards the least value of the whole way: no shape is relied on
        return towards(std::min(entry.control.lo, lower(c, {0, t.hi})) + offset_.lo);
    const double first = entry.control.lo + offset_.lo, end = control + offset_.lo; // least over the stretch
    // The curve falls, or rises first and then falls: its least value so far stands at an end. An undershoot
    // that stands and goes again leaves the load behind it.
    if (c.falls || (c.steady && end < first && !c.undershoots)) return towards(std::min(first, end));
    const double at_zero = lower_at_entry(c) + offset_.lo, l = std::min(entry.load.lo, at_zero);
    if (c.plain) return std::max(room, along_rising(c, l, at_zero, t.lo));
    if (!c.steady) return std::max(room, behind_rising(c, l, t.lo, pieces));
    if (!c.undershoots && entry.control.lo >= c.low)
        return std::max(room, lag_after(l, at_zero, 0, lag_.hi, t.lo));
    return std::max(room, t.lo > 0 ? behind_held_lower(c, l, t.lo, pieces) : l);
}

/// Under a held set-point the bound may stand before it rises: steps, each as it began. Short pieces at the
/// end, where the lag remembers.
double Zone::behind_held_lower(const Course& c, double l, double t, Pieces& pieces) const {
    pieces.need(t, lag_.hi);
    for (std::size_t i = pieces.first; i < last_piece; ++i) {
        const double x = (i == 0 ? lower_at_entry(c) : held_lower(c, pieces.end[i])) + offset_.lo;
        l = x + (l - x) * pieces.left[i + 1];
    }
    return l;
}

double Zone::along_rising(const Course& c, double l, double at_zero, double t) const {
    // At rest itself rounding decides; both ways of asking must agree that there is a lag.
    const Law& law = c.law;
    const double at = c.entry.control.lo, rest = law.from - error_ - tolerance_(std::max(law.from, law.to));
    return along_line(c, l, at_zero, at < rest && law.from - c.slack_below - at > 0, t);
}

/// A line with its full lag from the start, then full power: concave, so that chords lie below it.
double Zone::behind_rising(const Course& c, double l, double t, Pieces& pieces) const {
    const double drop = std::abs(c.law.rate) * tracking_ + c.slack_below;
    const auto curve = [&](double at) {
        return std::min(moving_lower(c, at), setpoint_at(c.law, at) - drop) + offset_.lo;
    };
    const double begin = curve(0);
    l = std::min(l, begin);
    if (t <= 0) return l;
    pieces.need(t, lag_.hi);
    return along_chords(l, pieces.first == 0 ? begin : curve(pieces.end[pieces.first]), pieces, curve);
}

/// A line that every furnace follows. From rest: held for the tracking time, then the line, then held again. A
/// lag that goes on: no pause.
double Zone::along_line(const Course& c, double l, double at_zero, bool lags, double t) const {
    const Law& law = c.law;
    const double tau = lag_.hi, end = law.rate != 0 ? (law.to - law.from) / law.rate : 0;
    const double dead = lags ? 0 : std::min(tracking_, end);
    const double rests = std::min(t, dead), moves = std::min(t, end) - rests;
    l = lag_after(l, at_zero, 0, tau, rests, rests == tracking_ ? left_of_tracking_ : left_after(tau, rests));
    l = lag_after(l, at_zero, law.rate, tau, moves);
    return lag_after(l, at_zero + law.rate * moves, 0, tau, t - rests - moves);
}

/// From `x` at the first piece's begin.
template<class Curve>
double Zone::along_chords(double l, double x, const Pieces& p, Curve curve) const {
    for (std::size_t i = p.first + 1; i <= last_piece; ++i) {
        const double next = curve(p.end[i]), time = p.length(i);
        l = lag_after(l, x, (next - x) / time, lag_.hi, time, p.left[i]);
        x = next;
    }
    return l;
}

inline double Zone::load_upper(const Course& c, Interval t, double control, double most, Pieces& pieces) const {
    const ZoneState& entry = c.entry;
    const auto towards = [&](double at) {
        return entry.load.hi <= at ? at : lag_after(entry.load.hi, at, 0, lag_.hi, t.lo);
    };
    if (c.f.coupled()) return towards(std::max(entry.control.hi, upper_until(c, t.hi)) + offset_.hi);
    const double first = entry.control.hi + offset_.hi, end = control + offset_.hi; // greatest over the stretch
    const bool falls = c.falls || (c.steady && entry.control.hi >= c.setpoint - near_band);
    if (!falls || end > first + overshoot_) // what it rose to on the way counts, too
        return towards(std::max({first, end, upper_until(c, t.hi) + offset_.hi}));
    const double at_zero = upper_at_entry(c) + offset_.hi, l = std::max(entry.load.hi, at_zero);
    if (c.plain) return along_falling(c, l, at_zero, t.lo);
    if (!c.steady) return behind_falling(c, l, at_zero, t.lo, most, pieces);
    if (c.arrived < 0 && entry.control.hi <= c.high) // one bound at all times
        return lag_after(l, at_zero, 0, lag_.hi, t.lo - t.lo * passed[forgotten(t.lo, lag_.hi)]);
    return t.lo > 0 ? behind_held_upper(c, l, t.lo, pieces) : l;
}

/// A held zone may first rise and then fall: the greatest of each piece stands for it.
double Zone::behind_held_upper(const Course& c, double l, double t, Pieces& pieces) const {
    pieces.need(t, lag_.hi);
    const auto greatest = [&](double a, double b) {
        return std::max(held_upper(c, {a, b}), c.ceiling) + offset_.hi;
    };
    double from = pieces.end[pieces.first];
    if (from > 0) l = std::max(l, greatest(0, from));
    for (std::size_t i = pieces.first + 1; i <= last_piece; ++i) {
        const double to = pieces.end[i], x = greatest(from, to);
        l = x + (l - x) * pieces.left[i];
        from = to;
    }
    return l;
}

double Zone::along_falling(const Course& c, double l, double at_zero, double t) const {
    const Law& law = c.law;
    const double at = c.entry.control.hi;
    const double rest = law.from + error_ + tolerance_(std::max(law.from, law.to) + error_);
    return along_line(c, l, at_zero, at > rest && at - law.from - c.slack_above > 0, t);
}

/// A line with its full lag from the start, then natural cooling: convex, so that chords lie above it.
double Zone::behind_falling(const Course& c, double l, double at_zero, double t, double at_t,
                            Pieces& pieces) const {
    const bool line = c.law.kind == LawKind::line;
    const double rise = std::abs(c.law.rate) * tracking_ + c.slack_above;
    const auto curve = [&](double at) {
        const double x = at == t ? at_t : upper(c, at);
        return (line ? std::max(x, setpoint_at(c.law, at) + rise) : x) + offset_.hi;
    };
    double x = line ? curve(0) : at_zero;
    l = std::max(l, x);
    if (t <= 0) return l;
    pieces.need(t, lag_.hi);
    if (pieces.first > 0) x = curve(pieces.end[pieces.first]);
    return along_chords(std::max(l, x), x, pieces, curve);
}

// --- stretches -------------------------------------------------------------------------------------

Zone::Way::Way(const Zone& zone, const ZoneState& entry, const Law& law, const FurnaceZone& f)
    : zone_(zone), entry_(entry), law_(law), f_(f) {
    if (!zone.from_room(entry, law)) return;
    room_ = {law, law};
    room_->low.from = f.ambient().lo;
    room_->high.from = f.ambient().hi;
}

void Zone::Way::during(Interval t, ZoneState& out) const {
    const Zone& zone = zone_;
    const double s0 = setpoint_at(law_, t.lo), s1 = t.lo == t.hi ? s0 : setpoint_at(law_, t.hi);
    if (t.hi <= 0) out = entry_;
    out.untouched = room_ && law_.kind == LawKind::hold;
    out.setpoint = s1;
    out.setpoints = {std::min(s0, s1), std::max(s0, s1)};
    if (room_) {
        out.setpoints = zone.shown(f_.ambient());
        const Law &low = room_->low, &high = room_->high;
        if (law_.kind == LawKind::line)
            out.setpoints = {std::min(law_.to, setpoint_at(low, t.lo) - zone.tolerance_(low.from)),
                             std::min(law_.to, setpoint_at(high, t.hi) + zone.tolerance_(high.from))};
    }
    if (t.hi <= 0) {
        // A step of the set-point that takes no time leaves everything still to come.
        if (s1 == entry_.setpoint || room_ || law_.kind == LawKind::off) return;
        if (law_.kind != LawKind::line) zone.settle(cold(), 0, out);
        out.unread = cold().unread;
        return;
    }
    if (room_ && law_.kind == LawKind::hold) {
        out.control = {std::min(entry_.control.lo, f_.ambient().lo),
                       std::max(entry_.control.hi, f_.ambient().hi + zone.error_)};
        out.load = hull(entry_.load, {out.control.lo, out.control.hi + std::max(0.0, zone.offset_.hi)});
        out.comes_down = entry_.comes_down;
        out.comes_up = entry_.comes_up;
        out.unread = entry_.unread;
        return;
    }
    const Course& course = cold();
    if (room_ && !warm_) warm_.emplace(zone, entry_, room_->high, f_);
    zone.move(course, room_ ? *warm_ : course, t, out);
}

const Zone::Course& Zone::Way::cold() const {
    if (!cold_) cold_.emplace(zone_, entry_, room_ ? room_->low : law_, f_);
    return *cold_;
}

/// A held zone that starts in its band and has nothing to settle: control stays, and the load only nears it.
bool Zone::Way::calm() const {
    if (room_) return true;
    const Course& c = cold();
    return !c.undershoots && c.arrived < 0 && Interval{c.low, c.high}.contains(entry_.control);
}

bool Zone::Way::between(ZoneState& all) const {
    constexpr double little = 20; // K: less is added as it is
    const Interval offset = zone_.offset_;
    switch (law_.kind) {
    case LawKind::hold:
    case LawKind::jump: return calm();
    case LawKind::off: break;
    case LawKind::line:
        if (!cold().falls) {
            if (cold().foot < entry_.control.lo - little) return false;
            all.control.lo = std::min(all.control.lo, cold().foot);
            const double floor = std::min(f_.ambient().lo, entry_.load.lo);
            all.load.lo = std::min(all.load.lo, std::max(floor, all.control.lo + offset.lo));
            return true;
        }
        if (cold().head > entry_.control.hi + little) return false;
        all.control.hi = std::max(all.control.hi, cold().head);
        break;
    }
    // A load that lags behind a zone that cools may still be warming.
    all.load.hi = std::max(all.load.hi, all.control.hi + offset.hi);
    return true;
}

ZoneState Zone::during(const ZoneState& entry, const Law& law, Interval t, const FurnaceZone& f) const {
    ZoneState out;
    Way(*this, entry, law, f).during(t, out);
    return out;
}

double Zone::fallen_lower(const Course& c, Interval t) const {
    if (c.last_below.time != t.hi) c.last_below = {t.hi, lower(c, t)};
    return c.last_below.bound;
}

/// `out` over a stretch; the lower bounds are those of `c`, the upper ones those of `warm`.
void Zone::move(const Course& c, const Course& warm, Interval t, ZoneState& out) const {
    const ZoneState& entry = c.entry;
    const Law& law = c.law;
    const bool falls = warm.falls && !warm.f.coupled();
    const Course::Above& above = warm.last_above;
    const bool known = falls && t.lo > 0 && above.time == t.lo;
    const double most = known ? above.most : t.lo <= 0 || warm.rises ? upper_until(warm, t.hi) : upper(warm, t);
    out.control = {std::max(falls ? fallen_lower(c, t) : lower(c, t), c.foot), std::min(most, warm.head)};
    if (t.lo <= 0) out.control = hull(out.control, entry.control);
    if (out.control.lo > out.control.hi) {
        // Rounding may turn a narrow bound over; more than that is a fault of this program, and no bound.
        if (out.control.lo > out.control.hi + 1e-6) throw std::logic_error("bounds of a zone contradict");
        std::swap(out.control.lo, out.control.hi);
    }
    Pieces pieces;
    out.load.lo = load_lower(c, t, out.control.lo, pieces);
    if (known && above.control == out.control.hi) {
        out.load.hi = above.load;
    } else {
        out.load.hi = load_upper(warm, t, out.control.hi, most, pieces);
        if (falls && t.lo > 0) warm.last_above = {t.lo, most, out.control.hi, out.load.hi};
    }
    if (t.lo <= 0) out.load = hull(out.load, entry.load);
    out.unread = unread_after(c, t.lo);
    switch (law.kind) {
    case LawKind::line:
        out.comes_down = overshoot_ > 0 && law.rate < 0;
        out.comes_up = overshoot_ > 0 && law.rate > 0;
        break;
    case LawKind::off:
        out.comes_down = overshoot_ > 0;
        out.comes_up = false;
        break;
    case LawKind::hold:
    case LawKind::jump: settle(c, t.lo, out); break;
    }
}

/// What has yet to come down or up `time` s after the entry of a held set-point.
void Zone::settle(const Course& c, double time, ZoneState& out) const {
    out.comes_down = settles_after(c, time);
    out.comes_up = overshoot_ > 0 && c.arrived >= 0 && c.arrived + settling * tracking_ > time;
}

Interval Zone::control_over(const ZoneState& entry, const Law& law, double until, const FurnaceZone& f) const {
    if (!(until > 0)) return entry.control;
    return hull(entry.control, during(entry, law, {0, until}, f).control);
}

Zone::Chord Zone::chord(const FurnaceZone& f, double top) const {
    Chord c;
    c.room = f.ambient().lo;
    c.top = top;
    c.slowest = f.cooling_rate(c.room).hi;
    c.fastest = f.cooling_rate(top).hi;
    c.known = std::isfinite(c.fastest) && top > c.room;
    if (c.known) {
        c.at_cold = offset_share_ * c(Pace::cold + below_);
        c.at_hot = offset_share_ * c(Pace::hot + below_);
    }
    return c;
}

Zone::Speeds::Speeds(const Zone& zone, const ZoneState& entry, const ZoneState& over, const Law& law,
                     const FurnaceZone& f)
    : zone_(&zone), f_(f) {
    Pace& p = pace_;
    const double error = zone.error_, share = zone.offset_share_;
    const Interval offset = zone.offset_;
    const double s = setpoint_at(law, 0), slack = error + zone.tolerance_(s + error) + 0.5;
    // Movements inside the band of a held set-point are not counted. What the step before left still settles:
    // the zone itself, or its load behind it.
    const Interval band{s - slack > f.ambient().hi ? s - slack : std::min(s - slack, f.ambient().lo),
                        std::max(s + slack, f.ambient().hi)};
    const Interval loads{band.lo + offset.lo, band.hi + offset.hi};
    const bool line = law.kind == LawKind::line && law.rate != 0, off = law.kind == LawKind::off;
    const ZoneState& at = line ? entry : over; // a line leaves its own start behind
    bool up = at.control.lo < band.lo, load_up = at.load.lo < loads.lo;
    down_ = at.control.hi > band.hi, load_down_ = at.load.hi > loads.hi;
    if (line && law.rate > 0) up = load_up = true;
    if (line && law.rate < 0) down_ = load_down_ = true;
    if (off) { // it is heated once it has undershot
        up = over.control.lo < band.lo;
        load_up = load_up && up;
        down_ = load_down_ = true;
    }
    // The load's rate is a mean of the control point's past ones, so at most what full power gave where the
    // load has come to (the rate falls, ever steeper, with temperature).
    const double heats = std::max(0.0, f.heating_rate(over.control.lo).hi);
    if (up) p.heating_hi = heats;
    if (load_up) {
        const double from = std::max(std::min(over.load.lo, over.control.lo) - std::max(0.0, offset.hi),
                                     std::min(f.ambient().lo, over.control.lo));
        p.heating_hi = std::max(p.heating_hi, share * f.heating_rate(from).hi);
    }
    // What a rising line finds above itself only comes down until they meet.
    const bool meets = line && law.rate > 0 && !f.coupled();
    if (meets) at_most_ = std::max(entry.control.hi, entry.load.hi);
    const double hot = std::min(at_most_, std::max(over.control.hi, over.load.hi));
    const double cools = f.cooling_rate(hot).hi;
    if (down_) p.cooling_hi = cools;
    const double top = std::max({zone.top_, over.control.hi, over.load.hi});
    chord_ = top == zone.top_ && !f.coupled() ? zone.usual_chord_ : zone.chord(f, top);
    p.cooling_at_cold = chord_.at_cold;
    p.cooling_at_hot = chord_.at_hot;
    if (load_down_) {
        rate_ = f.cooling_rate(hot + zone.below_).hi;
        // In natural cooling the load follows from above: between where the zone stands and the hottest it may
        // have been, the mean rate lies below the chord.
        const double stands = over.control.lo;
        if (!off && top > hot && hot > stands) {
            const double base = f.cooling_rate(stands).hi;
            rate_ = std::max(rate_, base + (chord_.fastest - base) * (hot - stands) / (top - stands));
        }
        p.cooling_hi = std::max(p.cooling_hi, share * rate_);
    }
    p.heating_most = std::max(p.heating_hi, share * heats);
    p.cooling_most = std::max(p.cooling_hi, share * cools);
    p.inside = zone.swing(); // sensor error and load offset are one rig's own and stay
    // What is heated may expand.
    if (off && !up && !(p.heating_hi > 0) && over.control.lo > law.to + error + zone.tolerance_(law.to))
        p.cooling_lo = f.cooling_rate(over.control.lo).lo;
}

} // namespace athanor::plant
