#pragma once

/// Constants of physics, SI.
namespace athanor::physics {

inline constexpr double gas_constant = 8.31446261815324;   // J/(mol K), exact in the SI (2019)
inline constexpr double stefan_boltzmann = 5.670374419e-8; // W/(m2 K4), CODATA 2018, exact from the SI
inline constexpr double zero_celsius = 273.15;             // K
inline constexpr double atmosphere = 101325;               // Pa
inline constexpr double bar = 1e5;                         // Pa
/// L of gas at 0 degC and 101.325 kPa for each mol (DIN 1343).
inline constexpr double normal_litres = gas_constant * zero_celsius / atmosphere * 1000;
inline constexpr double oxygen_in_air = 0.2095; // mole fraction in dry air
inline constexpr double pi = 3.14159265358979323846;

} // namespace athanor::physics
