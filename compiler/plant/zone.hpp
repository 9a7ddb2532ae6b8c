#pragma once
#include "compiler/check/model.hpp"
#include "compiler/plant/neighbours.hpp"
#include "compiler/plant/plant.hpp"
#include "compiler/plant/sensor.hpp"
#include "compiler/timeline/timeline.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

/// The temperatures of one zone under a set-point law: an envelope that holds every furnace, controller and
/// load inside the declared intervals.
///
/// Control: the measured temperature stays within [S - tracking * rate - error, S + error + overshoot] of the
/// set-point S (mirrored when cooling). Outside that band the controller gives full power or none, so that the
/// slowest and fastest curves of the furnace bound the way back; a lag left by a ramp decays with the tracking
/// time. An overshoot or undershoot may last `settling` tracking times, from the arrival at the set-point on,
/// before the furnace comes back from it. True and measured temperature differ by the sensor's tolerance.
///
/// A step down at 0 s, as the bounds see it (a step up is its mirror image; there `arrived` is asked for):
///
///     entry ----+.
///               | `. `.   fastest and slowest furnace, without power
///     S + error |...`..`............................  high
///     S         |    `. `.                   ,------  held
///     S - error |......`..`.............../.........  low, less the sensor's tolerance
///       - overshoot     `--`-------------'            the undershoot stands
///               0           |<- settling ->|
///                           arrives        settled: cooling time of the slowest + settling * tracking
///
///   untouched    before 0: no law has moved the set-point of the start yet
///   comes_down   from 0 to `settled`, over the ends of spans: some rig is on its way, or its undershoot stands
///   arrived      of a step up: when the slowest furnace has come up; its overshoot may stand as long again
///   unread       from 0 on 2 tolerances at most: full power or none goes by what one sensor reads; from where
///                the lag decides on it fades as exp(-t / tracking)
///
/// Load: dL/dt = (Tc + offset - L) / lag. L grows with Tc and with itself, so its bounds are the solutions for
/// the bounds of Tc with the longest lag towards a curve that runs away, the shortest lag otherwise. Nothing
/// becomes colder than the room, whatever the offset.
namespace athanor::plant {

/// Multiples of the tracking time in which an overshoot or undershoot may still stand (common practice, no
/// source).
inline constexpr double settling = 5;
/// K within which the furnace's rate at the adverse end stands for its curve: own choice. Either is a bound, so
/// that the width decides only between work and tightness. Where readings are asked for (zone_reading.cpp) it
/// is also the way on which one sensor's error counts as constant: 0.75 % of it, 0.3 K, by the wider class of
/// type K (IEC 60584-1).
inline constexpr double near_band = 40;

/// Set-point a time after the entry of a span.
inline double setpoint_at(const timeline::Law& law, double t) {
    if (law.kind == timeline::LawKind::hold) return law.to != 0 ? law.to : law.from;
    if (law.kind != timeline::LawKind::line) return law.to;
    const double s = law.from + law.rate * t;
    return law.rate >= 0 ? std::min(s, law.to) : std::max(s, law.to);
}

/// What a lag leaves of a difference after t. tau = 0: no lag.
inline double left_after(double tau, double t) {
    return tau <= 0 ? 0 : t == 0 ? 1 : std::exp(-t / tau);
}
/// First-order lag behind the line x0 + slope * t: the value after t, from l0; `left` as `left_after` says.
inline double lag_after(double l0, double x0, double slope, double tau, double t, double left) {
    if (tau <= 0) return x0 + slope * t;
    return x0 + slope * (t - tau) + (l0 - x0 + slope * tau) * left;
}
inline double lag_after(double l0, double x0, double slope, double tau, double t) {
    return lag_after(l0, x0, slope, tau, t, left_after(tau, t));
}

/// What moves a zone's gas: bounds of the speed of its temperature from the entry to the end of a stretch, K/s,
/// all positive.
struct Pace {
    double heating_hi = 0;
    double cooling_hi = 0, cooling_lo = 0;
    /// No part of the gas cools faster than a line over its own temperature: K/s at two temperatures.
    static constexpr double cold = 200, hot = 3500; // K
    double cooling_at_cold = infinity, cooling_at_hot = infinity;
    double cooling_at(double t) const {
        return cooling_at_cold + (cooling_at_hot - cooling_at_cold) * (t - cold) / (hot - cold);
    }
    bool lined() const { return cooling_at_cold < infinity && cooling_at_hot < infinity; }
    /// What a controller may do inside its band at any time; only pressures count it.
    double heating_most = 0, cooling_most = 0;
    double inside = 0; // K that the gas moves at most inside that band
};

class Zone {
    struct Course;

public:
    Zone(const check::Model& model, const check::Rig& rig);

    const Furnace& furnace() const { return furnace_; }
    const SensorTolerance& tolerance() const { return tolerance_; }
    Interval offset() const { return offset_; } // of the load, K
    double control_error() const { return error_; }
    /// K by which the controller may move a zone about its set-point.
    double swing() const { return 2 * error_ + overshoot_ + 0.5; }
    /// K, greatest, of the true temperature above a set-point where it has arrived.
    double above_setpoint(double setpoint) const { return error_ + overshoot_ + tolerance_(setpoint + error_); }

    ZoneState start() const;
    /// One law from one entry, to be asked at several times.
    class Way;
    // `f`: the furnace as the zone sees it, between its neighbours.
    /// Over [t.lo, t.hi] s after entry; t.lo = t.hi = 0 gives the entry back with the law's set-point.
    ZoneState during(const ZoneState& entry, const timeline::Law& law, Interval t, const FurnaceZone& f) const;
    /// The control sensor's temperature from entry to `until` s.
    Interval control_over(const ZoneState& entry, const timeline::Law& law, double until,
                          const FurnaceZone& f) const;
    /// How fast it moves the gas, from the entry to a time.
    class Speeds;

    /// A line whose clock stands still outside a band runs at least at this share of its rate, once `delay` s
    /// have passed. Taken: an overshoot on the way does not stop it.
    struct Slowed {
        double share = 1, delay = 0;
    };
    Slowed slowed(const ZoneState& entry, const timeline::Law& law, double band, const FurnaceZone& f) const;

    /// s until the measured temperature has passed `target` (down when the law cools, else up).
    Interval passing(const ZoneState& entry, const timeline::Law& law, double target,
                     const FurnaceZone& f) const;
    /// The state at that instant, whatever its time.
    /// `last`: no other zone is waited for.
    ZoneState at_passing(const ZoneState& entry, const timeline::Law& law, double target, Interval time,
                         bool last, const FurnaceZone& f) const;
    /// s for which the measured temperature may be outside `band` of a held set-point; infinite: never
    /// certainly inside.
    struct Outside {
        double first = 0; // from the entry on, in one piece
        double later = 0; // in another piece, at some time behind it
        double all = 0;   // together, at most
    };
    Outside settling_time(const ZoneState& entry, const timeline::Law& law, double band, const FurnaceZone& f,
                          bool swings = true) const;
    /// A state in which the measured temperature is known to be within `band` of the set-point.
    void narrow(ZoneState& state, double band) const;

private:
    /// In natural cooling, convex in temperature, the mean of past rates lies below the chord from the room to
    /// the hottest that the furnace knows; so does every mean of control point and load, at its own
    /// temperature.
    struct Chord {
        double room = 0, top = 0;                     // K
        double slowest = 0, fastest = 0;              // K/s there
        bool known = false;                           // a finite one
        double at_cold = infinity, at_hot = infinity; // K/s, as Pace's `cooling_at_...`
        double operator()(double t) const { return slowest + (fastest - slowest) * (t - room) / (top - room); }
    };
    Chord chord(const FurnaceZone& f, double top) const;

    /// The way from a temperature towards a line: at full power (without any), and the rest of it, in K, with
    /// the tracking time.
    struct Approach {
        double from = 0, line = 0, rest = 0; // K
        bool far = false;                    // there is more than the rest
        double powered = 0;                  // s until the rest is left
    };
    struct Pieces;
    Approach approach_below(double from, double line, const FurnaceZone& f) const;
    Approach approach_above(double from, double line, const FurnaceZone& f) const;

    /// What the bounds of one law from one entry need at every instant alike, worked out once.
    struct Course {
        Course(const Zone& zone, const ZoneState& entry, const timeline::Law& law, const FurnaceZone& f);

        const ZoneState& entry;
        const timeline::Law& law;
        const FurnaceZone& f;
        double setpoint;            // K, at the begin
        double floor, ceiling;      // K: below (above) them the room alone decides
        double holdable;            // K
        bool steady = false;        // a held set-point
        bool falls = false;         // natural cooling, or a falling line
        bool rises = false;         // a line that does not fall: its upper bound is that of the stretch's end
        bool highest_first = false; // no upper bound is greater than that at the entry
        bool plain = false;         // a line that every furnace follows
        // Held: the band below and above the set-point, and the way into it.
        double low = 0, high = 0;
        double heats = 0, cools = 0; // K/s that every furnace has at `low` and `high`, where asked
        // Held, or falling: the hottest of all on their way down, an overshoot's top too.
        double peak = 0;
        bool eases = false;        // held: it goes down from there at one rate, and no zone comes from afar
        bool undershoots = false;  // it comes down; until when says settled_at
        double arrived = -1;       // s, as arrived_above says
        Approach below{}, above{}; // of a zone that is not in the band, or not on the line
        double missed = 0;         // s from which on nothing is missing in the band any more
        double follows = 0;        // K up or down to which every furnace follows a line
        double slack_below = 0, slack_above = 0; // K that a line may be missed by at no lag
        Unread unread{};                         // as ZoneState's, towards the law's first set-point
        // Where a line begins: some zone may have yet to come down (up) onto it.
        bool comes_down = false, comes_up = false;
        // K: no zone falls below where it stands when a rising line begins, or below the line's band there;
        // none rises above a falling one's, whether the furnace follows or not.
        double foot = -infinity, head = infinity;
        // Bounds that several questions need, kept when they are first asked for.
        mutable std::optional<Furnace::Fastest> fastest{}; // from the coldest entry, without power
        mutable std::optional<Furnace::Slowest> slowest{}; // from the hottest
        mutable std::optional<double> settled{};
        mutable std::optional<double> lower_at_entry{}, upper_at_entry{};
        mutable std::optional<double> greatest{}; // of the upper bound from entry to `greatest_until`
        mutable double greatest_until = 0;
        // Of a zone alone that falls an upper bound is that of the stretch's begin, a lower one that of its
        // end: the last of each, for an instant is mostly asked for beside the stretch from or to it.
        struct Above {
            double time = -1; // s
            double most, control, load;
        };
        struct Below {
            double time = -1; // s
            double bound;
        };
        mutable Above last_above;
        mutable Below last_below;
    };
    void move(const Course& c, const Course& warm, Interval t, ZoneState& out) const;
    double fallen_lower(const Course& c, Interval t) const;
    void settle(const Course& c, double time, ZoneState& out) const;

    double lower(const Course& c, Interval t) const;
    double regulated_lower(const Course& c, double t) const;
    double moving_lower(const Course& c, double t) const;
    double lower_at_entry(const Course& c) const;
    double upper(const Course& c, Interval t) const;
    double moving_upper(const Course& c, Interval t) const;
    double upper_at_entry(const Course& c) const;
    double upper_until(const Course& c, double until) const;
    Interval shown(Interval t) const;
    bool from_room(const ZoneState& entry, const timeline::Law& law) const;
    /// From `missing` K (`excess` K) of reading, error aside, to where the lag alone decides: s, and K that are
    /// missing (in excess) there. A rest of less than `least` is none.
    struct Near {
        double time = 0, rest = 0;
    };
    Near near_below(const ZoneState& entry, double missing, double least, double rate,
                    const FurnaceZone& f) const;
    Near near_above(double setpoint, double excess, double least, const FurnaceZone& f) const;
    Unread unread_at(const ZoneState& entry, double setpoint, const FurnaceZone& f) const;
    Unread unread_after(const Course& c, double time) const;
    double left_below(const Course& c, double time) const;
    double left_above(const Course& c, double time) const;
    double faded(double unread, double since) const;
    static void tie_below(ZoneState& state, double at);
    static void tie_above(ZoneState& state, double at);
    double still_missing(double missing, double rate, double full, double t) const;
    double below_line(const Approach& way, double rate, double full, double t, const FurnaceZone& f) const;
    double above_line(const Approach& way, double rate, double full, double t, const FurnaceZone& f) const;
    bool undershoots(const ZoneState& entry, double setpoint) const;
    double settled_at(const Course& c) const;
    bool settles_after(const Course& c, double time) const;
    /// True temperatures between which a controller holds a set-point.
    Interval band(double setpoint) const {
        return {setpoint - error_ - tolerance_(setpoint), setpoint + error_ + tolerance_(setpoint + error_)};
    }
    /// `band`: that of the set-point.
    double arrived_above(const ZoneState& entry, double setpoint, Interval band, const FurnaceZone& f) const;
    double held_lower(const Course& c, double t) const;
    double held_upper(const Course& c, Interval t) const;
    double held_from_afar(const Course& c, Interval t, double bound) const;
    // `control`: bound of the zone over the stretch; `most`: as `upper` says;
    // `pieces`: of t.lo.
    double load_lower(const Course& c, Interval t, double control, Pieces& pieces) const;
    double load_upper(const Course& c, Interval t, double control, double most, Pieces& pieces) const;
    // The load `t` s after the entry, from `l`; `at_zero`: what it heads for at the entry.
    double along_line(const Course& c, double l, double at_zero, bool lags, double t) const;
    double along_rising(const Course& c, double l, double at_zero, double t) const;
    double along_falling(const Course& c, double l, double at_zero, double t) const;
    double behind_rising(const Course& c, double l, double t, Pieces& pieces) const;
    double behind_falling(const Course& c, double l, double at_zero, double t, double at_t,
                          Pieces& pieces) const;
    double behind_held_lower(const Course& c, double l, double t, Pieces& pieces) const;
    double behind_held_upper(const Course& c, double l, double t, Pieces& pieces) const;
    template<class Curve>
    double along_chords(double l, double x, const Pieces& pieces, Curve curve) const;
    bool plain_ramp(const Course& c, double rate) const;

    Furnace furnace_;
    SensorTolerance tolerance_;
    double tracking_ = 0, error_ = 0, overshoot_ = 0; // s, K, K
    double least_error_ = 0;                          // K that every rig's controller is off by, steadily
    Interval lag_, offset_;
    double left_of_tracking_ = 0; // by the longest lag of a difference, the tracking time later
    double top_ = 0;              // K, of the furnace's range
    // By how much faster a load may go than the zone, for its offset: taken to build up over 100 K above the
    // room or more.
    double offset_share_ = 1;
    double below_ = 0;  // K by which the load may be colder than the zone
    Chord usual_chord_; // from the room to `top_`, without neighbours
};

class Zone::Speeds {
public:
    /// `over`: from entry to the end of the stretch that is asked for. `zone` and `f`'s furnace must outlive
    /// it.
    Speeds(const Zone& zone, const ZoneState& entry, const ZoneState& over, const timeline::Law& law,
           const FurnaceZone& f);
    const Pace& pace() const { return pace_; }
    /// K/s by which the gas cools at most in a stretch on the way.
    double cooling_now(const ZoneState& now) const {
        double most = down_ ? f_.cooling_rate(std::min(at_most_, now.control.hi)).hi : 0;
        if (!load_down_) return most;
        double rate = rate_;
        if (chord_.known) {
            const double below = zone_->below_;
            rate = std::min(rate,
                            chord_(std::clamp(now.load.hi, chord_.room - below, chord_.top - below) + below));
        }
        return std::max(most, zone_->offset_share_ * rate);
    }

private:
    Pace pace_;
    const Zone* zone_;
    FurnaceZone f_;
    bool down_ = false, load_down_ = false;
    double at_most_ = infinity; // K
    double rate_ = 0;           // K/s of the load, greatest
    Chord chord_;
};

class Zone::Way {
public:
    /// What it is given must outlive it.
    Way(const Zone& zone, const ZoneState& entry, const timeline::Law& law, const FurnaceZone& f);
    Way(const Way&) = delete;
    Way& operator=(const Way&) = delete;
    /// As Zone::during; all of `out`, which is not the entry.
    void during(Interval t, ZoneState& out) const;
    /// `all` holds the entry and a later stretch; adds what lies between them. False: only the stretch from the
    /// entry on tells, as where a zone first falls to a line that then takes it up again.
    bool between(ZoneState& all) const;

private:
    const Course& cold() const;
    bool calm() const;

    const Zone& zone_;
    const ZoneState& entry_;
    const timeline::Law& law_;
    const FurnaceZone& f_;
    struct FromRoom {
        timeline::Law low, high; // from the coldest and the warmest room
    };
    std::optional<FromRoom> room_;              // where the law starts from what the room may have
    mutable std::optional<Course> cold_, warm_; // worked out when they are first asked for
};

} // namespace athanor::plant
