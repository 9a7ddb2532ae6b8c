#pragma once
#include "compiler/quantity/interval.hpp"

/// Water vapour and its dew point. SI. Below 0 degC the frost point (over ice) is meant, as chilled mirrors
/// read it.
namespace athanor::physics {

inline constexpr double coldest_frost = 173.15; // K, Sonntag's range over ice
inline constexpr double hottest_dew = 373.15;   // K, his range over water

/// Saturation pressure, Pa: Sonntag (Z. Meteorol. 70 (1990) 340), over ice below 273.15 K, over water above.
double saturation_pressure(double temperature);
/// Temperature at which `pressure` saturates; inside the range above.
double dew_point(double pressure);
/// Bounds of it for any pressure, not wider than a microkelvin from -150 to 200 degC, where the formula is
/// carried on as it stands. Beyond: from 0 K, or without end. Dry gas: {0, 0}.
Interval dew_points(double pressure);

} // namespace athanor::physics
