#pragma once
#include "compiler/legalise/rounding.hpp"

#include <algorithm>
#include <limits>
#include <optional>

/// Private to the planning of ramps: the shapes that a ramp of several segments can take. degC, K/min and s.
namespace athanor::legalise {

inline constexpr double slack = 1e-9;

inline double rate_in_K_per_s(const program::Controller& c, std::int64_t k) {
    return c.rate->value(k) / 60.0;
}
/// The settable rate at or below `rate`, K/s; -1 where even the slowest is faster, count() or more beyond the
/// fastest.
inline std::int64_t rate_below(const program::Controller& c, double rate) {
    return std::max<std::int64_t>(-1, c.rate->below(rate * 60.0));
}

inline double fastest(const RampAsk& ask, std::size_t zone) {
    return zone < ask.fastest.size() ? ask.fastest[zone] : std::numeric_limits<double>::infinity();
}
inline bool allowed(const RampAsk& ask, std::size_t zone, double K_per_s) {
    return K_per_s <= fastest(ask, zone) * (1 + slack);
}
/// Whether every zone's set-point is at its end, or beyond it, as far as the display shows.
bool shows_end(const program::Controller& c, const RampAsk& ask, const Degrees& at);
/// Fills the errors of a plan and says whether it stays inside both budgets.
bool judge_ramp(const program::Controller& c, const RampAsk& ask, RampPlan& plan);
std::size_t rows_of(const std::vector<RampPiece>& pieces, bool fused);

/// One zone in two ramps: two rates, or a rate and a time.
std::optional<RampPlan> in_two(const program::Controller& c, const RampAsk& ask);
/// One zone on a zigzag of the two settable rates beside the one asked, or on a staircase under the slowest.
std::optional<RampPlan> in_zigzag(const program::Controller& c, const RampAsk& ask);
} // namespace athanor::legalise
