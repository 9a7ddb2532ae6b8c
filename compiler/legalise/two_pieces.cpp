// A ramp in two ramps, each by rate or by time.
#include "compiler/legalise/ramp_shapes.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace athanor::legalise {

namespace {

/// Rates on each side of the one asked that are tried: those beside it leave the line least, the others only
/// help where their corners fall better on the set-points.
constexpr std::int64_t rates_beside = 6;
/// Ramp times tried for the first of two pieces, from the longest that fits down.
constexpr std::int64_t times_tried = 64;

class TwoPieces {
public:
    TwoPieces(const Keys& c, const RampAsk& ask)
        : c_(c), ask_(ask), from_(ask.from[0]), to_(c.setpoint.value(ask.to[0])), way_(std::abs(to_ - from_)),
          up_(to_ > from_) {
        if (c.rate && way_ > slack) {
            const std::int64_t k = rate_below(c, way_ / ask.duration);
            const std::int64_t last = c.rate->count();
            for (std::int64_t i = std::max<std::int64_t>(0, k - rates_beside + 1);
                 i <= std::min(last, k + rates_beside); ++i)
                if (rate_in_K_per_s(c, i) > 0) rates_.push_back(i);
        }
    }

    std::optional<RampPlan> plan() {
        if (!(way_ > slack) || ask_.most_pieces < 2) return std::nullopt;
        two_rates();
        rate_and_time();
        return std::move(best_);
    }

private:
    RampPiece by_rate(std::int64_t k, std::int64_t target, double distance) const {
        RampPiece piece;
        piece.targets = {target};
        piece.rates = {k};
        piece.duration = distance / rate_in_K_per_s(c_, k);
        return piece;
    }
    RampPiece by_time(std::int64_t k, std::int64_t target) const {
        RampPiece piece;
        piece.targets = {target};
        piece.ramp_time = k;
        piece.duration = c_.ramp_time->value(k);
        return piece;
    }
    /// `why`: words it, for the best so far alone.
    template<class Why>
    void offer(RampPiece first, RampPiece second, Why why) {
        if (!(first.duration > 0) || !(second.duration > 0)) return;
        RampPlan plan;
        plan.pieces = {std::move(first), std::move(second)};
        if (!judge_ramp(c_, ask_, plan)) return;
        const double error =
            std::max(plan.setpoint_error / ask_.budget, plan.instant_error / instant_budget(c_));
        if (best_ && error >= error_ - slack) return;
        error_ = error;
        plan.why = why();
        best_ = std::move(plan);
    }

    /// The settable set-points beside `distance` K of the way.
    std::array<std::int64_t, 2> beside(double distance) const {
        const double at = up_ ? from_ + distance : from_ - distance;
        return {c_.setpoint.below(at), c_.setpoint.above(at)};
    }
    double distance_to(std::int64_t target) const {
        const double d = c_.setpoint.value(target) - from_;
        return up_ ? d : -d;
    }
    bool on_the_way(std::int64_t target) const {
        return c_.setpoint.holds(target) && distance_to(target) > slack && distance_to(target) < way_ - slack;
    }

    void two_rates() {
        const double budget = instant_budget(c_);
        for (const std::int64_t a : rates_)
            for (const std::int64_t b : rates_) {
                const double ra = rate_in_K_per_s(c_, a);
                const double rb = rate_in_K_per_s(c_, b);
                if ((way_ / ra - ask_.duration) * (way_ / rb - ask_.duration) >= 0) continue;
                // The corner that ends in time, and the first and last that end inside the budget.
                const double span = 1 / ra - 1 / rb;
                for (const double late : {0.0, budget, -budget}) {
                    const double corner = (ask_.duration + late - way_ / rb) / span;
                    for (const std::int64_t target : beside(corner)) {
                        if (!on_the_way(target)) continue;
                        const double distance = distance_to(target);
                        offer(by_rate(a, target, distance), by_rate(b, ask_.to[0], way_ - distance), [&] {
                            return fmt::format("{} lies between the settable rates {} K/min and {} K/min",
                                               to_text(way_ / ask_.duration, Kind::rate),
                                               c_.rate->text(std::min(a, b)), c_.rate->text(std::max(a, b)));
                        });
                    }
                }
            }
    }

    void rate_and_time() {
        if (!c_.ramp_time) return;
        const std::int64_t longest = std::min(c_.ramp_time->below(ask_.duration), c_.ramp_time->count());
        const auto why = [] {
            return std::string(
                "neither a settable rate nor a settable time alone ends when the recipe's line does");
        };
        for (std::int64_t t = longest; t >= 0 && t > longest - times_tried; --t) {
            const double rest = ask_.duration - c_.ramp_time->value(t);
            for (const std::int64_t k : rates_) {
                const double by_the_rate = rest * rate_in_K_per_s(c_, k);
                for (const std::int64_t target : beside(way_ - by_the_rate))
                    if (on_the_way(target))
                        offer(by_time(t, target), by_rate(k, ask_.to[0], way_ - distance_to(target)), why);
                for (const std::int64_t target : beside(by_the_rate))
                    if (on_the_way(target))
                        offer(by_rate(k, target, distance_to(target)), by_time(t, ask_.to[0]), why);
            }
        }
    }

    const Keys& c_;
    const RampAsk& ask_;
    double from_, to_, way_;
    bool up_;
    std::vector<std::int64_t> rates_;
    std::optional<RampPlan> best_;
    double error_ = 0;
};

} // namespace

std::optional<RampPlan> in_two(const Keys& c, const RampAsk& ask) {
    return TwoPieces(c, ask).plan();
}

} // namespace athanor::legalise
