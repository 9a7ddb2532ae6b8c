#pragma once
#include <bit>
#include <cfloat>
#include <cmath>
#include <cstdint>
#include <limits>

namespace athanor {

/// A closed interval [lo, hi] that is known to contain the true value. Always lo <= hi, never NaN.
/// Operations round outward: the exact result of the operation on any members lies inside the result.
/// The FPU mode is never switched; results are widened by at least one unit in the last place instead,
/// except where they are known to be exact (sums without rounding, products of short numbers, zero), so
/// that 2 * 45 min stays the point 5400 s.
/// An infinite end is a bound, not a value: members are real numbers, so 0 * [1, inf] is 0.
struct Interval {
    double lo = 0;
    double hi = 0;

    constexpr Interval() = default;
    /*implicit*/ constexpr Interval(double point) : lo(point), hi(point) {}
    constexpr Interval(double low, double high) : lo(low), hi(high) {}

    constexpr bool operator==(const Interval&) const = default;
    constexpr bool is_point() const { return lo == hi; }
    constexpr double width() const { return hi - lo; }
    constexpr double middle() const { return lo == hi ? lo : lo == -hi ? 0.0 : 0.5 * lo + 0.5 * hi; }
    constexpr bool contains(double x) const { return lo <= x && x <= hi; }
    constexpr bool contains(Interval x) const { return lo <= x.lo && x.hi <= hi; }
};

inline constexpr double infinity = std::numeric_limits<double>::infinity();

// Bounds of single operations: `..._down` never exceeds the exact result, `..._up` never falls below it.
// A NaN, which only an operation on infinite ends can give, becomes the safe infinite bound.
namespace rounding {

inline constexpr double smallest = std::numeric_limits<double>::denorm_min();

/// The next double above; plus infinity stays.
constexpr double up(double x) {
    if (!(x < infinity)) return infinity;
    if (x == 0) return smallest;
    return std::bit_cast<double>(std::bit_cast<std::int64_t>(x) + (x > 0 ? 1 : -1));
}
constexpr double down(double x) {
    return -up(-x);
}

/// True for numbers of at most 24 significant bits and moderate size: the product of two is exact.
constexpr bool is_short(double x) {
    return x >= -FLT_MAX && x <= FLT_MAX && static_cast<double>(static_cast<float>(x)) == x;
}

/// What rounding took from the sum s of a and b, exactly (Knuth, TAOCP vol. 2, 4.2.2, theorem B);
/// NaN where something overflowed.
constexpr double sum_error(double a, double b, double s) {
    const double t = s - a;
    return (a - (s - t)) + (b - t);
}
constexpr double add_down(double a, double b) {
    const double s = a + b;
    return sum_error(a, b, s) >= 0 ? s : down(s);
}
constexpr double add_up(double a, double b) {
    const double s = a + b;
    return sum_error(a, b, s) <= 0 ? s : up(s);
}
constexpr double multiply_down(double a, double b) {
    if (a == 0 || b == 0) return 0;
    const double p = a * b;
    if (is_short(a) && is_short(b)) return p;
    if (p == 0 && (a < 0) == (b < 0)) return 0; // underflow: the exact product is above zero
    return down(p);
}
constexpr double multiply_up(double a, double b) {
    return -multiply_down(-a, b);
}
/// b is not zero.
constexpr double divide_down(double a, double b) {
    const double q = a / b;
    if (is_short(q) && is_short(b) && q * b == a) return q;
    if (q == 0 && (a < 0) == (b < 0)) return 0;
    return down(q);
}
constexpr double divide_up(double a, double b) {
    return -divide_down(-a, b);
}

} // namespace rounding

constexpr Interval min(Interval a, Interval b) {
    return {a.lo < b.lo ? a.lo : b.lo, a.hi < b.hi ? a.hi : b.hi};
}
constexpr Interval max(Interval a, Interval b) {
    return {a.lo > b.lo ? a.lo : b.lo, a.hi > b.hi ? a.hi : b.hi};
}
constexpr Interval hull(Interval a, Interval b) {
    return {a.lo < b.lo ? a.lo : b.lo, a.hi > b.hi ? a.hi : b.hi};
}
/// One ulp outward on both sides.
constexpr Interval widen(Interval x) {
    return {rounding::down(x.lo), rounding::up(x.hi)};
}

constexpr Interval operator-(Interval a) {
    return {-a.hi, -a.lo};
}
constexpr Interval operator+(Interval a, Interval b) {
    return {rounding::add_down(a.lo, b.lo), rounding::add_up(a.hi, b.hi)};
}
constexpr Interval operator-(Interval a, Interval b) {
    return a + -b;
}
constexpr Interval multiply_mixed(Interval a, Interval b) {
    const auto ends = [](double x, double y, double u, double v) {
        return Interval(rounding::multiply_down(x, y), rounding::multiply_up(u, v));
    };
    if (a.lo >= 0) return b.hi <= 0 ? ends(a.hi, b.lo, a.lo, b.hi) : ends(a.hi, b.lo, a.hi, b.hi);
    if (a.hi <= 0) {
        if (b.lo >= 0) return ends(a.lo, b.hi, a.hi, b.lo);
        return b.hi <= 0 ? ends(a.hi, b.hi, a.lo, b.lo) : ends(a.lo, b.hi, a.lo, b.lo);
    }
    if (b.lo >= 0) return ends(a.lo, b.hi, a.hi, b.hi);
    if (b.hi <= 0) return ends(a.hi, b.lo, a.lo, b.lo);
    return hull(ends(a.lo, b.hi, a.lo, b.lo), ends(a.hi, b.lo, a.hi, b.hi));
}
constexpr Interval operator*(Interval a, Interval b) {
    // Physics multiplies what is positive; this path is worth inlining.
    if (a.lo >= 0 && b.lo >= 0) return {rounding::multiply_down(a.lo, b.lo), rounding::multiply_up(a.hi, b.hi)};
    return multiply_mixed(a, b);
}
/// Division by an interval that contains zero gives [-inf, inf].
constexpr Interval operator/(Interval a, Interval b) {
    using namespace rounding;
    if (b.lo <= 0 && b.hi >= 0) return {-infinity, infinity};
    if (b.hi < 0) a = -a, b = -b;
    return {divide_down(a.lo, a.lo >= 0 ? b.hi : b.lo), divide_up(a.hi, a.hi >= 0 ? b.lo : b.hi)};
}
constexpr Interval abs(Interval x) {
    if (x.lo >= 0) return x;
    if (x.hi <= 0) return -x;
    return {0, -x.lo > x.hi ? -x.lo : x.hi};
}

// Library functions are widened by `library_ulps` units, tested against long double in tests/quantity.
inline constexpr int library_ulps = 2;
Interval exp(Interval x);
Interval log(Interval x);                  // an end <= 0 gives -inf
Interval sqrt(Interval x);                 // negative part cut at 0
Interval pow(Interval x, double exponent); // negative part of x cut at 0

} // namespace athanor
