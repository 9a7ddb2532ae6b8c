#include "compiler/plant/furnace.hpp"

#include <algorithm>
#include <cmath>

namespace athanor::plant {

Furnace::At Furnace::locate(double t) const {
    const double inside = std::clamp(t, grid_.bottom(), grid_.top());
    const std::size_t j = grid_.cell(inside);
    return {inside, j, (inside - grid_[j]) / (grid_[j + 1] - grid_[j])};
}

Furnace::At Furnace::knot(std::size_t i) const {
    return i + 1 < grid_.size() ? At{grid_[i], i, 0} : At{grid_[i], i - 1, 1};
}

double Furnace::heats_up_to(double rate) const {
    if (cells_.empty()) return 0;
    const auto slower =
        std::partition_point(heat_lo_.begin(), heat_lo_.end(), [&](double r) { return r >= rate; });
    return slower == heat_lo_.begin() ? 0 : grid_[static_cast<std::size_t>(slower - heat_lo_.begin()) - 1];
}

double Furnace::cools_down_to(double rate) const {
    if (cells_.empty()) return infinity;
    const auto fast =
        std::partition_point(cool_lo_.begin(), cool_lo_.end(), [&](double r) { return r < rate; });
    return fast == cool_lo_.end() ? infinity : grid_[static_cast<std::size_t>(fast - cool_lo_.begin())];
}

Interval Furnace::loss(double t) const {
    if (cells_.empty()) return {0, infinity};
    if (t < grid_.bottom()) return {0, loss_hi_[0]};
    if (t >= grid_.top()) return {loss_lo_.back(), infinity};
    const At a = locate(t); // convex in temperature: below its chord
    return {loss_lo_[a.cell], loss_hi_[a.cell] + a.fraction * (loss_hi_[a.cell + 1] - loss_hi_[a.cell])};
}

namespace {

Pair greater(Pair a, Pair b) {
    return a < b ? b : a;
}
Pair lesser(Pair a, Pair b) {
    return b < a ? b : a;
}
/// Of a pair of cells.
template<std::size_t Cells>
Pair of(const std::array<double, Cells>& by_cell, std::size_t pair) {
    return Pair{by_cell[2 * pair], by_cell[2 * pair + 1]};
}

} // namespace

double Furnace::cooling_lo(At from, At to) const {
    const Cells& c = cells_;
    Pair best{infinity, infinity};
    for (std::size_t p = 0; p < c.pairs(); ++p) {
        const auto share_lo = [&](At a) {
            return c.share_lo.pair(a.cell + 1, p) + (grid_[a.cell + 1] - a.t) * c.slope_lo.pair(a.cell, p);
        };
        const auto share_hi = [&](At a) { // convex in temperature: below its chord
            const Pair low = c.share_hi.pair(a.cell, p);
            return low + a.fraction * (c.share_hi.pair(a.cell + 1, p) - low);
        };
        const auto sum = [&](At a) {
            return c.sum_lo.pair(a.cell, p) + (a.t - grid_[a.cell]) * c.slope_lo.pair(a.cell, p);
        };
        const Pair least = greater(greater(share_lo(to) - share_hi(from), sum(from) - sum(to)), Pair{});
        best = lesser(best, of(c.scale_lo, p) * least);
    }
    return std::min(best[0], best[1]);
}

double Furnace::cooling_hi(At from, At to) const {
    const Cells& c = cells_;
    Pair worst{};
    for (std::size_t p = 0; p < c.pairs(); ++p) {
        const auto share_lo = [&](At a) {
            return c.share_lo.pair(a.cell + 1, p) + (grid_[a.cell + 1] - a.t) * c.slope_lo.pair(a.cell, p);
        };
        const auto share_hi = [&](At a) {
            const Pair low = c.share_hi.pair(a.cell, p);
            return low + a.fraction * (c.share_hi.pair(a.cell + 1, p) - low);
        };
        const auto sum = [&](At a) {
            return c.sum_hi.pair(a.cell, p) + (a.t - grid_[a.cell]) * c.slope_hi.pair(a.cell, p);
        };
        const Pair most = lesser(share_hi(to) - share_lo(from), sum(from) - sum(to));
        worst = greater(worst, of(c.scale_hi, p) * most);
    }
    return std::max(worst[0], worst[1]);
}

Interval Furnace::cooling_time(double from, double to) const {
    if (to >= from) return 0;
    const double hi = longest_cooling(from, to);
    if (cells_.empty() || from <= grid_.bottom()) return {0, hi};
    const double lo = cooling_lo(locate(from), locate(to));
    return {to <= ambient_.lo ? lo : std::max(0.0, lo * (1 - 1e-9)), hi};
}

double Furnace::longest_cooling(double from, double to) const {
    if (to >= from) return 0;
    // Outside the table nothing is claimed.
    if (cells_.empty() || to < grid_.bottom() || from > grid_.top()) return infinity;
    return cooling_hi(locate(from), locate(to)) * (1 + 1e-9) + 1e-6;
}

Interval Furnace::heating_time(double from, double to) const {
    if (to <= from) return 0;
    if (cells_.empty()) return {0, infinity};
    if (to > grid_.top()) return {heating_time(from, grid_.top()).lo, infinity};
    const At a = locate(from), b = locate(to);
    const auto at = [&](const std::vector<double>& table, At x) {
        const double low = table[x.cell], high = table[x.cell + 1];
        return x.fraction == 0 ? low : std::isinf(high) ? infinity : low + x.fraction * (high - low);
    };
    double below_hi = 0, below_lo = 0; // the part below the table
    if (from < grid_.bottom()) {
        const Interval rate = heating_rate(from);
        const double h = std::min(to, grid_.bottom()) - from;
        below_lo = h / rate.hi;
        below_hi = rate.lo > 0 ? h / rate.lo : infinity;
    }
    const double slow_to = at(heat_slow_, b), slow_from = at(heat_slow_, a);
    const double hi = std::isinf(slow_to) ? infinity : slow_to - slow_from + below_hi;
    const double fast_to = at(heat_fast_, b), fast_from = at(heat_fast_, a);
    // Past the fastest member's steady temperature nobody gets there.
    const double lo =
        std::isinf(fast_to) ? (std::isinf(fast_from) ? 0 : fast_to) : fast_to - fast_from + below_lo;
    return {std::max(0.0, lo * (1 - 1e-9) - 1e-9), hi * (1 + 1e-9) + 1e-9};
}

namespace {

constexpr int refinements = 12; // halvings inside one cell of the grid: about a millikelvin

/// Between `good` (holds) and `bad` (does not), the outermost point that still holds.
template<class Holds>
double refine(double good, double bad, Holds holds) {
    for (int i = 0; i < refinements; ++i) {
        const double middle = 0.5 * (good + bad);
        (holds(middle) ? good : bad) = middle;
    }
    return good;
}

/// The last knot from `holds` on, before `fails`, for which what is asked still holds.
template<class Asked>
std::size_t last_knot(std::size_t holds, std::size_t fails, Asked asked) {
    while (fails - holds > 1) {
        const std::size_t middle = (holds + fails) / 2;
        (asked(middle) ? holds : fails) = middle;
    }
    return holds;
}

/// The same where it is likely to lie soon behind `holds`, or soon before `fails`.
template<class Asked>
std::size_t last_knot_behind(std::size_t holds, std::size_t fails, Asked asked) {
    std::size_t step = 1;
    for (; holds + step < fails && asked(holds + step); step *= 2) holds += step;
    return last_knot(holds, std::min(holds + step, fails), asked);
}
template<class Asked>
std::size_t last_knot_before(std::size_t fails, std::size_t holds, Asked asked) {
    std::size_t step = 1;
    for (; holds + step < fails && !asked(fails - step); step *= 2) fails -= step;
    return last_knot(std::max(holds + step, fails) - step, fails, asked);
}

} // namespace

Furnace::Fastest::Fastest(const Furnace& furnace, double from)
    : furnace_(furnace), from_(from), start_(furnace.locate(from)) {
    const std::size_t j = start_.cell;
    const Cells& c = furnace.cells_;
    for (std::size_t k = 0; k < c.count; ++k) {
        shares_[k] = c.share_hi(j, k) + start_.fraction * (c.share_hi(j + 1, k) - c.share_hi(j, k));
        sums_[k] = c.sum_lo(j, k) + (start_.t - furnace.grid_[j]) * c.slope_lo(j, k);
    }
}

double Furnace::Fastest::after(double seconds) const {
    const Furnace& f = furnace_;
    const Grid& grid = f.grid_;
    const Cells& c = f.cells_;
    if (from_ <= f.ambient_.lo) return from_;
    if (c.empty()) return f.ambient_.lo;
    if (seconds <= 0) return from_;
    if (from_ <= grid.bottom()) return f.ambient_.lo;
    std::size_t low = start_.cell; // the highest knot that no cell up to now has passed
    for (std::size_t k = 0; k < c.count; ++k) {
        const auto ahead = [&](std::size_t i) { // as cooling_lo to a knot
            const double share = c.share_lo(i + 1, k) + (grid[i + 1] - grid[i]) * c.slope_lo(i, k);
            return c.scale_lo[k] * std::max({share - shares_[k], sums_[k] - c.sum_lo(i, k), 0.0}) *
                       (1 - 1e-9) >=
                   seconds;
        };
        if (ahead(low)) continue;
        if (!ahead(0)) return f.ambient_.lo;
        low = k == 0 ? last_knot(0, low, ahead) : last_knot_before(low, 0, ahead); // cells differ little
    }
    const double next = std::min(grid[low + 1], start_.t);
    // Inside one cell of the grid both bounds of the time are straight lines: where they cross `seconds` is
    // solved.
    double lowest = next;
    for (std::size_t k = 0; k < c.count; ++k) {
        const double wanted = seconds * (1 + 1e-8) / c.scale_lo[k];
        const double slope = c.slope_lo(low, k);
        if (!(slope > 0)) { // the highest temperature that even the fastest member has not passed
            const auto safe = [&](double t) {
                return f.cooling_lo(start_, f.locate(t)) * (1 - 1e-9) >= seconds;
            };
            return refine(grid[low], next, safe);
        }
        const double by_share = grid[low + 1] - (wanted + shares_[k] - c.share_lo(low + 1, k)) / slope;
        const double by_sum = grid[low] + (sums_[k] - wanted - c.sum_lo(low, k)) / slope;
        lowest = std::min(lowest, std::max(by_share, by_sum));
    }
    return std::max(lowest, grid[low]);
}

Furnace::Slowest::Slowest(const Furnace& furnace, double from)
    : furnace_(furnace), from_(from), start_(furnace.locate(from)) {
    const std::size_t j = start_.cell;
    const Cells& c = furnace.cells_;
    for (std::size_t p = 0; p < c.pairs(); ++p) {
        shares_[p] = c.share_lo.pair(j + 1, p) + (furnace.grid_[j + 1] - start_.t) * c.slope_lo.pair(j, p);
        sums_[p] = c.sum_hi.pair(j, p) + (start_.t - furnace.grid_[j]) * c.slope_hi.pair(j, p);
    }
}

double Furnace::Slowest::after(double seconds) const {
    const Furnace& f = furnace_;
    const Grid& grid = f.grid_;
    const Cells& c = f.cells_;
    if (c.empty() || seconds <= 0 || from_ <= grid.bottom() || from_ > grid.top())
        return std::max(from_, f.ambient_.hi);
    const std::size_t end = start_.cell + 1; // the start counts as passed
    const std::size_t pairs = c.pairs();
    const auto behind = [&](std::size_t i) { // some cell is: as cooling_hi to a knot
        for (std::size_t p = 0; p < pairs; ++p) {
            const Pair time =
                of(c.scale_hi, p) * lesser(c.share_hi.pair(i, p) - shares_[p], sums_[p] - c.sum_hi.pair(i, p));
            const auto passed = greater(Pair{}, time) * (1 + 1e-9) + 1e-6 <= seconds;
            if (passed[0] == 0 || passed[1] == 0) return true;
        }
        return false;
    };
    // The lowest knot that every cell has passed. Who asks again asks for a time nearby.
    const std::size_t near = std::min(near_, end - 1);
    std::size_t high = 0;
    if (behind(near))
        high = 1 + last_knot_behind(near, end, behind);
    else if (near > 0 && behind(0))
        high = 1 + last_knot_before(near, 0, behind);
    near_ = high;
    if (high == 0) return grid.bottom();
    const std::size_t low = high - 1;
    const double top = std::min(grid[high], start_.t), foot = grid[low], step = grid[high] - foot;
    Pair highest{foot, foot};
    for (std::size_t p = 0; p < pairs; ++p) {
        const Pair wanted = (seconds - 2e-6) * (1 - 1e-8) / of(c.scale_hi, p);
        const Pair share = c.share_hi.pair(low, p), fall = share - c.share_hi.pair(high, p);
        const Pair slope = c.slope_hi.pair(low, p);
        const auto solved = (fall > 0) & (slope > 0);
        if (solved[0] == 0 || solved[1] == 0) {
            const auto passed = [&](double t) {
                return f.cooling_hi(start_, f.locate(t)) * (1 + 1e-9) + 1e-6 <= seconds;
            };
            return refine(top, foot, passed);
        }
        const Pair by_share = foot + (share - shares_[p] - wanted) / fall * step;
        const Pair by_sum = foot + (sums_[p] - wanted - c.sum_hi.pair(low, p)) / slope;
        highest = greater(highest, lesser(by_share, by_sum));
    }
    return std::min(std::max(highest[0], highest[1]), top);
}

double Furnace::least_heated(double from, double seconds) const {
    if (cells_.empty()) return std::min(from, ambient_.lo);
    if (from >= holdable_) return holdable_; // the weakest furnace falls back to what it can hold
    if (seconds <= 0) return from;
    const auto reached = [&](double t) { return heating_time(from, t).hi <= seconds; };
    if (from < grid_.bottom() && !reached(grid_.bottom())) return from;
    std::size_t low = grid_.cell(from), high = grid_.size() - 1;
    if (reached(grid_[high])) return grid_[high];
    while (high - low > 1) {
        const std::size_t middle = (low + high) / 2;
        if (reached(grid_[middle]))
            low = middle;
        else
            high = middle;
    }
    return refine(std::max(grid_[low], from), grid_[high], reached);
}

double Furnace::most_heated(double from, double seconds) const {
    if (cells_.empty()) return infinity;
    if (seconds <= 0) return from;
    const auto open = [&](double t) { return heating_time(from, t).lo >= seconds; }; // nobody is there yet
    if (!open(grid_.top())) return infinity;
    std::size_t low = grid_.cell(from), high = grid_.size() - 1;
    while (high - low > 1) {
        const std::size_t middle = (low + high) / 2;
        if (open(grid_[middle]))
            high = middle;
        else
            low = middle;
    }
    return refine(grid_[high], std::max(grid_[low], from), open);
}

} // namespace athanor::plant
