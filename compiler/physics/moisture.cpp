#include "compiler/physics/moisture.hpp"

#include "compiler/physics/constants.hpp"

#include <algorithm>
#include <cmath>

namespace athanor::physics {

double saturation_pressure(double t) {
    t = std::max(t, 50.0); // the equations have a pole at 0 K; no vapour to speak of is left long before
    if (t < zero_celsius)
        return std::exp(-6024.5282 / t + 29.32707 + 1.0613868e-2 * t - 1.3198825e-5 * t * t -
                        0.49382577 * std::log(t));
    return std::exp(-6096.9385 / t + 21.2409642 - 2.711193e-2 * t + 1.673952e-5 * t * t +
                    2.433502 * std::log(t));
}

namespace {

/// Bisection: the two branches meet at 0 degC with a step of 1e-5 that a faster method might trip over.
Interval halved(double pressure, double lo, double hi, int times) {
    for (int i = 0; i < times; ++i) {
        const double middle = 0.5 * (lo + hi);
        (saturation_pressure(middle) < pressure ? lo : hi) = middle;
    }
    return {lo, hi};
}

} // namespace

double dew_point(double pressure) {
    return halved(pressure, coldest_frost, hottest_dew, 60).middle();
}

Interval dew_points(double pressure) {
    constexpr double coldest = 123.15, hottest = 473.15;
    if (!(pressure > 0)) return 0;
    if (pressure <= saturation_pressure(coldest)) return {0, coldest};
    if (pressure >= saturation_pressure(hottest)) return {hottest, infinity};
    return halved(pressure, coldest, hottest, 30);
}

} // namespace athanor::physics
