#include "compiler/plant/zones.hpp"

#include <algorithm>
#include <numbers>

namespace athanor::plant {

using timeline::Law;
using timeline::LawKind;

Zones::Zones(const check::Model& model, const check::Rig& rig, std::size_t count)
    : zone_(model, rig), count_(std::clamp<std::size_t>(count, 1, max_zones)) {
    const check::Furnace& f = rig.furnace;
    // Without a declared opening the heater's bore is up to half as wide again as the tube (common practice, no
    // source).
    const double opening = f.zone_opening.given
                               ? f.zone_opening.hi()
                               : 1.5 * (rig.tube.inner_diameter.hi() + 2 * std::max(0.0, rig.tube.wall.hi()));
    exchange_ = {0.25 * std::numbers::pi * opening * opening, static_cast<double>(count_)};
}

bool Zones::alike(const Law* laws) const {
    const auto same = [](const Law& a, const Law& b) {
        if (a.kind != b.kind || a.to != b.to) return false;
        return a.kind != LawKind::line || (a.from == b.from && a.rate == b.rate);
    };
    for (std::size_t z = 1; z < count_; ++z)
        if (!same(laws[0], laws[z])) return false;
    return true;
}

ZoneState Zones::common(const State& entry) const {
    ZoneState all = entry.zones[0];
    for (std::size_t z = 1; z < count_; ++z) {
        all.control = hull(all.control, entry.zones[z].control);
        all.load = hull(all.load, entry.zones[z].load);
        all.comes_down = all.comes_down || entry.zones[z].comes_down;
        all.comes_up = all.comes_up || entry.zones[z].comes_up;
        if (entry.zones[z].setpoint != all.setpoint) all.setpoint = infinity; // no common one
    }
    return all;
}

FurnaceZone Zones::between(std::size_t z, const Bounds& bounds) const {
    FurnaceZone f(zone_.furnace(), exchange_);
    if (z > 0) f.beside(bounds[z - 1]);
    if (z + 1 < count_) f.beside(bounds[z + 1]);
    return f;
}

Zones::Bounds Zones::bounds(const State& entry, const Law* laws, double until) const {
    const FurnaceZone alone(zone_.furnace());
    const ZoneState all = common(entry);
    Interval hull_of_all = all.control;
    for (std::size_t z = 0; z < count_; ++z)
        hull_of_all = hull(hull_of_all, zone_.control_over(all, laws[z], until, alone));
    Bounds outer, inner;
    outer.fill(hull_of_all);
    for (std::size_t z = 0; z < count_; ++z) {
        const Interval own = zone_.control_over(entry.zones[z], laws[z], until, between(z, outer));
        inner[z] = {std::max(own.lo, hull_of_all.lo), std::min(own.hi, hull_of_all.hi)};
    }
    return inner;
}

Zones::View Zones::view(std::size_t z, const State& entry, const Law* laws, double until) const {
    if (count_ == 1) return {entry.zones[0], FurnaceZone(zone_.furnace())};
    if (alike(laws)) {
        ZoneState all = common(entry);
        all.setpoint = entry.zones[z].setpoint;
        all.setpoints = entry.zones[z].setpoints;
        return {all, FurnaceZone(zone_.furnace())};
    }
    return {entry.zones[z], between(z, bounds(entry, laws, until))};
}

void Zones::during(const State& entry, const Law* laws, Interval t, State& out) const {
    const FurnaceZone alone(zone_.furnace());
    if (count_ == 1 || t.hi <= 0) {
        for (std::size_t z = 0; z < count_; ++z) out.zones[z] = zone_.during(entry.zones[z], laws[z], t, alone);
        return;
    }
    if (alike(laws)) {
        const ZoneState one = zone_.during(common(entry), laws[0], t, alone);
        for (std::size_t z = 0; z < count_; ++z) out.zones[z] = one;
        return;
    }
    const Bounds beside = bounds(entry, laws, t.hi);
    for (std::size_t z = 0; z < count_; ++z)
        out.zones[z] = zone_.during(entry.zones[z], laws[z], t, between(z, beside));
}

} // namespace athanor::plant
