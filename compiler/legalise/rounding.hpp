#pragma once
#include "compiler/physics/constants.hpp"
#include "compiler/program/program.hpp"
#include "compiler/program/steps.hpp"

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

/// Ideal lines and times turned into settable values; nothing here knows rigs or gases. degC, K/min and s.
namespace athanor::legalise {

using physics::zero_celsius;

using program::Values;
using Degrees = Few<double>; // degC, one a zone

/// What of a controller decides how a line or a time is keyed.
struct Keys {
    Keys(const program::Controller& c)
        : setpoint(c.setpoint), dwell(c.dwell), rate(c.rate), ramp_time(c.ramp_time) {}

    Steps setpoint, dwell;                // degC, s
    std::optional<Steps> rate, ramp_time; // K/min, s
};

/// The largest error of an event instant that is no `rounding_too_coarse`: the larger of 1 s and half a time
/// step.
inline double instant_budget(const Keys& controller) {
    return std::max(1.0, 0.5 * controller.dwell.step());
}
/// Set-point budget of a span without a soak band, K.
inline constexpr double setpoint_budget = 1.0;

/// The index of the settable set-point nearest to a temperature, the first or the last one where it lies
/// beyond.
inline std::int64_t nearest_setpoint(const Keys& controller, double degC) {
    return std::clamp(controller.setpoint.nearest(degC), std::int64_t{0}, controller.setpoint.count());
}
/// The set-point index for a temperature, or nothing when the grid does not come within `budget` K of it.
std::optional<std::int64_t> settable_setpoint(const Keys& controller, double degC, double budget);

/// What a line asks: all lists have one entry a zone.
struct RampAsk {
    Degrees from_ideal, to_ideal;    // the recipe's line
    Degrees from;                    // where the controller's set-point really is
    Values to;                       // set-point indices where it shall end
    double duration = 0;             // s
    double budget = setpoint_budget; // K
    std::size_t most_pieces = 1;     // segments; more than the controller could hold are not tried
    bool fused = false;              // a ramp and a dwell behind it share a segment
    /// K/s that no piece may exceed: what tube and furnace stand, where the recipe's own line keeps to it.
    /// Empty: any.
    Few<double> fastest;
};

/// One keyed ramp, or a dwell between two ramps where the rate is below the smallest.
struct RampPiece {
    Values targets;
    Values rates;                // empty in time form and for a dwell
    std::int64_t ramp_time = -1; // -1 in rate form
    std::int64_t dwell = -1;     // >= 0: this piece holds
    double duration = 0;         // s, until the slowest zone arrives
};

/// How far a plan is from what was asked.
struct RampErrors {
    double setpoint_error = 0; // K, from the ideal line at the same time after its beginning
    double instant_error = 0;  // s, of its end
};

struct RampPlan : RampErrors {
    std::vector<RampPiece> pieces; // empty: `problem` says why
    std::size_t rows = 0;          // segments; fewer than pieces where a ramp and a dwell share one
    bool out_of_range = false;     // the problem is a rate or time outside the controller's range
    std::string problem;
    std::string why; // why there is more than one piece; empty for one
};

/// The plan of a line that one segment follows.
struct OneRamp : RampErrors {
    RampPiece piece;
};

/// The plan with the fewest segments inside both budgets; among equals the one with the smaller error, whether
/// keyed by rate or by time.
RampPlan plan_ramp(const Keys& controller, const RampAsk& ask);
/// The same where one segment does, which takes no search, written over `plan`; else false.
bool plan_plainly(const Keys& controller, const RampAsk& ask, OneRamp& plan);

enum class Rounding : std::uint8_t {
    nearest, // fixed times
    up       // sufficient times
};

struct DwellPlan {
    Few<std::int64_t> pieces; // dwell indices; empty: not settable
    double duration = 0;      // s, of all pieces
};

/// A time as one dwell, or as several where it is longer than the longest. A time above 0 never becomes 0.
DwellPlan plan_dwell(const Keys& controller, double seconds, Rounding rounding);

/// The set-point of each zone after `elapsed` s of a piece that starts at `from`, degC.
Degrees setpoint_in(const Keys& controller, const RampPiece& piece, const Degrees& from, double elapsed);

} // namespace athanor::legalise
