#pragma once
#include "compiler/physics/moisture.hpp"

namespace athanor::plant {

/// K, upper bound (physics/moisture.hpp). For plant/signals.cpp alone, which should ask `physics::dew_points`
/// for both of its bounds.
inline double dew_point(double vapour_pressure) {
    return physics::dew_points(vapour_pressure).hi;
}

} // namespace athanor::plant
