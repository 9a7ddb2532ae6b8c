#include "compiler/physics/moisture.hpp"

#include "compiler/physics/constants.hpp"

#include <cmath>

namespace athanor::physics {

double saturation_pressure(double t) {
    if (t < zero_celsius)
        return std::exp(-6024.5282 / t + 29.32707 + 1.0613868e-2 * t - 1.3198825e-5 * t * t -
                        0.49382577 * std::log(t));
    return std::exp(-6096.9385 / t + 21.2409642 - 2.711193e-2 * t + 1.673952e-5 * t * t +
                    2.433502 * std::log(t));
}

double dew_point(double pressure) {
    double lo = coldest_frost, hi = hottest_dew;
    // Bisection: the two branches meet at 0 degC with a step of 1e-5 that a faster method might trip over.
    for (int i = 0; i < 60; ++i) {
        const double middle = 0.5 * (lo + hi);
        (saturation_pressure(middle) < pressure ? lo : hi) = middle;
    }
    return 0.5 * (lo + hi);
}

} // namespace athanor::physics
