#pragma once
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>

/// What the equations know of a pure gas beside its declaration, by chemical formula.
namespace athanor::physics {

/// eta = C1 T^C2 / (1 + C3/T + C4/T^2), Pa s. Perry's Chemical Engineers' Handbook, table 2-312, as transcribed
/// in an open library of chemical data; the ranges of temperature are from memory of the same table.
struct ViscosityFit {
    double c1, c2, c3, c4;
    double coldest, hottest; // K
};

struct Substance {
    std::string_view formula;
    ViscosityFit viscosity;
    /// Diffusion volume of Fuller, Schettler & Giddings, cm3/mol (from memory: Poling, Prausnitz & O'Connell,
    /// The Properties of Gases and Liquids, table 11-1).
    double diffusion_volume;
    /// Critical temperature (K), critical pressure (Pa) and acentric factor (from memory: the same handbook,
    /// appendix A). Zero where the content of a cylinder follows from another equation.
    double critical_temperature, critical_pressure, acentric;
};

/// Null when the formula is not known.
const Substance* substance(std::string_view formula);
std::span<const Substance> substances();

/// How many atoms of each element: {C 4, Ni 1, O 4} of "Ni(CO)4". Any capital with small letters behind it
/// counts as an element. Empty for what cannot be read.
using Composition = std::map<std::string, unsigned, std::less<>>;
Composition composition(std::string_view formula);

/// Mol of oxygen that one mol takes to burn to H2O, CO2, N2 and SO2: C + H/4 + S - O/2. nullopt for a formula
/// of other elements, or one that cannot be read. Zero for what does not burn (N2, He, Ar, O2 counts -1).
std::optional<double> oxygen_demand(std::string_view formula);

} // namespace athanor::physics
