// + - * / and their relatives against exact rational arithmetic: whatever members are drawn, the exact result
// must lie inside the result interval, and the interval may not be wider than rounding makes it.
#include "compiler/quantity/interval.hpp"
#include "tests/quantity/property.hpp"

#include <algorithm>
#include <boost/multiprecision/cpp_int.hpp>
#include <doctest/doctest.h>
#include <vector>

using athanor::holds_always;
using athanor::infinity;
using athanor::Interval;
using Exact = boost::multiprecision::cpp_rational;

namespace {

/// A finite double as the rational number it is.
Exact exact(double x) {
    int exponent = 0;
    const double mantissa = std::frexp(x, &exponent);
    const auto whole = static_cast<std::int64_t>(std::ldexp(mantissa, 53));
    boost::multiprecision::cpp_int power = 1;
    power <<= static_cast<unsigned>(std::abs(exponent - 53));
    return exponent >= 53 ? Exact(whole * power) : Exact(whole, power);
}

bool at_most(double bound, const Exact& value) {
    return bound == -infinity || (bound < infinity && exact(bound) <= value);
}
bool at_least(double bound, const Exact& value) {
    return bound == infinity || (bound > -infinity && exact(bound) >= value);
}
bool holds(Interval x, const Exact& value) {
    return at_most(x.lo, value) && at_least(x.hi, value);
}

/// Every finite double with equal chance of each sign and exponent, ordinary numbers, and the special ones.
rc::Gen<double> any_double() {
    const auto bits = rc::gen::map(rc::gen::arbitrary<std::uint64_t>(), [](std::uint64_t b) {
        const double x = std::bit_cast<double>(b);
        return std::isfinite(x) ? x : 1.0;
    });
    const auto ordinary = rc::gen::map(rc::gen::inRange<std::int64_t>(-4000000, 4000001),
                                       [](std::int64_t n) { return static_cast<double>(n) / 1000; });
    const auto special = rc::gen::element(0.0, -0.0, 1.0, -1.0, 0.1, 5e-324, -5e-324, 2.2250738585072014e-308,
                                          1.7976931348623157e308, -1.7976931348623157e308, 9007199254740993.0,
                                          1.0000000000000002);
    return rc::gen::oneOf(bits, ordinary, ordinary, special);
}

Interval interval_of(double a, double b) {
    return {std::min(a, b), std::max(a, b)};
}

bool valid(Interval x) {
    return x.lo <= x.hi;
} // false for a NaN on either side

} // namespace

TEST_CASE("sums, differences, products and quotients hold every exact result") {
    CHECK(holds_always("members stay inside", [] {
        const double a = *any_double(), b = *any_double(), c = *any_double(), d = *any_double();
        const Interval x = interval_of(a, b), y = interval_of(c, d);
        for (Interval result : {x + y, x - y, x * y, x / y, -x, abs(x), min(x, y), max(x, y), hull(x, y)})
            RC_ASSERT(valid(result));
        std::vector<double> xs{x.lo, x.hi}, ys{y.lo, y.hi};
        if (std::isfinite(x.middle())) xs.push_back(x.middle());
        if (std::isfinite(y.middle())) ys.push_back(y.middle());
        if (x.contains(0.0)) xs.push_back(0);
        for (double p : xs) {
            const Exact ep = exact(p);
            RC_ASSERT(holds(abs(x), boost::multiprecision::abs(ep)));
            RC_ASSERT(holds(-x, -ep));
            for (double q : ys) {
                const Exact eq = exact(q);
                RC_ASSERT(holds(x + y, ep + eq));
                RC_ASSERT(holds(x - y, ep - eq));
                RC_ASSERT(holds(x * y, ep * eq));
                if (q != 0) RC_ASSERT(holds(x / y, ep / eq));
                RC_ASSERT(holds(min(x, y), std::min(ep, eq)));
                RC_ASSERT(holds(max(x, y), std::max(ep, eq)));
                RC_ASSERT(hull(x, y).contains(p));
                RC_ASSERT(hull(x, y).contains(q));
            }
        }
    }));
}

TEST_CASE("results of points are at most two units wide, and exact ones are points") {
    CHECK(holds_always("tight", [] {
        const double a = *any_double(), b = *any_double();
        const Interval x(a), y(b);
        const auto narrow = [](Interval r, double rounded, const Exact& value) {
            if (!std::isfinite(rounded)) return; // overflow: one end is infinite
            RC_ASSERT(r.lo >= athanor::rounding::down(rounded));
            RC_ASSERT(r.hi <= athanor::rounding::up(rounded));
            if (r.is_point()) RC_ASSERT(exact(r.lo) == value);
        };
        narrow(x + y, a + b, exact(a) + exact(b));
        narrow(x - y, a - b, exact(a) - exact(b));
        narrow(x * y, a * b, exact(a) * exact(b));
        if (b != 0) narrow(x / y, a / b, exact(a) / exact(b));
        if (std::isfinite(a + b) && exact(a + b) == exact(a) + exact(b)) RC_ASSERT((x + y).is_point());
    }));
    CHECK(holds_always("integers of recipes stay exact", [] {
        const auto a = *rc::gen::inRange<std::int64_t>(-1000000, 1000001),
                   b = *rc::gen::inRange<std::int64_t>(1, 1000001);
        const Interval x(static_cast<double>(a)), y(static_cast<double>(b));
        RC_ASSERT((x * y) == Interval(static_cast<double>(a * b)));
        RC_ASSERT((x * y) / y == x);
        RC_ASSERT((x + y) - y == x);
    }));
    CHECK(Interval(2700) * Interval(2) == Interval(5400));
    CHECK(Interval(0.1) * Interval(0) == Interval(0));
    CHECK(Interval(0.1) + Interval(0) == Interval(0.1));
    CHECK_FALSE((Interval(0.1) * Interval(0.1)).is_point());
    CHECK_FALSE((Interval(1) / Interval(3)).is_point());
    CHECK_FALSE((Interval(0.1) + Interval(0.2)).is_point());
}

TEST_CASE("every small grid of intervals agrees with brute force over its members") {
    // All sign combinations, each with the zero inside, at an end and outside. Integers: sums and products are
    // exact, so brute force gives the very bounds.
    for (int a = -3; a <= 3; ++a)
        for (int b = a; b <= 3; ++b)
            for (int c = -3; c <= 3; ++c)
                for (int d = c; d <= 3; ++d) {
                    const Interval x(a, b), y(c, d);
                    Interval product(infinity, -infinity);
                    for (int p : {a, b})
                        for (int q : {c, d})
                            product = {std::min(product.lo, 1.0 * p * q), std::max(product.hi, 1.0 * p * q)};
                    REQUIRE(x * y == product);
                    REQUIRE(x + y == Interval(a + c, b + d));
                    REQUIRE(x - y == Interval(a - d, b - c));
                    if (c <= 0 && d >= 0) {
                        REQUIRE(x / y == Interval(-infinity, infinity));
                        continue;
                    }
                    double low = infinity, high = -infinity;
                    for (int p : {a, b})
                        for (int q : {c, d}) {
                            low = std::min(low, static_cast<double>(p) / q);
                            high = std::max(high, static_cast<double>(p) / q);
                        }
                    const Interval quotient = x / y;
                    REQUIRE(quotient.contains(Interval(low, high)));
                    REQUIRE(widen(Interval(low, high)).contains(quotient));
                }
}

TEST_CASE("infinite ends are bounds and never become a NaN") {
    const std::vector<double> ends{-infinity, -2, -0.0, 0, 1e-320, 3, 1e308, infinity};
    for (double a : ends)
        for (double b : ends)
            for (double c : ends)
                for (double d : ends) {
                    if (a > b || c > d) continue;
                    const Interval x(a, b), y(c, d);
                    for (Interval r :
                         {x + y, x - y, x * y, x / y, -x, abs(x), hull(x, y), min(x, y), max(x, y), widen(x)})
                        REQUIRE(valid(r));
                    REQUIRE_FALSE(std::isnan(x.middle()));
                }
    CHECK(Interval(0) * Interval(1, infinity) == Interval(0));
    CHECK(Interval(0, 1) * Interval(2, infinity) == Interval(0, infinity));
    CHECK(Interval(1, 2) / Interval(4, infinity) == Interval(0, 0.5));
    CHECK(Interval(1, infinity) + Interval(1, 2) == Interval(2, infinity));
    CHECK(Interval(1, infinity) - Interval(1, infinity) == Interval(-infinity, infinity));
    CHECK(Interval(1e308) * Interval(10) == Interval(1.7976931348623157e308, infinity));
    CHECK(Interval(1e-200) * Interval(1e-200) == Interval(0, 5e-324));
    CHECK(Interval(-1e-200) * Interval(1e-200) == Interval(-5e-324, 0));
}

TEST_CASE("one unit in the last place is what nextafter takes") {
    CHECK(holds_always("up and down", [] {
        const double x = *any_double();
        RC_ASSERT(athanor::rounding::up(x) == std::nextafter(x, infinity));
        RC_ASSERT(athanor::rounding::down(x) == std::nextafter(x, -infinity));
    }));
    CHECK(athanor::rounding::up(infinity) == infinity);
    CHECK(athanor::rounding::down(-infinity) == -infinity);
}
