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
constexpr int last_piece = 7;
constexpr double passed[last_piece + 1] = {0, 1.0 / 2, 3.0 / 4, 7.0 / 8, 15.0 / 16, 31.0 / 32, 63.0 / 64, 1};

/// How many of the pieces lie so far back that a lag has forgotten them: their weight at the end is below
/// 1e-12, and the bound of all times stands for them.
int forgotten(double time, double lag) {
    constexpr double lags = 28;
    int pieces = 0;
    while (pieces < last_piece - 1 && time * (1 - passed[pieces + 1]) > lags * lag) ++pieces;
    return pieces;
}

} // namespace

double setpoint_at(const Law& law, double t) {
    switch (law.kind) {
    case LawKind::line: {
        const double s = law.from + law.rate * t;
        return law.rate >= 0 ? std::min(s, law.to) : std::max(s, law.to);
    }
    case LawKind::hold: return law.to != 0 ? law.to : law.from;
    case LawKind::off:
    case LawKind::jump: return law.to;
    }
    return law.to;
}

double lag_after(double l0, double x0, double slope, double tau, double t) {
    if (tau <= 0) return x0 + slope * t;
    return x0 + slope * (t - tau) + (l0 - x0 + slope * tau) * (t == 0 ? 1.0 : std::exp(-t / tau));
}

Zone::Zone(const check::Model& model, const check::Rig& rig)
    : furnace_(rig.furnace, rig.ambient_temperature.value), tolerance_(model, rig.sensor) {
    const check::Furnace& f = rig.furnace;
    tracking_ = std::max(0.0, given(f.tracking).hi);
    error_ = std::max(0.0, given(f.control_error).hi);
    least_error_ = std::max(0.0, given(f.control_error).lo);
    overshoot_ = std::max(0.0, given(f.overshoot).hi);
    lag_ = given(rig.load_lag);
    offset_ = given(rig.load_offset);
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

/// K below a line that starts at `from` and rises at `rate`: from `entry` at full power, and the rest of the
/// way with the tracking time. `full`: K/s that every furnace has as far as is asked.
double Zone::below_line(double entry, double from, double rate, double full, double t,
                        const FurnaceZone& f) const {
    const double missing = from - entry;
    const double pace = tracking_ * std::max(0.0, f.heating_rate(entry).lo);
    const double rest = std::min(missing, std::max(pace, near_band));
    if (rest >= missing) return still_missing(missing, rate, full, t);
    const double powered = f.heating_time(entry, from - rest).hi;
    if (t <= powered) return from + rate * t - f.least_heated(entry, t);
    return still_missing(rest + rate * powered, rate, full, t - powered);
}

/// The same above a line that falls.
double Zone::above_line(double entry, double from, double rate, double full, double t,
                        const FurnaceZone& f) const {
    const double excess = entry - from;
    const double pace = tracking_ * f.cooling_rate(entry).lo;
    const double rest = std::min(excess, std::max(pace, near_band));
    if (rest >= excess) return still_missing(excess, rate, full, t);
    const double cooled = f.cooling_time(entry, from + rest).hi;
    if (t <= cooled) return f.warmest(entry, t) - from + rate * t;
    return still_missing(rest + rate * cooled, rate, full, t - cooled);
}

/// s from which on every zone has come down to a held set-point and no undershoot stands any more; negative:
/// it does not come down.
double Zone::settled_below(const ZoneState& entry, double s, const FurnaceZone& f) const {
    const double tol = tolerance_(entry.control.hi);
    const bool comes_down = entry.comes_down || entry.control.hi > s + error_ + tol ||
                            (entry.setpoint != s && entry.control.hi + tol > s + error_);
    if (!comes_down || overshoot_ <= 0) return -1;
    const double low = s - error_ - tolerance_(s);
    // It may arrive late: the undershoot begins when the slowest has come down.
    return f.cooling_time(std::max(entry.control.hi, low), low).hi + settling * tracking_;
}

/// The same for coming up; s until the slowest has arrived.
double Zone::arrived_above(const ZoneState& entry, double s, const FurnaceZone& f) const {
    const double tol = tolerance_(s);
    const bool comes_up = entry.comes_up || entry.control.lo < s - error_ - tol ||
                          (entry.setpoint != s && entry.control.lo - tol < s - error_);
    if (!comes_up) return -1;
    const double high = s + error_ + tolerance_(s + error_), missing = high - entry.control.lo;
    if (missing <= 0) return 0;
    const double rate = std::max(0.0, f.heating_rate(high).lo);
    return missing > near_band ? f.heating_time(entry.control.lo, high).hi
           : rate > 0          ? missing / rate
                               : infinity;
}

Zone::Course Zone::course(const ZoneState& entry, const Law& law, const FurnaceZone& f) const {
    Course c{entry, law, f};
    switch (law.kind) {
    case LawKind::hold:
    case LawKind::jump:
        c.steady = true;
        c.setpoint = setpoint_at(law, 0);
        c.low = c.setpoint - error_ - tolerance_(c.setpoint);
        c.high = c.setpoint + error_ + tolerance_(c.setpoint + error_);
        c.settled = settled_below(entry, c.setpoint, f);
        c.arrived = arrived_above(entry, c.setpoint, f);
        if (entry.control.lo < c.low || c.settled >= 0) c.heats = std::max(0.0, f.heating_rate(c.low).lo);
        if (entry.control.hi > c.high || c.arrived >= 0) c.cools = f.cooling_rate(c.high).lo;
        break;
    case LawKind::line: {
        const double end = std::max(law.from, law.to);
        c.falls = law.rate < 0;
        c.slack_below = error_ + tolerance_(end);
        c.slack_above = error_ + tolerance_(end + error_);
        // Rates fall with temperature in heating and grow with it in cooling: a furnace that has the rate at
        // the line's end has it all the way.
        const double there = c.falls ? f.cooling_rate(law.to).lo : f.heating_rate(law.to).lo;
        const bool all_the_way = there >= std::abs(law.rate) && !f.coupled();
        c.plain = plain_ramp(c, there);
        if (c.falls)
            c.follows = all_the_way ? 0 : f.cools_down_to(-law.rate);
        else
            c.follows = all_the_way ? infinity : f.heats_up_to(law.rate);
        // What stands within an overshoot of the line is the swing of the step before.
        c.comes_down = entry.comes_down || entry.control.hi > law.from + c.slack_above + overshoot_;
        c.comes_up = entry.comes_up || entry.control.lo < law.from - c.slack_below - overshoot_;
        if (c.falls)
            c.head = std::max({entry.control.hi, law.from + c.slack_above + (c.comes_up ? overshoot_ : 0),
                               f.ambient().hi, f.coupled() ? f.driven() : 0.0});
        else
            c.foot =
                std::max(std::min(f.ambient().lo, entry.control.lo),
                         std::min({entry.control.lo, law.from - c.slack_below - (c.comes_down ? overshoot_ : 0),
                                   f.holdable()}));
        break;
    }
    case LawKind::off: c.falls = true; break;
    }
    if (law.kind != LawKind::off) c.unread = unread_at(entry, setpoint_at(law, 0), f);
    return c;
}

double Zone::held_lower(const Course& c, double t) const {
    double bound = c.low;
    if (c.entry.control.lo < c.low) bound -= below_line(c.entry.control.lo, c.low, 0, c.heats, t, c.f);
    if (c.settled >= 0) {
        const double since = t - c.settled, under = c.low - overshoot_;
        bound = std::min(bound, since > 0 ? std::min(c.low, under + c.heats * since) : under);
    }
    return std::min(bound, c.f.holdable());
}

double Zone::held_upper(const Course& c, Interval t) const {
    const double high = c.high;
    double start = c.entry.control.hi;
    const bool rising = c.arrived >= 0; // until the last furnace has arrived
    if (start <= high && !rising) return high;
    if (rising) start = std::max(start, high + overshoot_);
    const double since = t.lo - std::max(0.0, c.arrived) - settling * tracking_;
    double bound = start;
    if (since > 0) {
        bound = std::max(high, start - c.cools * since);
        if (start - high > near_band) bound = std::max(high, std::min(bound, c.f.warmest(start, since)));
    }
    // An excess left from before starts to go at once.
    if (c.entry.control.hi > high + overshoot_)
        bound = std::max(std::min(bound, high + overshoot_),
                         high + above_line(c.entry.control.hi, high, 0, c.cools, t.lo, c.f));
    else if (rising && c.entry.control.hi < c.low - near_band)
        bound = std::min(bound, c.f.most_heated(c.entry.control.hi, t.hi));
    return std::max(bound, high);
}

double Zone::lower(const Course& c, Interval over) const {
    const bool at_entry = (c.falls ? over.hi : over.lo) == 0;
    return std::max(at_entry ? lower_at_entry(c) : regulated_lower(c, over),
                    std::min(c.f.ambient().lo, c.entry.control.lo));
}

double Zone::lower_at_entry(const Course& c) const {
    if (!c.lower_at_entry) c.lower_at_entry = regulated_lower(c, 0);
    return *c.lower_at_entry;
}

/// Without the room's temperature as a floor: a curve whose shape the lag of the load relies on.
double Zone::regulated_lower(const Course& c, Interval over) const {
    const ZoneState& entry = c.entry;
    const Law& law = c.law;
    const FurnaceZone& f = c.f;
    // Under a falling law the lower bound falls, so the end of the stretch decides; else its beginning.
    const double t = c.falls ? over.hi : over.lo;
    double bound = 0;
    switch (law.kind) {
    case LawKind::hold:
    case LawKind::jump: bound = held_lower(c, t); break;
    case LawKind::line: {
        const double s = setpoint_at(law, t);
        const double slack = c.slack_below;
        if (law.rate >= 0) {
            const double lag = law.rate * tracking_;
            const double missing = law.from - slack - entry.control.lo;
            // The line is followed as far as every furnace can; from there on at full power.
            const double last = std::clamp(c.follows, law.from, std::max(s, law.from));
            const double full = missing > lag ? std::max(0.0, f.heating_rate(last).lo) : 0;
            // From rest the lag builds up; one that a ramp before this one left goes on.
            const auto behind = [&](double at, double line) {
                double k = missing > 0 ? lag : std::min(lag, line - law.from);
                if (missing > lag)
                    k = std::max(k, below_line(entry.control.lo, law.from - slack, law.rate, full, at, f));
                return c.comes_down ? std::max(k, overshoot_) : k;
            };
            const double until = law.rate > 0 ? (last - law.from) / law.rate : 0;
            bound = s - behind(std::min(t, until), std::min(s, last)) - slack;
            if (s > last) {
                bound =
                    std::min(s - lag - slack, f.least_heated(last - std::max(lag, behind(until, last)) - slack,
                                                             std::max(0.0, t - until)));
            } else if (missing > lag) {
                bound = s - behind(t, s) - slack;
            }
            bound = std::min(bound, f.holdable());
        } else {
            bound = std::min({s - slack - overshoot_, entry.control.lo, f.holdable()});
        }
        break;
    }
    case LawKind::off: {
        const double floor = std::min(law.to - error_ - tolerance_(law.to) - overshoot_, f.holdable());
        bound = std::max(std::min(floor, entry.control.lo), f.coolest(entry.control.lo, t));
        break;
    }
    }
    return bound;
}

double Zone::upper_at_entry(const Course& c) const {
    if (!c.upper_at_entry) c.upper_at_entry = upper(c, 0);
    return *c.upper_at_entry;
}

/// From entry to `until`.
double Zone::upper_until(const Course& c, double until) const {
    if (!c.greatest || c.greatest_until != until) {
        c.greatest = upper(c, {0, until});
        c.greatest_until = until;
    }
    return *c.greatest;
}

double Zone::upper(const Course& c, Interval over) const {
    const ZoneState& entry = c.entry;
    const Law& law = c.law;
    const FurnaceZone& f = c.f;
    const Interval ambient = f.ambient();
    // Under a rising line the upper bound rises, so the end of the stretch decides; else its beginning.
    const double t = law.kind == LawKind::line && law.rate >= 0 ? over.hi : over.lo;
    double bound = 0;
    switch (law.kind) {
    case LawKind::hold:
    case LawKind::jump: bound = held_upper(c, over); break;
    case LawKind::line: {
        const double s = setpoint_at(law, t);
        const double slack = c.slack_above;
        if (law.rate >= 0) {
            bound = std::max(s + slack + overshoot_, entry.control.hi);
        } else {
            const double lag = -law.rate * tracking_;
            double top = entry.control.hi, stands = 0;
            if (c.comes_up) { // it may have yet to arrive where the line starts, and overshoot
                top = std::max(top, law.from + slack + overshoot_);
                stands = settling * tracking_ + std::max(0.0, arrived_above(entry, law.from, f));
            }
            const double excess = top - law.from - slack;
            const double last = std::clamp(c.follows, std::min(s, law.from), law.from);
            const double full = excess > lag ? f.cooling_rate(last).lo : 0;
            const auto behind = [&](double at, double line) {
                double k = excess > 0 ? lag : std::min(lag, law.from - line);
                if (excess > lag)
                    k = std::max(k, at <= stands
                                        ? excess
                                        : above_line(top, law.from + slack, -law.rate, full, at - stands, f));
                return k;
            };
            const double until = (law.from - last) / -law.rate;
            bound = s + behind(t, s) + slack;
            if (s < last)
                bound = std::max(s + lag + slack, f.warmest(last + std::max(lag, behind(until, last)) + slack,
                                                            std::max(0.0, t - until)));
        }
        break;
    }
    case LawKind::off: {
        const double held = law.to + error_ + tolerance_(law.to);
        bound = std::max(held, f.warmest(entry.control.hi, t));
        break;
    }
    }
    // Neighbours may drive a zone above its law, however little power it gets.
    if (f.coupled() && f.driven() > bound) bound = f.warmest(bound, over.hi);
    return std::max(bound, std::min(ambient.hi, entry.control.hi));
}

// --- load ------------------------------------------------------------------------------------------

/// A line that every furnace follows: its bounds are straight lines. `there`: K/s of every furnace at its end.
bool Zone::plain_ramp(const Course& c, double there) const {
    const ZoneState& entry = c.entry;
    const Law& law = c.law;
    const double lag = std::abs(law.rate) * tracking_;
    if (std::abs(law.rate) > there) return false;
    if (law.rate >= 0) return entry.control.lo >= law.from - c.slack_above - lag && law.to <= c.f.holdable();
    return entry.control.hi <= law.from + c.slack_above + lag;
}

double Zone::load_lower(const Course& c, Interval t, double control) const {
    const ZoneState& entry = c.entry;
    const Law& law = c.law;
    const FurnaceZone& f = c.f;
    if (f.coupled()) { // towards the least value of the whole way: no shape is relied on
        const double least = std::min(entry.control.lo, lower(c, {0, t.hi})) + offset_.lo;
        const double bound = entry.load.lo >= least ? least : lag_after(entry.load.lo, least, 0, lag_.hi, t.lo);
        return std::max(bound, std::min(f.ambient().lo, entry.load.lo));
    }
    const double first = entry.control.lo + offset_.lo;
    const bool falling = c.falls, steady = c.steady;
    double bound = 0;
    const double x_end = control + offset_.lo; // least over the stretch
    // An undershoot that stands and goes again leaves the load behind it.
    const bool undershoots = steady && c.settled >= 0;
    if (falling || (steady && x_end < first && !undershoots)) {
        // The curve falls, or rises first and then falls: its least value so far stands at an end.
        const double least = std::min(first, x_end);
        bound = entry.load.lo >= least ? least : lag_after(entry.load.lo, least, 0, lag_.hi, t.lo);
    } else {
        const double tau = lag_.hi;
        const double at_zero = lower_at_entry(c) + offset_.lo;
        double l = std::min(entry.load.lo, at_zero);
        if (c.plain) {
            const double end = law.rate > 0 ? (law.to - law.from) / law.rate : 0;
            // From rest: held for the tracking time, then the line, then held again. A lag that goes on: no
            // pause.
            // At rest itself rounding decides; both ways of asking must agree that there is a lag.
            const double rest = law.from - error_ - tolerance_(std::max(law.from, law.to));
            const bool lags = entry.control.lo < rest && law.from - c.slack_below - entry.control.lo > 0;
            const double dead = lags ? 0 : std::min(tracking_, end);
            const double rests = std::min(t.lo, dead), moves = std::min(t.lo, end) - rests;
            l = lag_after(l, at_zero, 0, tau, rests);
            l = lag_after(l, at_zero, law.rate, tau, moves);
            l = lag_after(l, at_zero + law.rate * moves, 0, tau, t.lo - rests - moves);
        } else if (steady && !undershoots && entry.control.lo >= c.low) {
            l = lag_after(l, at_zero, 0, tau, t.lo);
        } else {
            // A line with its full lag from the start, then full power: concave, so that chords lie below it.
            // Under a held set-point the bound may stand before it rises: steps. Short pieces at the end, where
            // the lag remembers.
            const double drop = std::abs(law.rate) * tracking_ + c.slack_below;
            const auto curve = [&](double at) {
                const double x = regulated_lower(c, at);
                return (steady ? x : std::min(x, setpoint_at(law, at) - drop)) + offset_.lo;
            };
            const int skipped = forgotten(t.lo, tau);
            const double begin = steady ? at_zero : curve(0);
            double from = t.lo * passed[skipped], x = skipped == 0 ? begin : curve(from);
            l = std::min(l, begin);
            for (int i = skipped + 1; i <= last_piece && t.lo > 0; ++i) {
                const double to = t.lo * passed[i];
                const double next = steady && i == last_piece ? x : curve(to); // a step ends as it began
                l = lag_after(l, x, steady ? 0 : (next - x) / (to - from), tau, to - from);
                from = to;
                x = next;
            }
        }
        bound = l;
    }
    return std::max(bound, std::min(f.ambient().lo, entry.load.lo));
}

double Zone::load_upper(const Course& c, Interval t, double control) const {
    const ZoneState& entry = c.entry;
    const Law& law = c.law;
    const FurnaceZone& f = c.f;
    if (f.coupled()) {
        const double most = std::max(entry.control.hi, upper_until(c, t.hi)) + offset_.hi;
        return entry.load.hi <= most ? most : lag_after(entry.load.hi, most, 0, lag_.hi, t.lo);
    }
    const double first = entry.control.hi + offset_.hi;
    const double x_end = control + offset_.hi; // greatest over the stretch
    const bool steady = c.steady;
    const bool falls = c.falls || (steady && entry.control.hi >= c.setpoint - near_band);
    if (!falls || x_end > first + overshoot_) {
        // What it rose to on the way counts, too.
        const double most = std::max({first, x_end, upper_until(c, t.hi) + offset_.hi});
        return entry.load.hi <= most ? most : lag_after(entry.load.hi, most, 0, lag_.hi, t.lo);
    }
    const double tau = lag_.hi;
    const double at_zero = upper_at_entry(c) + offset_.hi;
    double l = std::max(entry.load.hi, at_zero);
    if (c.plain) {
        const double end = (law.to - law.from) / law.rate;
        const double rest = law.from + error_ + tolerance_(std::max(law.from, law.to) + error_);
        const bool lags = entry.control.hi > rest && entry.control.hi - law.from - c.slack_above > 0;
        const double dead = lags ? 0 : std::min(tracking_, end);
        const double rests = std::min(t.lo, dead), moves = std::min(t.lo, end) - rests;
        l = lag_after(l, at_zero, 0, tau, rests);
        l = lag_after(l, at_zero, law.rate, tau, moves);
        return lag_after(l, at_zero + law.rate * moves, 0, tau, t.lo - rests - moves);
    }
    // A line with its full lag from the start, then natural cooling: convex, so that chords lie above it. Under
    // a held set-point the bound stands before it falls: steps.
    const double rise = std::abs(law.rate) * tracking_ + c.slack_above;
    const auto curve = [&](double at) {
        const double x = upper(c, at);
        return (law.kind == LawKind::line ? std::max(x, setpoint_at(law, at) + rise) : x) + offset_.hi;
    };
    const int skipped = forgotten(t.lo, tau);
    double from = t.lo * passed[skipped];
    // A zone that is and stays in its band has one bound at all times.
    if (steady && c.arrived < 0 && entry.control.hi <= c.high)
        return lag_after(l, at_zero, 0, tau, t.lo - from);
    // A held zone may first rise and then fall: the greatest of each piece stands for it.
    const auto greatest = [&](double a, double b) { return upper(c, {a, b}) + offset_.hi; };
    const double begin = law.kind == LawKind::line ? curve(0) : at_zero;
    double x = skipped == 0 ? begin : steady ? greatest(0, from) : curve(from);
    l = std::max({l, begin, x});
    for (int i = skipped + 1; i <= last_piece && t.lo > 0; ++i) {
        const double to = t.lo * passed[i];
        const double next = steady ? greatest(from, to) : curve(to);
        l = lag_after(l, steady ? next : x, steady ? 0 : (next - x) / (to - from), tau, to - from);
        from = to;
        x = next;
    }
    return l;
}

// --- stretches -------------------------------------------------------------------------------------

Zone::Way::Way(const Zone& zone, const ZoneState& entry, const Law& law, const FurnaceZone& f)
    : zone_(zone), entry_(entry), law_(law), low_(law), high_(law), f_(f), room_(zone.from_room(entry, law)) {
    if (!room_) return;
    low_.from = f.ambient().lo;
    high_.from = f.ambient().hi;
}

ZoneState Zone::Way::during(Interval t) const {
    const Zone& zone = zone_;
    ZoneState out = entry_;
    out.untouched = room_ && law_.kind == LawKind::hold;
    const double s0 = setpoint_at(law_, t.lo), s1 = t.lo == t.hi ? s0 : setpoint_at(law_, t.hi);
    out.setpoint = s1;
    out.setpoints = {std::min(s0, s1), std::max(s0, s1)};
    if (room_) {
        out.setpoints = zone.shown(f_.ambient());
        if (law_.kind == LawKind::line)
            out.setpoints = {std::min(law_.to, setpoint_at(low_, t.lo) - zone.tolerance_(low_.from)),
                             std::min(law_.to, setpoint_at(high_, t.hi) + zone.tolerance_(high_.from))};
    }
    if (t.hi <= 0) {
        // A step of the set-point that takes no time leaves everything still to come.
        if (s1 == entry_.setpoint || room_ || law_.kind == LawKind::off) return out;
        if (law_.kind != LawKind::line) zone.settle(cold(), 0, out);
        out.unread = cold().unread;
        return out;
    }
    if (room_ && law_.kind == LawKind::hold) {
        out.control = {std::min(entry_.control.lo, f_.ambient().lo),
                       std::max(entry_.control.hi, f_.ambient().hi + zone.error_)};
        out.load = hull(entry_.load, {out.control.lo, out.control.hi + std::max(0.0, zone.offset_.hi)});
        return out;
    }
    const Course& course = cold();
    if (room_ && !warm_) warm_.emplace(zone.course(entry_, high_, f_));
    zone.move(course, room_ ? *warm_ : course, t, out);
    return out;
}

const Zone::Course& Zone::Way::cold() const {
    if (!cold_) cold_.emplace(zone_.course(entry_, low_, f_));
    return *cold_;
}

/// A held zone that starts in its band and has nothing to settle: control stays, and the load only nears it.
bool Zone::Way::calm() const {
    if (room_) return true;
    const Course& c = cold();
    return c.settled < 0 && c.arrived < 0 && Interval{c.low, c.high}.contains(entry_.control);
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
    return Way(*this, entry, law, f).during(t);
}

/// `out` over a stretch; the lower bounds are those of `c`, the upper ones those of `warm`.
void Zone::move(const Course& c, const Course& warm, Interval t, ZoneState& out) const {
    const ZoneState& entry = c.entry;
    const Law& law = c.law;
    out.control = {std::max(lower(c, t), c.foot),
                   std::min(t.lo <= 0 ? upper_until(warm, t.hi) : upper(warm, t), warm.head)};
    if (t.lo <= 0) out.control = hull(out.control, entry.control);
    if (out.control.lo > out.control.hi) {
        // Rounding may turn a narrow bound over; more than that is a fault of this program, and no bound.
        if (out.control.lo > out.control.hi + 1e-6) throw std::logic_error("bounds of a zone contradict");
        std::swap(out.control.lo, out.control.hi);
    }
    out.load = {load_lower(c, t, out.control.lo), load_upper(warm, t, out.control.hi)};
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
    out.comes_down = c.settled > time;
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

Pace Zone::pace(const ZoneState& entry, const ZoneState& over, const ZoneState& now, const Law& law,
                const FurnaceZone& f) const {
    Pace p;
    const double s = setpoint_at(law, 0), slack = error_ + tolerance_(s + error_) + 0.5;
    // Movements inside the band of a held set-point are not counted. What the step before left still settles:
    // the zone itself, or its load behind it.
    const Interval band{s - slack > f.ambient().hi ? s - slack : std::min(s - slack, f.ambient().lo),
                        std::max(s + slack, f.ambient().hi)};
    const Interval loads{band.lo + offset_.lo, band.hi + offset_.hi};
    const bool line = law.kind == LawKind::line && law.rate != 0, off = law.kind == LawKind::off;
    const ZoneState& at = line ? entry : over; // a line leaves its own start behind
    bool up = at.control.lo < band.lo, load_up = at.load.lo < loads.lo;
    bool down = at.control.hi > band.hi, load_down = at.load.hi > loads.hi;
    if (line && law.rate > 0) up = load_up = true;
    if (line && law.rate < 0) down = load_down = true;
    if (off) { // it is heated once it has undershot
        up = over.control.lo < band.lo;
        load_up = load_up && up;
        down = load_down = true;
    }
    // The load's rate is a mean of the control point's past ones, so at most what full power gave where the
    // load has come to (the rate falls, ever steeper, with temperature).
    const double heats = std::max(0.0, f.heating_rate(over.control.lo).hi);
    if (up) p.heating_hi = heats;
    if (load_up) {
        const double from = std::max(std::min(over.load.lo, over.control.lo) - std::max(0.0, offset_.hi),
                                     std::min(f.ambient().lo, over.control.lo));
        p.heating_hi = std::max(p.heating_hi, offset_share_ * f.heating_rate(from).hi);
    }
    // What a rising line finds above itself only comes down until they meet.
    const bool meets = line && law.rate > 0 && !f.coupled();
    const double at_most = meets ? std::max(entry.control.hi, entry.load.hi) : infinity;
    const double hot = std::min(at_most, std::max(over.control.hi, over.load.hi));
    const double cools = f.cooling_rate(hot).hi;
    if (down) {
        p.cooling_hi = cools;
        p.cooling_now = f.cooling_rate(std::min(at_most, now.control.hi)).hi;
    }
    const double top = std::max({top_, over.control.hi, over.load.hi});
    const Chord chord = top == top_ && !f.coupled() ? usual_chord_ : this->chord(f, top);
    p.cooling_at_cold = chord.at_cold;
    p.cooling_at_hot = chord.at_hot;
    if (load_down) {
        double rate = f.cooling_rate(hot + below_).hi;
        // In natural cooling the load follows from above: between where the zone stands and the hottest it may
        // have been, the mean rate lies below the chord.
        const double stands = over.control.lo;
        if (!off && top > hot && hot > stands) {
            const double base = f.cooling_rate(stands).hi;
            rate = std::max(rate, base + (chord.fastest - base) * (hot - stands) / (top - stands));
        }
        p.cooling_hi = std::max(p.cooling_hi, offset_share_ * rate);
        if (chord.known)
            rate = std::min(rate, chord(std::clamp(now.load.hi, chord.room - below_, top - below_) + below_));
        p.cooling_now = std::max(p.cooling_now, offset_share_ * rate);
    }
    p.heating_most = std::max(p.heating_hi, offset_share_ * heats);
    p.cooling_most = std::max(p.cooling_hi, offset_share_ * cools);
    p.inside = swing(); // sensor error and load offset are one rig's own and stay
    if (off && !up && over.control.lo > law.to + error_ + tolerance_(law.to))
        p.cooling_lo = f.cooling_rate(over.control.lo).lo;
    return p;
}

} // namespace athanor::plant
