#pragma once

/// Water vapour and its dew point. SI. Below 0 degC the frost point (over ice) is meant, as chilled mirrors
/// read it.
namespace athanor::physics {

inline constexpr double coldest_frost = 173.15; // K, Sonntag's range over ice
inline constexpr double hottest_dew = 373.15;   // K, his range over water

/// Saturation pressure, Pa: Sonntag (Z. Meteorol. 70 (1990) 340), over ice below 273.15 K, over water above.
double saturation_pressure(double temperature);
/// Temperature at which `pressure` saturates; inside the range above.
double dew_point(double pressure);

} // namespace athanor::physics
