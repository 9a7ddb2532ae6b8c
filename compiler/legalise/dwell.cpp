#include "compiler/legalise/rounding.hpp"

#include <algorithm>
#include <cmath>

namespace athanor::legalise {

std::optional<std::int64_t> settable_setpoint(const Keys& controller, double degC, double budget) {
    const std::int64_t k = nearest_setpoint(controller, degC);
    if (std::abs(controller.setpoint.value(k) - degC) > budget + 1e-9) return std::nullopt;
    return k;
}

DwellPlan plan_dwell(const Keys& controller, double seconds, Rounding rounding) {
    const Steps& grid = controller.dwell;
    const std::int64_t most = grid.count();
    DwellPlan plan;
    if (!(seconds >= 0) || !std::isfinite(seconds)) return plan;
    std::int64_t k = rounding == Rounding::up ? grid.above(seconds) : grid.nearest(seconds);
    if (k < 0) k = 0;
    if (seconds > 0 && k == 0 && grid.value(0) <= 0) k = 1;
    if (k <= most) {
        plan.pieces.push_back(k);
        plan.duration = grid.value(k);
        return plan;
    }
    const double longest = grid.value(most);
    const double shortest = grid.value(0);
    if (!(longest > 0)) return plan;
    // Even pieces: the last one is then never a stub that a person would take for a slip.
    auto count = static_cast<std::int64_t>(std::ceil(seconds / longest - 1e-12));
    if (count < 1 || count > 1'000'000) return plan;
    double above_shortest = seconds - static_cast<double>(count) * shortest;
    if (above_shortest < 0) { // between what so many pieces take at least, and one less at most
        const double missing = seconds - static_cast<double>(count - 1) * longest;
        if (rounding == Rounding::nearest && missing < -above_shortest) {
            --count;
            above_shortest = static_cast<double>(count) * (longest - shortest);
        } else {
            above_shortest = 0;
        }
    }
    Grid steps = grid.grid();
    steps.lo = {0, 0};
    std::int64_t rest = rounding == Rounding::up ? steps.above(above_shortest) : steps.nearest(above_shortest);
    for (std::int64_t i = 0; i < count; ++i) {
        const std::int64_t piece = std::min(most, (rest + (count - i) - 1) / (count - i));
        plan.pieces.push_back(piece);
        plan.duration += grid.value(piece);
        rest -= piece;
    }
    if (rest > 0) { // the last step did not fit: one piece more
        plan.pieces.push_back(rest);
        plan.duration += grid.value(plan.pieces.back());
    }
    return plan;
}

} // namespace athanor::legalise
