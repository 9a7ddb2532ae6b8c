// How long a zone takes to pass a temperature or to come into a band, and where it stands then.
#include "compiler/plant/zone.hpp"

#include <algorithm>
#include <cmath>

namespace athanor::plant {

using timeline::Law;
using timeline::LawKind;

namespace {

/// K by which a clock may stop before its band ends.
constexpr double stop = 0.1;
/// K by which the sensor's tolerance may differ over the few kelvin of an undershoot.
constexpr double of_tolerance = 0.5;

} // namespace

/// What a clock that stands still outside a band makes of a line.
Zone::Slowed Zone::slowed(const ZoneState& entry, const Law& law, double band, const FurnaceZone& f) const {
    Slowed slow;
    if (law.kind != LawKind::line || law.rate == 0 || !(band > 0)) return slow;
    // A controller that is asked for a band is taken to hold it: its error is half of it at most.
    const double error = std::min(error_, 0.5 * band), within = std::max(0.0, band - error - stop);
    if (tracking_ > 0) slow.share = std::min(1.0, within / tracking_ / std::abs(law.rate));
    ZoneState at = entry;
    at.comes_down = at.comes_up = false;
    // The set-point of the start is what the sensor shows of the room: nothing swings about it yet.
    const bool swings = !(entry.untouched && entry.setpoint == law.from);
    slow.delay = settling_time(at, {LawKind::hold, law.from, law.from, 0}, band, f, swings).all;
    return slow;
}

Interval Zone::passing(const ZoneState& entry, const Law& law, double target, const FurnaceZone& f) const {
    const double tol = tolerance_(target);
    if (law.kind == LawKind::off) {
        const double lo =
            entry.control.lo <= target + tol ? 0 : f.cooling_time(entry.control.lo, target + tol).lo;
        const double hi =
            entry.control.hi <= target - tol ? 0 : f.longest_cooling(entry.control.hi, target - tol);
        return {std::min(lo, hi), hi};
    }
    const double s = setpoint_at(law, infinity);
    if (target > s) return {0, infinity};
    const double lo = entry.control.hi >= target - tol ? 0 : f.heating_time(entry.control.hi, target - tol).lo;
    const double hi = entry.control.lo >= target + tol ? 0 : f.heating_time(entry.control.lo, target + tol).hi;
    return {std::min(lo, hi), hi};
}

ZoneState Zone::at_passing(const ZoneState& entry, const Law& law, double target, Interval time, bool last,
                           const FurnaceZone& f) const {
    ZoneState out = during(entry, law, time, f);
    const double tol = tolerance_(target);
    const Interval before = out.control;
    // A zone that is there before the others is held at its set-point, or goes on to it.
    const double held = last ? 0 : error_, under = last ? 0 : error_ + overshoot_;
    out.control = {std::max(before.lo, target - tol - under), std::min(before.hi, target + tol + held)};
    if (!last && law.kind != LawKind::off) out.control.hi = before.hi;
    // A target that is passed already at entry is met by the entry itself.
    // One whose set-point lies below it goes on down while the others are waited for.
    const bool on_down = !last && law.to < target;
    if (law.kind == LawKind::off && (on_down || entry.control.lo < target - tol)) out.control.lo = before.lo;
    if (law.kind != LawKind::off && entry.control.hi > target + tol) out.control.hi = before.hi;
    if (out.control.lo > out.control.hi) out.control = before;
    tie_below(out, target - tol - under);
    tie_above(out, target + tol + held);
    if (law.kind != LawKind::off) return out;

    // How far the load can be behind: D' = -D/lag + rate, stepped over temperature, where the fastest rate is
    // known. Control and D together only fall, so the load is hottest where the zone passes soonest.
    const double hot = entry.control.hi, cold = target + tol + held;
    const double tau = lag_.hi;
    double behind = std::max(0.0, entry.load.hi - entry.control.lo - offset_.hi);
    constexpr int steps = 8;
    double t = hot;
    for (int i = 1; i <= steps && hot > cold; ++i) {
        const double next = i == steps ? cold : cold + (hot - cold) * std::ldexp(1.0, -i);
        const double full = tau * f.cooling_rate(t).hi;
        if (full < behind) {
            const Interval took = f.cooling_time(t, next);
            // From the entry's own spread of temperatures the first step may take no time at all.
            const double least = t > entry.control.lo ? 0.0 : took.lo;
            behind = full + (behind - full) * (tau > 0 ? std::exp(-least / tau) : 0.0);
        } else {
            const double most = f.longest_cooling(t, next);
            behind = full + (behind - full) * (tau > 0 && std::isfinite(most) ? std::exp(-most / tau) : 0.0);
        }
        t = next;
    }
    double load = std::min(hot, cold) + offset_.hi + behind;
    // What has passed already at entry is left as it is.
    if (entry.control.lo < cold) load = std::max(load, entry.load.hi);
    out.load.hi = std::min(out.load.hi, load);
    out.load.lo = std::max(out.load.lo, std::min(entry.load.lo, out.control.lo + offset_.lo));
    if (out.load.lo > out.load.hi) out.load.lo = out.load.hi;
    return out;
}

Zone::Outside Zone::settling_time(const ZoneState& entry, const Law& law, double band, const FurnaceZone& f,
                                  bool swings) const {
    const double s = setpoint_at(law, infinity);
    if (!(band > least_error_)) return {infinity, 0, infinity};
    // The band is about the measured temperature; true bounds lie wider by the tolerance on both sides.
    const double tol = tolerance_(s);
    // A controller that is asked for a band is taken to hold it, where its least error allows; without one it
    // holds the declared error.
    const double error = std::min(error_, 0.5 * band);
    double time = 0;
    const double low = s - band - tol;
    const Unread unread = unread_at(entry, s, f);
    if (entry.control.lo < low + unread.below) {
        // The furnace has the least power for a sensor that reads low.
        const double rate = std::max(0.0, f.heating_rate(low + 2 * tol).lo);
        const double missing = s - error - tol - entry.control.lo + unread.below;
        const Near near = near_below(entry, missing, band - error, rate, f);
        time = near.time + tracking_ * std::log(near.rest / (band - error));
        if (!(rate > 0) || low + 2 * tol > f.holdable()) time = infinity;
    }
    const double high = s + band + tol;
    double excess = entry.control.hi, peak = -infinity;
    double reach = 0;
    if (swings && entry.control.lo < s - error_ - tol) {
        peak = s + error_ + tol + overshoot_;
        reach = time;
    } else if (const double up = swings && entry.comes_up ? arrived_above(entry, s, this->band(s), f) : -1;
               up >= 0) {
        peak = s + error_ + tol + overshoot_;
        reach = up;
    }
    excess = std::max(excess, peak);
    // A sensor that reads high has its zone lower, where it cools more slowly.
    const double lower = std::min(excess, std::max(entry.control.hi + unread.above, peak) - 2 * tol);
    const auto cooled = [&](double warm, double cold) {
        return std::max(f.longest_cooling(warm, high), f.longest_cooling(cold, high - 2 * tol));
    };
    if (excess > high) time = std::max(time, reach + settling * tracking_ + cooled(excess, lower));
    if (const double above = entry.control.hi - (s + error + tol) + unread.above; above > band - error) {
        const Near near = near_above(s + error, above, band - error, f);
        time = std::max(time, near.time + tracking_ * std::log(near.rest / (band - error)));
    }
    // Or it comes down and undershoots, out of the band on both sides; between them the clock runs.
    if (const double beyond = error_ + overshoot_ - band; swings && beyond > 0 && undershoots(entry, s)) {
        const double above = entry.control.hi > high ? cooled(entry.control.hi, lower) : 0;
        const double rate = f.heating_rate(s).lo;
        const double below = settling * tracking_ + (rate > 0 ? (beyond + of_tolerance) / rate : infinity);
        return {std::max(time, above), below, std::max(time, above + below)};
    }
    return {time, 0, time};
}

void Zone::narrow(ZoneState& z, double band) const {
    const Interval before = z.control;
    const double s = z.setpoint, tol = tolerance_(s + band);
    z.control = {std::max(before.lo, s - band - tol), std::min(before.hi, s + band + tol)};
    if (z.control.lo > z.control.hi) z.control = before;
    tie_below(z, s - band - tol);
    tie_above(z, s + band + tol);
}

} // namespace athanor::plant
