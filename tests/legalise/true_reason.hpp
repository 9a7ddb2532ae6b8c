#pragma once
#include "compiler/program/program.hpp"
#include "compiler/replay/replay.hpp"
#include "compiler/source/diagnostic.hpp"
#include "compiler/timeline/timeline.hpp"

#include <algorithm>
#include <cmath>

/// Is a refusal true? Judged from the recipe's numbers and the controller's grids alone. A line counts as one
/// that can be keyed where a way to key it is easily written down: one rate, one time, a zigzag of the two
/// rates beside it, a staircase under the slowest. One zone.
namespace athanor::bench {

class TrueReason {
public:
    TrueReason(const timeline::Timeline& recipe, const program::Controller& c)
        : t_(recipe), c_(c), late_(std::max(1.0, c.dwell.step.value() / 2)) {}

    /// `keyed`: what was made of it all the same; a controller that may not hold it says so itself.
    bool holds(Code code, const program::Program& keyed) const {
        if (code == Code::too_many_segments) return !replay::run(keyed, 23).problems.empty();
        for (std::size_t i = 0; i < t_.spans.size(); ++i)
            if (at(code, i)) return true;
        return false;
    }

private:
    bool at(Code code, std::size_t i) const {
        const timeline::Law& law = *t_.laws_of(i);
        const timeline::Ending& ending = t_.spans[i].ending;
        const bool banded = ending.kind == timeline::EndingKind::band;
        switch (code) {
        case Code::value_not_settable:
            if (off_grid(law.to) > (banded ? ending.band : 1)) return true;
            return law.kind == timeline::LawKind::line && !c_.ramp_time && c_.rate &&
                   std::abs(law.rate) * 60 > c_.rate->hi.value() + c_.rate->step.value() / 2 - 1e-9;
        case Code::rounding_too_coarse:
            if (law.kind == timeline::LawKind::line) return !line_can_be_keyed(i);
            return law.kind == timeline::LawKind::hold && hold_is_coarse(i);
        // What rounding moved or narrowed, or what waits behind a ramp for it, may be out of the furnace's
        // reach.
        case Code::condition_unreachable:
            return banded && c_.soak_band &&
                   (off_grid(law.to) > 1e-9 || (law.kind == timeline::LawKind::line && !c_.band_on_ramps) ||
                    off_rate(law) ||
                    c_.soak_band->value(std::min(c_.soak_band->below(ending.band), c_.soak_band->count())) <
                        ending.band - 1e-9);
        case Code::no_soak_band: return banded && !c_.soak_band;
        case Code::no_operator_wait:
            return ending.kind == timeline::EndingKind::person && !c_.operator_wait &&
                   (!c_.holds_at_end || c_.programs < 2 + persons());
        default: return false;
        }
    }
    std::size_t persons() const {
        return static_cast<std::size_t>(
            std::count_if(t_.spans.begin(), t_.spans.end(), [](const timeline::Span& s) {
                return s.ending.kind == timeline::EndingKind::person;
            }));
    }
    /// Keyed by a faster rate and a slower one, which the furnace need not follow as closely.
    bool off_rate(const timeline::Law& law) const {
        if (law.kind != timeline::LawKind::line || !c_.rate) return false;
        const double rate = std::abs(law.rate) * 60;
        return std::abs(c_.rate->value(std::clamp<std::int64_t>(c_.rate->nearest(rate), 0, c_.rate->count())) -
                        rate) > 1e-9;
    }
    double off_grid(double kelvin) const {
        const double degC = kelvin - 273.15;
        return std::abs(
            c_.setpoint.value(std::clamp<std::int64_t>(c_.setpoint.nearest(degC), 0, c_.setpoint.count())) -
            degC);
    }
    /// No dwell, or sum of dwells behind each other, is near the time: their steps alone decide.
    bool hold_is_coarse(std::size_t i) const {
        const double seconds = t_.spans[i].ending.duration;
        return std::abs(c_.dwell.value(c_.dwell.nearest(seconds)) - seconds) > late_;
    }

    /// Sufficient for a way to exist; where it says no, there may be one.
    bool line_can_be_keyed(std::size_t first) const {
        // Neighbours of one rate are one line.
        const timeline::Law& law = *t_.laws_of(first);
        const auto same = [&](std::size_t n) {
            return n < t_.spans.size() && t_.laws_of(n)->kind == timeline::LawKind::line &&
                   std::abs(t_.laws_of(n)->rate - law.rate) < 1e-9;
        };
        if (same(first + 1) || (first > 0 && same(first - 1))) return false;
        const timeline::Ending& ending = t_.spans[first].ending;
        const double budget = ending.kind == timeline::EndingKind::band ? ending.band : 1;
        const double way = std::abs(law.to - law.from);
        const double seconds = ending.duration;
        const double step = c_.setpoint.step.value();
        // Both ends may be off by what the grid leaves, the first by 1 K where it saved a segment before.
        const double begin = first == 0 ? off_grid(law.from) : 1;
        const double off = begin + off_grid(law.to);
        const double rate = way / seconds;
        const auto follows = [&](double takes) {
            return std::abs(takes - seconds) * rate + off <= budget - 1e-6 &&
                   std::abs(takes - seconds) <= late_ - 1e-6;
        };
        if (c_.ramp_time) {
            if (c_.ramp_time->hi.value() > seconds + c_.ramp_time->step.value() &&
                follows(c_.ramp_time->value(c_.ramp_time->nearest(seconds))))
                return true;
        }
        if (!c_.rate) return false;
        double below = 0, above = 0; // K/s
        for (std::int64_t k = 0; k <= c_.rate->count(); ++k) {
            const double r = c_.rate->value(k) / 60;
            if (!(r > 0)) continue;
            // Another end of the line is another way.
            if (follows((way - off) / r) && follows((way + off) / r)) return true;
            if (r <= rate) below = r;
            if (r > rate && above == 0) above = r;
        }
        if (above == 0 || rows_allowed() < 2 * way / step + 2) return false;
        // One step at a time: how far it leaves the line, and how finely its end can be placed.
        const double leaves = below > 0 ? step * std::max(rate / below - 1, 1 - rate / above) : step;
        const double places = below > 0 ? step * (1 / below - 1 / above) : c_.dwell.step.value();
        return 2 * leaves + off + places * rate <= budget && places <= late_ && c_.dwell.lo.value() <= 0;
    }
    double rows_allowed() const { return static_cast<double>(c_.segments) * static_cast<double>(c_.programs); }

    const timeline::Timeline& t_;
    const program::Controller& c_;
    double late_;
};

} // namespace athanor::bench
