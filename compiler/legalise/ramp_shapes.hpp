#pragma once
#include "compiler/legalise/rounding.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

/// Private to the planning of ramps: the shapes that a ramp of several segments can take. degC, K/min and s.
namespace athanor::legalise {

inline constexpr double slack = 1e-9;

inline double rate_in_K_per_s(const Keys& c, std::int64_t k) {
    return c.rate->value(k) / 60.0;
}
/// The settable rate at or below `rate`, K/s; -1 where even the slowest is faster, count() or more beyond the
/// fastest.
inline std::int64_t rate_below(const Keys& c, double rate) {
    return std::max<std::int64_t>(-1, c.rate->below(rate * 60.0));
}

inline double fastest(const RampAsk& ask, std::size_t zone) {
    return zone < ask.fastest.size() ? ask.fastest[zone] : std::numeric_limits<double>::infinity();
}
inline bool allowed(const RampAsk& ask, std::size_t zone, double K_per_s) {
    return K_per_s <= fastest(ask, zone) * (1 + slack);
}
/// One piece from given set-points on, in degC and K/s.
struct Course {
    Course(const Keys& c, const RampPiece& piece, const Degrees& begin) : kind(piece), from(begin) {
        if (piece.dwell >= 0) {
            to = begin;
            return;
        }
        for (const std::int64_t k : piece.targets) to.push_back(c.setpoint.value(k));
        for (const std::int64_t k : piece.rates) rates.push_back(rate_in_K_per_s(c, k));
    }
    /// The set-point of a zone `elapsed` s after its beginning.
    double at(std::size_t zone, double elapsed) const {
        const double distance = to[zone] - from[zone];
        if (kind.dwell >= 0) return from[zone];
        if (kind.ramp_time >= 0)
            return kind.duration > 0 ? from[zone] + distance * std::min(1.0, elapsed / kind.duration)
                                     : to[zone];
        const double moved = rates[zone] * elapsed;
        return moved >= std::abs(distance) - slack ? to[zone] : from[zone] + (distance < 0 ? -moved : moved);
    }

    const RampPiece& kind;
    const Degrees& from;
    Degrees to;
    Few<double> rates; // empty in time form and for a dwell
};

/// Whether every zone's set-point is at its end, or beyond it, as far as the display shows.
bool shows_end(const Keys& c, const RampAsk& ask, const Degrees& at);
/// Fills the errors of a plan and says whether it stays inside both budgets.
bool judge_ramp(const Keys& c, const RampAsk& ask, RampPlan& plan);
std::size_t rows_of(const std::vector<RampPiece>& pieces, bool fused);

/// One zone in two ramps: two rates, or a rate and a time.
std::optional<RampPlan> in_two(const Keys& c, const RampAsk& ask);
/// One zone on a zigzag of the two settable rates beside the one asked, or on a staircase under the slowest.
std::optional<RampPlan> in_zigzag(const Keys& c, const RampAsk& ask);
} // namespace athanor::legalise
