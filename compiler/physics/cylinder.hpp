#pragma once
#include "compiler/physics/substance.hpp"

#include <string_view>

/// What a gas cylinder holds. SI.
namespace athanor::physics {

/// Lee & Kesler (AIChE J. 21 (1975) 510): corresponding states with two fluids, 0.3 <= Tr <= 4, pr <= 10; about
/// 1 % away from saturation. Constants from memory; checked against tables of reference equations of state.
double lee_kesler(double reduced_temperature, double reduced_pressure, double acentric);
/// Lemmon, Huber & Leachman, J. Res. NIST 113 (2008) 341: hydrogen, 150 K to 1000 K, to 200 MPa (constants from
/// memory, checked against the paper's own test values).
double hydrogen_compressibility(double temperature, double pressure);
/// Z = 1 + B p/(R T), B = 11.9 cm3/mol near room temperature (from memory: Dymond & Smith, The Virial
/// Coefficients of Pure Gases and Mixtures); within 0.3 % to 200 bar at 250 K to 350 K.
double helium_compressibility(double temperature, double pressure);

/// Range in which `compressibility` of a gas holds.
struct Range {
    double coldest, hottest; // K
    double pressure;         // Pa, highest
};
Range compressibility_range(const Substance& gas);
/// Z by whichever of the three fits the gas. Inside its range only: a gas that liquefies in its cylinder is
/// weighed.
double compressibility(const Substance& gas, double temperature, double pressure);

/// n = p V / (Z R T), mol.
double content(double volume, double pressure, double temperature, double z);

} // namespace athanor::physics
