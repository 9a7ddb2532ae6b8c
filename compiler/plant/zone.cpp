#include "compiler/plant/zone.hpp"

#include <algorithm>
#include <cmath>

namespace athanor::plant {

using timeline::Law;
using timeline::LawKind;

namespace {

/// Multiples of the tracking time in which an overshoot or undershoot may still stand (common practice, no
/// source).
constexpr double settling = 5;
/// K within which the furnace's rate at the adverse end stands for its curve.
constexpr double near_band = 40;

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
    return x0 + slope * (t - tau) + (l0 - x0 + slope * tau) * std::exp(-t / tau);
}

Zone::Zone(const check::Model& model, const check::Rig& rig)
    : furnace_(rig.furnace, rig.ambient_temperature.value), tolerance_(model, rig.sensor) {
    const check::Furnace& f = rig.furnace;
    if (f.tracking.given) tracking_ = std::max(0.0, f.tracking.hi());
    if (f.control_error.given) error_ = std::max(0.0, f.control_error.hi());
    if (f.overshoot.given) overshoot_ = std::max(0.0, f.overshoot.hi());
    lag_ = rig.load_lag.given ? rig.load_lag.value : Interval{0, 600};
    offset_ = rig.load_offset.given ? rig.load_offset.value : Interval{-20, 5};
}

ZoneState Zone::start() const {
    ZoneState z;
    z.setpoint = furnace_.ambient().middle();
    z.setpoints = z.setpoint;
    z.control = z.load = furnace_.ambient();
    return z;
}

// --- control sensor --------------------------------------------------------------------------------

double Zone::held_lower(const ZoneState& entry, double s, double t) const {
    const double low = s - error_ - tolerance_(s);
    double bound = low;
    if (entry.control.lo < low) {
        const double missing = low - entry.control.lo;
        const double lagging = low - missing * (tracking_ > 0 ? std::exp(-t / tracking_) : 0.0);
        const double rate = std::max(0.0, furnace_.heating_rate(low).lo);
        double powered = entry.control.lo + rate * t; // full-power heating is slowest at the end of the way
        if (missing > near_band) powered = std::max(powered, furnace_.least_heated(entry.control.lo, t));
        bound = std::min({low, lagging, powered});
    }
    if (entry.control.hi > s + error_ + tolerance_(entry.control.hi) &&
        overshoot_ > 0) { // comes down: may undershoot
        const double since = t - settling * tracking_;
        const double rate = std::max(0.0, furnace_.heating_rate(low).lo);
        bound = std::min(bound, since > 0 ? std::min(low, low - overshoot_ + rate * since) : low - overshoot_);
    }
    return std::min(bound, furnace_.holdable());
}

double Zone::held_upper(const ZoneState& entry, double s, Interval t) const {
    const double high = s + error_ + tolerance_(s + error_);
    double start = entry.control.hi;
    const double low = s - error_ - tolerance_(s);
    const bool rising = entry.control.lo < low;
    if (start > high || rising) {
        double reach = 0; // until the last furnace has arrived
        if (rising) {
            const double rate = std::max(0.0, furnace_.heating_rate(low).lo);
            const double missing = low - entry.control.lo;
            reach = missing > near_band ? furnace_.heating_time(entry.control.lo, low).hi
                    : rate > 0          ? missing / rate
                                        : infinity;
            if (start < high + overshoot_) start = high + overshoot_;
        }
        const double since = t.lo - reach - settling * tracking_;
        double bound = start;
        if (since > 0) {
            const double slowest = furnace_.cooling_rate(high).lo;
            bound = std::max(high, start - slowest * since);
            if (start - high > near_band)
                bound = std::max(high, std::min(bound, furnace_.warmest(start, since)));
        }
        // An excess left from before starts to cool at once.
        if (entry.control.hi > high + overshoot_)
            bound = std::max(std::min(bound, high + overshoot_), furnace_.warmest(entry.control.hi, t.lo));
        else if (rising && entry.control.hi < low - near_band)
            bound = std::min(bound, furnace_.most_heated(entry.control.hi, t.hi));
        return bound;
    }
    return high;
}

double Zone::lower(const ZoneState& entry, const Law& law, Interval over) const {
    return std::max(regulated_lower(entry, law, over), std::min(furnace_.ambient().lo, entry.control.lo));
}

/// Without the room's temperature as a floor: a curve whose shape the lag of the load relies on.
double Zone::regulated_lower(const ZoneState& entry, const Law& law, Interval over) const {
    // Under a falling law the lower bound falls, so the end of the stretch decides; else its beginning.
    const bool falls = law.kind == LawKind::off || (law.kind == LawKind::line && law.rate < 0);
    const double t = falls ? over.hi : over.lo;
    double bound = 0;
    switch (law.kind) {
    case LawKind::hold:
    case LawKind::jump: bound = held_lower(entry, setpoint_at(law, t), t); break;
    case LawKind::line: {
        const double s = setpoint_at(law, t);
        const double slack = error_ + tolerance_(std::max(law.from, law.to));
        if (law.rate >= 0) {
            const double lag = law.rate * tracking_;
            const double missing = law.from - slack - entry.control.lo;
            // From rest the lag builds up; one that a ramp before this one left goes on.
            const double behind = missing > 0 ? lag : std::min(lag, s - law.from);
            bound = s - behind - slack;
            if (missing > lag) {
                bound -= (missing - lag) * (tracking_ > 0 ? std::exp(-t / tracking_) : 0.0);
                bound = std::min(bound, furnace_.least_heated(entry.control.lo, t));
            }
            if (law.rate > furnace_.heating_rate(std::max(s, law.from)).lo) {
                // The line is followed as far as every furnace can; from there on at full power.
                const double last = std::clamp(furnace_.heats_up_to(law.rate), law.from, s);
                const double since = law.rate > 0 ? t - (last - law.from) / law.rate : t;
                bound = std::min(bound, furnace_.least_heated(last - behind - slack, since));
            }
            bound = std::min(bound, furnace_.holdable());
        } else {
            bound = std::min(s - slack - overshoot_, entry.control.lo);
        }
        break;
    }
    case LawKind::off: {
        const double floor = law.to - error_ - tolerance_(law.to) - overshoot_;
        bound = std::max(std::min(floor, entry.control.lo), furnace_.coolest(entry.control.lo, t));
        break;
    }
    }
    return bound;
}

double Zone::upper(const ZoneState& entry, const Law& law, Interval over) const {
    const Interval ambient = furnace_.ambient();
    // Under a rising line the upper bound rises, so the end of the stretch decides; else its beginning.
    const double t = law.kind == LawKind::line && law.rate >= 0 ? over.hi : over.lo;
    double bound = 0;
    switch (law.kind) {
    case LawKind::hold:
    case LawKind::jump: bound = held_upper(entry, setpoint_at(law, t), over); break;
    case LawKind::line: {
        const double s = setpoint_at(law, t);
        const double slack = error_ + tolerance_(std::max(law.from, law.to) + error_);
        if (law.rate >= 0) {
            bound = std::max(s + slack + overshoot_, entry.control.hi);
        } else {
            const double lag = -law.rate * tracking_;
            const double excess = entry.control.hi - law.from - slack;
            const double behind = excess > 0 ? lag : std::min(lag, law.from - s);
            bound = s + behind + slack;
            if (excess > lag) bound = std::max(bound, furnace_.warmest(entry.control.hi, t));
            if (-law.rate > furnace_.cooling_rate(s).lo) {
                const double last = std::clamp(furnace_.cools_down_to(-law.rate), s, law.from);
                const double since = t - (law.from - last) / -law.rate;
                bound = std::max(bound, furnace_.warmest(last + behind + slack, since));
            }
        }
        break;
    }
    case LawKind::off: {
        const double held = law.to + error_ + tolerance_(law.to);
        bound = std::max(held, furnace_.warmest(entry.control.hi, t));
        break;
    }
    }
    return std::max(bound, std::min(ambient.hi, entry.control.hi));
}

// --- load ------------------------------------------------------------------------------------------

/// A line that every furnace follows: its bounds are straight lines.
bool Zone::plain_ramp(const ZoneState& entry, const Law& law) const {
    const double slack = error_ + tolerance_(std::max(law.from, law.to) + error_),
                 lag = std::abs(law.rate) * tracking_;
    if (law.rate >= 0)
        return entry.control.lo >= law.from - slack - lag && law.rate <= furnace_.heating_rate(law.to).lo &&
               law.to <= furnace_.holdable();
    return entry.control.hi <= law.from + slack + lag && -law.rate <= furnace_.cooling_rate(law.to).lo;
}

double Zone::load_lower(const ZoneState& entry, const Law& law, Interval t, double control) const {
    const double first = entry.control.lo + offset_.lo;
    const bool falling = law.kind == LawKind::off || (law.kind == LawKind::line && law.rate < 0);
    const bool steady = law.kind == LawKind::hold || law.kind == LawKind::jump;
    double bound = 0;
    const double x_end = control + offset_.lo; // least over the stretch
    if (falling || (steady && x_end < first)) {
        // The curve falls, or rises first and then falls: its least value so far stands at an end.
        const double least = std::min(first, x_end);
        bound = entry.load.lo >= least ? least : lag_after(entry.load.lo, least, 0, lag_.hi, t.lo);
    } else {
        const double tau = lag_.hi;
        const double at_zero = regulated_lower(entry, law, 0) + offset_.lo;
        double l = std::min(entry.load.lo, at_zero);
        if (law.kind == LawKind::line && plain_ramp(entry, law)) {
            const double end = law.rate > 0 ? (law.to - law.from) / law.rate : 0;
            // From rest: held for the tracking time, then the line, then held again. A lag that goes on: no
            // pause.
            const double rest = law.from - error_ - tolerance_(std::max(law.from, law.to));
            const double dead = entry.control.lo < rest ? 0 : std::min(tracking_, end);
            const double a = std::min(t.lo, dead), b = std::min(t.lo, end) - a, c = t.lo - a - b;
            l = lag_after(l, at_zero, 0, tau, a);
            l = lag_after(l, at_zero, law.rate, tau, b);
            l = lag_after(l, at_zero + law.rate * b, 0, tau, c);
        } else if (steady &&
                   entry.control.lo >= setpoint_at(law, 0) - error_ - tolerance_(setpoint_at(law, 0))) {
            l = lag_after(l, at_zero, 0, tau, t.lo);
        } else {
            // A line with its full lag from the start, then full power: concave, so that chords lie below it.
            // Under a held set-point the bound may stand before it rises: steps. Short pieces at the end, where
            // the lag remembers.
            const double drop =
                std::abs(law.rate) * tracking_ + error_ + tolerance_(std::max(law.from, law.to));
            const auto curve = [&](double at) {
                const double x = regulated_lower(entry, law, at);
                return (steady ? x : std::min(x, setpoint_at(law, at) - drop)) + offset_.lo;
            };
            double from = 0, x = curve(0);
            l = std::min(l, x);
            for (int i = 1; i <= 7 && t.lo > 0; ++i) {
                const double to = i == 7 ? t.lo : t.lo * (1 - std::ldexp(1.0, -i));
                const double next = curve(to);
                l = lag_after(l, x, steady ? 0 : (next - x) / (to - from), tau, to - from);
                from = to;
                x = next;
            }
        }
        bound = l;
    }
    return std::max(bound, std::min(furnace_.ambient().lo, entry.load.lo));
}

double Zone::load_upper(const ZoneState& entry, const Law& law, Interval t, double control) const {
    const double first = entry.control.hi + offset_.hi;
    const double x_end = control + offset_.hi; // greatest over the stretch
    const bool steady = law.kind == LawKind::hold || law.kind == LawKind::jump;
    const bool falls = law.kind == LawKind::off || (law.kind == LawKind::line && law.rate < 0) ||
                       (steady && entry.control.hi >= setpoint_at(law, 0) - near_band);
    if (!falls || x_end > first + overshoot_) {
        const double most = std::max(first, x_end);
        return entry.load.hi <= most ? most : lag_after(entry.load.hi, most, 0, lag_.hi, t.lo);
    }
    const double tau = lag_.hi;
    const double at_zero = upper(entry, law, 0) + offset_.hi;
    double l = std::max(entry.load.hi, at_zero);
    if (law.kind == LawKind::line && plain_ramp(entry, law)) {
        const double end = (law.to - law.from) / law.rate;
        const double rest = law.from + error_ + tolerance_(std::max(law.from, law.to) + error_);
        const double dead = entry.control.hi > rest ? 0 : std::min(tracking_, end);
        const double a = std::min(t.lo, dead), b = std::min(t.lo, end) - a, c = t.lo - a - b;
        l = lag_after(l, at_zero, 0, tau, a);
        l = lag_after(l, at_zero, law.rate, tau, b);
        return lag_after(l, at_zero + law.rate * b, 0, tau, c);
    }
    // A line with its full lag from the start, then natural cooling: convex, so that chords lie above it. Under
    // a held set-point the bound stands before it falls: steps.
    const double rise =
        std::abs(law.rate) * tracking_ + error_ + tolerance_(std::max(law.from, law.to) + error_);
    const auto curve = [&](double at) {
        const double x = upper(entry, law, at);
        return (law.kind == LawKind::line ? std::max(x, setpoint_at(law, at) + rise) : x) + offset_.hi;
    };
    double from = 0, x = curve(0);
    l = std::max(l, x);
    if (steady && x <= x_end) return lag_after(l, x, 0, tau, t.lo); // at rest already
    for (int i = 1; i <= 7 && t.lo > 0; ++i) {
        const double to = i == 7 ? t.lo : t.lo * (1 - std::ldexp(1.0, -i));
        const double next = curve(to);
        l = lag_after(l, x, steady ? 0 : (next - x) / (to - from), tau, to - from);
        from = to;
        x = next;
    }
    return l;
}

// --- stretches -------------------------------------------------------------------------------------

ZoneState Zone::during(const ZoneState& entry, const Law& law, Interval t) const {
    ZoneState out = entry;
    const double s0 = setpoint_at(law, t.lo), s1 = setpoint_at(law, t.hi);
    out.setpoint = s1;
    out.setpoints = {std::min(s0, s1), std::max(s0, s1)};
    if (t.hi <= 0) return out;
    out.control = {lower(entry, law, t), upper(entry, law, t)};
    if (t.lo <= 0) out.control = hull(out.control, entry.control);
    if (out.control.lo > out.control.hi) std::swap(out.control.lo, out.control.hi);
    out.load = {load_lower(entry, law, t, out.control.lo), load_upper(entry, law, t, out.control.hi)};
    if (t.lo <= 0) out.load = hull(out.load, entry.load);
    return out;
}

Pace Zone::pace(const ZoneState& over, const Law& law) const {
    Pace p;
    const double hot = std::max(over.control.hi, over.load.hi);
    switch (law.kind) {
    case LawKind::hold: break;
    case LawKind::line:
        if (law.rate >= 0)
            p.heating_hi = furnace_.heating_rate(over.control.lo).hi;
        else
            p.cooling_hi = furnace_.cooling_rate(hot).hi;
        break;
    case LawKind::off:
        p.cooling_hi = furnace_.cooling_rate(hot).hi;
        if (over.control.lo > law.to + error_ + tolerance_(law.to))
            p.cooling_lo = furnace_.cooling_rate(over.control.lo).lo;
        break;
    case LawKind::jump:
        p.heating_hi = furnace_.heating_rate(over.control.lo).hi;
        p.cooling_hi = furnace_.cooling_rate(hot).hi;
        break;
    }
    return p;
}

// --- endings ---------------------------------------------------------------------------------------

Interval Zone::passing(const ZoneState& entry, const Law& law, double target) const {
    const double tol = tolerance_(target);
    if (law.kind == LawKind::off) {
        const double lo =
            entry.control.lo <= target + tol ? 0 : furnace_.cooling_time(entry.control.lo, target + tol).lo;
        const double hi =
            entry.control.hi <= target - tol ? 0 : furnace_.cooling_time(entry.control.hi, target - tol).hi;
        return {std::min(lo, hi), hi};
    }
    const double s = setpoint_at(law, infinity);
    if (target > s) return {0, infinity};
    const double lo =
        entry.control.hi >= target - tol ? 0 : furnace_.heating_time(entry.control.hi, target - tol).lo;
    const double hi =
        entry.control.lo >= target + tol ? 0 : furnace_.heating_time(entry.control.lo, target + tol).hi;
    return {std::min(lo, hi), hi};
}

ZoneState Zone::at_passing(const ZoneState& entry, const Law& law, double target, Interval time) const {
    ZoneState out = during(entry, law, time);
    const double tol = tolerance_(target);
    const Interval before = out.control;
    out.control = {std::max(before.lo, target - tol), std::min(before.hi, target + tol)};
    // A target that is passed already at entry is met by the entry itself.
    if (law.kind == LawKind::off && entry.control.lo < target - tol) out.control.lo = before.lo;
    if (law.kind != LawKind::off && entry.control.hi > target + tol) out.control.hi = before.hi;
    if (out.control.lo > out.control.hi) out.control = before;
    if (law.kind != LawKind::off) return out;

    // How far the load can be behind: D' = -D/lag + rate, stepped over temperature, where the fastest rate is
    // known.
    const double hot = entry.control.hi, cold = out.control.lo;
    const double tau = lag_.hi;
    double behind = std::max(0.0, entry.load.hi - entry.control.lo - offset_.hi);
    constexpr int steps = 8;
    double t = hot;
    for (int i = 1; i <= steps && hot > cold; ++i) {
        const double next = i == steps ? cold : cold + (hot - cold) * std::ldexp(1.0, -i);
        const double full = tau * furnace_.cooling_rate(t).hi;
        if (full < behind) {
            const Interval took = furnace_.cooling_time(t, next);
            // From the entry's own spread of temperatures the first step may take no time at all.
            const double least = t > entry.control.lo ? 0.0 : took.lo;
            behind = full + (behind - full) * (tau > 0 ? std::exp(-least / tau) : 0.0);
        } else {
            const Interval took = furnace_.cooling_time(t, next);
            const double most = took.hi;
            behind = full + (behind - full) * (tau > 0 && std::isfinite(most) ? std::exp(-most / tau) : 0.0);
        }
        t = next;
    }
    out.load.hi = std::min(out.load.hi, out.control.hi + offset_.hi + behind);
    out.load.lo = std::max(out.load.lo, std::min(entry.load.lo, out.control.lo + offset_.lo));
    if (out.load.lo > out.load.hi) out.load.lo = out.load.hi;
    return out;
}

double Zone::settling_time(const ZoneState& entry, const Law& law, double band) const {
    const double s = setpoint_at(law, infinity);
    if (!(band > 0)) return infinity;
    // The band is about the measured temperature; true bounds lie wider by the tolerance on both sides.
    const double tol = tolerance_(s);
    // A controller that is asked for a band is taken to hold it; without one it holds the declared error.
    const double error = std::min(error_, 0.5 * band);
    double time = 0;
    const double low = s - band - tol;
    if (entry.control.lo < low) {
        const double missing = s - error - tol - entry.control.lo;
        const double rate = std::max(0.0, furnace_.heating_rate(low).lo);
        const double powered = low - entry.control.lo > near_band
                                   ? furnace_.heating_time(entry.control.lo, low).hi
                               : rate > 0 ? (low - entry.control.lo) / rate
                                          : infinity;
        time = std::max(powered, tracking_ * std::log(std::max(1.0, missing / (band - error))));
        if (low > furnace_.holdable()) time = infinity;
    }
    const double high = s + band + tol;
    double excess = entry.control.hi;
    double reach = 0;
    if (entry.control.lo < s - error_ - tol) {
        excess = std::max(excess, s + error_ + tol + overshoot_);
        reach = time;
    }
    if (excess > high) {
        const double cooled = furnace_.cooling_time(excess, high).hi;
        time = std::max(time, reach + settling * tracking_ + cooled);
    }
    return time;
}

void Zone::narrow(ZoneState& z, double band) const {
    const Interval before = z.control;
    const double s = z.setpoint, tol = tolerance_(s + band);
    z.control = {std::max(before.lo, s - band - tol), std::min(before.hi, s + band + tol)};
    if (z.control.lo > z.control.hi) z.control = before;
}

// --- sensor ----------------------------------------------------------------------------------------

SensorTolerance::SensorTolerance(const check::Model& model, const check::Sensor& sensor) {
    if (sensor.type >= model.thermocouples.size()) return;
    for (const check::Tolerance& t : model.thermocouples[sensor.type].classes)
        if (t.number == sensor.tolerance_class) {
            absolute_ = t.absolute;
            relative_ = t.relative;
            from_ = t.from;
            added_ = t.added;
        }
}

double SensorTolerance::operator()(double temperature) const {
    const double t = temperature - 273.15;
    if (added_) return absolute_ + relative_ * std::max(0.0, t - from_);
    return std::max(absolute_, relative_ * std::abs(t));
}

} // namespace athanor::plant
