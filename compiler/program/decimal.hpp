#pragma once
#include <cstdint>
#include <optional>
#include <string>

namespace athanor {

/// An exact decimal number: mantissa * 10^exponent. Controllers are keyed in decimals, so no settable value
/// passes through a binary fraction after legalisation.
struct Decimal {
    std::int64_t mantissa = 0;
    std::int8_t exponent = 0;

    double value() const;
    /// Shortest form without exponent: "0.1", "300", "4.5".
    std::string text() const;
    /// Sign, digits, one point, power of ten ("1e-2"); nothing else, and no more than 18 digits.
    static std::optional<Decimal> parse(const std::string& text);
    /// The decimal nearest to `value` with at most `digits` places behind the point.
    static Decimal nearest(double value, int digits);
};

/// The values a controller can hold: lo, lo + step, … up to hi, all in one unit. A value is its index k.
struct Grid {
    Decimal lo, hi, step;

    /// Ends and step in whole units of the last place of all are exact, as integers and as doubles.
    bool countable() const;
    std::int64_t count() const; // number of steps from lo to hi
    double value(std::int64_t k) const;
    Decimal decimal(std::int64_t k) const;
    std::string text(std::int64_t k) const { return decimal(k).text(); }
    /// Nearest (ties up), next lower and next higher index; may lie outside [0, count()].
    /// The tolerance is 1e-9 of a step, and what a double itself cannot tell: what other units leave behind is
    /// no other value.
    std::int64_t nearest(double value) const;
    std::int64_t below(double value) const; // largest k with value(k) <= value + tolerance
    std::int64_t above(double value) const; // smallest k with value(k) >= value - tolerance
    bool holds(std::int64_t k) const { return k >= 0 && k <= count(); }
};

} // namespace athanor
