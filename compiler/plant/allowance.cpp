#include "compiler/plant/allowance.hpp"

#include "compiler/quantity/interval.hpp"

#include <algorithm>

namespace athanor::plant {

double tube_allowance(const check::Model& model, const check::Rig& rig, double from, double to,
                      const check::Figure** row) {
    double allowed = infinity;
    if (row != nullptr) *row = nullptr;
    if (rig.tube.material == check::none) return allowed;
    const double diameter = rig.tube.inner_diameter.hi() + 2 * rig.tube.wall.hi();
    const Interval way{std::min(from, to), std::max(from, to)};
    for (const check::RateRow& r : model.materials[rig.tube.material].rates) {
        const bool stated = r.temperature.lo < r.temperature.hi;
        if (stated && (r.temperature.hi <= way.lo || r.temperature.lo >= way.hi)) continue;
        if (r.diameter.lo < r.diameter.hi && !r.diameter.contains(diameter)) continue;
        if (!(r.rate.lo() < allowed)) continue;
        allowed = r.rate.lo();
        if (row != nullptr) *row = &r.rate;
    }
    return allowed;
}

} // namespace athanor::plant
