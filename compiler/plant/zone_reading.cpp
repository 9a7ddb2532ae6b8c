// What a zone's bounds leave open of what its sensor reads.
//
// The measured temperature heads for a set-point whatever the sensor's error: D' = -min(full, D / tracking), D
// being what is missing by its reading. A zone that was held by its sensor stands lowest where that reads high,
// so that D is what `control.lo` is short of such a sensor's target. One that comes from afar or from the room,
// or had no set-point, may stand there with a sensor that reads low: D is greater by up to twice the tolerance.
// At full power that difference does not grow, and under the lag it fades as D does. Above a set-point, the
// same with natural cooling and the sensors the other way round.
#include "compiler/plant/zone.hpp"

#include <algorithm>
#include <cmath>

namespace athanor::plant {

using timeline::Law;
using timeline::LawKind;

namespace {

/// K: a difference that is forgotten.
constexpr double nothing = 1e-6;

} // namespace

Zone::Near Zone::near_below(const ZoneState& entry, double missing, double least, double rate,
                            const FurnaceZone& f) const {
    // At full power as long as every furnace is given it, at the least rate of the way until the lag decides.
    const double lead = std::max(tracking_ * std::max(0.0, f.heating_rate(entry.control.lo).lo), near_band);
    const double rest = std::clamp(lead, least, std::max(least, missing));
    const double lag = std::clamp(tracking_ * rate, least, rest);
    const double powered =
        missing > rest ? f.heating_time(entry.control.lo, entry.control.lo + missing - rest).hi : 0.0;
    return {rate > 0 ? powered + (rest - lag) / rate : infinity, lag};
}

Zone::Near Zone::near_above(double setpoint, double excess, double least, const FurnaceZone& f) const {
    const double foot = setpoint - tolerance_(setpoint); // of a sensor that reads high
    const double lag = std::clamp(tracking_ * f.cooling_rate(foot).lo, least, std::max(least, excess));
    return {excess > lag ? f.longest_cooling(foot + excess, foot + lag) : 0.0, lag};
}

/// Once the set-point is `s`.
Unread Zone::unread_at(const ZoneState& entry, double s, const FurnaceZone& f) const {
    const double tol = tolerance_(s), most = 2 * tol;
    const double missing = s - error_ - tol - entry.control.lo;
    const double unheated = furnace_.ambient().hi + error_ + tol;
    Unread u = entry.unread;
    if (entry.setpoint != s) {
        // The tolerance may be wider there than where the zone stood.
        const double least = entry.control.lo + tolerance_(entry.control.lo);
        const double stood = std::isfinite(entry.setpoint) ? std::max(entry.setpoint, least) : least;
        const double wider = 2 * std::max(0.0, tol - tolerance_(stood));
        u.below += wider;
        u.above += wider;
    }
    if (entry.control.lo < unheated && s > unheated) u.below = most;
    if (missing > near_band && missing > tracking_ * f.heating_rate(entry.control.lo).lo) u.below = most;
    const double above = entry.control.hi - (s + error_ + tol + overshoot_);
    if (above > near_band && above > tracking_ * f.cooling_rate(entry.control.hi).hi) u.above = most;
    return {std::min(u.below, most), std::min(u.above, most)};
}

/// The same, `time` s after the law's begin.
Unread Zone::unread_after(const Course& c, double time) const {
    const Law& law = c.law;
    if (c.steady && !(c.unread.below > nothing) && !(c.unread.above > nothing)) return {};
    const auto all = [&] { return 2 * tolerance_(std::max(setpoint_at(law, infinity), c.entry.control.hi)); };
    if (law.kind == LawKind::off) return {all(), all()};
    Unread left{left_below(c, time), left_above(c, time)};
    if (c.steady) return left;
    if (!c.plain) { // at full power or without any, whatever is read
        (law.rate > 0 ? left.below : left.above) = all();
    } else if (law.rate > 0) {
        // Where the tolerance grows with temperature, a line that is read is a steeper one in truth.
        const double steeper = tolerance_(law.to) - tolerance_(law.to - 1);
        left.below += std::max(0.0, steeper) * law.rate * tracking_;
    }
    return left;
}

/// What is left of the law's own entry.
double Zone::left_below(const Course& c, double time) const {
    const double unread = c.unread.below;
    if (!(unread > nothing)) return 0;
    const double start = c.setpoint, top = std::max(start, setpoint_at(c.law, infinity));
    const double missing = std::max(0.0, start - error_ - tolerance_(start) - c.entry.control.lo) + unread;
    const double rate = std::max(0.0, c.f.heating_rate(top).lo);
    if (missing <= tracking_ * rate) return faded(unread, time);
    return c.steady ? faded(unread, time - near_below(c.entry, missing, 0, rate, c.f).time) : unread;
}

double Zone::left_above(const Course& c, double time) const {
    const double unread = c.unread.above;
    if (!(unread > nothing)) return 0;
    const double start = c.setpoint, foot = std::min(start, setpoint_at(c.law, infinity));
    const double excess = std::max(0.0, c.entry.control.hi - (start + error_ + tolerance_(start))) + unread;
    if (excess <= tracking_ * c.f.cooling_rate(foot - tolerance_(foot)).lo) return faded(unread, time);
    return c.steady ? faded(unread, time - near_above(start + error_, excess, 0, c.f).time) : unread;
}

/// After `since` s under the lag.
double Zone::faded(double unread, double since) const {
    if (!(since > 0)) return unread;
    const double left = tracking_ > 0 ? unread * std::exp(-since / tracking_) : 0.0;
    return left > nothing ? left : 0;
}

/// The measured temperature is known to be at least that of `at` and a sensor that reads high.
void Zone::tie_below(ZoneState& z, double at) {
    if (z.control.lo >= at) z.unread.below = std::min(z.unread.below, z.control.lo - at);
}

/// At most that of `at` and a sensor that reads low.
void Zone::tie_above(ZoneState& z, double at) {
    if (z.control.hi <= at) z.unread.above = std::min(z.unread.above, at - z.control.hi);
}

} // namespace athanor::plant
