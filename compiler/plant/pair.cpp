#include "compiler/plant/pair.hpp"

#include <array>
#include <bit>
#include <cmath>

namespace athanor::plant {

namespace {

constexpr int parts = 64; // of an octave

const std::array<double, parts> powers = [] {
    std::array<double, parts> table;
    for (std::size_t j = 0; j < parts; ++j) table[j] = std::exp2(static_cast<double>(j) / parts);
    return table;
}();

} // namespace

// exp(x) = 2^(k/64) exp(r) with |r| <= ln(2)/128 (P. T. P. Tang, ACM Trans. Math. Software 15 (1989) 144).
Pair decay(Pair x) {
    using Bits = std::int64_t __attribute__((vector_size(2 * sizeof(std::int64_t))));
    constexpr double least = -708, whole = 0x1.8p52; // adding `whole` rounds to an integer, in the low bits
    constexpr double per_unit = 0x1.71547652b82fep+6;
    constexpr double step = 0x1.62e42fefp-7,
                     rest = 0x1.473de6af278edp-40; // ln(2)/64 in two parts: k * step is exact
    x = x > least ? x : least + Pair{};
    const Pair shifted = x * per_unit + whole;
    const Pair k = shifted - whole;
    const Pair r = x - k * step - k * rest;
    const Pair tail = r + r * r * (0.5 + r * (1.0 / 6 + r * (1.0 / 24 + r * (1.0 / 120))));
    const Bits n = std::bit_cast<Bits>(shifted);
    constexpr std::int64_t exponent = ~((std::int64_t{1} << 52) - 1);
    const Pair power{powers[static_cast<std::size_t>(n[0] & (parts - 1))],
                     powers[static_cast<std::size_t>(n[1] & (parts - 1))]};
    const Pair scale = std::bit_cast<Pair>(std::bit_cast<Bits>(power) + ((n << 46) & exponent));
    return scale + scale * tail;
}

} // namespace athanor::plant
