#pragma once
#include "compiler/plant/atmosphere.hpp"
#include "compiler/plant/memory.hpp"
#include "compiler/plant/plant.hpp"
#include "compiler/plant/substances.hpp"
#include "compiler/plant/vacuum.hpp"
#include "compiler/plant/volume.hpp"
#include "compiler/plant/zone.hpp"

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
    Zone zone; // every zone has the furnace's figures; zones are not coupled yet
    Substances substances;
    Volume volume;
    Vacuum vacuum;
    Atmosphere atmosphere;
    std::size_t zones = 1;
    mutable Memory memory;

    Data(const check::Model& m, const check::Rig& r, const timeline::Timeline& t)
        : model(m), rig(r), timeline(t), zone(m, r), substances(m, r, t), volume(r), vacuum(r),
          atmosphere(r, substances, volume, vacuum),
          zones(std::clamp<std::size_t>(t.zones.size(), 1, max_zones)), memory(zones, substances.count()) {}

    /// Every point of the hot zone.
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
    /// `pass` without the memory.
    Passage resolve(const Plant& plant, const State& entry, Drive drive, const timeline::Ending& ending) const;
    /// Contents over a stretch once the zones of `out` are known. `hot_at`: hot zone at an instant after entry.
    void contents(const State& entry, State& out, Drive drive, Interval t) const;
};

} // namespace athanor::plant
