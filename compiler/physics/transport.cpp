#include "compiler/physics/transport.hpp"

#include "compiler/physics/constants.hpp"

#include <cmath>

namespace athanor::physics {

double actual_flow(double flow, double temperature, double pressure) {
    return flow * gas_constant * temperature / pressure;
}

double amount_flow(double volume_flow, double temperature, double pressure) {
    return volume_flow * pressure / (gas_constant * temperature);
}

double gas_density(double temperature, double pressure, double molar_mass) {
    return pressure * molar_mass / (gas_constant * temperature);
}

double viscosity(const ViscosityFit& fit, double t) {
    return fit.c1 * std::pow(t, fit.c2) / (1 + fit.c3 / t + fit.c4 / (t * t));
}

double mixture_viscosity(std::span<const Share> parts) {
    double total = 0;
    for (const Share& i : parts) {
        double weight = 0;
        for (const Share& j : parts) {
            const double root =
                1 + std::sqrt(i.viscosity / j.viscosity) * std::pow(j.molar_mass / i.molar_mass, 0.25);
            weight += j.fraction * root * root / std::sqrt(8 * (1 + i.molar_mass / j.molar_mass));
        }
        if (i.fraction > 0) total += i.fraction * i.viscosity / weight;
    }
    return total;
}

double diffusivity(double temperature, double pressure, double molar_mass_a, double volume_a,
                   double molar_mass_b, double volume_b) {
    const double mass = 2 / (1e-3 / molar_mass_a + 1e-3 / molar_mass_b); // g/mol
    const double size = std::cbrt(volume_a) + std::cbrt(volume_b);
    return 1e-4 * 0.00143 * std::pow(temperature, 1.75) / (pressure / bar * std::sqrt(mass) * size * size);
}

double reynolds(double flow, double molar_mass, double bore, double viscosity_) {
    return 4 * flow * molar_mass / (pi * bore * viscosity_);
}

double peclet(double volume_flow, double bore, double length, double diffusivity_) {
    return volume_flow / (pi / 4 * bore * bore) * length / diffusivity_;
}

double back_diffusion(double peclet_) {
    return std::exp(-peclet_);
}

double thermal_meter_flow(double reading, double factor, double calibrated_factor) {
    return reading * factor / calibrated_factor;
}

double rotameter_flow(double reading, double molar_mass, double temperature, double pressure,
                      double calibrated_molar_mass, double calibrated_temperature, double calibrated_pressure) {
    return reading * std::sqrt(calibrated_molar_mass / molar_mass * pressure / calibrated_pressure *
                               calibrated_temperature / temperature);
}

double at_reference(double volume_flow, double temperature, double pressure, double to_temperature,
                    double to_pressure) {
    return volume_flow * (pressure / to_pressure) * (to_temperature / temperature);
}

} // namespace athanor::physics
