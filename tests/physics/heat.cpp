// Heat, walls and dose against worked figures.
#include "compiler/physics/heat.hpp"

#include "compiler/physics/constants.hpp"
#include "compiler/physics/dose.hpp"

#include "tests/physics/about.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <initializer_list>

using namespace athanor::physics;

namespace {
// Alumina at 500 degC: NIST SRD 150 (Munro 1997) and Munro, J. Am. Ceram. Soc. 80 (1997) 1919 (from memory).
constexpr Wall alumina{390e9, 0.237, 7.1e-6, 11.4, 3943, 1165};
constexpr double celsius = 273.15, hour = 3600;
} // namespace

TEST_CASE("radiation: Stefan-Boltzmann") {
    CHECK(radiated_power(1, 1, 1273.15, 0) == about(148981, 1e-5));
    CHECK(radiated_power(1, 0.8, 1273.15, 293.15) == about(118850, 1e-4));
}

TEST_CASE("a wall heated at a steady rate") {
    CHECK(alumina.diffusivity() == about(2.482e-6, 1e-3));
    CHECK(wall_difference(0.06, 0.005, 10.0 / 60, alumina.diffusivity()) == about(0.791, 1e-3));
    CHECK(wall_difference(0.12, 0.010, 10.0 / 60, alumina.diffusivity()) == about(3.163, 1e-3));
    CHECK(outer_stress(alumina, 0.06, 0.005, 10.0 / 60) / 1e6 == about(-1.86, 3e-3));
    CHECK(inner_stress(alumina, 0.06, 0.005, 10.0 / 60) / 1e6 == about(1.01, 5e-3));
    CHECK(outer_stress(alumina, 0.12, 0.010, 10.0 / 60) / 1e6 == about(-7.42, 3e-3));
    CHECK(inner_stress(alumina, 0.06, 0.005, 1.0) / 1e6 == about(6.1, 6e-3));
    // A thin wall is a plate heated on one side: phi w2 / (2 kappa).
    CHECK(wall_difference(1, 1e-3, 1, 2e-6) == about(1e-6 / 4e-6, 2e-3));
}

TEST_CASE("the mean of the wall's profile, by quadrature") {
    const double a = 0.025, b = 0.030, rate = 0.2, k = alumina.diffusivity();
    double mean = 0;
    constexpr int n = 20000;
    for (int i = 0; i < n; ++i) {
        const double r = a + (b - a) * (i + 0.5) / n;
        const double below = rate / (4 * k) * (r * r - b * b - 2 * a * a * std::log(r / b));
        mean += below * 2 * r * (b - a) / n / (b * b - a * a);
    }
    const double expected = alumina.modulus * alumina.expansion / (1 - alumina.poisson) * mean;
    CHECK(outer_stress(alumina, 0.06, 0.005, rate) == about(expected, 1e-6));
}

TEST_CASE("thermal shock: Kingery's first parameter") {
    CHECK(thermal_shock(48e6, 0.17, 72e9, 5.5e-7) == about(1006, 1e-3));
    CHECK(thermal_shock(160e6, 0.25, 170e9, 5.8e-6) == about(121.7, 1e-3));
    CHECK(thermal_shock(345e6, 0.244, 364e9, 8.1e-6) == about(88.5, 1e-3));
}

TEST_CASE("Lame's thick tube") {
    // Bore 100 mm, outer diameter 200 mm, 60 MPa: hoop stress 100 MPa at the bore (textbook example, from
    // memory).
    CHECK(hoop_stress_inside(0.2, 0.05, 60e6) == about(100e6, 1e-9));
    // Thin: p r / w.
    CHECK(hoop_stress_inside(1.001, 0.0005, 1e5) == about(1e5 * 0.5 / 0.0005, 2e-3));
    CHECK(hoop_stress_outside(1.001, 0.0005, 1e5) == about(1e5 * 0.5 / 0.0005, 2e-3));
    // Equilibrium: the hoop stress A + B/r2 over the wall carries p times the bore's radius.
    const double a = 0.025, b = 0.030, p = 2e4, area = b * b - a * a;
    const double inner = p * a * a / area, outer = p * a * a * b * b / area;
    CHECK(hoop_stress_inside(2 * b, b - a, p) == about(inner + outer / (a * a), 1e-12));
    CHECK(inner * (b - a) + outer * (1 / a - 1 / b) == about(p * a, 1e-12));
}

TEST_CASE("a tube that the room presses flat") {
    // A long one: ASME BPVC II-D, figure G, A = 1.1 / (Do/t)^2, and VIII-1, UG-28, Pa = 2 A E / (3 Do/t), a
    // third of what it collapses at (from memory).
    const double a = 1.1 / (100.0 * 100.0), stands = 3 * 2 * a * 200e9 / (3 * 100.0);
    CHECK(collapse_pressure(200e9, 0.3, 1.01, 0.01, 1000) == about(stands, 2e-3));
    // A short one: the handbooks' 2.6 E (t/D)^2.5 / (L/D - 0.45 (t/D)^0.5), for a Poisson's ratio of 0.3.
    const double thin = 0.01;
    const double held = 2.6 * 200e9 * std::pow(thin, 2.5) / (2 - 0.45 * std::sqrt(thin));
    CHECK(collapse_pressure(200e9, 0.3, 1.01, 0.01, 2) == about(held, 2e-3));
    // Held nearer it stands more, and what is shorter than its waves does not buckle so.
    CHECK(collapse_pressure(200e9, 0.3, 1.01, 0.01, 1) > 1.9 * held);
    CHECK(std::isinf(collapse_pressure(200e9, 0.3, 1.01, 0.01, 0.01)));
}

TEST_CASE("diffusion: Callister, Materials Science and Engineering, ch. 5") {
    // Copper in aluminium, D0 6.5e-5 m2/s, 136 kJ/mol: 4.8e-14 m2/s does in 110.4 h at 500 degC what 5.3e-13
    // does in 10 h at 600.
    CHECK(diffusion_coefficient(6.5e-5, 136e3, 500 + celsius) == about(4.2e-14, 0.03));
    CHECK(diffusion_coefficient(6.5e-5, 136e3, 600 + celsius) == about(4.7e-13, 0.03));
    CHECK(equivalent_time(136e3, 600 + celsius, 10 * hour, 500 + celsius) / hour == about(110.4, 0.03));
    // Carbon in austenite, 2.3e-5 m2/s, 148 kJ/mol, 1000 degC.
    CHECK(diffusion_coefficient(2.3e-5, 148e3, 1273.15) == about(1.9486e-11, 1e-3));
    CHECK(diffusion_length(2.3e-5, 148e3, 1273.15, 4 * hour) == about(529.7e-6, 1e-3));
    CHECK(equivalent_time(148e3, 1273.15, hour, 1223.15) / hour == about(1.771, 1e-3));
    CHECK(2.3e-5 * ramp_dose(148e3, 912 + celsius, 1273.15, 10.0 / 60) == about(6.479e-9, 1e-3));
}

TEST_CASE("tempering and creep") {
    CHECK(time_temperature_parameter(873.15, 2 * hour, 20) == about(17725.8, 1e-5));
    CHECK(parameter_time(17725.8, 853.15, 20) / hour == about(5.983, 1e-3));
    CHECK(parameter_time(17725.8, 893.15, 20) / hour == about(0.702, 1e-3));
    // Callister's design example for S-590: 24.0e3 at 1073 K gives 233 h.
    CHECK(parameter_time(24.0e3, 1073, 20) / hour == about(232.9, 1e-3));
    CHECK(parameter_time(24.0e3, 1073.15, 20) / hour == about(231.2, 1e-3));
    CHECK(parameter_time(time_temperature_parameter(1000, 7777, 18.3), 1000, 18.3) == about(7777, 1e-10));
}

TEST_CASE("work of sintering, 440 kJ/mol: figures of a separate integration") {
    const double ramp = sintering_work_of_ramp(440e3, 293.15, 1673.15, 10.0 / 60),
                 hold = sintering_work(440e3, 1673.15, 2 * hour);
    CHECK(ramp == about(3.3783e-15, 1e-4));
    CHECK(hold == about(7.8987e-14, 1e-4));
    CHECK(std::log10(ramp + hold) == about(-13.084, 1e-4));
    CHECK(hold / sintering_work(440e3, 1723.15, 1) == about(2961.7, 1e-4));
}

TEST_CASE("integrals over ramps") {
    // d/dT of T exp(-Q/RT) is (1 + Q/RT) exp(-Q/RT): one exact integral, for steep and mild laws and long
    // ramps.
    for (double q : {30e3, 440e3, 2000e3}) {
        const auto f = [q](double t) { return t * std::exp(-q / (gas_constant * t)); };
        const double exact = f(2900) - f(300);
        const double sum =
            ramp_dose(q, 300, 2900, 1) + q / gas_constant * sintering_work_of_ramp(q, 300, 2900, 1);
        CHECK(sum == about(exact, 1e-9));
    }
    // Direction does not matter.
    CHECK(ramp_dose(2e5, 1200, 400, 1) == about(ramp_dose(2e5, 400, 1200, 1), 1e-12));
}
