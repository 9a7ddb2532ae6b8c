#pragma once
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <vector>

namespace athanor::plant {

/// Knots of temperature (K) for tables: dense near ambient, where cooling slows down, a few kelvin apart above.
class Grid {
public:
    Grid() = default;
    /// From one kelvin above `ambient` up to `top`.
    Grid(double ambient, double top);

    std::size_t size() const { return knots_.size(); }
    double operator[](std::size_t i) const { return knots_[i]; }
    double bottom() const { return bottom_; }
    double top() const { return top_; }
    /// The cell j with knot[j] <= t < knot[j+1], clamped to the first and last cell.
    std::size_t cell(double t) const { return t < top_ ? t > bottom_ ? inside(t) : 0 : ends_.size() - 1; }
    /// The same of a temperature that is known to lie from the bottom to below the top.
    std::size_t inside(double t) const {
        std::size_t j = buckets_[static_cast<std::uint32_t>(t - bottom_)];
        while (ends_[j] <= t) ++j;
        return j;
    }

private:
    std::vector<double> knots_;
    std::vector<double> ends_;           // of the cells
    std::vector<std::uint16_t> buckets_; // first cell that reaches into each kelvin above the bottom
    double bottom_ = 0, top_ = 0;
};

} // namespace athanor::plant
