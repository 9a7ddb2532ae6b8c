#include "compiler/physics/heat.hpp"

#include "compiler/physics/constants.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace athanor::physics {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

/// T(b) - mean of T over the wall, per rate/(4 kappa).
double below_surface(double a, double b) {
    // The mean of r2 - b2 - 2 a2 ln(r/b) over the ring's area, term by term.
    const double area = b * b - a * a;
    const double mean_square = (b * b + a * a) / 2;
    const double mean_log = -(0.5 + a * a / area * std::log(a / b)); // of ln(r/b)
    return -(mean_square - b * b - 2 * a * a * mean_log);
}

} // namespace

double radiated_power(double area, double emissivity, double temperature, double surroundings) {
    return emissivity * stefan_boltzmann * area * (std::pow(temperature, 4) - std::pow(surroundings, 4));
}

double wall_difference(double outer_diameter, double wall, double rate, double diffusivity) {
    const double b = outer_diameter / 2, a = b - wall;
    return rate / (4 * diffusivity) * (b * b - a * a - 2 * a * a * std::log(b / a));
}

double outer_stress(const Wall& wall, double outer_diameter, double thickness, double rate) {
    const double b = outer_diameter / 2, a = b - thickness;
    const double below = rate / (4 * wall.diffusivity()) * below_surface(a, b);
    return -wall.modulus * wall.expansion / (1 - wall.poisson) * below;
}

double inner_stress(const Wall& wall, double outer_diameter, double thickness, double rate) {
    const double b = outer_diameter / 2, a = b - thickness;
    const double below = rate / (4 * wall.diffusivity()) * below_surface(a, b);
    const double across = wall_difference(outer_diameter, thickness, rate, wall.diffusivity());
    return wall.modulus * wall.expansion / (1 - wall.poisson) * (across - below);
}

double thermal_shock(double strength, double poisson, double modulus, double expansion) {
    return strength * (1 - poisson) / (modulus * expansion);
}

double hoop_stress_inside(double outer_diameter, double wall, double overpressure) {
    const double b = outer_diameter / 2, a = b - wall;
    return overpressure * (b * b + a * a) / (b * b - a * a);
}

double hoop_stress_outside(double outer_diameter, double wall, double overpressure) {
    const double b = outer_diameter / 2, a = b - wall;
    return overpressure * 2 * b * b / (b * b - a * a);
}

double collapse_pressure(double modulus, double poisson, double outer_diameter, double wall, double length) {
    const double mean = outer_diameter - wall, thin = wall / mean, plate = 1 - poisson * poisson;
    const double long_tube = 2 * modulus / plate * std::pow(thin, 3);
    const double held = length / mean - 0.45 * std::sqrt(thin);
    if (!(held > 0)) return infinity;
    return std::max(long_tube, 2.42 * modulus * std::pow(thin, 2.5) / (std::pow(plate, 0.75) * held));
}

} // namespace athanor::physics
