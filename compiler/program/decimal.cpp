#include "compiler/program/decimal.hpp"
#include "compiler/program/steps.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace athanor {

namespace {

constexpr std::int64_t biggest = std::numeric_limits<std::int64_t>::max();

constexpr std::array<std::int64_t, 19> powers = [] {
    std::array<std::int64_t, 19> list{1};
    for (std::size_t i = 1; i < list.size(); ++i) list[i] = list[i - 1] * 10;
    return list;
}();

std::int64_t power_of_ten(int exponent) {
    if (exponent <= 0) return 1;
    return exponent < static_cast<int>(powers.size()) ? powers[static_cast<std::size_t>(exponent)] : biggest;
}

/// Saturates instead of overflowing: a grid with such ends holds no value that anyone keys.
std::int64_t multiply(std::int64_t a, std::int64_t b) {
    std::int64_t product = 0;
    if (!__builtin_mul_overflow(a, b, &product)) return product;
    return (a < 0) == (b < 0) ? biggest : -biggest;
}

std::int64_t add(std::int64_t a, std::int64_t b) {
    std::int64_t sum = 0;
    if (!__builtin_add_overflow(a, b, &sum)) return sum;
    return a < 0 ? -biggest : biggest;
}

std::int64_t scaled(Decimal number, int exponent) {
    if (number.exponent == exponent || number.mantissa == 0) return number.mantissa;
    return multiply(number.mantissa, power_of_ten(number.exponent - exponent));
}

/// Removes trailing zeros, so that equal numbers have equal fields.
Decimal reduced(std::int64_t mantissa, int exponent) {
    if (mantissa == 0) return {0, 0};
    while (exponent < 0 && mantissa % 10 == 0) {
        mantissa /= 10;
        ++exponent;
    }
    return {mantissa, static_cast<std::int8_t>(exponent)};
}

/// Up to here a whole number is a double.
constexpr std::int64_t exact = std::int64_t{1} << 53;

int common_exponent(const Grid& grid) {
    const int ends = std::min(grid.lo.exponent, grid.hi.exponent);
    return std::min(std::min<int>(ends, grid.step.exponent), 0);
}

/// The position of a value on the grid in steps; every double in the neighbourhood of an index maps within
/// `tolerance` of it.
constexpr double tolerance = 1e-9;

long double position(const Grid& grid, double value) {
    const int exponent = common_exponent(grid);
    const auto step = static_cast<long double>(scaled(grid.step, exponent));
    if (step <= 0) return 0;
    const auto scale = static_cast<long double>(power_of_ten(-exponent));
    return (static_cast<long double>(value) * scale - static_cast<long double>(scaled(grid.lo, exponent))) /
           step;
}

/// Of a step: `tolerance`, and what the double itself cannot tell, where a step is little beside the value.
long double slack(const Grid& grid, double value) {
    const int exponent = common_exponent(grid);
    const auto step = static_cast<long double>(scaled(grid.step, exponent));
    if (step <= 0) return 0;
    const auto scale = static_cast<long double>(power_of_ten(-exponent));
    const auto lost = static_cast<long double>(std::numeric_limits<double>::epsilon() * std::abs(value));
    return std::min(0.25L, static_cast<long double>(tolerance) + lost * scale / step);
}

/// Rounded down; one that is no index becomes one that no grid holds.
std::int64_t to_index(long double position) {
    if (!(position > -9e18L)) return -biggest;
    if (position > 9e18L) return biggest;
    const auto towards_zero = static_cast<std::int64_t>(position);
    return towards_zero - (static_cast<long double>(towards_zero) > position ? 1 : 0);
}

} // namespace

double Decimal::value() const {
    // Both operands are exact for every number a controller takes, so the quotient is correctly rounded.
    if (exponent >= 0) return static_cast<double>(scaled(*this, 0));
    if (exponent >= -18) return static_cast<double>(mantissa) / static_cast<double>(power_of_ten(-exponent));
    return static_cast<double>(mantissa) * std::pow(10.0, exponent);
}

std::string Decimal::text() const {
    const Decimal number = reduced(mantissa, exponent);
    if (number.exponent >= 0) {
        std::string digits = std::to_string(number.mantissa);
        return number.mantissa == 0 ? "0"
                                    : digits + std::string(static_cast<std::size_t>(number.exponent), '0');
    }
    const auto places = static_cast<std::size_t>(-number.exponent);
    std::string digits = std::to_string(number.mantissa);
    const bool negative = digits.front() == '-';
    if (negative) digits.erase(0, 1);
    if (digits.size() <= places) digits.insert(0, places + 1 - digits.size(), '0');
    digits.insert(digits.size() - places, 1, '.');
    return negative ? "-" + digits : digits;
}

std::optional<Decimal> Decimal::parse(const std::string& text) {
    std::size_t at = 0;
    const bool negative = !text.empty() && text[0] == '-';
    if (!text.empty() && (text[0] == '-' || text[0] == '+')) ++at;
    std::int64_t mantissa = 0;
    int exponent = 0;
    bool digits = false;
    bool point = false;
    for (; at < text.size(); ++at) {
        const char c = text[at];
        if (c == '.' && !point) {
            point = true;
        } else if (c >= '0' && c <= '9') {
            digits = true;
            if (mantissa > (biggest - (c - '0')) / 10) return std::nullopt;
            mantissa = mantissa * 10 + (c - '0');
            if (point) --exponent;
        } else {
            break;
        }
    }
    if (!digits) return std::nullopt;
    if (at < text.size() && (text[at] == 'e' || text[at] == 'E')) {
        ++at;
        const bool down = at < text.size() && text[at] == '-';
        if (at < text.size() && (text[at] == '-' || text[at] == '+')) ++at;
        int power = 0;
        const std::size_t first = at;
        for (; at < text.size() && text[at] >= '0' && text[at] <= '9'; ++at) {
            if (power > 100) return std::nullopt;
            power = power * 10 + (text[at] - '0');
        }
        if (at == first) return std::nullopt;
        exponent += down ? -power : power;
    }
    if (at != text.size() || exponent < -100 || exponent > 18) return std::nullopt;
    if (exponent > 0) {
        mantissa = multiply(mantissa, power_of_ten(exponent));
        if (mantissa == biggest) return std::nullopt;
        exponent = 0;
    }
    return reduced(negative ? -mantissa : mantissa, exponent);
}

Decimal Decimal::nearest(double value, int digits) {
    digits = std::clamp(digits, 0, 18);
    const long double shifted =
        static_cast<long double>(value) * static_cast<long double>(power_of_ten(digits));
    if (std::isnan(shifted)) return {0, 0};
    return reduced(to_index(std::round(shifted)), -digits);
}

bool Grid::countable() const {
    const int exponent = common_exponent(*this);
    for (const Decimal& number : {lo, hi, step})
        if (const std::int64_t units = scaled(number, exponent); units > exact || units < -exact) return false;
    return exponent >= -18;
}

std::int64_t Grid::count() const {
    const int exponent = common_exponent(*this);
    const std::int64_t width = scaled(step, exponent);
    const std::int64_t range = add(scaled(hi, exponent), -scaled(lo, exponent));
    return width <= 0 || range < 0 ? 0 : range / width;
}

Decimal Grid::decimal(std::int64_t k) const {
    const int exponent = common_exponent(*this);
    return reduced(add(scaled(lo, exponent), multiply(k, scaled(step, exponent))), exponent);
}

double Grid::value(std::int64_t k) const {
    const int exponent = common_exponent(*this);
    const std::int64_t mantissa = add(scaled(lo, exponent), multiply(k, scaled(step, exponent)));
    // Dividend and divisor are doubles, so that the quotient is the one of the reduced fraction: both are the
    // double nearest to the same number.
    if (exponent >= -18 && mantissa >= -exact && mantissa <= exact)
        return static_cast<double>(mantissa) / static_cast<double>(power_of_ten(-exponent));
    return reduced(mantissa, exponent).value();
}

std::int64_t Grid::nearest(double value) const {
    return to_index(position(*this, value) + 0.5L + slack(*this, value));
}

std::int64_t Grid::below(double value) const {
    return to_index(position(*this, value) + slack(*this, value));
}

std::int64_t Grid::above(double value) const {
    return to_index(std::ceil(position(*this, value) - slack(*this, value)));
}

Steps::Steps(const Grid& grid) : grid_(grid), count_(grid.count()) {
    const int exponent = common_exponent(grid);
    const std::int64_t first = scaled(grid.lo, exponent), width = scaled(grid.step, exponent);
    if (exponent < -18 || width <= 0 || first < -exact || first > exact) return;
    first_ = first;
    width_ = width;
    scale_ = static_cast<double>(power_of_ten(-exponent));
    exact_ = (exact - std::abs(first)) / width;
}

} // namespace athanor
