#pragma once
#include <span>
#include <string_view>

/// Oxygen over metals and their oxides: what an atmosphere oxidises and what it reduces. SI; pressures in Pa,
/// the standard state is 1 bar, pure condensed phases.
namespace athanor::physics {

/// Gibbs energy of formation of an oxide from its elements.
struct Oxide {
    std::string_view formula, metal;
    double oxygen;           // mol O2 per formula
    double coldest, hottest; // K, where the figures hold
    std::string_view source;
};
/// In the order of falling ease of reduction at 1000 degC.
std::span<const Oxide> oxides();
/// Null when it is not known.
const Oxide* oxide(std::string_view formula);

/// J per mol of formula. NIST-JANAF tables, straight between the tabulated temperatures (within 0.6 kJ/mol of
/// the table's own rows); MnO, NiO: see their `source`.
double formation_energy(const Oxide& oxide, double temperature);

/// Range of the three below: 298.15 K to 1500 K.
inline constexpr double coldest_equilibrium = 298.15, hottest_equilibrium = 1500;
/// p(O2) over H2 and H2O in equilibrium: [(pH2O/pH2)/K]^2 bar, K = exp(-dG(H2O)/RT).
double oxygen_over_hydrogen(double water_to_hydrogen, double temperature);
/// p(O2) over CO and CO2 in equilibrium; soot is not considered.
double oxygen_over_carbon_monoxide(double dioxide_to_monoxide, double temperature);
/// RT ln(p(O2)/bar), J/mol O2: the ordinate of Ellingham's diagram.
double oxygen_potential(double oxygen_pressure, double temperature);

/// p(O2) over metal and oxide together: below it the oxide is reduced.
double dissociation_pressure(const Oxide& oxide, double temperature);
/// pH2O/pH2 over metal, oxide and hydrogen together: a drier gas reduces.
double critical_water_ratio(const Oxide& oxide, double temperature);

} // namespace athanor::physics
