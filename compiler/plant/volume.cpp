#include "compiler/plant/volume.hpp"

#include "compiler/physics/constants.hpp"
#include "compiler/plant/given.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace athanor::plant {

namespace {

/// How much longer the way through the pores of a plug is than the plug (common practice, no source: 1.1 for
/// fibre to 3 for dense grain).
constexpr double tortuosity = 3;

/// Mean of 1/T over a line from a to b.
double mean_inverse(double a, double b) {
    const double ratio = (b - a) / a;
    return std::abs(ratio) < 1e-4 ? 2 / (a + b) : std::log1p(ratio) / (b - a);
}

} // namespace

Volume::Volume(const check::Rig& rig) : ambient_(rig.ambient_temperature.value) {
    const double bore = rig.tube.inner_diameter.hi();
    area_ = 0.25 * std::numbers::pi * bore * bore;
    const double length = rig.tube.length.hi();
    hot_ = std::min(rig.furnace.heated_length.hi(), length);
    end_ = 0.5 * (length - hot_);
    if (rig.ends.kind == check::EndsKind::insulation_plugs) {
        plug_ = std::min(rig.ends.length.hi(), end_);
        porosity_ = given(rig.ends.porosity);
        if (plug_ > 0) plug_share_ = plug_ / end_;
        open_share_ = 1 - plug_share_;
    }
    if (!rig.seals.gas_tight && rig.ends.kind != check::EndsKind::radiation_shields) {
        const double least_bore = rig.tube.inner_diameter.lo();
        const double pores = plug_ > 0 ? plug_ * tortuosity / std::max(1e-3, porosity_.lo) : 0;
        openness_ = 2 * 0.25 * std::numbers::pi * least_bore * least_bore / (0.5 * length - plug_ + pores);
    }
    free_ = area_ * (length - 2 * plug_);
    pore_ = area_ * 2 * plug_ * porosity_.hi;
    least_pore_ = area_ * 2 * plug_ * porosity_.lo;
    unit_ = area_ / physics::gas_constant;
    const Interval rise = given(rig.seals.rise);
    seals_ = {ambient_.lo, ambient_.hi + rise.hi};
}

// The gas is densest where the hot zone and the seals are coolest and the stretch of an end lies at its cold
// side, thinnest where it is the other way round.
double Volume::least_free(Interval hot) const {
    const double warm = std::min(seals_.hi, hot.hi);
    return unit_ *
           (hot_ / hot.hi + 2 * (end_ - plug_) * mean_inverse(hot.hi - (hot.hi - warm) * open_share_, hot.hi));
}

double Volume::most_free(Interval hot) const {
    const double cold = std::min(seals_.lo, hot.lo);
    return unit_ *
           (hot_ / hot.lo + 2 * (end_ - plug_) * mean_inverse(cold, cold + (hot.lo - cold) * open_share_));
}

double Volume::least_pore(Interval hot) const {
    if (plug_ <= 0) return 0;
    const double warm = std::min(seals_.hi, hot.hi);
    return unit_ * 2 * porosity_.lo * plug_ * mean_inverse(hot.hi - (hot.hi - warm) * plug_share_, hot.hi);
}

double Volume::most_pore(Interval hot) const {
    if (plug_ <= 0) return 0;
    const double cold = std::min(seals_.lo, hot.lo);
    return unit_ * 2 * porosity_.hi * plug_ * mean_inverse(cold, cold + (hot.lo - cold) * plug_share_);
}

Interval Volume::cold() const {
    return {(free_ + least_pore_) / (physics::gas_constant * ambient_.hi),
            total() / (physics::gas_constant * ambient_.lo)};
}

} // namespace athanor::plant
