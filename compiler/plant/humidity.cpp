#include "compiler/plant/humidity.hpp"

#include <cmath>

namespace athanor::plant {

namespace {
constexpr double freezing = 273.15; // K
constexpr double coldest = 123.15;  // K: below it any trace of water counts as dry
constexpr double hottest = 473.15;  // K
} // namespace

double saturation_pressure(double t) {
    if (t < coldest) t = coldest;
    if (t < freezing)
        return std::exp(-6024.5282 / t + 29.32707 + 1.0613868e-2 * t - 1.3198825e-5 * t * t -
                        0.49382577 * std::log(t));
    return std::exp(-6096.9385 / t + 21.2409642 - 2.711193e-2 * t + 1.673952e-5 * t * t +
                    2.433502 * std::log(t));
}

double dew_point(double e) {
    if (!(e > saturation_pressure(coldest))) return e > 0 ? coldest : 0;
    if (e >= saturation_pressure(hottest)) return hottest;
    // ln(e) is nearly linear in 1/T, so the secant converges in a few steps; bisection guards it.
    double lo = coldest, hi = hottest;
    double f_lo = std::log(saturation_pressure(lo) / e), f_hi = std::log(saturation_pressure(hi) / e);
    for (int i = 0; i < 60 && hi - lo > 1e-6; ++i) {
        const double inverse = 1 / lo - f_lo * (1 / hi - 1 / lo) / (f_hi - f_lo);
        double t = 1 / inverse;
        if (!(t > lo + 1e-9 * lo && t < hi - 1e-9 * hi) || i % 3 == 2) t = 0.5 * (lo + hi);
        const double f = std::log(saturation_pressure(t) / e);
        if (f < 0) {
            lo = t;
            f_lo = f;
        } else {
            hi = t;
            f_hi = f;
        }
    }
    return 0.5 * (lo + hi);
}

} // namespace athanor::plant
