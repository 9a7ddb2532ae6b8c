// Flammability against the worked examples of the standard and of a textbook.
#include "compiler/physics/flammability.hpp"

#include "compiler/physics/constants.hpp"
#include "compiler/physics/substance.hpp"

#include "tests/physics/about.hpp"

#include <doctest/doctest.h>

#include <tuple>
#include <vector>

using namespace athanor::physics;

namespace {
constexpr double celsius = 273.15;
Component fuel(double share, double lower, double upper = 1, double threshold = 0.01) {
    return {share, true, lower, upper, threshold, 1};
}
Component inert(double share, double equivalence) {
    return {share, false, 0, 0, 0, equivalence};
}
} // namespace

TEST_CASE("Le Chatelier: Crowl & Louvar, Chemical Process Safety, example of ch. 6") {
    // Hexane 0.8, methane 2.0, ethylene 0.5 %; limits 1.2, 5.3, 3.1 %. The book rounds the shares of the fuel
    // to 0.24, 0.61, 0.15 and prints 2.75 %; upper limits 7.5, 15, 32 % give 13.0 % (from memory).
    const std::vector<Component> rounded{fuel(0.24, 0.012, 0.075), fuel(0.61, 0.053, 0.15),
                                         fuel(0.15, 0.031, 0.32)};
    CHECK(le_chatelier_lower(rounded) == about(0.02751, 1e-3));
    CHECK(mixture_upper_limit(rounded) == about(0.130, 0.01));
    const std::vector<Component> parts{fuel(0.008, 0.012), fuel(0.020, 0.053), fuel(0.005, 0.031)};
    CHECK(le_chatelier_lower(parts) == about(0.02751, 6e-3));
    // 40 % H2 and 20 % CO, limits 4.0 and 12.5 %: 5.172 % on the fuels alone, 8.62 % of the whole gas.
    const std::vector<Component> mixed{fuel(0.4, 0.04), fuel(0.2, 0.125)};
    CHECK(le_chatelier_lower(mixed) == about(0.05172, 1e-3));
    CHECK(le_chatelier_lower(mixed) / 0.6 == about(0.0862, 1e-3));
}

TEST_CASE("ISO 10156:2017, worked examples 1 and 3") {
    CHECK(mixture_lower_limit(std::vector{fuel(0.8, 0.044), fuel(0.2, 0.024)}) == about(0.037714, 1e-4));
    CHECK(mixture_lower_limit(std::vector{fuel(0.4, 0.044, 0.17, 0.087), inert(0.6, 1.5)}) ==
          about(0.11380, 1e-4));
}

TEST_CASE("the greatest share of hydrogen that does not burn: ISO 10156 with Tc 5.5 %") {
    CHECK(greatest_fuel(0.055, 1) == about(0.0550, 1e-3));    // nitrogen
    CHECK(greatest_fuel(0.055, 0.55) == about(0.0310, 2e-3)); // argon
    CHECK(greatest_fuel(0.055, 0.9) == about(0.0498, 1e-3));  // helium
    CHECK(greatest_fuel(0.055, 1.5) == about(0.0803, 1e-3));  // carbon dioxide
    // The trade's 2.9 % in argon: constants of 1996, Tc 5.7 % and 0.5.
    CHECK(greatest_fuel(0.057, 0.5) == about(0.0293, 2e-3));
    // At that share the sum of the standard is just 1.
    for (double k : {0.5, 0.55, 0.9, 1.5}) {
        const double x = greatest_fuel(0.055, k);
        CHECK(flammability_sum(std::vector{fuel(x, 0.04, 0.77, 0.055), inert(1 - x, k)}) == about(1, 1e-12));
    }
}

TEST_CASE("limits at temperature") {
    // Methane, 191.76 kcal/mol, printed for 400 degC from 5.0 % at 25 degC: 3.53 % by Zabetakis' form, 2.84 %
    // on the line to zero at 900 degC. Ours begin at 20 degC, and the line ends at 880 degC: lower, by what
    // those 20 K bring.
    const double heat = 802.301e3;
    CHECK(5 * lower_limit_factor(0.05, heat, 400 + celsius) < 2.84);
    CHECK(5 * lower_limit_factor(0.05, heat, 400 + celsius) == about(2.84, 0.02));
    // By Zabetakis' form as many per cent are lost from any limit: from 2 %, where the line does not rule, the
    // same 1.47 over 375 K. It has three digits.
    CHECK(2 * (1 - lower_limit_factor(0.02, heat, 395 + celsius)) == about(5.0 - 3.53, 4e-3));
    // Upper limit, from 15 % at 25 degC: 16.47 % by the heat; 19.06 % by the ratio, which counts.
    CHECK(15 * upper_limit_factor(0.15, heat, 395 + celsius) == about(19.06, 3e-4));
    CHECK(15 * upper_limit_factor(0.15, heat, 400 + celsius) > 19.06);
    // From 4 % the heat brings more than the ratio: the same 1.47 again.
    CHECK(4 * (upper_limit_factor(0.04, heat, 395 + celsius) - 1) == about(16.47 - 15, 4e-3));
    CHECK(lower_limit_factor(0.05, heat, 20 + celsius) == about(1));
}

TEST_CASE("hydrogen: Schroeder & Holtappels (BAM, 2005), from memory") {
    for (auto [t, lower, upper] :
         {std::tuple{20, 3.9, 75.2}, std::tuple{100, 3.4, 77.6}, std::tuple{200, 2.9, 81.3},
          std::tuple{300, 2.1, 83.9}, std::tuple{400, 1.5, 87.6}}) {
        CHECK(3.9 * hydrogen_lower_factor(0.039, t + celsius) == about(lower, 1e-9));
        // From 4.0 % (ISO 10156 and handbooks) a hot limit is what was measured, not a share of 4.0 %.
        if (t > 20) CHECK(4.0 * hydrogen_lower_factor(0.04, t + celsius) == about(lower, 1e-9));
        CHECK(3.6 * hydrogen_lower_factor(0.036, t + celsius) <= lower);
        CHECK(75.2 * hydrogen_upper_factor(t + celsius) == about(upper, 1e-9));
    }
    CHECK(3.9 * hydrogen_lower_factor(0.039, 150 + celsius) == about(3.15, 1e-9));
}

TEST_CASE("stoichiometric shares in air and air demand") {
    // H2, CO 29.53 %; CH4 9.48 %; NH3 21.83 % from the reaction equations with 20.95 % oxygen.
    CHECK(stoichiometric_share(*oxygen_demand("H2")) == about(0.2953, 1e-3));
    CHECK(stoichiometric_share(*oxygen_demand("CH4")) == about(0.0948, 1e-3));
    CHECK(stoichiometric_share(*oxygen_demand("NH3")) == about(0.2183, 1e-3));
    // 10 L of hydrogen take 23.87 L of air; 5 L of cracked ammonia with 20 % excess 10.74 L.
    CHECK(air_demand(10, 0.5, 0) == about(23.87, 1e-3));
    CHECK(air_demand(5, 0.75 * 0.5, 0.2) == about(10.74, 1e-3));
}
