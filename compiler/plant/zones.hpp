#pragma once
#include "compiler/plant/zone.hpp"

/// The zones of a furnace together. Where all follow one law, the hottest of them only loses to the others and
/// the coldest only gains, so the hull of their entries under that law bounds every one. Where laws differ:
///   1. no zone leaves the hull of what each law allows from the hull of all entries: at its top every
///   controller
///      gives no power or the heater is off, at its foot every controller gives all it has, or the zone cools
///      no faster than alone;
///   2. each zone between neighbours anywhere in that hull; 3. each zone between neighbours bounded by 2.
namespace athanor::plant {

class Zones {
public:
    Zones(const check::Model& model, const check::Rig& rig, std::size_t count);

    const Zone& zone() const { return zone_; }
    std::size_t count() const { return count_; }
    void during(const State& entry, const timeline::Law* laws, Interval t, State& out) const;

    /// What one zone may be asked from `entry` on, up to `until` s.
    struct View {
        ZoneState entry;
        FurnaceZone furnace;
    };
    View view(std::size_t z, const State& entry, const timeline::Law* laws, double until) const;

private:
    bool alike(const timeline::Law* laws) const;
    ZoneState common(const State& entry) const;
    using Bounds = std::array<Interval, max_zones>;
    /// Control temperatures from entry to `until` s.
    Bounds bounds(const State& entry, const timeline::Law* laws, double until) const;
    FurnaceZone between(std::size_t z, const Bounds& bounds) const;

    Zone zone_;
    Exchange exchange_;
    std::size_t count_ = 1;
};

} // namespace athanor::plant
