#include "compiler/quantity/interval.hpp"

#include <algorithm>

namespace athanor {

namespace {

double lower(double x) {
    for (int i = 0; i < library_ulps; ++i) x = rounding::down(x);
    return x;
}

double upper(double x) {
    for (int i = 0; i < library_ulps; ++i) x = rounding::up(x);
    return x;
}

// Each function is monotone, so its bounds are those at the ends; the few exact values stay exact.

double exp_lower(double x) {
    return x == 0 ? 1 : std::max(0.0, lower(std::exp(x)));
}
double exp_upper(double x) {
    return x == 0 ? 1 : x == -infinity ? 0 : upper(std::exp(x));
}

double log_lower(double x) {
    return x <= 0 ? -infinity : x == 1 ? 0 : lower(std::log(x));
}
double log_upper(double x) {
    return x <= 0 ? -infinity : x == 1 ? 0 : upper(std::log(x));
}

// IEEE 754 rounds a square root correctly: one unit is enough.
bool exact_root(double root, double x) {
    return rounding::is_short(root) && root * root == x;
}
double sqrt_lower(double x) {
    if (x <= 0) return 0;
    const double root = std::sqrt(x);
    return exact_root(root, x) ? root : rounding::down(root);
}
double sqrt_upper(double x) {
    if (x <= 0) return 0;
    const double root = std::sqrt(x);
    return exact_root(root, x) ? root : rounding::up(root);
}

bool exact_power(double x, double exponent) {
    return x == 0 || x == 1 || x == infinity || exponent == 1;
}
double pow_lower(double x, double exponent) {
    const double p = std::pow(x, exponent);
    return exact_power(x, exponent) ? p : std::max(0.0, lower(p));
}
double pow_upper(double x, double exponent) {
    const double p = std::pow(x, exponent);
    return exact_power(x, exponent) ? p : upper(p);
}

} // namespace

Interval exp(Interval x) {
    return {exp_lower(x.lo), exp_upper(x.hi)};
}

Interval log(Interval x) {
    return {log_lower(x.lo), log_upper(x.hi)};
}

Interval sqrt(Interval x) {
    return {sqrt_lower(x.lo), sqrt_upper(x.hi)};
}

Interval pow(Interval x, double exponent) {
    if (exponent == 0) return 1;
    const double lo = std::max(0.0, x.lo), hi = std::max(0.0, x.hi);
    if (exponent < 0) return {pow_lower(hi, exponent), pow_upper(lo, exponent)};
    return {pow_lower(lo, exponent), pow_upper(hi, exponent)};
}

} // namespace athanor
