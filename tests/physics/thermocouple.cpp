// Thermocouples against the printed tables of NIST SRD 60 (Monograph 175): mV to the third place, junction at 0
// degC.
#include "compiler/physics/thermocouple.hpp"

#include "tests/physics/about.hpp"

#include <doctest/doctest.h>

#include <array>
#include <cmath>

using namespace athanor::physics;

namespace {

constexpr double none = 99, celsius = 273.15;
constexpr std::array couples{Couple::k, Couple::n, Couple::s, Couple::r, Couple::b};

struct Row {
    double celsius;
    std::array<double, 5> mv; // K, N, S, R, B
};
// The printed tables; `none` where a type has no entry.
constexpr std::array table{
    Row{-200, {-5.891, -3.990, none, none, none}},      Row{-100, {-3.554, -2.407, none, none, none}},
    Row{-50, {none, none, -0.236, -0.226, none}},       Row{25, {1.000, 0.659, 0.143, 0.141, -0.002}},
    Row{100, {4.096, 2.774, 0.646, 0.647, 0.033}},      Row{200, {8.138, 5.913, 1.441, 1.469, 0.178}},
    Row{300, {12.209, 9.341, 2.323, 2.401, 0.431}},     Row{400, {16.397, 12.974, 3.259, 3.408, 0.787}},
    Row{500, {20.644, 16.748, 4.233, 4.471, 1.242}},    Row{600, {24.905, 20.613, 5.239, 5.583, 1.792}},
    Row{700, {29.129, 24.527, 6.275, 6.743, 2.431}},    Row{800, {33.275, 28.455, 7.345, 7.950, 3.154}},
    Row{900, {37.326, 32.371, 8.449, 9.205, 3.957}},    Row{1000, {41.276, 36.256, 9.587, 10.506, 4.834}},
    Row{1100, {45.119, 40.087, 10.757, 11.850, 5.780}}, Row{1200, {48.838, 43.846, 11.951, 13.228, 6.786}},
    Row{1300, {52.410, 47.513, 13.159, 14.629, 7.848}}, Row{1400, {none, none, 14.373, 16.040, 8.956}},
    Row{1500, {none, none, 15.582, 17.451, 10.099}},    Row{1600, {none, none, 16.777, 18.849, 11.263}},
    Row{1700, {none, none, 17.947, 20.222, 12.433}},    Row{1800, {none, none, none, none, 13.591}},
};

} // namespace

TEST_CASE("the printed tables") {
    for (const Row& row : table)
        for (std::size_t i = 0; i < couples.size(); ++i) {
            if (row.mv[i] == none) continue;
            CAPTURE(row.celsius);
            CAPTURE(i);
            CHECK(std::fabs(emf(couples[i], row.celsius + celsius) * 1e3 - row.mv[i]) <= 0.000501);
        }
}

TEST_CASE("there and back over the whole range") {
    for (Couple couple : couples) {
        const double from = coldest_inverse(couple), to = hottest(couple);
        for (int i = 1; i < 400; ++i) {
            const double t = from + (to - from) * i / 400;
            // Close to -270 degC the curves of K and N are almost flat.
            const double within = t < 13.15 ? 1e-3 : 1e-7;
            CHECK(std::fabs(temperature_of(couple, emf(couple, t)) - t) < within);
        }
    }
}

TEST_CASE("the voltage rises throughout, but for type B below its minimum") {
    for (Couple couple : couples) {
        const double from = couple == Couple::b ? celsius + 21.1 : coldest(couple);
        double last = emf(couple, from);
        for (double t = from + 0.5; t <= hottest(couple); t += 0.5) {
            const double now = emf(couple, t);
            CHECK(now > last);
            last = now;
        }
    }
    // NIST: minimum of -2.585 uV at 21.02 degC, zero again at 42.14 degC.
    CHECK(emf(Couple::b, 21.02 + celsius) * 1e6 == about(-2.585, 1e-3));
    CHECK(std::fabs(seebeck(Couple::b, 21.0202619 + celsius)) < 1e-13);
    CHECK(std::fabs(emf(Couple::b, 42.14 + celsius)) < 2e-9);
}

TEST_CASE("pieces of a reference function meet") {
    for (auto [couple, at] :
         {std::pair{Couple::k, 0.0}, std::pair{Couple::n, 0.0}, std::pair{Couple::s, 1064.18},
          std::pair{Couple::s, 1664.5}, std::pair{Couple::r, 1064.18}, std::pair{Couple::r, 1664.5},
          std::pair{Couple::b, 630.615}}) {
        const double below = emf(couple, at + celsius - 1e-6), above = emf(couple, at + celsius + 1e-6);
        CHECK(std::fabs(above - below) < 1e-9);
    }
}

TEST_CASE("readings with a warm junction, and sensitivities") {
    // Type K 30.000 mV with the junction at 23.5 degC: 743.40 degC; type S 9.000 mV at 25 degC: 961.27 degC.
    CHECK(temperature_of(Couple::k, 30e-3 + emf(Couple::k, 23.5 + celsius)) - celsius == about(743.40, 1e-5));
    CHECK(temperature_of(Couple::s, 9e-3 + emf(Couple::s, 25 + celsius)) - celsius == about(961.27, 1e-5));
    CHECK(temperature_of(Couple::k, 20e-3) - celsius == about(484.88, 2e-5));
    CHECK(temperature_of(Couple::n, 30e-3) - celsius == about(839.39, 2e-5));
    // uV/K at 1000 degC: K 38.98, N 38.61, S 11.54, R 13.23, B 9.12.
    const std::array slopes{38.98, 38.61, 11.54, 13.23, 9.12};
    for (std::size_t i = 0; i < couples.size(); ++i) {
        CHECK(seebeck(couples[i], 1273.15) * 1e6 == about(slopes[i], 1e-3));
        const double difference = (emf(couples[i], 1273.15 + 0.01) - emf(couples[i], 1273.15 - 0.01)) / 0.02;
        CHECK(seebeck(couples[i], 1273.15) == about(difference, 1e-7));
    }
}

TEST_CASE("ranges and names") {
    CHECK(couple_named("type_k") == Couple::k);
    CHECK(couple_named("type_b") == Couple::b);
    CHECK_FALSE(couple_named("type_c"));
    CHECK(hottest(Couple::k) - celsius == about(1372));
    CHECK(coldest(Couple::s) - celsius == about(-50));
    CHECK(hottest(Couple::r) - celsius == about(1768.1));
}
