#include "compiler/plant/data.hpp"

#include <algorithm>

/// What the heater takes, by the balance of heat: energy = loss over time + capacity * rise of temperature. A
/// rise takes the capacity in heating at least; at most the one in cooling, which counts what soaks into the
/// insulation long after. Neighbouring zones only exchange heat, so a furnace's zones together take what each
/// would alone, by its share.
namespace athanor::plant {

using timeline::LawKind;

namespace {

/// K of a ramp, or of a way to a set-point, over which the loss is taken at its ends.
constexpr double piece = 60;
constexpr int most_pieces = 16;

/// J for `rise` K.
Interval stored(Interval rise, Interval capacity) {
    return {rise.lo * (rise.lo >= 0 ? capacity.lo : capacity.hi),
            rise.hi * (rise.hi >= 0 ? capacity.hi : capacity.lo)};
}

} // namespace

Interval Plant::energy(const State& entry, Drive drive, Interval duration) const {
    const Data& d = *data_;
    const Furnace& f = d.zone.furnace();
    const Interval time{std::min(duration.lo, for_ever), std::min(duration.hi, for_ever)};
    if (!(time.hi > 0) || !f.fault().empty()) return 0;
    const Interval capacity{f.heating_capacity().lo,
                            std::max(f.heating_capacity().hi, f.cooling_capacity().hi)};
    const Data::Heating heating(d, entry.zones, drive);
    ZoneStates exit;
    heating.during(time, exit);

    double way = 0;
    for (std::size_t z = 0; z < d.zones; ++z)
        way = std::max({way, exit[z].control.hi - entry.zones[z].control.lo,
                        entry.zones[z].control.hi - exit[z].control.lo});
    const int pieces = std::clamp(static_cast<int>(way / piece) + 1, 1, most_pieces);
    Interval all = 0;
    for (std::size_t z = 0; z < d.zones; ++z) {
        const timeline::Law& law = drive.laws[z];
        const bool off = law.kind == LawKind::off;
        // A cooling zone is heated only once it has come to its target, and held there.
        const double target = law.to + d.zone.control_error() + d.zone.tolerance()(law.to);
        Interval loss = 0; // J
        bool heated = !off;
        for (int k = 0; k < pieces; ++k) {
            const double from = time.hi * k / pieces, to = time.hi * (k + 1) / pieces;
            ZoneStates there;
            heating.during({from, to}, there);
            const Interval control = there[z].control;
            if (off && control.lo > target) continue;
            heated = true;
            const double hottest = off ? std::min(control.hi, target) : control.hi;
            loss.hi += f.loss(hottest).hi * (to - from);
            if (!off) loss.lo += f.loss(control.lo).lo * std::max(0.0, std::min(to, time.lo) - from);
        }
        Interval taken = loss;
        if (!off) {
            const Interval rise{exit[z].control.lo - entry.zones[z].control.hi,
                                exit[z].control.hi - entry.zones[z].control.lo};
            taken = {loss.lo + stored(rise, capacity).lo, loss.hi + stored(rise, capacity).hi};
            // What rises over the set-point and falls again gives back more than it took.
            taken.lo -= (capacity.hi - capacity.lo) * d.zone.swing();
        } else if (heated) {
            taken.hi += capacity.hi * d.zone.swing(); // out of an undershoot
        }
        const double most = f.power().hi * time.hi;
        all = {all.lo + std::clamp(taken.lo, 0.0, most), all.hi + std::clamp(taken.hi, 0.0, most)};
    }
    const double zones = static_cast<double>(d.zones);
    return {all.lo / zones * (1 - 1e-9), all.hi / zones * (1 + 1e-9)};
}

} // namespace athanor::plant
