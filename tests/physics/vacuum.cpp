// Vacuum against handbook figures: 12.1 d3/l and 135 d4 p/l (L/s, cm, mbar) are what every vacuum handbook
// prints for air at 20 degC.
#include "compiler/physics/vacuum.hpp"

#include "compiler/physics/constants.hpp"
#include "compiler/physics/substance.hpp"
#include "compiler/physics/transport.hpp"

#include "tests/physics/about.hpp"

#include <doctest/doctest.h>

using namespace athanor::physics;

namespace {
constexpr double air = 28.965e-3, room = 293.15, air_viscosity = 1.822e-5;
} // namespace

TEST_CASE("mean speed of air at 20 degC is 462.9 m/s") {
    CHECK(mean_speed(room, air) == about(462.9, 1e-4));
    // A quarter of it is the conductance of a thin hole: 11.6 L/s per cm2 (vacuum handbooks).
    CHECK(mean_speed(room, air) / 4 * 0.1 == about(11.57, 1e-3));
}

TEST_CASE("pipes") {
    // 2.5 cm by 100 cm: 12.1 d3/l = 1.8906 L/s without ends, which 1 + 4d/3l divides.
    CHECK(molecular_conductance(0.025, 1, room, air) * 1e3 == about(1.8906 / (1 + 4 * 2.5 / 300), 3e-3));
    // Hydrogen 7.167 L/s without ends: sqrt of the molar masses.
    CHECK(molecular_conductance(0.025, 1, room, 2.016e-3) * 1e3 == about(7.167 / (1 + 4 * 2.5 / 300), 3e-3));
    // The correction for ends is small for a long pipe and leads to less than the hole itself for a short one.
    CHECK(molecular_conductance(0.025, 100, room, air) * 1e5 == about(12.12 * 15.625 / 100, 2e-3));
    CHECK(molecular_conductance(0.025, 1e-6, room, air) <= mean_speed(room, air) / 4 * pi / 4 * 0.025 * 0.025);
    // 135 d4 pm/l with pm = 1 mbar: 52.73 L/s.
    CHECK(viscous_conductance(0.025, 1, 100, air_viscosity) * 1e3 == about(52.73, 3e-3));
    CHECK(viscous_conductance(0.01, 1, 100, air_viscosity) * 1e3 == about(135.0 / 100, 3e-3));
}

TEST_CASE("in series") {
    CHECK(in_series(5e-3, 1.8906e-3) * 1e3 == about(1.372, 1e-3));
    CHECK(in_series(2, 2) == about(1));
    CHECK(in_series(2, 0) == 0);
}

TEST_CASE("mean free path of air at 20 degC times pressure is 6.65e-3 cm mbar") {
    CHECK(mean_free_path(room, 100, air, air_viscosity) == about(6.65e-5, 0.01));
    CHECK(mean_free_path(room, 0.1, air, air_viscosity) == about(6.65e-2, 0.01));
    // Jennings, J. Aerosol Sci. 19 (1988) 159, from memory: 66.35 nm in air at 23 degC and 101.325 kPa,
    // viscosity 18.325 uPa s.
    CHECK(mean_free_path(296.15, 101325, air, 1.8325e-5) == about(66.35e-9, 0.01));
    // Nitrogen by hand: 17.49e-6/100 sqrt(pi 8.31446 293.15/(2 0.028013)) = 6.466e-5 m at 1 mbar.
    const double n2 = viscosity(substance("N2")->viscosity, room);
    CHECK(mean_free_path(room, 100, 28.013e-3, n2) == about(6.466e-5, 1e-3));
}

TEST_CASE("pumping down") {
    CHECK(pump_down_time(5e-3, 1e-3, 101325, 100, 0) == about(34.60, 1e-3));
    CHECK(pump_down_time(5e-3, 1e-3, 101325, 100, 10) == about(35.13, 1e-3));
    CHECK(pump_down_time(5e-3, 1e-3, 101325, 1, 0.5) == about(61.10, 1e-3));
}

TEST_CASE("leaks") {
    CHECK(leak_from_rise(5e-3, 50, 600) == about(4.167e-4, 1e-3)); // 4.167e-3 mbar L/s
    CHECK(leak_from_rise(1e-3, 100, 1) == about(0.1));             // 1 mbar L/s is 0.1 Pa m3/s
    // 2000 cm2 at 1e-8 mbar L/s cm2 and 1 L/s: 2e-5 mbar.
    CHECK(base_pressure(2000 * 1e-8 * 0.1, 1e-3) == about(2e-3));
}
