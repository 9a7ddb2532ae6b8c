// The short way between two settable rates: through the whole tube about the asked line and back.
#include "compiler/legalise/ramp_shapes.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::legalise {

namespace {

/// One zone on a zigzag of the two settable rates beside the one asked, on settable set-points, inside a tube
/// of `room` K about the straight way.
class Zigzag {
public:
    Zigzag(const Keys& c, const RampAsk& ask)
        : c_(c), ask_(ask), from_(ask.from[0]), to_(c.setpoint.value(ask.to[0])), way_(std::abs(to_ - from_)),
          up_(to_ > from_), mean_(way_ / ask.duration) {
        room_ = ask.budget - std::max(std::abs(from_ - ask.from_ideal[0]), std::abs(to_ - ask.to_ideal[0]));
        slow_ = std::min(rate_below(c, mean_), c.rate->count());
        fast_ = slow_ + 1;
        slow_rate_ = slow_ >= 0 ? rate_in_K_per_s(c, slow_) : 0;
        fast_rate_ = fast_ <= c.rate->count() ? rate_in_K_per_s(c, fast_) : 0;
    }

    std::optional<RampPlan> plan() {
        if (!(room_ > 0) || fast_rate_ <= 0 || slow_rate_ > mean_) return std::nullopt;
        if (slow_rate_ <= 0) return staircase();
        while (plan_.pieces.size() < ask_.most_pieces) {
            if (finish()) return done();
            if (!extend()) return std::nullopt;
        }
        return std::nullopt;
    }

private:
    double ahead() const { return done_ - elapsed_ * mean_; } // K before the straight way
    double rest() const { return way_ - done_; }
    double time_left() const { return ask_.duration - elapsed_; }

    bool ramp(std::int64_t k, std::int64_t target) {
        RampPiece piece;
        piece.targets = {target};
        piece.rates = {k};
        const double reached = std::abs(c_.setpoint.value(target) - from_);
        if (reached <= done_ + slack) return false;
        piece.duration = (reached - done_) / rate_in_K_per_s(c_, k);
        elapsed_ += piece.duration;
        done_ = reached;
        target_ = target;
        plan_.pieces.push_back(std::move(piece));
        return true;
    }
    /// The settable set-point at or before `distance` K of the way.
    std::int64_t target_at(double distance) const {
        return up_ ? c_.setpoint.below(from_ + distance) : c_.setpoint.above(from_ - distance);
    }
    bool inside(double ahead_by) const { return std::abs(ahead_by) <= room_ + slack; }

    bool finish() {
        const double budget = instant_budget(c_);
        // With one piece.
        for (const std::int64_t k : {slow_, fast_}) {
            if (k < 0) continue;
            const double rate = rate_in_K_per_s(c_, k);
            const double late = std::abs(rest() / rate - time_left());
            if (late > budget || !inside(late * std::max(rate, mean_))) continue;
            return ramp(k, ask_.to[0]);
        }
        if (plan_.pieces.size() + 2 > ask_.most_pieces) return false;
        // With two: so much of the rest fast that both end in time.
        const double fast_way = (time_left() - rest() / slow_rate_) / (1 / fast_rate_ - 1 / slow_rate_);
        if (fast_way <= 0 || fast_way >= rest()) return false;
        for (const bool fast_first : {true, false}) {
            const double first = fast_first ? fast_way : rest() - fast_way;
            const double rate = fast_first ? fast_rate_ : slow_rate_;
            if (!inside(ahead() + first - mean_ * first / rate)) continue;
            const std::int64_t corner = target_at(done_ + first);
            if (std::abs(c_.setpoint.value(corner) - from_) <= done_ + slack) continue;
            return ramp(fast_first ? fast_ : slow_, corner) && ramp(fast_first ? slow_ : fast_, ask_.to[0]);
        }
        return false;
    }
    /// One piece that goes through the whole tube to its other wall.
    bool extend() {
        if (ahead() <= 0) {
            const double time = (room_ - ahead()) / (fast_rate_ - mean_);
            return ramp(fast_, target_at(std::min(way_, done_ + fast_rate_ * time)));
        }
        const double time = (room_ + ahead()) / (mean_ - slow_rate_);
        return ramp(slow_, target_at(std::min(way_, done_ + slow_rate_ * time)));
    }
    /// Below the slowest rate: ramps at it with dwells between, symmetrical about the straight way.
    std::optional<RampPlan> staircase() {
        const double swing = way_ * (1 - mean_ / fast_rate_);
        const auto least = static_cast<std::int64_t>(std::ceil(swing / (2 * room_)));
        for (std::int64_t holds = std::max<std::int64_t>(1, least); holds <= 2 * least + 2; ++holds) {
            if (2 * holds + 1 > static_cast<std::int64_t>(ask_.most_pieces)) break;
            plan_.pieces.clear();
            done_ = elapsed_ = 0;
            target_ = -1;
            if (!steps(holds)) continue;
            if (auto found = done()) return found;
        }
        return std::nullopt;
    }
    bool steps(std::int64_t holds) {
        const double count = static_cast<double>(holds);
        const double pause = (ask_.duration - way_ / fast_rate_) / count;
        for (std::int64_t i = 0; i < holds; ++i) {
            const double step = static_cast<double>(i) + 0.5;
            if (!ramp(fast_, target_at(way_ * step / count))) return false;
            // What rounding took from the dwells before is made good here.
            const double due = pause * static_cast<double>(i + 1) + done_ / fast_rate_ - elapsed_;
            const std::int64_t k = c_.dwell.nearest(due);
            if (!c_.dwell.holds(k) || c_.dwell.value(k) <= 0) return false;
            RampPiece piece;
            piece.targets = {target_};
            piece.dwell = k;
            piece.duration = c_.dwell.value(k);
            elapsed_ += piece.duration;
            plan_.pieces.push_back(std::move(piece));
        }
        return ramp(fast_, ask_.to[0]);
    }
    std::optional<RampPlan> done() {
        if (!judge_ramp(c_, ask_, plan_)) return std::nullopt;
        plan_.why =
            fmt::format("{} lies between the settable rates {} K/min and {} K/min", to_text(mean_, Kind::rate),
                        slow_ >= 0 ? c_.rate->text(slow_) : "0", c_.rate->text(fast_));
        return plan_;
    }

    const Keys& c_;
    const RampAsk& ask_;
    double from_, to_, way_;
    bool up_;
    double mean_; // K/s
    double room_ = 0;
    std::int64_t slow_ = 0, fast_ = 0;
    double slow_rate_ = 0, fast_rate_ = 0; // K/s; slow 0 = dwell
    double done_ = 0, elapsed_ = 0;        // K, s
    std::int64_t target_ = -1;
    RampPlan plan_;
};

} // namespace

std::optional<RampPlan> in_zigzag(const Keys& c, const RampAsk& ask) {
    return Zigzag(c, ask).plan();
}

} // namespace athanor::legalise
