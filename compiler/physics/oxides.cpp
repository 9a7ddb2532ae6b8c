#include "compiler/physics/oxides.hpp"

#include "compiler/physics/constants.hpp"

#include <array>
#include <cmath>

namespace athanor::physics {

namespace {

constexpr std::array<double, 6> rows{298.15, 500, 800, 1000, 1200, 1500}; // K
using Column = std::array<double, 6>;                                     // kJ/mol

constexpr std::string_view janaf = "NIST-JANAF thermochemical tables";

// NIST-JANAF, one column a substance. "Fe0.947O": stoichiometric FeO is hypothetical and gives half the ratio.
constexpr Column water{-228.582, -219.051, -203.496, -192.590, -181.425, -164.376},
    carbon_monoxide{-137.163, -155.414, -182.497, -200.275, -217.819, -243.740},
    carbon_dioxide{-394.389, -394.939, -395.586, -395.886, -396.098, -396.288};

constexpr std::array columns{
    Column{-147.886, -132.484, -110.087, -95.517, -81.208, -57.438},          // Cu2O
    Column{},                                                                 // NiO: an equation
    Column{-213.988, -198.632, -177.207, -163.251, -149.363, -128.288},       // CoO
    Column{-532.011, -494.558, -440.476, -405.397, -371.048, -320.858},       // MoO2
    Column{-533.856, -496.391, -442.362, -407.315, -372.899, -322.261},       // WO2
    Column{-245.143, -231.379, -212.071, -199.395, -186.391, -166.930},       // Fe0.947O
    Column{-1053.066, -998.699, -920.401, -869.217, -818.475, -742.639},      // Cr2O3
    Column{},                                                                 // MnO: an equation
    Column{-856.443, -819.539, -765.452, -730.256, -695.426, -643.681},       // SiO2
    Column{-889.406, -852.157, -797.939, -762.428, -727.113, -673.798},       // TiO2
    Column{-1582.275, -1518.718, -1424.931, -1361.437, -1295.228, -1196.617}, // Al2O3
};

constexpr std::array table{
    Oxide{"Cu2O", "Cu", 0.5, 298.15, 1300, janaf},
    Oxide{"NiO", "Ni", 0.5, 298.15, 1500, "Hemingway, Am. Mineral. 75 (1990) 781"},
    Oxide{"CoO", "Co", 0.5, 298.15, 1500, janaf},
    Oxide{"MoO2", "Mo", 1, 298.15, 1500, janaf},
    Oxide{"WO2", "W", 1, 298.15, 1500, janaf},
    // Below about 570 degC wuestite falls apart into iron and magnetite.
    Oxide{"Fe0.947O", "Fe", 0.5, 850, 1500, janaf},
    Oxide{"Cr2O3", "Cr", 1.5, 298.15, 1500, janaf},
    Oxide{"MnO", "Mn", 0.5, 298.15, 1500,
          "Kubaschewski & Evans, Metallurgical Thermochemistry, as cited in lectures"},
    Oxide{"SiO2", "Si", 1, 298.15, 1500, janaf},
    Oxide{"TiO2", "Ti", 1, 298.15, 1500, janaf},
    Oxide{"Al2O3", "Al", 1.5, 298.15, 1500, janaf},
};
static_assert(columns.size() == table.size());

/// J/mol.
double between(const Column& column, double t) {
    std::size_t i = 1;
    while (i + 1 < rows.size() && t > rows[i]) ++i;
    const double share = (t - rows[i - 1]) / (rows[i] - rows[i - 1]);
    return 1e3 * (column[i - 1] + share * (column[i] - column[i - 1]));
}

} // namespace

std::span<const Oxide> oxides() {
    return table;
}

const Oxide* oxide(std::string_view formula) {
    for (const Oxide& o : table)
        if (o.formula == formula) return &o;
    return nullptr;
}

double formation_energy(const Oxide& o, double t) {
    if (o.formula == "MnO") return 1e3 * (-384.72 + 0.07280 * t);
    if (o.formula == "NiO") return 1e3 * (-238.39 + 0.1146 * t - 0.00372 * t * std::log(t));
    return between(columns[static_cast<std::size_t>(&o - table.data())], t);
}

double oxygen_over_hydrogen(double water_to_hydrogen, double t) {
    const double ratio = water_to_hydrogen * std::exp(between(water, t) / (gas_constant * t));
    return ratio * ratio * bar;
}

double oxygen_over_carbon_monoxide(double dioxide_to_monoxide, double t) {
    const double energy = between(carbon_dioxide, t) - between(carbon_monoxide, t);
    const double ratio = dioxide_to_monoxide * std::exp(energy / (gas_constant * t));
    return ratio * ratio * bar;
}

double oxygen_potential(double oxygen_pressure, double t) {
    return gas_constant * t * std::log(oxygen_pressure / bar);
}

double dissociation_pressure(const Oxide& o, double t) {
    return bar * std::exp(formation_energy(o, t) / o.oxygen / (gas_constant * t));
}

double critical_water_ratio(const Oxide& o, double t) {
    const double per_oxygen = formation_energy(o, t) / (2 * o.oxygen);
    return std::exp((per_oxygen - between(water, t)) / (gas_constant * t));
}

} // namespace athanor::physics
