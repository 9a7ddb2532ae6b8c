#include "compiler/plant/dilution.hpp"

#include <algorithm>
#include <cmath>

namespace athanor::plant {

namespace {
constexpr double cell_ratio = 1.2; // of release times inside one cell
constexpr double outward = 1 + 1e-12;

Pair exp(Pair x) {
    return Pair{std::exp(x[0]), std::exp(x[1])};
}
} // namespace

Release::Release(Interval seconds) {
    if (!(seconds.hi > 0)) return;
    const double lo = std::max(seconds.lo, 1e-3 * seconds.hi);
    const double wanted = std::ceil(std::log(seconds.hi / lo) / std::log(cell_ratio));
    count_ = static_cast<std::size_t>(std::clamp(wanted, 1.0, static_cast<double>(max_cells)));
    const double step = std::pow(seconds.hi / lo, 1.0 / static_cast<double>(count_));
    double fast = lo;
    for (std::size_t i = 0; i < count_; ++i) {
        fast_[i] = fast;
        slow_[i] = i + 1 == count_ ? seconds.hi : fast * step;
        fast = slow_[i];
    }
    if (count_ % 2 == 0) return;
    fast_[count_] = fast_[count_ - 1];
    slow_[count_] = slow_[count_ - 1];
    ++count_;
}

Dilution::Dilution(double a, double ratio, const Release& release, double stirring, double seconds) {
    if (!(ratio > 0) || release.count_ == 0) {
        free_ = pore_ = std::exp(-a * seconds);
        return;
    }
    pairs_ = release.count_ / 2;
    for (std::size_t i = 0; i < pairs_; ++i) {
        Cells& cell = cells_[i];
        const Pair c = ratio / Pair{release.fast_[2 * i], release.fast_[2 * i + 1]} + stirring;
        const Pair g = 1 / Pair{release.slow_[2 * i], release.slow_[2 * i + 1]};
        const Pair a_c = a + c;
        // Eigenvalues -l1 (slow) and -l2 of [[-(a+c), c], [g, -g]].
        const Pair square = (a_c - g) * (a_c - g) + 4 * c * g;
        const Pair l2 = 0.5 * (a_c + g + Pair{std::sqrt(square[0]), std::sqrt(square[1])}), l1 = a * g / l2;
        const Pair e1 = exp(-l1 * seconds), e2 = exp(-l2 * seconds);
        const Pair unit = 1 / (l2 - l1), gone = (e1 - e2) * unit;
        cell.ff = (e1 * (l2 - a_c) + e2 * (a_c - l1)) * unit;
        cell.fp = c * gone;
        cell.pf = g * gone;
        cell.pp = (e1 * (l2 - g) + e2 * (g - l1)) * unit;
        cell.slope_free = c * cell.pf - a_c * cell.ff;
        cell.slope_pore = c * cell.pp - a_c * cell.fp;
        const Pair free = cell.ff + cell.fp, pore = cell.pf + cell.pp;
        free_ = std::max({free_, free[0], free[1]});
        pore_ = std::max({pore_, pore[0], pore[1]});
    }
}

double Dilution::left(double a, double seconds) {
    return std::exp(-a * seconds) * outward;
}

Excess Dilution::operator()(Excess start) const {
    // The comparison holds where the pores are at least as rich as the free gas.
    const double u = start.free, v = start.pore;
    if (pairs_ == 0 || v <= u) return {u * free_ * outward, u * pore_ * outward};
    Pair most_free{}, most_pore{};
    for (std::size_t i = 0; i < pairs_; ++i) {
        const Cells& cell = cells_[i];
        const Pair free = cell.ff * u + cell.fp * v, pore = cell.pf * u + cell.pp * v;
        most_free = free > most_free ? free : most_free;
        most_pore = pore > most_pore ? pore : most_pore;
    }
    return {std::max(most_free[0], most_free[1]) * outward, std::max(most_pore[0], most_pore[1]) * outward};
}

bool Dilution::rising(Excess start) const {
    const double u = start.free, v = std::max(start.pore, u);
    Pair steepest{};
    for (std::size_t i = 0; i < pairs_; ++i) {
        const Pair slope = cells_[i].slope_free * u + cells_[i].slope_pore * v;
        steepest = slope > steepest ? slope : steepest;
    }
    return steepest[0] > 0 || steepest[1] > 0;
}

} // namespace athanor::plant
