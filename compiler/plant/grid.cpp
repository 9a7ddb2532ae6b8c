#include "compiler/plant/grid.hpp"

#include <algorithm>

namespace athanor::plant {

namespace {
constexpr double first_knot = 1.0; // K above ambient
constexpr double finest = 0.25;    // K
constexpr double coarsest = 5.0;   // K
constexpr double growth = 0.04;    // of the distance from ambient: the loss changes by that share in a cell
} // namespace

Grid::Grid(double ambient, double top) {
    double t = ambient + first_knot;
    knots_.reserve(400);
    while (t < top) {
        knots_.push_back(t);
        t += std::clamp(growth * (t - ambient), finest, coarsest);
    }
    knots_.push_back(t);
    if (knots_.size() < 2) knots_.push_back(t + coarsest);
    bottom_ = knots_.front();
    top_ = knots_.back();
    ends_.assign(knots_.begin() + 1, knots_.end());
    buckets_.resize(static_cast<std::size_t>(top_ - bottom_) + 2);
    std::size_t j = 0;
    for (std::size_t k = 0; k < buckets_.size(); ++k) {
        while (j + 1 < ends_.size() && ends_[j] <= bottom_ + static_cast<double>(k)) ++j;
        buckets_[k] = static_cast<std::uint16_t>(j);
    }
}

} // namespace athanor::plant
