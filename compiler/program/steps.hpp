#pragma once
#include "compiler/program/decimal.hpp"

#include <cmath>
#include <cstdint>
#include <string>

namespace athanor {

/// A grid for who asks it again and again: it gives the same answers, and what they share is worked out once.
class Steps {
public:
    explicit Steps(const Grid& grid);

    const Grid& grid() const { return grid_; }
    double step() const { return grid_.step.value(); }
    std::int64_t count() const { return count_; }
    bool holds(std::int64_t k) const { return k >= 0 && k <= count_; }
    std::string text(std::int64_t k) const { return grid_.text(k); }
    double value(std::int64_t k) const {
        if (k > exact_ || k < -exact_) return grid_.value(k);
        return static_cast<double>(first_ + k * width_) / scale_;
    }
    std::int64_t nearest(double value) const {
        // Of so few units a double knows where it lies to 1e-5 of a step: only one that lies half-way between
        // two indices needs a closer look.
        const double units = value * scale_, first = static_cast<double>(first_);
        if (exact_ > 0 && std::abs(units) < few_units && std::abs(first) < few_units) {
            const double from_below = (units - first) / static_cast<double>(width_) + 0.5;
            const auto index = static_cast<std::int64_t>(from_below) - (from_below < 0 ? 1 : 0);
            const double rest = from_below - static_cast<double>(index);
            if (rest > 1e-3 && rest < 1 - 1e-3) return index;
        }
        return grid_.nearest(value);
    }
    std::int64_t below(double value) const { return grid_.below(value); }
    std::int64_t above(double value) const { return grid_.above(value); }

private:
    static constexpr double few_units = 1e10;

    Grid grid_;
    std::int64_t count_;
    // In units of the last decimal place of all three numbers of the grid.
    std::int64_t first_ = 0, width_ = 0;
    double scale_ = 1;        // units in one
    std::int64_t exact_ = -1; // up to this index all units are exact as doubles
};

} // namespace athanor
