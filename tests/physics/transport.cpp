// Flowing gas against tables. Viscosities and densities of gases at 1 atm: Perry's Chemical Engineers' Handbook
// (table 2-312) and reference equations of state as collected in an open library of chemical data.
#include "compiler/physics/transport.hpp"

#include "compiler/physics/constants.hpp"

#include "tests/physics/about.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string>
#include <vector>

using namespace athanor::physics;

namespace {
constexpr double normal = 101325 / (8.31446261815324 * 273.15); // mol/m3
}

TEST_CASE("amounts and volumes") {
    // 1 slm is 4.2949 L/min at 900 degC and 1 atm; 500 sccm are 2147.4 cm3/min, at 100 mbar 21759.
    const double slm = 1e-3 / 60 * normal;
    CHECK(actual_flow(slm, 1173.15, 101325) * 6e4 == about(4.2949, 1e-4));
    CHECK(actual_flow(slm / 2, 1173.15, 101325) * 6e7 == about(2147.4, 1e-4));
    CHECK(actual_flow(slm / 2, 1173.15, 1e4) * 6e7 == about(21759, 1e-4));
    CHECK(slm / 1000 == about(7.43584e-7, 1e-5));
    CHECK(amount_flow(actual_flow(3e-4, 700, 5e4), 700, 5e4) == about(3e-4, 1e-14));
    // Molar volumes at 20 degC and at 0 degC, 101.325 kPa: 24.05512 and 22.41397 L/mol.
    CHECK(at_reference(1, 273.15, 101325, 293.15, 101325) == about(24.05512 / 22.41397, 1e-6));
    // 15 degC and 1 bar (the trade's cubic metre): 23.95812 L/mol.
    CHECK(at_reference(1, 273.15, 101325, 288.15, 1e5) == about(23.95812 / 22.41397, 1e-6));
}

TEST_CASE("densities at 1 atm, 0 degC and 20 degC") {
    struct Row {
        double molar_mass, cold, warm, within;
    };
    for (Row r : {Row{2.016, 0.08988, 0.08375, 2e-3}, Row{28.013, 1.25039, 1.16483, 2e-3},
                  Row{39.948, 1.78396, 1.66182, 2e-3}, Row{4.0026, 0.17848, 0.16631, 2e-3},
                  Row{31.999, 1.42903, 1.33118, 2e-3}, Row{44.010, 1.97681, 1.83934, 8e-3},
                  Row{17.031, 0.771, 0.716, 0.015}}) {
        CHECK(gas_density(273.15, 101325, r.molar_mass * 1e-3) == about(r.cold, r.within));
        CHECK(gas_density(293.15, 101325, r.molar_mass * 1e-3) == about(r.warm, r.within));
    }
}

TEST_CASE("viscosities at 20 degC and 1000 degC, uPa s") {
    struct Row {
        const char* formula;
        double warm, hot; // 0: outside the fit
    };
    for (Row r : {Row{"H2", 8.80, 24.1}, Row{"N2", 17.49, 48.6}, Row{"Ar", 22.34, 65.5}, Row{"He", 19.64, 54.9},
                  Row{"O2", 20.34, 57.5}, Row{"CO2", 14.73, 46.9}, Row{"CO", 17.45, 0}, Row{"CH4", 11.03, 0},
                  Row{"NH3", 9.95, 0}, Row{"H2O", 9.61, 0}}) {
        CAPTURE(std::string(r.formula));
        const ViscosityFit& fit = substance(r.formula)->viscosity;
        CHECK(viscosity(fit, 293.15) * 1e6 == about(r.warm, 3e-3));
        if (r.hot > 0) CHECK(viscosity(fit, 1273.15) * 1e6 == about(r.hot, 3e-3));
    }
}

TEST_CASE("viscosity of air from its parts: 18.22 uPa s at 20 degC, 48.2 at 1000 degC") {
    for (auto [t, eta] : {std::pair{293.15, 18.22}, std::pair{1273.15, 48.2}}) {
        const std::vector<Share> parts{{0.7905, 28.013e-3, viscosity(substance("N2")->viscosity, t)},
                                       {0.2095, 31.999e-3, viscosity(substance("O2")->viscosity, t)}};
        CHECK(mixture_viscosity(parts) * 1e6 == about(eta, 0.05));
    }
    // Equal parts are the part; what is not there does not count.
    const std::vector<Share> twins{{0.3, 0.028, 2e-5}, {0.7, 0.028, 2e-5}, {0.0, 0.002, 9e-6}};
    CHECK(mixture_viscosity(twins) == about(2e-5, 1e-12));
}

TEST_CASE("diffusion of gases at 1 atm, cm2/s") {
    const auto d = [](const char* a, double ma, const char* b, double mb, double t) {
        return diffusivity(t, 101325, ma * 1e-3, substance(a)->diffusion_volume, mb * 1e-3,
                           substance(b)->diffusion_volume) *
               1e4;
    };
    // Measured: N2-O2 0.181 and H2-N2 0.674 at 273.2 K (Bird, Stewart & Lightfoot, Transport Phenomena,
    // table 17.1-1, from memory); H2O-N2 0.256 at 298 K (Cussler, Diffusion, table 5.1-1, from memory).
    CHECK(d("O2", 31.999, "N2", 28.013, 273.2) == about(0.181, 0.05));
    CHECK(d("H2", 2.016, "N2", 28.013, 273.2) == about(0.674, 0.05));
    CHECK(d("H2O", 18.015, "N2", 28.013, 298.2) == about(0.256, 0.05));
    CHECK(d("N2", 28.013, "H2", 2.016, 293.2) == about(d("H2", 2.016, "N2", 28.013, 293.2)));
}

TEST_CASE("Reynolds and Peclet numbers by hand") {
    // 1 slm of nitrogen at 20 degC in 50 mm: 7.436e-4 mol/s * 0.028013 * 4 / (pi 0.05 17.49e-6) = 30.3.
    CHECK(reynolds(7.436e-4, 0.028013, 0.05, 17.49e-6) == about(30.33, 1e-3));
    // The same from density and speed: 2 L/min of water vapour-free air, 4 rho Q / (pi d eta).
    const double q = 2e-3 / 60, rho = gas_density(293.15, 101325, 0.028965), n = amount_flow(q, 293.15, 101325);
    CHECK(reynolds(n, 0.028965, 0.06, 18.22e-6) == about(rho * (q / (pi * 0.0009)) * 0.06 / 18.22e-6, 1e-9));
    // v = 0.5895 m/s in 6 mm at 1 L/min; Pe over 0.2 m with 0.2 cm2/s is 5895.
    CHECK(peclet(1e-3 / 60, 0.006, 0.2, 2e-5) == about(5895, 1e-3));
    CHECK(back_diffusion(0) == 1);
    CHECK(back_diffusion(4.605) == about(0.01, 1e-3));
}

TEST_CASE("meters") {
    // Nitrogen's scale, hydrogen flowing: sqrt(1.16483/0.08375) = 3.729 with real densities.
    CHECK(rotameter_flow(1, 2.016e-3, 293.15, 101325, 28.013e-3, 293.15, 101325) == about(3.729, 1e-3));
    // At four times the pressure the same float position passes twice the amount.
    CHECK(rotameter_flow(1, 0.028, 293.15, 4e5, 0.028, 293.15, 1e5) == about(2));
    CHECK(rotameter_flow(1, 0.028, 4 * 293.15, 1e5, 0.028, 293.15, 1e5) == about(0.5));
    // Factors of a synchrotron facility's table: Ar 1.40, CO2 0.74, N2 1.
    CHECK(thermal_meter_flow(100, 1.40, 1) == about(140));
    CHECK(thermal_meter_flow(100, 0.74, 1.40) == about(52.857, 1e-4));
}

TEST_CASE("oxygen that formulas take to burn") {
    // Reaction equations: 2 H2 + O2, 2 CO + O2, CH4 + 2 O2, 4 NH3 + 3 O2, C3H8 + 5 O2, 2 H2S + 3 O2.
    for (auto [formula, demand] : {std::pair{"H2", 0.5}, std::pair{"CO", 0.5}, std::pair{"CH4", 2.0},
                                   std::pair{"NH3", 0.75}, std::pair{"C3H8", 5.0}, std::pair{"H2S", 1.5},
                                   std::pair{"N2", 0.0}, std::pair{"Ar", 0.0}, std::pair{"O2", -1.0}})
        CHECK(std::fabs(oxygen_demand(formula).value() - demand) < 1e-12);
    for (const char* bad : {"", "h2", "SiH4", "C2 H4", "(CH3", "2H2", "Cl2"}) CHECK_FALSE(oxygen_demand(bad));
}

TEST_CASE("a formula is read as its elements, in any order and through brackets") {
    CHECK(composition("SiH4") == Composition{{"H", 4}, {"Si", 1}});
    CHECK(composition("H4Si") == composition("SiH4"));
    CHECK(composition("Ni(CO)4") == Composition{{"C", 4}, {"Ni", 1}, {"O", 4}});
    CHECK(composition("Zn(CH3)2") == Composition{{"C", 2}, {"H", 6}, {"Zn", 1}});
    CHECK(composition("((CH3)2N)2") == Composition{{"C", 4}, {"H", 12}, {"N", 2}});
    CHECK(composition("C2H5OH") == composition("CH3OCH3"));
    for (const char* bad : {"", "h2", "2H2", "Zn(CH3", "CH3)2", "C2 H4", "H2+"})
        CHECK(composition(bad).empty());
}
