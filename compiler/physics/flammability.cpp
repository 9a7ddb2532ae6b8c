#include "compiler/physics/flammability.hpp"

#include "compiler/physics/constants.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace athanor::physics {

namespace {

struct Sums {
    double fuel = 0, other = 0, weighted = 0, lower_loads = 0, upper_loads = 0;
};

Sums sums_of(std::span<const Component> parts) {
    Sums s;
    for (const Component& part : parts) {
        if (!part.fuel) {
            s.other += part.share;
            s.weighted += part.equivalence * part.share;
            continue;
        }
        s.fuel += part.share;
        s.lower_loads += part.share / part.lower;
        s.upper_loads += part.share / part.upper;
    }
    return s;
}

constexpr double infinite = std::numeric_limits<double>::infinity();
constexpr double room = zero_celsius + 20;

constexpr std::array<double, 5> measured_at{293.15, 373.15, 473.15, 573.15, 673.15};

double measured(const std::array<double, 5>& values, double t) {
    std::size_t i = 1;
    while (i + 1 < measured_at.size() && t > measured_at[i]) ++i;
    const double share = (t - measured_at[i - 1]) / (measured_at[i] - measured_at[i - 1]);
    return (values[i - 1] + share * (values[i] - values[i - 1])) / values[0];
}

/// 0.75/dH: limit in per cent, dH in kcal/mol, as a share per kelvin.
double zabetakis(double heat) {
    return 0.75 / (heat / 4184) / 100;
}

} // namespace

double le_chatelier_lower(std::span<const Component> parts) {
    const Sums s = sums_of(parts);
    return s.lower_loads > 0 ? s.fuel / s.lower_loads : infinite;
}

double flammability_sum(std::span<const Component> parts) {
    const Sums s = sums_of(parts);
    double sum = 0;
    for (const Component& part : parts)
        if (part.fuel) sum += part.share / (s.fuel + s.weighted) / part.threshold;
    return sum;
}

double mixture_lower_limit(std::span<const Component> parts) {
    const Sums s = sums_of(parts);
    if (s.lower_loads <= 0) return infinite;
    const double fuel_only = s.fuel / s.lower_loads; // Le Chatelier on the fuels alone
    const double k = s.other > 0 ? s.weighted / s.other : 1;
    const double f = (1 - fuel_only - (1 - k) * (s.other / s.fuel) * fuel_only) / (1 - fuel_only);
    // For traces of fuel in a mild inert gas the correction falls to zero and below, where the standard already
    // says that nothing burns: there the limit stays uncorrected.
    const bool corrected = f > 0 && flammability_sum(parts) > 1;
    return (corrected ? f : 1) / s.lower_loads;
}

double mixture_upper_limit(std::span<const Component> parts) {
    const Sums s = sums_of(parts);
    return s.upper_loads <= 1 ? 1 : 1 / s.upper_loads;
}

double greatest_fuel(double threshold, double equivalence) {
    return equivalence * threshold / (1 - threshold + equivalence * threshold);
}

double lower_limit_factor(double limit, double heat, double temperature) {
    double factor = 1 - (temperature - room) / 860;
    if (heat > 0) factor = std::min(factor, 1 - zabetakis(heat) * (temperature - room) / limit);
    return std::max(0.0, factor);
}

double upper_limit_factor(double limit, double heat, double temperature) {
    double factor = 1 + 0.000721 * (temperature - room);
    if (heat > 0) factor = std::max(factor, 1 + zabetakis(heat) * (temperature - room) / limit);
    return factor;
}

double hydrogen_lower_factor(double limit, double temperature) {
    constexpr double percent = 100;
    return std::min(measured({3.9, 3.4, 2.9, 2.1, 1.5}, temperature),
                    measured({percent * limit, 3.4, 2.9, 2.1, 1.5}, temperature));
}

double hydrogen_upper_factor(double temperature) {
    return measured({75.2, 77.6, 81.3, 83.9, 87.6}, temperature);
}

double stoichiometric_share(double oxygen_demand) {
    return 1 / (1 + oxygen_demand / oxygen_in_air);
}

double air_demand(double flow, double oxygen_demand, double excess) {
    return flow * oxygen_demand / oxygen_in_air * (1 + excess);
}

} // namespace athanor::physics
