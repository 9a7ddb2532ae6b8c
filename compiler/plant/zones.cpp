#include "compiler/plant/zones.hpp"

#include <algorithm>
#include <numbers>

namespace athanor::plant {

using timeline::Law;
using timeline::LawKind;

namespace {
/// How often bounds of the neighbours are made bounds of the zones between them, while that gains so many K.
constexpr int passes = 6;
constexpr double worth = 1;
} // namespace

Zones::Zones(const check::Model& model, const check::Rig& rig, std::size_t count)
    : zone_(model, rig), alone_(zone_.furnace()), count_(std::clamp<std::size_t>(count, 1, max_zones)) {
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

ZoneState Zones::common(const ZoneStates& entry) const {
    ZoneState all = entry[0];
    for (std::size_t z = 1; z < count_; ++z) {
        all.control = hull(all.control, entry[z].control);
        all.load = hull(all.load, entry[z].load);
        all.comes_down = all.comes_down || entry[z].comes_down;
        all.comes_up = all.comes_up || entry[z].comes_up;
        all.untouched = all.untouched && entry[z].untouched;
        all.unread = greatest(all.unread, entry[z].unread);
        if (entry[z].setpoint != all.setpoint) all.setpoint = infinity; // no common one
    }
    return all;
}

FurnaceZone Zones::between(std::size_t z, const Bounds& bounds) const {
    FurnaceZone f(zone_.furnace(), exchange_);
    if (z > 0) f.beside(bounds[z - 1]);
    if (z + 1 < count_) f.beside(bounds[z + 1]);
    return f;
}

Zones::Bounds Zones::bounds(const ZoneStates& entry, const Law* laws, double until) const {
    const ZoneState all = common(entry);
    Interval hull_of_all = all.control;
    for (std::size_t z = 0; z < count_; ++z)
        hull_of_all = hull(hull_of_all, zone_.control_over(all, laws[z], until, alone_));
    Bounds known, next;
    known.fill(hull_of_all);
    for (int pass = 0; pass < passes; ++pass) {
        bool better = false;
        for (std::size_t z = 0; z < count_; ++z) {
            const Interval own = zone_.control_over(entry[z], laws[z], until, between(z, known));
            next[z] = {std::max(own.lo, known[z].lo), std::min(own.hi, known[z].hi)};
            better = better || next[z].lo > known[z].lo + worth || next[z].hi < known[z].hi - worth;
        }
        known = next;
        if (!better) break;
    }
    return known;
}

Zones::View Zones::view(std::size_t z, const ZoneStates& entry, const Law* laws, double until) const {
    if (count_ == 1) return {entry[0], alone_};
    if (alike(laws)) {
        ZoneState all = common(entry);
        all.setpoint = entry[z].setpoint;
        all.setpoints = entry[z].setpoints;
        return {all, alone_};
    }
    return {entry[z], between(z, bounds(entry, laws, until))};
}

void Zones::during(const ZoneStates& entry, const Law* laws, Interval t, ZoneStates& out) const {
    Ways(*this, entry, laws).during(t, out);
}

Zones::Ways::Ways(const Zones& zones, const ZoneStates& entry, const Law* laws)
    : zones_(zones), entry_(entry), laws_(laws) {
    if (zones.count_ == 1)
        way_.emplace(zones.zone_, entry[0], laws[0], zones.alone_);
    else if (zones.alike(laws))
        way_.emplace(zones.zone_, common_.emplace(zones.common(entry)), laws[0], zones.alone_);
}

void Zones::Ways::several(Interval t, ZoneStates& out) const {
    const Zone& zone = zones_.zone_;
    if (t.hi <= 0) {
        for (std::size_t z = 0; z < zones_.count_; ++z)
            out[z] = zone.during(entry_[z], laws_[z], t, zones_.alone_);
        return;
    }
    if (way_) {
        ZoneState one;
        way_->during(t, one);
        for (std::size_t z = 0; z < zones_.count_; ++z) out[z] = one;
        return;
    }
    const Apart& zones = apart(t.hi);
    for (std::size_t z = 0; z < zones_.count_; ++z) zones.way[z]->during(t, out[z]);
}

const Zones::Ways::Apart& Zones::Ways::apart(double until) const {
    if (apart_ && apart_->until == until) return *apart_;
    Apart& now = apart_.emplace();
    now.until = until;
    const Bounds beside = zones_.bounds(entry_, laws_, until);
    for (std::size_t z = 0; z < zones_.count_; ++z)
        now.way[z].emplace(zones_.zone_, entry_[z], laws_[z],
                           now.furnace[z].emplace(zones_.between(z, beside)));
    return now;
}

bool Zones::Ways::between(ZoneStates& all) const {
    if (!way_) return false;
    for (std::size_t z = 0; z < zones_.count_; ++z)
        if (!way_->between(all[z])) return false;
    return true;
}

} // namespace athanor::plant
