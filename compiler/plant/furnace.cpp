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

double Furnace::cooling_lo(At from, At to) const {
    double best = infinity;
    for (const Cell& c : cells_) {
        const auto share_lo = [&](At a) {
            return c.share_lo[a.cell + 1] + (grid_[a.cell + 1] - a.t) * c.slope_lo[a.cell];
        };
        const auto share_hi = [&](At a) { // convex in temperature: below its chord
            return c.share_hi[a.cell] + a.fraction * (c.share_hi[a.cell + 1] - c.share_hi[a.cell]);
        };
        const auto sum = [&](At a) { return c.sum_lo[a.cell] + (a.t - grid_[a.cell]) * c.slope_lo[a.cell]; };
        const double time = c.scale.lo * std::max({share_lo(to) - share_hi(from), sum(from) - sum(to), 0.0});
        best = std::min(best, time);
    }
    return best;
}

double Furnace::cooling_hi(At from, At to) const {
    double worst = 0;
    for (const Cell& c : cells_) {
        const auto share_lo = [&](At a) {
            return c.share_lo[a.cell + 1] + (grid_[a.cell + 1] - a.t) * c.slope_lo[a.cell];
        };
        const auto share_hi = [&](At a) {
            return c.share_hi[a.cell] + a.fraction * (c.share_hi[a.cell + 1] - c.share_hi[a.cell]);
        };
        const auto sum = [&](At a) { return c.sum_hi[a.cell] + (a.t - grid_[a.cell]) * c.slope_hi[a.cell]; };
        const double time = c.scale.hi * std::min(share_hi(to) - share_lo(from), sum(from) - sum(to));
        worst = std::max(worst, time);
    }
    return worst;
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

} // namespace

double Furnace::coolest(double from, double seconds) const {
    if (from <= ambient_.lo) return from;
    if (cells_.empty()) return ambient_.lo;
    if (seconds <= 0) return from;
    if (from <= grid_.bottom()) return ambient_.lo;
    const At start = locate(from);
    // The highest temperature that even the fastest member has not passed: the least time to it is not below
    // `seconds`.
    const auto safe = [&](double t) { return cooling_lo(start, locate(t)) * (1 - 1e-9) >= seconds; };
    std::size_t low = start.cell; // the highest knot that no cell up to now has passed
    for (const Cell& c : cells_) {
        const double begin =
            c.share_hi[start.cell] + start.fraction * (c.share_hi[start.cell + 1] - c.share_hi[start.cell]);
        const double whole = c.sum_lo[start.cell] + (start.t - grid_[start.cell]) * c.slope_lo[start.cell];
        const auto ahead = [&](std::size_t i) { // as cooling_lo to a knot
            const double share = c.share_lo[i + 1] + (grid_[i + 1] - grid_[i]) * c.slope_lo[i];
            return c.scale.lo * std::max({share - begin, whole - c.sum_lo[i], 0.0}) * (1 - 1e-9) >= seconds;
        };
        if (ahead(low)) continue;
        if (!ahead(0)) return ambient_.lo;
        low = last_knot(0, low, ahead);
    }
    const double next = std::min(grid_[low + 1], start.t);
    // Inside one cell of the grid both bounds of the time are straight lines: where they cross `seconds` is
    // solved.
    double lowest = next;
    for (const Cell& c : cells_) {
        const double wanted = seconds * (1 + 1e-8) / c.scale.lo;
        const double begin =
            c.share_hi[start.cell] + start.fraction * (c.share_hi[start.cell + 1] - c.share_hi[start.cell]);
        const double whole = c.sum_lo[start.cell] + (start.t - grid_[start.cell]) * c.slope_lo[start.cell];
        const double slope = c.slope_lo[low];
        if (!(slope > 0)) return refine(grid_[low], next, safe);
        const double by_share = grid_[low + 1] - (wanted + begin - c.share_lo[low + 1]) / slope;
        const double by_sum = grid_[low] + (whole - wanted - c.sum_lo[low]) / slope;
        lowest = std::min(lowest, std::max(by_share, by_sum));
    }
    return std::max(lowest, grid_[low]);
}

double Furnace::warmest(double from, double seconds) const {
    if (cells_.empty() || seconds <= 0 || from <= grid_.bottom() || from > grid_.top())
        return std::max(from, ambient_.hi);
    const At start = locate(from);
    const auto passed = [&](double t) { return cooling_hi(start, locate(t)) * (1 + 1e-9) + 1e-6 <= seconds; };
    std::size_t high = 0; // the lowest knot that every cell up to now has passed; the start counts as passed
    for (const Cell& c : cells_) {
        if (high > start.cell) break;
        const double begin =
            c.share_lo[start.cell + 1] + (grid_[start.cell + 1] - start.t) * c.slope_lo[start.cell];
        const double whole = c.sum_hi[start.cell] + (start.t - grid_[start.cell]) * c.slope_hi[start.cell];
        const auto behind = [&](std::size_t i) { // as cooling_hi to a knot
            const double time = c.scale.hi * std::min(c.share_hi[i] - begin, whole - c.sum_hi[i]);
            return !(std::max(0.0, time) * (1 + 1e-9) + 1e-6 <= seconds);
        };
        if (behind(high)) high = last_knot(high, start.cell + 1, behind) + 1;
    }
    if (high == 0) return grid_.bottom();
    const std::size_t low = high - 1;
    const double top = std::min(grid_[high], start.t);
    double highest = grid_[low];
    for (const Cell& c : cells_) {
        const double wanted = (seconds - 2e-6) * (1 - 1e-8) / c.scale.hi;
        const double begin =
            c.share_lo[start.cell + 1] + (grid_[start.cell + 1] - start.t) * c.slope_lo[start.cell];
        const double whole = c.sum_hi[start.cell] + (start.t - grid_[start.cell]) * c.slope_hi[start.cell];
        const double step = c.share_hi[low] - c.share_hi[low + 1], slope = c.slope_hi[low];
        if (!(step > 0) || !(slope > 0)) return refine(top, grid_[low], passed);
        const double by_share =
            grid_[low] + (c.share_hi[low] - begin - wanted) / step * (grid_[low + 1] - grid_[low]);
        const double by_sum = grid_[low] + (whole - wanted - c.sum_hi[low]) / slope;
        highest = std::max(highest, std::min(by_share, by_sum));
    }
    return std::min(highest, top);
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
