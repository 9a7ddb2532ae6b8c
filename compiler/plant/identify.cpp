// From the rig's rows to the tables of the furnace.
#include "compiler/plant/furnace.hpp"
#include "compiler/plant/given.hpp"
#include "compiler/plant/pair.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <fmt/format.h>

namespace athanor::plant {

namespace {

constexpr double theta = 1000.0; // K, makes both parts of the loss dimensionless
constexpr double outward = 1e-9; // relative; far above the rounding of a few hundred sums

double fourth(double t) {
    return t * t * t * t;
}

/// The loss of one member up to a factor: share 0 is pure conduction, share 1 pure radiation.
struct Shape {
    double linear = 0, quartic = 0, floor = 0;

    Shape() = default;
    Shape(double share, double ambient)
        : linear((1 - share) / theta), quartic(share / fourth(theta)),
          floor(linear * ambient + quartic * fourth(ambient)) {}
    double operator()(double t) const { return linear * t + quartic * fourth(t) - floor; }
};

double least(Pair x) {
    return std::min(x[0], x[1]);
}
double greatest(Pair x) {
    return std::max(x[0], x[1]);
}

/// Integral of a smooth function by Simpson's rule; used where only a search needs it.
template<class F>
double simpson(double from, double to, F f) {
    constexpr int n = 32;
    const double h = (to - from) / n;
    double sum = f(from) + f(to);
    for (int i = 1; i < n; ++i) sum += (i % 2 == 1 ? 4 : 2) * f(from + i * h);
    return sum * h / 3;
}

/// Substituting ln(T - Ta) flattens the integrand near ambient.
template<class F>
double simpson_log(double from, double to, double ambient, F f) {
    return simpson(std::log(from - ambient), std::log(to - ambient), [&](double u) {
        const double x = std::exp(u);
        return x * f(ambient + x);
    });
}

struct Rows {
    double rated = 0; // W
    Interval holding; // W at `at`
    double at = 0;
    Interval cooling;                  // s
    double cool_from = 0, cool_to = 0; // K
};

Rows first_rows(const check::Furnace& f) {
    Rows r;
    r.rated = f.power.lo();
    r.holding = f.holding_power.front().power.value;
    r.at = f.holding_power.front().at;
    r.cooling = f.cool_down.front().duration.value;
    r.cool_from = f.cool_down.front().from;
    r.cool_to = f.cool_down.front().to;
    return r;
}

/// Greatest heat capacity in cooling and least in heating that the rows allow at one shape.
struct Capacities {
    double cooling = 0, heating = 0;
};

Capacities capacities(const check::Furnace& f, const Rows& r, double share, double ambient) {
    const Shape shape(share, ambient);
    const double at = shape(r.at), power = r.holding.hi;
    const double cool =
        simpson_log(r.cool_to, r.cool_from, ambient, [&](double t) { return at / (power * shape(t)); });
    Capacities c{r.cooling.hi / cool, 0};
    for (const check::HeatUp& row : f.heat_up) {
        const double heat = simpson(ambient, row.to, [&](double t) {
            const double left = r.rated - power * shape(t) / at;
            return left > 0 ? 1 / left : infinity;
        });
        c.heating = std::max(c.heating, row.duration.lo() / heat);
    }
    return c;
}

} // namespace

Furnace::Furnace(const check::Furnace& rows, Interval ambient) : ambient_(ambient) {
    double top = std::max(rows.range.given ? rows.range.hi() : 0.0, ambient.hi + 200);
    for (const check::HeatUp& row : rows.heat_up) top = std::max(top, row.to);
    for (const check::HoldingPower& row : rows.holding_power) top = std::max(top, row.at);
    for (const check::CoolDown& row : rows.cool_down) top = std::max(top, row.from);
    grid_ = Grid(ambient.hi, top + 60);
    widest_rates();
    const bool complete = !rows.heat_up.empty() && !rows.holding_power.empty() && !rows.cool_down.empty() &&
                          rows.power.given && rows.power.lo() > 0;
    if (!complete) {
        fault_ = "the furnace needs one row each of heat_up, holding_power and cool_down";
        return;
    }
    for (const check::CoolDown& row : rows.cool_down)
        if (row.to <= grid_.bottom() || row.from <= row.to) fault_ = "cool_down must end above ambient";
    for (const check::HeatUp& row : rows.heat_up)
        if (row.to <= grid_.bottom()) fault_ = "heat_up must end above ambient";
    for (const check::HoldingPower& row : rows.holding_power) {
        if (row.at <= grid_.bottom()) fault_ = "holding_power must stand above ambient";
        if (row.power.lo() <= 0) fault_ = "holding_power must be positive";
        if (row.power.lo() >= rows.power.hi()) fault_ = "holding_power is not below the furnace's power";
    }
    if (!fault_.empty()) return;

    const double greatest = greatest_share(rows);
    if (!fault_.empty()) return;
    build_cells(rows, greatest);
    if (cells_.empty()) {
        fault_ = "no furnace meets all rows of heat_up, holding_power and cool_down together";
        return;
    }
    build_rates();
}

/// The greatest radiative share at which the capacity in cooling can reach that in heating, slightly outward.
double Furnace::greatest_share(const check::Furnace& rows) {
    const Rows r = first_rows(rows);
    const auto possible = [&](double share) {
        for (double ta : {ambient_.lo, ambient_.hi}) {
            const Capacities c = capacities(rows, r, share, ta);
            if (c.cooling * 1.01 >= c.heating) return true;
        }
        return false;
    };
    if (!possible(0)) {
        const Capacities c = capacities(rows, r, 0, ambient_.middle());
        fault_ = fmt::format(
            "cool_down and holding_power give a heat capacity of at most {:.3g} kJ/K, heat_up one of at "
            "least {:.3g} kJ/K: it cools faster than what was heated can",
            c.cooling / 1000, c.heating / 1000);
        return 0;
    }
    if (possible(1)) return 1;
    double lo = 0, hi = 1;
    for (int i = 0; i < 12; ++i) {
        const double middle = 0.5 * (lo + hi);
        (possible(middle) ? lo : hi) = middle;
    }
    return hi;
}

/// Normalised at a middle temperature, so that the least and the greatest member stand at the two corners of
/// the cell at every temperature, in one order above it and in the other below.
struct Furnace::Corners {
    const Grid& grid;
    Rows rows;
    double middle;
    std::array<Shape, 2> shape;
    Pair linear{}, quartic{}, floor{}, scale{}; // of both shapes
    /// Time per kelvin of each corner, and its integral from the knot to the top: midpoint sums lie below,
    /// trapezoids above, because 1/loss is convex.
    struct Knot {
        Pair w, below, above;
    };
    std::vector<Knot> knots;
    Losses loss;

    /// Fourth powers at the knots and between them, for all cells.
    struct Fourths {
        double knot, middle;
    };
    std::vector<Fourths> fourths;

    /// Its tables are used again for each cell.
    Corners(const Grid& of, const Rows& r) : grid(of), rows(r), middle(std::sqrt(r.cool_from * r.cool_to)) {
        const std::size_t n = grid.size();
        knots.resize(n);
        loss.lo.resize(n);
        loss.hi.resize(n);
        fourths.reserve(n);
        for (std::size_t j = 0; j + 1 < n; ++j) fourths.push_back({fourth(grid[j]), fourth(between(j))});
        fourths.push_back({fourth(grid[n - 1]), 0});
    }

    void set(double low, double high, Interval ambient) {
        shape = {Shape(low, ambient.lo), Shape(high, ambient.hi)};
        scale = Pair{shape[0](middle), shape[1](middle)};
        linear = Pair{shape[0].linear, shape[1].linear};
        quartic = Pair{shape[0].quartic, shape[1].quartic};
        floor = Pair{shape[0].floor, shape[1].floor};
        const std::size_t last = grid.size() - 1;
        knots[last] = {at(grid[last], fourths[last].knot), Pair{}, Pair{}};
        for (std::size_t j = last; j-- > 0;) {
            const double h = grid[j + 1] - grid[j];
            const Knot& next = knots[j + 1];
            Knot& knot = knots[j];
            knot.w = at(grid[j], fourths[j].knot);
            knot.below = next.below + h * scale / loss_at(between(j), fourths[j].middle);
            knot.above = next.above + 0.5 * h * (knot.w + next.w);
        }
    }

    double between(std::size_t j) const { return grid[j] + 0.5 * (grid[j + 1] - grid[j]); }
    Pair loss_at(double t, double its_fourth) const { return linear * t + quartic * its_fourth - floor; }
    Pair at(double t, double its_fourth) const { return scale / loss_at(t, its_fourth); }
    Pair at(double t) const { return at(t, fourth(t)); }
    double below_at(std::size_t k, double t) const {
        const std::size_t j = grid.cell(t);
        return knots[j + 1].below[k] + std::max(0.0, grid[j + 1] - t) * knots[j + 1].w[k];
    }
    double above_at(std::size_t k, double t) const { // the upper part of a cell holds less than its share
        const std::size_t j = grid.cell(t);
        const double part = (grid[j + 1] - t) / (grid[j + 1] - grid[j]);
        return knots[j + 1].above[k] + part * (knots[j].above[k] - knots[j + 1].above[k]);
    }
    /// Over the first row of cool_down.
    Interval whole(std::size_t k) const {
        return {below_at(k, rows.cool_to) - above_at(k, rows.cool_from),
                above_at(k, rows.cool_to) - below_at(k, rows.cool_from)};
    }

    /// Least and greatest time over that row of any member. Pointwise the members lie between the corners,
    /// which cross at the middle temperature alone. The greater is convex (trapezoid above), the lesser is one
    /// corner on each side (midpoint below).
    Interval integral() const {
        double greater = 0, lesser = 0;
        const auto greatest = [&](double t) { return plant::greatest(at(t)); };
        const auto add = [&](double a, double b, double at_a, double at_b) {
            const double m = 0.5 * (a + b);
            greater += (b - a) * 0.5 * (at_a + at_b);
            lesser += (b - a) * least(at(m));
        };
        for (std::size_t j = 0; j + 1 < grid.size(); ++j) {
            const double a = std::max(grid[j], rows.cool_to), b = std::min(grid[j + 1], rows.cool_from);
            if (a >= b) continue;
            const double at_a = a > grid[j] ? greatest(a) : plant::greatest(knots[j].w);
            const double at_b = b < grid[j + 1] ? greatest(b) : plant::greatest(knots[j + 1].w);
            if (a < middle && middle < b) {
                add(a, middle, at_a, greatest(middle));
                add(middle, b, greatest(middle), at_b);
            } else {
                add(a, b, at_a, at_b);
            }
        }
        const double whole_lo = std::min(whole(0).lo, whole(1).lo) * (1 - outward);
        return {lesser * (1 - outward), std::max(greater, whole_lo) * (1 + outward)};
    }

    double holding(std::size_t k) const { return shape[k](rows.at); }
    /// Loss relative to that at the holding temperature: ordered by the corners again.
    Interval relative_loss(double t) const {
        const double a = shape[0](t) / holding(0), b = shape[1](t) / holding(1);
        return {std::max(0.0, std::min(a, b)), std::max({0.0, a, b})};
    }
    Interval radiative_share(Interval ambient) const {
        const double coldest = fourth(rows.at) - fourth(ambient.lo),
                     warmest = fourth(rows.at) - fourth(ambient.hi);
        return {std::min(shape[0].quartic * coldest / holding(0), shape[1].quartic * warmest / holding(1)),
                std::max(shape[0].quartic * coldest / holding(0), shape[1].quartic * warmest / holding(1))};
    }

    /// Fills `loss`; false where the rows of holding_power cannot be met.
    bool losses(const check::Furnace& all) {
        loss.holding = rows.holding;
        for (std::size_t i = 1; i < all.holding_power.size(); ++i) {
            const check::HoldingPower& row = all.holding_power[i];
            const Interval ratio = relative_loss(row.at);
            loss.holding = {std::max(loss.holding.lo, row.power.lo() / ratio.hi),
                            std::min(loss.holding.hi, row.power.hi() / ratio.lo)};
            if (loss.holding.lo > loss.holding.hi) return false;
        }
        const std::size_t n = grid.size();
        const Pair held{holding(0), holding(1)};
        for (std::size_t j = 0; j < n; ++j) {
            const Pair relative = scale / (knots[j].w * held);
            loss.lo[j] = loss.holding.lo * least(relative) * (1 - outward);
            loss.hi[j] = loss.holding.hi * greatest(relative) * (1 + outward);
        }
        // The loss grows with temperature, so each row bounds it on one side of its own.
        for (const check::HoldingPower& row : all.holding_power)
            for (std::size_t j = 0; j < n; ++j) {
                if (grid[j] >= row.at) loss.lo[j] = std::max(loss.lo[j], row.power.lo() * (1 - outward));
                if (grid[j] <= row.at) loss.hi[j] = std::min(loss.hi[j], row.power.hi() * (1 + outward));
            }
        return true;
    }

    /// Heat capacity in heating, from every heat_up row.
    Interval capacity(const check::Furnace& all, const std::vector<double>& loss_lo,
                      const std::vector<double>& loss_hi, Interval ambient) const {
        Interval capacity{0, infinity};
        for (const check::HeatUp& row : all.heat_up) {
            double least =
                std::max(0.0, grid.bottom() - ambient.hi) / rows.rated; // below the table the loss is small
            double most =
                rows.rated > loss_hi[0] ? (grid.bottom() - ambient.lo) / (rows.rated - loss_hi[0]) : infinity;
            for (std::size_t j = 0; j + 1 < grid.size() && grid[j] < row.to; ++j) {
                const double h = std::min(grid[j + 1], row.to) - grid[j];
                least += h / (rows.rated - std::min(loss_lo[j], 0.999 * rows.rated));
                most += rows.rated > loss_hi[j + 1] ? h / (rows.rated - loss_hi[j + 1]) : infinity;
            }
            capacity = {std::max(capacity.lo, row.duration.lo() / most),
                        std::min(capacity.hi, row.duration.hi() / least)};
        }
        return capacity;
    }
};

void Furnace::cooling_shares(const Corners& c, Interval integral) {
    const std::size_t n = c.grid.size(), k = cells_.count;
    const std::array<Interval, 2> whole{c.whole(0), c.whole(1)};
    const Pair most_above{c.above_at(0, c.rows.cool_from), c.above_at(1, c.rows.cool_from)},
        least_above{c.below_at(0, c.rows.cool_from), c.below_at(1, c.rows.cool_from)};
    const Pair whole_lo{whole[0].lo, whole[1].lo}, whole_hi{whole[0].hi, whole[1].hi};
    double sum_lo = 0, sum_hi = 0;
    for (std::size_t j = 0; j < n; ++j) {
        // Time from the row's start down to the knot, negative above it.
        const Pair shortest = c.knots[j].below - most_above, longest = c.knots[j].above - least_above;
        const double lo = least(shortest / (shortest >= 0 ? whole_hi : whole_lo));
        const double hi = greatest(longest / (longest >= 0 ? whole_lo : whole_hi));
        cells_.share_lo(j, k) = lo - outward * std::abs(lo);
        cells_.share_hi(j, k) = hi + outward * std::abs(hi);
        cells_.sum_lo(j, k) = sum_lo;
        cells_.sum_hi(j, k) = sum_hi;
        if (j + 1 == n) break;
        const double h = c.grid[j + 1] - c.grid[j];
        const double slope_lo = least(c.knots[j + 1].w) / integral.hi;
        const double slope_hi = greatest(c.knots[j].w) / integral.lo;
        cells_.slope_lo(j, k) = slope_lo;
        cells_.slope_hi(j, k) = slope_hi;
        sum_lo += h * slope_lo;
        sum_hi += h * slope_hi;
    }
}

/// Further cool_down rows narrow the duration of the first; none is left where a row cannot be met.
Interval Furnace::further_durations(const check::Furnace& rows, Interval scale) const {
    const Cells& c = cells_;
    const std::size_t k = c.count;
    for (std::size_t i = 1; i < rows.cool_down.size(); ++i) {
        const check::CoolDown& row = rows.cool_down[i];
        const At from = locate(row.from), to = locate(row.to);
        const auto share_lo = [&](At a) {
            return c.share_lo(a.cell + 1, k) + (grid_[a.cell + 1] - a.t) * c.slope_lo(a.cell, k);
        };
        const auto share_hi = [&](At a) {
            return c.share_hi(a.cell, k) + a.fraction * (c.share_hi(a.cell + 1, k) - c.share_hi(a.cell, k));
        };
        const auto sum = [&](const Table& sums, const Table& slopes, At a) {
            return sums(a.cell, k) + (a.t - grid_[a.cell]) * slopes(a.cell, k);
        };
        const double least = std::max({share_lo(to) - share_hi(from),
                                       sum(c.sum_lo, c.slope_lo, from) - sum(c.sum_lo, c.slope_lo, to), 0.0});
        const double most =
            std::max(0.0, std::min(share_hi(to) - share_lo(from),
                                   sum(c.sum_hi, c.slope_hi, from) - sum(c.sum_hi, c.slope_hi, to)));
        scale = {std::max(scale.lo, row.duration.lo() / most), std::min(scale.hi, row.duration.hi() / least)};
        if (scale.lo > scale.hi) break;
    }
    return scale;
}

/// Up to a radiative share, in cells of equal ratio between the loss at the first row's two ends.
void Furnace::build_cells(const check::Furnace& rows, double greatest) {
    const Rows r = first_rows(rows);
    const double ta = ambient_.middle();
    const auto ratio = [&](double share) {
        const Shape shape(share, ta);
        return shape(r.cool_from) / shape(r.cool_to);
    };
    const double first = std::log(ratio(0)), last = std::log(ratio(greatest));
    const double hot = (r.cool_from - ta) / theta, cold = (r.cool_to - ta) / theta;
    const double hot4 = (fourth(r.cool_from) - fourth(ta)) / fourth(theta);
    const double cold4 = (fourth(r.cool_to) - fourth(ta)) / fourth(theta);
    Corners corners(grid_, r);
    cells_.tables = std::make_unique_for_overwrite<double[]>(grid_.size() * Table::each * most_cells);
    double* at = cells_.tables.get();
    for (Table* table : {&cells_.share_lo, &cells_.share_hi, &cells_.sum_lo, &cells_.sum_hi, &cells_.slope_lo,
                         &cells_.slope_hi}) {
        table->at_ = at;
        at += most_cells;
    }
    double low = 0;
    constexpr int cells_wanted = most_cells;
    for (int i = 1; i <= cells_wanted; ++i) {
        const double q = std::exp(first + (last - first) * i / cells_wanted);
        const double linear = hot - q * cold, quartic = hot4 - q * cold4;
        double high = i == cells_wanted ? greatest : std::clamp(linear / (linear - quartic), low, greatest);
        corners.set(low, high, ambient_);
        build_cell(rows, corners);
        low = high;
    }
    if (cells_.count % 2 == 0) return;
    const std::size_t one = cells_.count - 1, twice = cells_.count;
    cells_.scale_lo[twice] = cells_.scale_lo[one];
    cells_.scale_hi[twice] = cells_.scale_hi[one];
    for (std::size_t j = 0; j < grid_.size(); ++j)
        for (Table* table : {&cells_.share_lo, &cells_.share_hi, &cells_.sum_lo, &cells_.sum_hi,
                             &cells_.slope_lo, &cells_.slope_hi})
            (*table)(j, twice) = (*table)(j, one);
}

void Furnace::build_cell(const check::Furnace& rows, Corners& corners) {
    const Interval integral = corners.integral();
    // A row that cannot be met drops the cell.
    cooling_shares(corners, integral);
    const Interval duration = further_durations(rows, corners.rows.cooling);
    if (duration.lo > duration.hi) return;
    if (!corners.losses(rows)) return;
    const Losses& loss = corners.loss;
    const Interval capacity = corners.capacity(rows, loss.lo, loss.hi, ambient_);
    if (capacity.lo > capacity.hi) return;

    // Power goes with the square of the voltage.
    const Interval mains = given(rows.mains);
    const Interval power{corners.rows.rated * mains.lo * mains.lo, rows.power.hi() * mains.hi * mains.hi};
    // Capacity in cooling: duration * holding power / integral of (loss at the holding temperature / loss).
    const double first = corners.scale[0] / corners.holding(0), last = corners.scale[1] / corners.holding(1);
    const Interval cooling{duration.lo * loss.holding.lo * std::min(first, last) / integral.hi,
                           duration.hi * loss.holding.hi * std::max(first, last) / integral.lo};
    const Interval share = corners.radiative_share(ambient_);
    share_ = cells_.empty() ? share : hull(share_, share);
    add_member(duration, loss, capacity, cooling, power);
}

void Furnace::add_member(Interval duration, const Losses& loss, Interval heating, Interval cooling,
                         Interval power) {
    const std::size_t n = grid_.size();
    const bool fresh = cells_.empty();
    const double smallest = std::max(heating.lo, 1e-9);
    if (fresh) {
        power_ = power;
        loss_lo_.assign(n, infinity);
        loss_hi_.assign(n, 0);
        heat_lo_.assign(n, infinity);
        heat_hi_.assign(n, -infinity);
    }
    for (std::size_t j = 0; j < n; ++j) {
        loss_lo_[j] = std::min(loss_lo_[j], loss.lo[j]);
        loss_hi_[j] = std::max(loss_hi_[j], loss.hi[j]);
        const double least = power.lo - loss.hi[j], most = power.hi - loss.lo[j];
        const double lo = least / (least >= 0 ? heating.hi : smallest),
                     hi = most / (most >= 0 ? smallest : heating.hi);
        heat_lo_[j] = std::min(heat_lo_[j], lo - outward * std::abs(lo));
        heat_hi_[j] = std::max(heat_hi_[j], hi + outward * std::abs(hi));
    }
    heating_capacity_ = fresh ? heating : hull(heating_capacity_, heating);
    cooling_capacity_ = fresh ? cooling : hull(cooling_capacity_, cooling);
    cells_.scale_lo[cells_.count] = duration.lo;
    cells_.scale_hi[cells_.count] = duration.hi;
    ++cells_.count;
}

/// Of a furnace of which nothing is known.
void Furnace::widest_rates() {
    const std::size_t n = grid_.size();
    heat_lo_.assign(n, 0);
    heat_hi_.assign(n, infinity);
    cool_lo_.assign(n - 1, 0);
    cool_hi_.assign(n - 1, infinity);
}

void Furnace::build_rates() {
    const std::size_t n = grid_.size();
    still_ = ambient_.lo;
    cool_lo_.assign(n - 1, infinity);
    cool_hi_.assign(n - 1, 0);
    for (std::size_t k = 0; k < cells_.count; ++k)
        for (std::size_t j = 0; j + 1 < n; ++j) {
            cool_lo_[j] = std::min(cool_lo_[j], 1 / (cells_.scale_hi[k] * cells_.slope_hi(j, k)));
            cool_hi_[j] = std::max(cool_hi_[j], 1 / (cells_.scale_lo[k] * cells_.slope_lo(j, k)));
        }
    holdable_ = ambient_.lo;
    for (std::size_t j = 0; j < n && heat_lo_[j] > 0; ++j) holdable_ = grid_[j];
    heat_slow_.assign(n, 0);
    heat_fast_.assign(n, 0);
    for (std::size_t j = 0; j + 1 < n; ++j) {
        const double h = grid_[j + 1] - grid_[j];
        heat_slow_[j + 1] = heat_lo_[j + 1] > 0 ? heat_slow_[j] + h / heat_lo_[j + 1] : infinity;
        heat_fast_[j + 1] = heat_hi_[j] > 0 ? heat_fast_[j] + h / heat_hi_[j] : infinity;
    }
    // Below ambient the loss may be negative: the furnace only heats faster.
    heat_cold_ = std::max(heat_hi_[0], (power_.hi + loss_hi_[0]) / std::max(heating_capacity_.lo, 1e-9));
}

} // namespace athanor::plant
