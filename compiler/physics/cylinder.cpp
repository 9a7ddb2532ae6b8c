#include "compiler/physics/cylinder.hpp"

#include "compiler/physics/constants.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace athanor::physics {

namespace {

/// The modified Benedict-Webb-Rubin equation of Lee & Kesler for one of their two fluids.
struct Fluid {
    double b1, b2, b3, b4, c1, c2, c3, c4, d1, d2, beta, gamma;
};
constexpr Fluid simple{0.1181193, 0.265728, 0.154790,    0.030323,    0.0236744, 0.0186984,
                       0.0,       0.042724, 0.155488e-4, 0.623689e-4, 0.65392,   0.060167};
constexpr Fluid octane{0.2026579, 0.331511, 0.027655,   0.203488,     0.0313385, 0.0503618,
                       0.016901,  0.041577, 0.48736e-4, 0.0740336e-4, 1.226,     0.03754};
constexpr double octane_acentric = 0.3978;

/// Z = pr Vr / Tr where the reduced volume Vr solves the equation on the gas side.
double solve(const Fluid& f, double tr, double pr) {
    const double b = f.b1 - f.b2 / tr - f.b3 / (tr * tr) - f.b4 / (tr * tr * tr);
    const double c = f.c1 - f.c2 / tr + f.c3 / (tr * tr * tr);
    const double d = f.d1 + f.d2 / tr;
    const auto z = [&](double v) {
        const double v2 = v * v;
        return 1 + b / v + c / v2 + d / (v2 * v2 * v) +
               f.c4 / (tr * tr * tr * v2) * (f.beta + f.gamma / v2) * std::exp(-f.gamma / v2);
    };
    // Above the critical temperature the pressure falls steadily with the volume.
    double lo = 0.05, hi = 100 * std::max(1.0, tr / pr);
    for (int i = 0; i < 200 && hi - lo > 1e-15 * hi; ++i) {
        const double v = std::sqrt(lo * hi);
        (tr / v * z(v) > pr ? lo : hi) = v;
    }
    return pr * std::sqrt(lo * hi) / tr;
}

} // namespace

double lee_kesler(double tr, double pr, double acentric) {
    if (pr <= 0) return 1;
    const double plain = solve(simple, tr, pr);
    if (acentric == 0) return plain;
    return plain + acentric / octane_acentric * (solve(octane, tr, pr) - plain);
}

double hydrogen_compressibility(double t, double p) {
    struct Term {
        double a, b, c;
    };
    constexpr std::array terms{
        Term{0.05888460, 1.325, 1.0},  Term{-0.06136111, 1.87, 1.0},   Term{-0.002650473, 2.5, 2.0},
        Term{0.002731125, 2.8, 2.0},   Term{0.001802374, 2.938, 2.42}, Term{-0.001150707, 3.14, 2.63},
        Term{0.9588528e-4, 3.37, 3.0}, Term{-0.1109040e-6, 3.75, 4.0}, Term{0.1264403e-9, 4.0, 5.0}};
    double z = 1;
    for (const Term& term : terms) z += term.a * std::pow(100 / t, term.b) * std::pow(p / 1e6, term.c);
    return z;
}

double helium_compressibility(double t, double p) {
    return 1 + 11.9e-6 * p / (gas_constant * t);
}

Range compressibility_range(const Substance& gas) {
    if (gas.formula == "H2") return {150, 1000, 200e6};
    if (gas.formula == "He") return {250, 350, 300 * bar};
    // From 1.1 of the critical temperature on nothing condenses and one volume answers each pressure.
    return {1.1 * gas.critical_temperature, 4 * gas.critical_temperature,
            std::min(300 * bar, 10 * gas.critical_pressure)};
}

double compressibility(const Substance& gas, double temperature, double pressure) {
    if (gas.formula == "H2") return hydrogen_compressibility(temperature, pressure);
    if (gas.formula == "He") return helium_compressibility(temperature, pressure);
    return lee_kesler(temperature / gas.critical_temperature, pressure / gas.critical_pressure, gas.acentric);
}

double content(double volume, double pressure, double temperature, double z) {
    return pressure * volume / (z * gas_constant * temperature);
}

} // namespace athanor::physics
