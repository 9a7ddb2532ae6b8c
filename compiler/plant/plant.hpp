#pragma once
#include "compiler/check/model.hpp"
#include "compiler/plant/filled.hpp"
#include "compiler/quantity/interval.hpp"
#include "compiler/timeline/timeline.hpp"

#include <algorithm>
#include <array>
#include <memory>
#include <span>
#include <string>
#include <vector>

/// The rig as a model: what temperature, composition and pressure can be, as intervals that hold every rig
/// inside the declared uncertainties. SI throughout.
namespace athanor::plant {

inline constexpr std::size_t max_zones = 4;
inline constexpr std::size_t max_species = 16;
inline constexpr std::size_t max_lines = 32; // gas lines of a rig
/// Longest time that is computed with, s; a person may take longer, but nothing changes any more.
inline constexpr double for_ever = 1e9;
/// Pa below the lowest ambient pressure from which a tube counts as evacuated (common practice, no source).
inline constexpr double evacuated_below = 10000;
/// K, 100 degC: a load that is left alone hotter than this is hot (common practice, no source).
inline constexpr double left_alone = 373.15;

/// K by which the measured temperature may be farther from the set-point than the bound on that side says:
/// below it, farther than `control.lo` is from what a sensor that reads high makes of the set-point; above it,
/// farther than `control.hi` from what one that reads low makes of it. 0 where the zone was held by its own
/// sensor.
struct Unread {
    double below = 0, above = 0;
};

inline Unread greatest(Unread a, Unread b) {
    return {std::max(a.below, b.below), std::max(a.above, b.above)};
}

struct ZoneState {
    double setpoint = 0; // K, at the end of the stretch
    Interval control;    // true temperature at the control sensor, K
    Interval load;       // true temperature of the load, K
    Interval setpoints;  // K, every set-point of the stretch
    /// Some rig has yet to come down (up) to its set-point, or its undershoot (overshoot) still stands.
    bool comes_down = false, comes_up = false;
    bool untouched = false; // the set-point is still what the sensor showed at the start
    Unread unread{};
};

using ZoneStates = Filled<ZoneState, max_zones>;   // by zone of the timeline
using Composition = Filled<Interval, max_species>; // mole fractions by species of the timeline

/// What every state has, however many zones and gases there are.
struct Always {
    Interval pressure; // Pa, absolute, in the tube
    Interval swept;    // tube volumes since air was let in
    Interval elapsed;  // s
    Interval burning;  // s since the burner was lit
    Interval inflow;   // mol/s that flows in now, meter error included
    Interval drawn_in; // mol/s of room air drawn in through the outlet; {0,0}: none
    Interval taken;    // mol/s that contraction and leak may ask for, before what flows in covers it
};

/// Bounds of the state at one instant, or over a stretch of time.
struct State : Always {
    ZoneStates zones;
    Composition fraction; // free gas
    Composition pore;     // gas in porous plugs; equals `fraction` without plugs
};

/// A State where it is kept, field for field: whoever reads one or two of them needs no whole state.
struct KeptState : Always {
    std::span<const ZoneState> zones;
    std::span<const Interval> fraction, pore;

    /// The whole of it, for the plant.
    operator State() const {
        State state;
        static_cast<Always&>(state) = *this;
        std::copy(zones.begin(), zones.end(), state.zones.overwrite(zones.size()));
        std::copy(fraction.begin(), fraction.end(), state.fraction.overwrite(fraction.size()));
        std::copy(pore.begin(), pore.end(), state.pore.overwrite(pore.size()));
        return state;
    }
};

/// Makes `a` hold every state that it or `b` holds.
inline void widen(ZoneState& a, const ZoneState& b) {
    a.setpoint = std::max(a.setpoint, b.setpoint);
    a.setpoints = hull(a.setpoints, b.setpoints);
    a.control = hull(a.control, b.control);
    a.load = hull(a.load, b.load);
    a.comes_down = a.comes_down || b.comes_down;
    a.comes_up = a.comes_up || b.comes_up;
    a.untouched = a.untouched && b.untouched;
    a.unread = greatest(a.unread, b.unread);
}
/// `b`: a State, or what has its fields.
template<class Bounds>
void widen(State& a, const Bounds& b) {
    a.zones.grow(b.zones.size());
    ZoneState* zone = a.zones.begin();
    for (const ZoneState& by : b.zones) widen(*zone++, by);
    const auto widen_gas = [](Composition& to, const auto& from) {
        to.grow(from.size());
        Interval* share = to.begin();
        for (const Interval& by : from) *share = hull(*share, by), ++share;
    };
    widen_gas(a.fraction, b.fraction);
    widen_gas(a.pore, b.pore);
    a.pressure = hull(a.pressure, b.pressure);
    a.swept = hull(a.swept, b.swept);
    a.elapsed = hull(a.elapsed, b.elapsed);
    a.burning = hull(a.burning, b.burning);
    a.inflow = hull(a.inflow, b.inflow);
    a.drawn_in = hull(a.drawn_in, b.drawn_in);
    a.taken = hull(a.taken, b.taken);
}

/// A passage in the plant's memory (memory.hpp).
struct Remembered;

/// How a span goes on this rig from a given entry.
struct Passage {
    Interval duration;     // s: [shortest possible, longest possible]; for `certain` the sufficient time twice
    bool reachable = true; // false: no rig, or not every rig, ever ends it
    /// When not reachable: "oxygen cannot fall below 3.1 ppm: the grade of argon gives 2 ppm, …".
    std::string why;
    State exit;                             // hull over the duration
    const Remembered* remembered = nullptr; // where the plant keeps it, as long as it lives
};

enum class Verdict : std::uint8_t { proven, violated, not_provable };

/// What a span does to the rig.
struct Drive {
    const timeline::Law* laws = nullptr; // one per zone
    const timeline::State* state = nullptr;
    /// Where the set-points are known to lie between two laws: the higher ones. Temperatures rise with
    /// set-points, so the lower bounds are those of `laws` and the upper bounds those of `most`.
    const timeline::Law* most = nullptr;
    double band = 0;    // K from the set-point outside which its clock stands still; 0: the clock always runs
    bool counts = true; // time elapsed: not while a person is waited for
};

inline double band_of(const timeline::Ending& ending) {
    return ending.kind == timeline::EndingKind::band ? ending.band : 0;
}
/// What a span of a timeline does.
inline Drive drive(const timeline::Timeline& timeline, std::size_t span) {
    const timeline::State* state = &timeline.states[timeline.spans[span].state];
    const bool range = !timeline.laws_most.empty();
    return {timeline.laws_of(span), state,
            range ? timeline.laws_most.data() + span * timeline.zones.size() : nullptr,
            band_of(timeline.spans[span].ending),
            timeline.spans[span].ending.kind != timeline::EndingKind::person};
}

/// The cooling or heating capacity at a temperature, for messages and feasibility.
struct Capacity {
    Interval heating; // K/s the furnace can give at that temperature, over every rig
    Interval cooling; // K/s it loses with the heater off
};

/// One plant belongs to one thread at a time: what it has answered is remembered (memory.hpp), also by `const`
/// members.
class Plant {
public:
    /// `timeline` gives species, lines and thresholds; only those fields are read. It must outlive the plant,
    /// and they stay unchanged, but for thresholds that are added before a state arms them.
    Plant(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline);
    ~Plant();
    Plant(const Plant&) = delete;
    Plant& operator=(const Plant&) = delete;

    /// Air at ambient, set-point = measured.
    State start() const;

    /// Bounds over the whole stretch of time [t.lo, t.hi] after entry (t.lo = t.hi: at that instant).
    State during(const State& entry, Drive drive, Interval t) const;
    /// One drive from one entry, for who asks at several times.
    class Way;

    /// Resolves the ending from this entry.
    Passage pass(const State& entry, Drive drive, const timeline::Ending& ending) const;

    /// The passage of what begins as a remembered one ended, where it is remembered as the next one; else null.
    const Remembered* pass_on(const Remembered& before, const Drive& drive,
                              const timeline::Ending& ending) const;
    /// A remembered passage's exit; `here`: its entry's counts at first.
    void leave(const Remembered& passage, const Drive& drive, KeptState& here) const;
    /// Bounds over the whole of it, likewise. False: they are not remembered, as of what has no fixed length.
    bool whole(const Remembered& passage, const Drive& drive, KeptState& here) const;

    /// The same over a range of parameters: the set-points lie between `drive.laws` and `drive.most`, the
    /// ending between `first` and `last`, a soak band between theirs. Where the range has waits for a
    /// condition, what the condition says of the gas is taken as so at their end, since every run in the range
    /// waits until it is certain.
    Passage pass(const State& entry, Drive drive, const timeline::Ending& first,
                 const timeline::Ending& last) const;

    /// The state just after an action that changes the contents at once (opening the tube).
    State open_tube(const State& before) const;

    /// Bounds of a signal in a state. Booleans: [0,0], [1,1] or [0,1].
    Interval signal(timeline::Signal signal, const State& state, const timeline::State& discrete) const;
    Verdict evaluate(const timeline::Condition& condition, const State& state,
                     const timeline::State& discrete) const;

    /// The smaller of fuel over its lower limit and oxygen over the limiting oxygen, anywhere in the tube (free
    /// gas and pores, every temperature between the room and the hot zone), limits corrected for temperature
    /// and for the inert gas. hi < 1 proves that nothing inside can burn so as to matter (ignition.hpp); lo >=
    /// 1 that the gas lies over both limits published for room temperature.
    Interval mixture(const State& state, const timeline::State& discrete) const;

    /// True flow of a line at a set flow, with the meter's error, mol/s.
    Interval true_flow(timeline::Index line, double set) const;

    Capacity capacity(double temperature) const;
    Interval holding_power(double temperature) const; // W
    /// Fastest rate in K/s that every rig can hold over the whole way from one temperature to the other.
    double certain_heating_rate(double from, double to) const;
    double certain_cooling_rate(double from, double to) const;
    /// Natural cooling time between two temperatures, s; hi = infinity when not every rig gets there.
    Interval natural_cooling(double from, double to) const;
    /// Full-power heating time, s.
    Interval full_power_heating(double from, double to) const;
    double sensor_tolerance(double temperature) const; // K, at a true temperature in K
    /// K by which a zone that has arrived may lie above its set-point in K: error, overshoot and sensor.
    double above_setpoint(double setpoint) const;
    /// s after which that many cold volumes of the tube have come in through a line; infinite where none may.
    double time_of_volumes(double volumes, timeline::Index line, double set) const;
    double tube_volume() const;                     // m3, cold, free gas and pores
    double least_pump_speed(double pressure) const; // m3/s of every rig at a pressure in Pa
    /// mol/s that every rig carries off at a held pressure in Pa, leak and walls apart.
    double held_flow(double pressure) const;
    Interval lowest_pressure() const; // Pa, that the pump reaches for every rig
    /// Pa above the room, greatest, that the tube needs to let mol/s of inflow out through outlet and
    /// non-return valve.
    double let_out(double flow) const;
    /// J that the heater takes over a span from this entry, all zones together; the load's own heat is not in
    /// it.
    Interval energy(const State& entry, Drive drive, Interval duration) const;
    /// Which uncertainty or floor decides a signal here: "leak 0.9 ppm, grade of argon 2 ppm".
    std::string explain(timeline::Signal signal, const State& state, const timeline::State& discrete) const;

    /// Why the rows of heat_up, holding_power and cool_down allow no furnace; empty when they do.
    const std::string& furnace_fault() const;
    /// Share of radiation in the loss at the holding temperature: what one row each leaves open.
    Interval radiative_share() const;

private:
    struct Data;
    std::unique_ptr<Data> data_;
};

class Plant::Way {
public:
    /// `plant` and what `drive` points to must outlive it.
    Way(const Plant& plant, const State& entry, Drive drive);
    ~Way();
    Way(const Way&) = delete;
    Way& operator=(const Way&) = delete;
    /// As `Plant::during`.
    State during(Interval t) const;

private:
    struct Kept;
    std::unique_ptr<const Kept> kept_;
};

} // namespace athanor::plant
