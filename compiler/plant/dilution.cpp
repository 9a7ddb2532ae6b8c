#include "compiler/plant/dilution.hpp"

#include <algorithm>
#include <cmath>

namespace athanor::plant {

namespace {
constexpr double cell_ratio = 1.2; // of release times inside one cell
}

Dilution::Dilution(double a, double ratio, Interval release, double stirring, double seconds) {
    if (!(ratio > 0) || !(release.hi > 0)) {
        cells_[0].ff = std::exp(-a * seconds);
        return;
    }
    porous_ = true;
    const double lo = std::max(release.lo, 1e-3 * release.hi);
    const double wanted = std::ceil(std::log(release.hi / lo) / std::log(cell_ratio));
    count_ = static_cast<std::size_t>(std::clamp(wanted, 1.0, static_cast<double>(max_cells)));
    const double step = std::pow(release.hi / lo, 1.0 / static_cast<double>(count_));
    double fast = lo;
    for (std::size_t i = 0; i < count_; ++i) {
        const double slow = i + 1 == count_ ? release.hi : fast * step;
        Cell& cell = cells_[i];
        const double c = ratio / fast + stirring, g = 1 / slow;
        cell.c = c;
        cell.a_c = a + c;
        // Eigenvalues -l1 (slow) and -l2 of [[-(a+c), c], [g, -g]].
        const double trace = a + c + g;
        const double difference = std::sqrt((a + c - g) * (a + c - g) + 4 * c * g);
        const double l2 = 0.5 * (trace + difference), l1 = a * g / l2;
        const double e1 = std::exp(-l1 * seconds), e2 = std::exp(-l2 * seconds);
        const double span = l2 - l1;
        cell.ff = (e1 * (l2 - (a + c)) + e2 * ((a + c) - l1)) / span;
        cell.fp = c * (e1 - e2) / span;
        cell.pf = g * (e1 - e2) / span;
        cell.pp = (e1 * (l2 - g) + e2 * (g - l1)) / span;
        fast = slow;
    }
}

Excess Dilution::operator()(Excess start) const {
    if (!porous_) {
        const double x = start.free * cells_[0].ff * (1 + 1e-12);
        return {x, x, false};
    }
    // The comparison holds where the pores are at least as rich as the free gas.
    const double u = start.free, v = std::max(start.pore, u);
    Excess out;
    for (std::size_t i = 0; i < count_; ++i) {
        const Cell& cell = cells_[i];
        const double free = cell.ff * u + cell.fp * v, pore = cell.pf * u + cell.pp * v;
        out.free = std::max(out.free, free);
        out.pore = std::max(out.pore, pore);
        out.rising = out.rising || cell.c * pore > cell.a_c * free;
    }
    out.free *= 1 + 1e-12;
    out.pore *= 1 + 1e-12;
    return out;
}

double sweep_time(double rate, double from, double to, double inlet) {
    if (from <= to) return 0;
    if (to <= inlet || rate <= 0) return infinity;
    return std::log((from - inlet) / (to - inlet)) / rate;
}

} // namespace athanor::plant
