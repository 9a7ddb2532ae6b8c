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

/// 1/s, of two cells.
struct Dilution::Rates {
    Pair c, g, a_c;
    Pair l1, l2; // eigenvalues -l1 (slow) and -l2 of [[-(a+c), c], [g, -g]]
    Pair unit;   // s

    Rates(double a, double ratio, Pair fast, Pair slow, double stirring) {
        c = ratio / fast + stirring;
        g = 1 / slow;
        a_c = a + c;
        const Pair square = (a_c - g) * (a_c - g) + 4 * c * g;
        l2 = 0.5 * (a_c + g + Pair{std::sqrt(square[0]), std::sqrt(square[1])});
        l1 = a * g / l2;
        unit = 1 / (l2 - l1);
    }
};

/// The cell that gives off last. After a while all others leave less of an excess whose pores are at least as
/// rich as its free gas.
struct Dilution::Slowest {
    double l1 = 0, e1 = 0;     // 1/s; exp(-l1 seconds)
    double fp = 0, pp = 0;     // free from pore, pore from pore
    double free = 0, pore = 0; // of an excess that both have alike
    bool late = false;         // worth asking

    /// No amount of these cells is more, and in none does the free gas still gain. By what exp(-x) is at most,
    /// with room for rounding, and only where nothing is too small to be rounded well. The free gas's slope is
    /// c (l2 e2 - l1 e1) / (l2 - l1) from the pores and negative from itself.
    bool exceeds(const Rates& r, double seconds) const {
        if (!late) return false;
        constexpr double rounding = 1e-6, smallest = 690; // exp(-690) = 2e-300
        const auto falls = [](Pair x) {
            const Pair root = 1 + 0.25 * x, half = root * root;
            return 1 / (half * half);
        };
        const Pair later = (r.l1 - l1) * seconds, second = falls((r.l2 - r.l1) * seconds);
        const Pair most = (1 + rounding) * e1 * falls(later) * r.unit, a = r.a_c - r.c;
        const auto both = (later > 0) & (r.l1 * seconds < smallest) & (2 * r.l2 * second <= r.l1) &
                          (rounding * r.l2 * r.l2 <= r.l1 * (r.l2 - r.a_c)) & (most * r.c <= fp) &
                          (most * (r.l2 - r.g + second * (r.g - r.l1)) <= pp) &
                          (most * (r.l2 - a + second * (a - r.l1)) <= free) & (most * r.l2 <= pore);
        return both[0] != 0 && both[1] != 0;
    }
};

Dilution::Dilution(double a, double ratio, const Release& release, double stirring, double seconds) {
    if (!(ratio > 0) || release.count_ == 0) {
        free_ = pore_ = std::exp(-a * seconds);
        return;
    }
    Slowest slowest;
    for (std::size_t i = release.count_; i > 0; i -= 2) {
        const Pair fast{release.fast_[i - 2], release.fast_[i - 1]};
        const Pair slow{release.slow_[i - 2], release.slow_[i - 1]};
        const Rates r(a, ratio, fast, slow, stirring);
        if (pairs_ > 0 && slowest.exceeds(r, seconds)) continue;
        Cells& cell = cells_[pairs_++];
        const Pair e1 = exp(-r.l1 * seconds), e2 = exp(-r.l2 * seconds), gone = (e1 - e2) * r.unit;
        cell.ff = (e1 * (r.l2 - r.a_c) + e2 * (r.a_c - r.l1)) * r.unit;
        cell.fp = r.c * gone;
        cell.pf = r.g * gone;
        cell.pp = (e1 * (r.l2 - r.g) + e2 * (r.g - r.l1)) * r.unit;
        cell.slope_free = r.c * cell.pf - r.a_c * cell.ff;
        cell.slope_pore = r.c * cell.pp - r.a_c * cell.fp;
        const Pair free = cell.ff + cell.fp, pore = cell.pf + cell.pp;
        free_ = std::max({free_, free[0], free[1]});
        pore_ = std::max({pore_, pore[0], pore[1]});
        if (pairs_ == 1)
            slowest = {.l1 = r.l1[1],
                       .e1 = e1[1],
                       .fp = cell.fp[1],
                       .pp = cell.pp[1],
                       .free = free[1],
                       .pore = pore[1],
                       .late = 4 * r.l2[1] * e2[1] < r.l1[1] * e1[1]};
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
