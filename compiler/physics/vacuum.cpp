#include "compiler/physics/vacuum.hpp"

#include "compiler/physics/constants.hpp"

#include <cmath>

namespace athanor::physics {

double leak_from_rise(double volume, double rise, double time) {
    return volume * rise / time;
}

double mean_speed(double temperature, double molar_mass) {
    return std::sqrt(8 * gas_constant * temperature / (pi * molar_mass));
}

double molecular_conductance(double bore, double length, double temperature, double molar_mass) {
    const double straight = pi / 12 * mean_speed(temperature, molar_mass) * bore * bore * bore / length;
    return straight / (1 + 4 * bore / (3 * length));
}

double viscous_conductance(double bore, double length, double mean_pressure, double viscosity) {
    return pi * bore * bore * bore * bore * mean_pressure / (128 * viscosity * length);
}

double in_series(double a, double b) {
    return 1 / (1 / a + 1 / b);
}

double mean_free_path(double temperature, double pressure, double molar_mass, double viscosity) {
    return viscosity / pressure * std::sqrt(pi * gas_constant * temperature / (2 * molar_mass));
}

double pump_down_time(double volume, double speed, double from, double to, double ultimate) {
    return volume / speed * std::log((from - ultimate) / (to - ultimate));
}

double base_pressure(double load, double speed) {
    return load / speed;
}

} // namespace athanor::physics
