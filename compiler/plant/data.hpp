#pragma once
#include "compiler/plant/atmosphere.hpp"
#include "compiler/plant/ignition.hpp"
#include "compiler/plant/memory.hpp"
#include "compiler/plant/plant.hpp"
#include "compiler/plant/substances.hpp"
#include "compiler/plant/vacuum.hpp"
#include "compiler/plant/volume.hpp"
#include "compiler/plant/zones.hpp"

#include <algorithm>
#include <array>
#include <memory>
#include <optional>
#include <vector>

namespace athanor::plant {

/// The clocks of a state after a time.
void add_time(const Always& entry, const Drive& drive, Interval time, Always& out);

struct Plant::Data {
    const check::Model& model;
    const check::Rig& rig;
    const timeline::Timeline& timeline;
    Zones furnace;
    const Zone& zone; // what all zones have in common
    Substances substances;
    Volume volume;
    Vacuum vacuum;
    std::vector<Vacuum> cooler; // the same pump at a tube that is not as hot as it may get, coolest first
    Atmosphere atmosphere;
    Ignition ignition;
    std::size_t zones = 1;
    mutable Memory memory;

    class Heating;
    class Course;

    static std::vector<Vacuum> cooler_tubes(const check::Rig& rig) {
        if (!rig.pump.present) return {};
        return {Vacuum(rig, 340), Vacuum(rig, 600), Vacuum(rig, 900)};
    }
    Data(const check::Model& m, const check::Rig& r, const timeline::Timeline& t)
        : model(m), rig(r), timeline(t), furnace(m, r, t.zones.size()), zone(furnace.zone()),
          substances(m, r, t), volume(r), vacuum(r), cooler(cooler_tubes(r)),
          atmosphere(r, substances, volume, vacuum, cooler), ignition(m, t),
          zones(std::clamp<std::size_t>(t.zones.size(), 1, max_zones)), memory(zones, substances.count()) {}

    /// The sample stands outside the heated length.
    bool aside(const timeline::State& discrete) const {
        return discrete.place < timeline.places.size() && !timeline.places[discrete.place].hot;
    }
    /// Every point of the hot zone; a sample that stands aside is not in it.
    Interval hot(const ZoneStates& state, const timeline::State& discrete) const {
        return aside(discrete) ? controls(state) : hot(state);
    }
    /// Of the hot zone alone, as uneven as the load's place in it makes out, whatever a slide brings in.
    Interval without_sample(const ZoneStates& state, const timeline::State& discrete) const {
        const Interval all = controls(state);
        if (aside(discrete)) return all;
        const Interval uneven = zone.offset();
        return {all.lo + std::min(0.0, uneven.lo), all.hi + std::max(0.0, uneven.hi)};
    }
    /// The same with the sample wherever it is.
    Interval hot(const ZoneStates& state) const {
        Interval all = hull(state.begin()->control, state.begin()->load);
        for (const ZoneState* z = state.begin() + 1; z < state.end(); ++z)
            all = hull(all, hull(z->control, z->load));
        return all;
    }
    Interval controls(const ZoneStates& state) const {
        Interval all = state.begin()->control;
        for (const ZoneState* z = state.begin() + 1; z < state.end(); ++z) all = hull(all, z->control);
        return all;
    }
    /// What the control sensors may show.
    Interval measured(const ZoneStates& state) const {
        const Interval all = controls(state);
        return {all.lo - zone.tolerance()(all.lo), all.hi + zone.tolerance()(all.hi)};
    }
    /// The pressure in the hot zone may exceed the one at the pump (thermal transpiration).
    Interval pressure_anywhere(const State& state) const {
        return {state.pressure.lo, vacuum.hot_pressure(state.pressure.hi, hot(state.zones).hi)};
    }
    /// Temperatures decide what flows in.
    bool decided(const timeline::State& discrete) const {
        return discrete.armed != 0 || !timeline.evolved.empty();
    }
    /// What flows in when the zones are at `state`.
    void inlet(const timeline::State& discrete, const ZoneStates& state, Inlet& in) const {
        if (decided(discrete))
            substances.inlet(discrete, measured(state), hot(state).hi, in);
        else
            substances.inlet(discrete, {}, 0, in);
    }
    /// mol/s of gas with a hazard that the load may give off.
    double evolved(const timeline::State& discrete, const State& state, check::Hazard hazard) const;
    // Signals.
    Interval line_flow(std::size_t line, const State& state, const timeline::State& discrete) const;
    Interval hazard_flow(check::Hazard hazard, const State& state, const timeline::State& discrete) const;
    Interval overpressure(const State& state) const;
    double rated_overpressure() const;
    Interval dew_point(const State& state) const;
    Interval flammability(const State& state) const;
    Interval line_open(std::size_t line, const State& state, const timeline::State& discrete) const;
    // Words of `explain`.
    std::string fraction_words(std::size_t species, const State& state, const timeline::State& discrete) const;
    std::string flammability_words(const State& state) const;
    std::string pressure_words(const State& state, const timeline::State& discrete) const;
    std::string flow_words(const timeline::State& discrete) const;
    std::string swept_words(const State& state, const timeline::State& discrete) const;
    std::string rest_words(std::size_t species, double rest, const State& state) const;
    std::string zone_words(const ZoneState& at, bool powered) const;
    bool comes_in(const ZoneState& at) const; // a sample, on a slide
    std::string by_zone(const std::vector<std::string>& words, bool one) const;
    /// A sample that stands aside has any temperature between the room and the hottest it was.
    void displace(const ZoneStates& entry, ZoneStates& out, const timeline::State& discrete) const {
        if (aside(discrete)) put_aside(entry, out);
    }
    void put_aside(const ZoneStates& entry, ZoneStates& out) const;
    void slowest(const ZoneStates& entry, const timeline::Law* laws, double band, double& share,
                 double& delay) const;
    /// `pass` without the memory.
    void resolve(const Plant& plant, const State& entry, Drive drive, const timeline::Ending& ending,
                 Passage& passage, Sweep& sweep) const;
    void resolve_new(const Plant& plant, const State& entry, const Drive& drive, const timeline::Ending& ending,
                     Passage& passage) const;
    // By the kind of the ending.
    void resolve_band(const State& entry, Drive drive, const timeline::Ending& ending, double widest,
                      Passage& passage, Sweep& sweep) const;
    void resolve_passes(const State& entry, Drive drive, const timeline::Ending& ending, Passage& passage,
                        Sweep& sweep) const;
    void resolve_certain(const Plant& plant, const State& entry, Drive drive, const timeline::Ending& ending,
                         Passage& passage, Sweep& sweep) const;
    std::string unreached(const Plant& plant, const timeline::Condition& condition, const State& late,
                          Drive drive) const;
    /// Widens `out` to hold `high`.
    void join(ZoneStates& out, const ZoneStates& high) const;
};

/// How the zones go from one entry, to be asked at several times.
class Plant::Data::Heating {
public:
    /// `entry` and what `drive` points to must outlive it.
    Heating(const Data& data, const ZoneStates& entry, Drive drive);
    /// The zones over a stretch.
    void during(Interval t, ZoneStates& out) const {
        low_.during(t, out);
        if (high_) up_to_high(t, out);
    }
    /// `all` holds the entry and a later stretch; adds what lies between them. False: only the stretch from the
    /// entry on tells.
    bool between(ZoneStates& all) const { return low_.between(all) && (!high_ || high_->between(all)); }

private:
    /// Where a clock may stand still the set-points lie between the line and the slowest that it may become.
    class Along {
    public:
        Along(const Data& data, const ZoneStates& entry, const timeline::Law* laws, double band);
        void during(Interval t, ZoneStates& out) const {
            fast_.during(t, out);
            if (slow_) down_to_slow(t, out);
        }
        bool between(ZoneStates& all) const { return fast_.between(all) && (!slow_ || slow_->between(all)); }

    private:
        void down_to_slow(Interval t, ZoneStates& out) const;

        const Data& data_;
        Zones::Ways fast_;
        double delay_ = 0; // s
        std::optional<std::array<timeline::Law, max_zones>> slow_laws_;
        std::optional<Zones::Ways> slow_;
    };
    void up_to_high(Interval t, ZoneStates& out) const;

    const Data& data_;
    Along low_;
    std::optional<Along> high_;
};

/// One drive from one entry, to be asked at several times.
class Plant::Data::Course {
public:
    /// `entry` and what `drive` points to must outlive it.
    Course(const Data& data, const State& entry, Drive drive);
    Course(const Course&) = delete;
    Course& operator=(const Course&) = delete;
    /// `Plant::during`, and what it does to the volumes swept.
    void during(Interval t, State& out, Sweep& sweep) const;
    /// Contents over a stretch once the zones of `out` are known.
    Sweep contents(Interval t, State& out) const;

private:
    void zones(Interval t, ZoneStates& out) const {
        heating_.during(t, out);
        if (aside_) data_.put_aside(entry_.zones, out);
    }
    const ZoneStates& from_entry(double until) const;
    Interval hot(const ZoneStates& there) const { return aside_ ? data_.controls(there) : data_.hot(there); }
    Interval hot_over(Interval t) const;
    void lets_air_in(const Inlet& over, Sweep& swept) const;
    /// How fast the gas may move from the entry to `until`, the zones being within `whole`.
    class Speeds {
    public:
        void look(const Course& course, double until, const ZoneStates& whole);
        const Pace& pace() const { return all_ != nullptr ? all_->pace : first_->pace(); }
        /// K/s by which it cools at most in a stretch on the way.
        double cooling_now(const ZoneStates& now) const {
            const double first = first_->cooling_now(now.begin()[0]);
            return all_ != nullptr ? all_->cooling_now(now, first) : first;
        }

    private:
        bool known(double until, const ZoneStates& whole) const;

        struct Range {
            Interval control, load; // K
            bool operator==(const Range&) const = default;
        };
        struct All {
            std::vector<Range> whole;       // of the zones behind the first
            std::vector<Zone::Speeds> each; // of those, and of the higher laws of all
            Pace pace;
            void join(const Pace& further);
            double cooling_now(const ZoneStates& now, double first) const;
        };
        double until_ = -1; // s
        Range whole_;       // of the first zone
        std::optional<Zone::Speeds> first_;
        std::unique_ptr<All> all_; // where there is more than one zone or law
    };

    const Data& data_;
    const State& entry_;
    const Drive drive_;
    const Heating heating_;
    const bool aside_ = data_.aside(*drive_.state); // where the sample stands
    const Interval hot_entry_;                      // K
    struct Instant {
        double time = -1; // s
        Interval hot;     // K
    };
    mutable Instant instant_; // the last one asked: a stretch that is asked next may begin there
    mutable Speeds speeds_;   // the last ones
    struct FromEntry {
        double until = -1; // s
        ZoneStates zones;
    };
    mutable FromEntry from_entry_; // the last stretch that an instant needed: it may be asked for next
    bool decided_ = false;         // temperatures decide what flows in
    bool moves_ = false;           // some set-point does
    bool falls_ = false;           // some set-point does, or a heater is off
    Inlet steady_;                 // what flows in where nothing decides it
};

} // namespace athanor::plant
