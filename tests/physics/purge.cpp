// Purging against worked figures. Computed ones follow by hand from the published formula that the header
// names; they were worked out apart from this code.
#include "compiler/physics/purge.hpp"

#include "compiler/physics/constants.hpp"

#include "tests/physics/about.hpp"

#include <doctest/doctest.h>

#include <initializer_list>

using namespace athanor::physics;

namespace {
constexpr double litre = 1e-3, per_minute = 1e-3 / 60;
constexpr double normal = 101325 / (8.31446261815324 * 273.15); // mol/m3
} // namespace

TEST_CASE("sweeping a well-mixed volume") {
    CHECK(sweep_time(5 * litre, per_minute, 0.2095, 100e-6, 1, 5e-6) / 60 == about(38.49, 1e-3));
    CHECK(sweep_time(5 * litre, per_minute, 0.2095, 100e-6, 0.5, 5e-6) / 60 == about(76.99, 1e-3));
    CHECK(swept_share(5 * litre, per_minute, 600, 0.2095, 1, 5e-6) == about(0.028357, 1e-4));
    CHECK(swept_share(5 * litre, per_minute, 1800, 0.2095, 1, 5e-6) == about(5.243e-4, 1e-3));
    // "Five volume changes" (NFPA 86 practice) leave e^-5 of the air.
    CHECK(swept_share(1, 1, 5, 0.2095, 1, 0) == about(0.001412, 1e-3));
    CHECK(sweep_volumes(0.2095, 0.01, 1, 0) == about(3.042, 1e-3));
    CHECK(sweep_volumes(1, 0.02, 1, 0) == about(3.912, 1e-3));
    CHECK(sweep_volumes(1, 0.01, 1, 0) == about(4.605, 1e-3));
}

TEST_CASE("sweeping there and back") {
    for (double to : {0.1, 1e-3, 2e-5})
        for (double mixing : {0.3, 1.0}) {
            const double t = sweep_time(3.4e-3, 2e-5, 0.2095, to, mixing, 1e-6);
            CHECK(swept_share(3.4e-3, 2e-5, t, 0.2095, mixing, 1e-6) == about(to, 1e-10));
        }
}

TEST_CASE("cycles of evacuating and filling") {
    // Crowl & Louvar, Chemical Process Safety, worked example of a 1000 gal tank (from memory): 21 % to 1 ppm
    // between 20 and 760 mmHg takes 3.37 cycles, so 4.
    CHECK(dilution_cycles(0.21, 1e-6, 20, 760, 0) == 4);
    CHECK(diluted_share(0.2095, 1, 100, 101325, 3e-6) == about(209.76e-6, 1e-4));
    CHECK(diluted_share(0.2095, 2, 100, 101325, 3e-6) == about(3.204e-6, 1e-3));
    CHECK(diluted_share(0.2095, 4, 1e4, 101325, 0) == about(19.88e-6, 1e-3));
    CHECK(dilution_cycles(0.2095, 10e-6, 1e4, 101325, 0) == 5);
    CHECK(dilution_cycles(0.2095, 0.01, 1e5, 5e5, 0) == 2);
    CHECK(diluted_share(0.2095, 2, 1e5, 5e5, 0) == about(0.00838, 1e-3));
    // A target that whole cycles meet exactly takes no cycle more.
    CHECK(dilution_cycles(1, 1e-3, 1, 10, 0) == 3);
}

TEST_CASE("air through a leak") {
    // 4.167e-3 mbar L/s is 0.2299 sccm of air: 240.8 ppm of oxygen in 200 sccm.
    const double leak = 4.167e-4, flow = 200e-6 / 60 * normal;
    CHECK(oxygen_from_leak(leak, flow) == about(240.8e-6, 1.2e-3));
    CHECK(oxygen_from_leak(leak, flow) == about(0.2095 * 0.2299 / 200.2299, 1e-4)); // of all that flows then
    CHECK(oxygen_from_leak(leak, 2 * flow) == about(120.4e-6, 1.2e-3)); // the source divides by the flow alone
    // As much air as gas is half air; air alone has no more oxygen than air (mass balance).
    const double air = 0.2299e-6 / 60 * normal;
    CHECK(oxygen_from_leak(leak, air) == about(0.2095 / 2, 1e-3));
    CHECK(oxygen_from_leak(leak, 1e-6 * air) == about(0.2095, 1e-4));
}

TEST_CASE("a closed volume that cools or warms") {
    CHECK(sealed_pressure(101325, 1273.15, 293.15) == about(23330, 1e-3));
    CHECK(sealed_pressure(101325, 293.15, 1273.15) == about(440050, 1e-4));
    const double flow = make_up_flow(3 * litre, 101325, 1073.15, 10.0 / 60);
    CHECK(flow / normal * 1e6 * 60 == about(7.12, 1e-3));
    // It is what the amount in the volume gains, by differences.
    const auto amount = [](double t) { return 101325 * 3e-3 / (gas_constant * t); };
    CHECK(flow == about((amount(1073.15 - 0.01) - amount(1073.15 + 0.01)) / 0.02 * 10 / 60, 1e-8));
}
