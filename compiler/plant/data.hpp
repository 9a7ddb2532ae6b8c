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

namespace athanor::plant {

/// Longest time that is computed with, s; a person may take longer, but nothing changes any more.
inline constexpr double for_ever = 1e9;

/// The clocks of a state after a time.
void add_time(const State& entry, Drive drive, Interval time, State& out);

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
    Interval hot(const State& state, const timeline::State& discrete) const {
        if (!aside(discrete)) return hot(state);
        Interval all = state.zones[0].control;
        for (std::size_t z = 1; z < zones; ++z) all = hull(all, state.zones[z].control);
        return all;
    }
    /// The same with the sample wherever it is.
    Interval hot(const State& state) const {
        Interval all = hull(state.zones[0].control, state.zones[0].load);
        for (std::size_t z = 1; z < zones; ++z)
            all = hull(all, hull(state.zones[z].control, state.zones[z].load));
        return all;
    }
    /// What the control sensors may show.
    Interval measured(const State& state) const {
        Interval all = state.zones[0].control;
        for (std::size_t z = 1; z < zones; ++z) all = hull(all, state.zones[z].control);
        return {all.lo - zone.tolerance()(all.lo), all.hi + zone.tolerance()(all.hi)};
    }
    /// The pressure in the hot zone may exceed the one at the pump (thermal transpiration).
    Interval pressure_anywhere(const State& state) const {
        return {state.pressure.lo, vacuum.hot_pressure(state.pressure.hi, hot(state).hi)};
    }
    /// What flows in when the tube is at `state`.
    Inlet inlet(const timeline::State& discrete, const State& state) const {
        return substances.inlet(discrete, measured(state), hot(state).hi);
    }
    /// mol/s of gas with a hazard that the load may give off.
    double evolved(const timeline::State& discrete, const State& state, check::Hazard hazard) const;
    /// A sample that stands aside has any temperature between the room and the hottest it was.
    void displace(const State& entry, State& out, const timeline::State& discrete) const;
    void heat_along(const State& entry, const timeline::Law* laws, double band, Interval t, State& out) const;
    void slowest(const State& entry, const timeline::Law* laws, double band, double& share,
                 double& delay) const;
    /// `Plant::during`, and what it does to the volumes swept.
    State during(const State& entry, Drive drive, Interval t, Sweep& sweep) const;
    /// `pass` without the memory.
    Passage resolve(const Plant& plant, const State& entry, Drive drive, const timeline::Ending& ending,
                    Sweep& sweep) const;
    /// Contents over a stretch once the zones of `out` are known. `hot_at`: hot zone at an instant after entry.
    Sweep contents(const State& entry, State& out, Drive drive, Interval t) const;
    /// The zones of `out` over a stretch.
    void heat(const State& entry, Drive drive, Interval t, State& out) const;
    /// Widens the zones of `out` to hold those of `high`.
    void join(State& out, const State& high) const;
};

} // namespace athanor::plant
