#pragma once
#include "compiler/plant/zone.hpp"

#include <array>
#include <optional>

/// The zones of a furnace together. Where all follow one law, the hottest of them only loses to the others and
/// the coldest only gains, so the hull of their entries under that law bounds every one. Where laws differ:
/// first, no zone leaves the hull of what each law allows from the hull of all entries: at its top every
/// controller gives no power or the heater is off, at its foot every controller gives all it has, or the zone
/// cools no faster than alone; then each zone stands between neighbours anywhere in that hull; and then, again
/// and again while it gains, each zone between neighbours bounded by that.
namespace athanor::plant {

class Zones {
public:
    Zones(const check::Model& model, const check::Rig& rig, std::size_t count);
    Zones(const Zones&) = delete;
    Zones& operator=(const Zones&) = delete;

    const Zone& zone() const { return zone_; }
    std::size_t count() const { return count_; }
    /// All zones from one entry under their laws, to be asked at several times.
    class Ways;
    void during(const ZoneStates& entry, const timeline::Law* laws, Interval t, ZoneStates& out) const;

    /// What one zone may be asked from `entry` on, up to `until` s.
    struct View {
        ZoneState entry;
        FurnaceZone furnace;
    };
    View view(std::size_t z, const ZoneStates& entry, const timeline::Law* laws, double until) const;
    /// Its furnace alone.
    FurnaceZone furnace(std::size_t z, const ZoneStates& entry, const timeline::Law* laws, double until) const {
        return count_ == 1 ? alone_ : view(z, entry, laws, until).furnace;
    }
    /// Without neighbours.
    const FurnaceZone& alone() const { return alone_; }

private:
    bool alike(const timeline::Law* laws) const;
    ZoneState common(const ZoneStates& entry) const;
    using Bounds = std::array<Interval, max_zones>;
    /// Control temperatures from entry to `until` s.
    Bounds bounds(const ZoneStates& entry, const timeline::Law* laws, double until) const;
    FurnaceZone between(std::size_t z, const Bounds& bounds) const;

    Zone zone_;
    FurnaceZone alone_;
    Exchange exchange_;
    std::size_t count_ = 1;
};

class Zones::Ways {
public:
    /// `entry` and `laws` must outlive it.
    Ways(const Zones& zones, const ZoneStates& entry, const timeline::Law* laws);
    /// Over [t.lo, t.hi] s after entry; `out` is not the entry.
    void during(Interval t, ZoneStates& out) const {
        if (zones_.count_ == 1)
            way_->during(t, out[0]);
        else
            several(t, out);
    }
    /// `all` holds the entry and a later stretch; adds what lies between them, where that is known of all zones
    /// together.
    bool between(ZoneStates& all) const;

private:
    void several(Interval t, ZoneStates& out) const;
    /// Each zone between its neighbours, up to a time: laws differ.
    struct Apart {
        double until; // s
        std::array<std::optional<FurnaceZone>, max_zones> furnace;
        std::array<std::optional<Zone::Way>, max_zones> way;
    };
    const Apart& apart(double until) const;

    const Zones& zones_;
    const ZoneStates& entry_;
    const timeline::Law* laws_;
    std::optional<ZoneState> common_;    // of several zones under one law
    std::optional<Zone::Way> way_;       // of the only zone, or of all where one law holds
    mutable std::optional<Apart> apart_; // up to the last time that was asked for
};

} // namespace athanor::plant
