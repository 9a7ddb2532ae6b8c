#pragma once
#include "compiler/check/equipment.hpp"
#include "compiler/plant/grid.hpp"
#include "compiler/plant/pair.hpp"
#include "compiler/quantity/interval.hpp"

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstring>
#include <memory>
#include <string>
#include <vector>

/// Heat: C dT/dt = P - U (T - Ta) - R (T^4 - Ta^4), 0 <= P <= Pmax. SI: K, s, W, J/K.
///
/// U, R and C are identified from the rig's rows, as a set of members. A member is: the ratio R/U, the ambient
/// temperature, the holding power at the holding temperature, the heat capacity in heating (from `heat_up` at
/// rated power) and the heat capacity in cooling (from `cool_down`). Insulation gives heat back, so the
/// capacity in cooling is not below that in heating: this bounds the radiative share from above. The rows are
/// read as holding at every ambient temperature of the declared interval.
///
/// Why the bounds are sound: with f(T) = T + (R/U) T^4 the loss is proportional to f(T) - f(Ta), and
/// loss(T)/loss(T') for T > T' grows with R/U and with Ta. So members are ordered by likelihood ratio: the
/// share of the cooling time spent above a temperature falls as either grows, and the extremes stand at the
/// corners of a cell of (R/U, Ta). The range of R/U is cut into cells, bounded each by its two corners, and the
/// hull is taken.
namespace athanor::plant {

class Furnace {
public:
    Furnace(const check::Furnace& rows, Interval ambient);

    /// Empty when the rows can be met by a furnace; else why not. Bounds are then those of the widest guess.
    const std::string& fault() const { return fault_; }
    Interval ambient() const { return ambient_; }

    /// K/s at full power, over members and mains voltage; lo may be negative (the furnace cannot hold it).
    Interval heating_rate(double temperature) const {
        if (!(temperature < grid_.top())) return {std::min(0.0, heat_lo_.back()), heat_hi_.back()};
        if (temperature < grid_.bottom()) return {heat_lo_[0], heat_cold_};
        const std::size_t j = grid_.inside(temperature);
        return {heat_lo_[j + 1], heat_hi_[j]}; // full-power heating slows down with temperature
    }
    /// K/s with the heater off, as a positive number; {0, 0} below ambient.
    Interval cooling_rate(double temperature) const {
        if (!(temperature < grid_.top())) return {cool_lo_.back(), infinity};
        if (temperature < grid_.bottom()) return {0, temperature <= still_ ? 0 : cool_hi_[0]};
        const std::size_t j = grid_.inside(temperature);
        return {cool_lo_[j], cool_hi_[j]};
    }
    /// K up to which every member heats at `rate` K/s on low mains; K down to which every member cools at
    /// `rate`.
    double heats_up_to(double rate) const;
    double cools_down_to(double rate) const;
    /// W needed to hold.
    Interval loss(double temperature) const;
    /// K that every member can hold for ever on low mains.
    double holdable() const { return holdable_; }
    /// Radiative share of the loss at the holding temperature, over members.
    Interval radiative_share() const { return share_; }
    /// W that the heater gives at full power, over the mains voltage.
    Interval power() const { return power_; }
    /// J/K
    Interval heating_capacity() const { return heating_capacity_; }
    Interval cooling_capacity() const { return cooling_capacity_; }

    /// s from `from` down to `to` with the heater off; hi is infinite near and below ambient.
    Interval cooling_time(double from, double to) const;
    double longest_cooling(double from, double to) const; // its hi
    /// s from `from` up to `to` at full power; hi is infinite where some member never gets there.
    Interval heating_time(double from, double to) const;

    // Temperature after a time; each is a bound over every member. With the heater off:
    class Fastest;
    class Slowest;
    double least_heated(double from, double seconds) const; // full power, slowest
    double most_heated(double from, double seconds) const;  // full power, fastest

private:
    static constexpr std::size_t most_cells = 8;
    using ByCell = std::array<double, most_cells>;
    /// Members between two values of R/U: tables over the grid's knots. Those of all cells lie knot by knot, so
    /// that two cells take their steps together.
    class Table {
    public:
        static constexpr std::size_t each = 6; // tables of a cell
        double& operator()(std::size_t knot, std::size_t cell) { return at_[knot * each * most_cells + cell]; }
        double operator()(std::size_t knot, std::size_t cell) const {
            return at_[knot * each * most_cells + cell];
        }
        /// Of the cells 2 * `pair` and the one behind it.
        Pair pair(std::size_t knot, std::size_t pair) const {
            Pair two;
            std::memcpy(&two, at_ + knot * each * most_cells + 2 * pair, sizeof two);
            return two;
        }

    private:
        friend class Furnace;
        double* at_ = nullptr;
    };
    struct Cells {
        std::size_t count = 0;
        ByCell scale_lo{}, scale_hi{}; // s: duration of the first cool_down row
        std::unique_ptr<double[]> tables;
        /// Time from the row's start down to the knot, over the row's duration.
        Table share_lo, share_hi;
        /// Integral of the least and of the greatest 1/rate from the bottom, same scale.
        Table sum_lo, sum_hi;
        Table slope_lo, slope_hi; // the same integrands, per grid cell

        bool empty() const { return count == 0; }
        std::size_t pairs() const { return (count + 1) / 2; } // the last cell may stand twice
    };
    struct Losses {
        Interval holding;           // W at the first row of holding_power
        std::vector<double> lo, hi; // W at the knots
    };
    struct At { // a temperature located in the grid
        double t = 0;
        std::size_t cell = 0;
        double fraction = 0;
    };

    At locate(double t) const;
    At knot(std::size_t i) const;
    double cooling_lo(At from, At to) const;
    double cooling_hi(At from, At to) const;
    struct Corners; // the two members that bound a cell
    void build_cells(const check::Furnace& rows, double greatest_share);
    void build_cell(const check::Furnace& rows, Corners& corners);
    // The next cell, which is not counted yet.
    void cooling_shares(const Corners& corners, Interval integral);
    Interval further_durations(const check::Furnace& rows, Interval duration) const;
    /// Adds it to what holds over all.
    void add_member(Interval duration, const Losses& loss, Interval heating, Interval cooling, Interval power);
    void build_rates();
    void widest_rates();
    double greatest_share(const check::Furnace& rows);

    Interval ambient_;
    Grid grid_;
    Cells cells_;
    std::vector<double> loss_lo_, loss_hi_;     // W at the knots
    std::vector<double> heat_lo_, heat_hi_;     // K/s at the knots
    double heat_cold_ = infinity;               // K/s, greatest below the table
    double still_ = -infinity;                  // K up to which nothing cools
    std::vector<double> cool_lo_, cool_hi_;     // K/s, least and greatest inside each grid cell
    std::vector<double> heat_slow_, heat_fast_; // s from the bottom
    Interval share_, heating_capacity_, cooling_capacity_, power_;
    double holdable_ = 0;
    std::string fault_;
};

/// The fastest natural cooling from one temperature, to be asked at several times.
class Furnace::Fastest {
public:
    /// `furnace` must outlive it.
    Fastest(const Furnace& furnace, double from);
    double from() const { return from_; }
    /// K, least, after a time.
    double after(double seconds) const;

private:
    const Furnace& furnace_;
    double from_;
    At start_;
    ByCell shares_, sums_; // of each cell at the start: the greatest share, the least sum
};

/// The slowest.
class Furnace::Slowest {
public:
    /// `furnace` must outlive it.
    Slowest(const Furnace& furnace, double from);
    double from() const { return from_; }
    /// K, greatest, after a time.
    double after(double seconds) const;

private:
    const Furnace& furnace_;
    double from_;
    At start_;
    std::array<Pair, most_cells / 2> shares_, sums_; // of each cell at the start: the least, the greatest
    mutable std::size_t near_ = 0;                   // a knot near the one asked for last
};

} // namespace athanor::plant
