#include "compiler/plant/volume.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace athanor::plant {

namespace {

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
        porosity_ = rig.ends.porosity.given ? rig.ends.porosity.value : Interval{0.9};
    }
    free_ = area_ * (length - 2 * plug_);
    pore_ = area_ * 2 * plug_ * porosity_.hi;
    least_pore_ = area_ * 2 * plug_ * porosity_.lo;
    const Interval rise = rig.seals.rise.given ? rig.seals.rise.value : Interval{20, 80};
    seals_ = {ambient_.lo, ambient_.hi + rise.hi};
}

Volume::Content Volume::content(Interval hot) const {
    const double most_cold = std::min(seals_.lo, hot.lo), most_hot = hot.lo;   // densest gas
    const double least_cold = std::min(seals_.hi, hot.hi), least_hot = hot.hi; // thinnest gas
    const double unit = area_ / gas_constant;
    if (plug_ <= 0)
        return {{unit * (hot_ / least_hot + 2 * end_ * mean_inverse(least_cold, least_hot)),
                 unit * (hot_ / most_hot + 2 * end_ * mean_inverse(most_cold, most_hot))},
                0};
    const double open = end_ - plug_;
    // A stretch of an end, at its hot or at its cold side.
    const auto at_cold = [&](double cold, double warm, double stretch) {
        return stretch * mean_inverse(cold, cold + (warm - cold) * stretch / end_);
    };
    const auto at_hot = [&](double cold, double warm, double stretch) {
        return stretch * mean_inverse(warm - (warm - cold) * stretch / end_, warm);
    };
    Content c;
    c.free = {unit * (hot_ / least_hot + 2 * at_hot(least_cold, least_hot, open)),
              unit * (hot_ / most_hot + 2 * at_cold(most_cold, most_hot, open))};
    c.pore = {unit * 2 * porosity_.lo * at_hot(least_cold, least_hot, plug_),
              unit * 2 * porosity_.hi * at_cold(most_cold, most_hot, plug_)};
    return c;
}

Interval Volume::contraction(Interval hot) const {
    // In the hot zone -d(1/T)/dT = 1/T^2. In an end at share u of the way to the hot zone the gas follows with
    // u, and u / T(u)^2 <= 1 / (T_hot T_seal), since u <= T(u) / T_hot.
    const double unit = area_ / gas_constant, cold = std::min(seals_.lo, hot.lo);
    return {unit * hot_ / (hot.hi * hot.hi), unit * (hot_ / (hot.lo * hot.lo) + 2 * end_ / (hot.lo * cold))};
}

Interval Volume::cold() const {
    return {(free_ + least_pore_) / (gas_constant * ambient_.hi), total() / (gas_constant * ambient_.lo)};
}

} // namespace athanor::plant
