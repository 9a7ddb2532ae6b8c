#include "compiler/physics/purge.hpp"

#include "compiler/physics/constants.hpp"

#include <cmath>

namespace athanor::physics {

double swept_share(double volume, double flow, double time, double from, double mixing, double supply) {
    return supply + (from - supply) * std::exp(-mixing * flow * time / volume);
}

double sweep_volumes(double from, double to, double mixing, double supply) {
    return std::log((from - supply) / (to - supply)) / mixing;
}

double sweep_time(double volume, double flow, double from, double to, double mixing, double supply) {
    return volume / flow * sweep_volumes(from, to, mixing, supply);
}

double diluted_share(double from, double cycles, double low, double high, double supply) {
    return supply + (from - supply) * std::pow(low / high, cycles);
}

double dilution_cycles(double from, double to, double low, double high, double supply) {
    const double cycles = std::log((from - supply) / (to - supply)) / std::log(high / low);
    // A whole number that only rounding lifted stays what it is.
    return std::ceil(cycles - 1e-9);
}

double oxygen_from_leak(double leak_rate, double flow) {
    const double leaked = leak_rate / (gas_constant * (zero_celsius + 20)); // mol/s
    return oxygen_in_air * leaked / (leaked + flow);
}

double sealed_pressure(double pressure, double from, double to) {
    return pressure * to / from;
}

double make_up_flow(double volume, double pressure, double temperature, double rate) {
    return pressure * volume * rate / (gas_constant * temperature * temperature);
}

} // namespace athanor::physics
