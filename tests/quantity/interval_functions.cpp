// exp, log, sqrt and pow against long double, whose 64 bit mantissa is 2048 times finer than a double's.
#include "compiler/quantity/interval.hpp"
#include "tests/quantity/property.hpp"

#include <algorithm>
#include <doctest/doctest.h>

using athanor::holds_always;
using athanor::infinity;
using athanor::Interval;
using athanor::library_ulps;

namespace {

static_assert(std::numeric_limits<long double>::digits >= 64, "the oracle must be finer than what it judges");

bool holds(Interval x, long double value) {
    return x.lo <= value && value <= x.hi;
}

/// No wider than `library_ulps` and the library's own error of one unit on each side.
bool tight(Interval x, double rounded) {
    Interval limit(rounded);
    for (int i = 0; i <= library_ulps; ++i) limit = widen(limit);
    return limit.contains(x);
}

/// A double between the given ends, dense near both small and large sizes.
rc::Gen<double> positive(int lowest_exponent, int highest_exponent) {
    return rc::gen::map(rc::gen::pair(rc::gen::inRange<std::uint64_t>(0, 1ULL << 52),
                                      rc::gen::inRange(lowest_exponent, highest_exponent)),
                        [](const std::pair<std::uint64_t, int>& p) {
                            return std::ldexp(1 + std::ldexp(static_cast<double>(p.first), -52), p.second);
                        });
}

rc::Gen<double> argument(int lowest_exponent, int highest_exponent) {
    return rc::gen::apply([](double x, bool negative) { return negative ? -x : x; },
                          positive(lowest_exponent, highest_exponent), rc::gen::arbitrary<bool>());
}

} // namespace

TEST_CASE("library functions of points hold the true value and stay tight") {
    CHECK(holds_always("exp", [] {
        const double x = *argument(-60, 9);
        RC_PRE(x < 709 && x > -708);
        RC_ASSERT(holds(exp(Interval(x)), std::exp(static_cast<long double>(x))));
        RC_ASSERT(tight(exp(Interval(x)), std::exp(x)));
    }));
    CHECK(holds_always("log", [] {
        const double x = *rc::gen::oneOf(positive(-1022, 1023), positive(-1, 1));
        RC_ASSERT(holds(log(Interval(x)), std::log(static_cast<long double>(x))));
        RC_ASSERT(tight(log(Interval(x)), std::log(x)));
    }));
    CHECK(holds_always("sqrt", [] {
        const double x = *positive(-1022, 1023);
        const Interval root = sqrt(Interval(x));
        RC_ASSERT(holds(root, std::sqrt(static_cast<long double>(x))));
        RC_ASSERT(root.lo >= athanor::rounding::down(std::sqrt(x)));
        RC_ASSERT(root.hi <= athanor::rounding::up(std::sqrt(x)));
    }));
    CHECK(holds_always("pow", [] {
        const double x = *positive(-40, 40);
        const double y = *rc::gen::oneOf(
            rc::gen::element(0.25, 0.5, 1.5, 1.75, 2.0, 4.0, -0.5, -1.0, -4.0, 1.0), argument(-6, 4));
        const Interval power = pow(Interval(x), y);
        RC_ASSERT(holds(power, std::pow(static_cast<long double>(x), static_cast<long double>(y))));
        RC_ASSERT(tight(power, std::pow(x, y)));
    }));
}

TEST_CASE("library functions of intervals hold the values of their members") {
    CHECK(holds_always("members", [] {
        const double a = *positive(-20, 8), b = *positive(-20, 8), share = *positive(-30, 0);
        const Interval x(std::min(a, b), std::max(a, b));
        const double p = std::clamp(x.lo + share * (x.hi - x.lo), x.lo, x.hi);
        const auto precise = static_cast<long double>(p);
        RC_ASSERT(holds(exp(x), std::exp(precise)));
        RC_ASSERT(holds(exp(-x), std::exp(-precise)));
        RC_ASSERT(holds(log(x), std::log(precise)));
        RC_ASSERT(holds(sqrt(x), std::sqrt(precise)));
        for (double y : {0.0, 0.5, 1.0, 1.75, 4.0, -0.5, -2.0})
            RC_ASSERT(holds(pow(x, y), std::pow(precise, static_cast<long double>(y))));
    }));
}

TEST_CASE("the ends of the functions") {
    CHECK(exp(Interval(0)) == Interval(1));
    CHECK(exp(Interval(-infinity)) == Interval(0));
    CHECK(exp(Interval(-infinity, infinity)) == Interval(0, infinity));
    CHECK(exp(Interval(-1000)).lo == 0);
    CHECK(exp(Interval(-1000)).hi > 0);
    CHECK(exp(Interval(1000)).hi == infinity);
    CHECK(exp(Interval(1000)).lo < infinity); // the true value is finite

    CHECK(log(Interval(1)) == Interval(0));
    CHECK(log(Interval(0, 1)) == Interval(-infinity, 0));
    CHECK(log(Interval(-1, 1)) == Interval(-infinity, 0));
    CHECK(log(Interval(1, infinity)) == Interval(0, infinity));
    CHECK(log(Interval(-2, -1)) == Interval(-infinity));

    CHECK(sqrt(Interval(-4, 9)) == Interval(0, 3));
    CHECK(sqrt(Interval(-4, -1)) == Interval(0));
    CHECK(sqrt(Interval(2.25)) == Interval(1.5));
    CHECK(sqrt(Interval(4, infinity)) == Interval(2, infinity));
    CHECK_FALSE(sqrt(Interval(2)).is_point());

    CHECK(pow(Interval(0, 4), 0) == Interval(1));
    CHECK(pow(Interval(-1, 4), 1) == Interval(0, 4));
    CHECK(pow(Interval(0, 1), -2) == Interval(1, infinity));
    CHECK(pow(Interval(1, infinity), -0.5) == Interval(0, 1));
    CHECK(pow(Interval(0), 0.5) == Interval(0));
    CHECK(pow(Interval(1e-200), 2).lo == 0);
    CHECK(pow(Interval(1e-200), 2).hi > 0);
}
