#include "compiler/physics/dose.hpp"

#include "compiler/physics/constants.hpp"

#include <array>
#include <cmath>

namespace athanor::physics {

namespace {

/// Gauss-Legendre of five points on equal pieces; the integrand is smooth and the pieces short against R T2/Q.
template<class F>
double integral(double from, double to, F f) {
    constexpr std::array<double, 5> at{-0.906179845938664, -0.538469310105683, 0.0, 0.538469310105683,
                                       0.906179845938664};
    constexpr std::array<double, 5> weight{0.236926885056189, 0.478628670499366, 0.568888888888889,
                                           0.478628670499366, 0.236926885056189};
    constexpr int pieces = 400;
    const double half = (to - from) / pieces / 2;
    double total = 0;
    for (int i = 0; i < pieces; ++i)
        for (std::size_t k = 0; k < at.size(); ++k) total += weight[k] * f(from + half * (2 * i + 1 + at[k]));
    return total * half;
}

} // namespace

double diffusion_coefficient(double d0, double activation, double temperature) {
    return d0 * std::exp(-activation / (gas_constant * temperature));
}

double diffusion_length(double d0, double activation, double temperature, double time) {
    return std::sqrt(diffusion_coefficient(d0, activation, temperature) * time);
}

double ramp_dose(double activation, double from, double to, double rate) {
    const double sum = integral(from, to, [&](double t) { return std::exp(-activation / (gas_constant * t)); });
    return std::fabs(sum) / rate;
}

double equivalent_time(double activation, double temperature, double time, double other) {
    return time * std::exp(activation / gas_constant * (1 / other - 1 / temperature));
}

double time_temperature_parameter(double temperature, double time, double constant) {
    return temperature * (constant + std::log10(time / 3600));
}

double parameter_time(double parameter, double temperature, double constant) {
    return 3600 * std::pow(10, parameter / temperature - constant);
}

double sintering_work(double activation, double temperature, double time) {
    return time / temperature * std::exp(-activation / (gas_constant * temperature));
}

double sintering_work_of_ramp(double activation, double from, double to, double rate) {
    const double sum =
        integral(from, to, [&](double t) { return std::exp(-activation / (gas_constant * t)) / t; });
    return std::fabs(sum) / rate;
}

} // namespace athanor::physics
