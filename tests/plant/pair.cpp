// The exponential of two numbers at once against that of the library in long double.
#include "compiler/plant/pair.hpp"

#include <cmath>
#include <doctest/doctest.h>
#include <limits>
#include <random>

using athanor::plant::decay;
using athanor::plant::Pair;

TEST_CASE("decay lies within two units in the last place of exp") {
    std::mt19937_64 random(11);
    std::uniform_real_distribution<double> magnitude(-40, 6.5), plain(-708, 0);
    double worst = 0;
    for (int i = 0; i < 200000; ++i) {
        const Pair x{-std::exp(magnitude(random)), plain(random)}, y = decay(x);
        for (int k = 0; k < 2; ++k) {
            const double got = y[k], unit = std::nextafter(got, 2.0) - got;
            const long double exact = std::exp(static_cast<long double>(x[k]));
            worst = std::max(worst, static_cast<double>(std::abs(got - exact)) / unit);
        }
    }
    CHECK(worst < 2);
}

TEST_CASE("decay at its ends") {
    const Pair ends = decay(Pair{0, -std::numeric_limits<double>::infinity()});
    CHECK(ends[0] == 1);
    CHECK(ends[1] > 0);
    CHECK(ends[1] < 1e-307);
}
