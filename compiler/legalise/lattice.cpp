// The fewest pieces of a ramp that alternates between two ways of going on, over all corners at once.
//
// A corner is a settable set-point and a count: of set-point steps that went fast, or of dwell steps that were
// waited. After n pieces the counts that can be had at a set-point have no gaps, so that their smallest and
// largest say all. Layer n follows from layer n - 1 in one sweep over the set-points; the first layer that ends
// in time is the answer, and one way to it is found backwards.
#include "compiler/legalise/ramp_shapes.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace athanor::legalise {

namespace {

/// Corners times pieces that are kept; beyond them the greedy zigzag alone is used.
constexpr std::size_t most_corners = 300'000;

struct Range {
    std::int64_t lo = 1, hi = 0;
    bool empty() const { return lo > hi; }
    bool holds(std::int64_t k) const { return lo <= k && k <= hi; }
    Range with(Range other) const {
        if (empty()) return other;
        if (other.empty()) return *this;
        return {std::min(lo, other.lo), std::max(hi, other.hi)};
    }
    Range within(Range other) const {
        if (empty() || other.empty()) return {};
        return {std::max(lo, other.lo), std::min(hi, other.hi)};
    }
};

class Lattice {
public:
    /// `slow` < 0: a dwell.
    Lattice(const program::Controller& c, const RampAsk& ask, std::int64_t fast, std::int64_t slow)
        : c_(c), ask_(ask), fast_(fast), slow_(slow), fast_rate_(rate_in_K_per_s(c, fast)),
          slow_rate_(slow >= 0 ? rate_in_K_per_s(c, slow) : 0), from_(ask.from[0]),
          up_(c.setpoint.value(ask.to[0]) > from_), step_(c.setpoint.step.value()),
          dwell_lo_(c.dwell.lo.value()), dwell_step_(c.dwell.step.value()), budget_(instant_budget(c)) {
        first_ = up_ ? c.setpoint.above(from_ + 1e-7 * step_) : c.setpoint.below(from_ - 1e-7 * step_);
        const std::int64_t steps = up_ ? ask.to[0] - first_ : first_ - ask.to[0];
        count_ = steps < 0 ? 0 : static_cast<std::size_t>(steps) + 1;
        const double sign = up_ ? 1 : -1;
        offset_ = sign * (from_ - ask.from_ideal[0]);
        length_ = sign * (ask.to_ideal[0] - ask.from_ideal[0]);
    }

    std::optional<RampPlan> plan(bool fast_first, std::size_t most_rows) {
        if (count_ == 0 || !(length_ > 0)) return std::nullopt;
        fast_first_ = fast_first;
        const std::size_t most_layers =
            std::min(most_corners / (count_ + 1), slow_ < 0 && ask_.fused ? 2 * most_rows : most_rows);
        layers_.assign(1, std::vector<Range>(count_ + 1));
        layers_[0][0] = {0, 0};
        while (layers_.size() <= most_layers) {
            layers_.push_back(next());
            if (auto found = finish()) return found;
            if (std::all_of(layers_.back().begin(), layers_.back().end(),
                            [](const Range& r) { return r.empty(); }))
                break;
        }
        return std::nullopt;
    }

private:
    bool is_fast(std::size_t layer) const { return (layer % 2 == 1) == fast_first_; }
    std::size_t dwells(std::size_t layer) const { return fast_first_ ? layer / 2 : (layer + 1) / 2; }
    double distance(std::size_t i) const { return i == 0 ? 0 : std::abs(c_.setpoint.value(index(i)) - from_); }
    std::int64_t index(std::size_t i) const {
        const auto steps = static_cast<std::int64_t>(i) - 1;
        return up_ ? first_ + steps : first_ - steps;
    }
    double way(std::size_t i) const { return i == 0 ? 0 : first_way() + static_cast<double>(i - 1) * step_; }
    double first_way() const { return std::abs(c_.setpoint.value(first_) - from_); }
    /// K that went fast where the count is 0.
    double fast_at_zero() const { return fast_first_ ? first_way() : 0; }

    double time(std::size_t i, std::int64_t z, std::size_t layer) const {
        if (i == 0 && slow_ >= 0) return 0;
        if (slow_ < 0)
            return way(i) / fast_rate_ + static_cast<double>(dwells(layer)) * dwell_lo_ +
                   static_cast<double>(z) * dwell_step_;
        const double went_fast = fast_at_zero() + static_cast<double>(z) * step_;
        return went_fast / fast_rate_ + (way(i) - went_fast) / slow_rate_;
    }
    /// The counts whose instant lies between two.
    Range counts(std::size_t i, double from, double to, std::size_t layer) const {
        double lo = 0, hi = 0;
        if (slow_ < 0) {
            const double base = way(i) / fast_rate_ + static_cast<double>(dwells(layer)) * dwell_lo_;
            lo = (from - base) / dwell_step_;
            hi = (to - base) / dwell_step_;
        } else {
            const double gain = 1 / slow_rate_ - 1 / fast_rate_; // s that a fast K saves
            lo = ((way(i) / slow_rate_ - to) / gain - fast_at_zero()) / step_;
            hi = ((way(i) / slow_rate_ - from) / gain - fast_at_zero()) / step_;
        }
        Range range{static_cast<std::int64_t>(std::ceil(lo - 1e-7)),
                    static_cast<std::int64_t>(std::floor(hi + 1e-7))};
        range.lo = std::max<std::int64_t>(range.lo, 0);
        if (slow_ >= 0) range.hi = std::min<std::int64_t>(range.hi, static_cast<std::int64_t>(i));
        return range;
    }
    /// The counts that leave the set-point inside the budget about the asked line.
    Range tube(std::size_t i, std::size_t layer) const {
        const double at = offset_ + way(i);
        if (at - ask_.budget > length_) return {};
        const double earliest = std::max(0.0, (at - ask_.budget) / length_ * ask_.duration);
        const double latest = at + ask_.budget >= length_ ? ask_.duration + budget_
                                                          : (at + ask_.budget) / length_ * ask_.duration;
        return counts(i, earliest, latest, layer);
    }

    /// A line is over where its end shows: only its own end may lie there.
    bool corner(std::size_t i) const {
        return i == count_ || length_ - (offset_ + way(i)) > 0.5 * step_ + 1e-6;
    }

    std::vector<Range> next() const {
        const std::size_t layer = layers_.size();
        const std::vector<Range>& before = layers_.back();
        std::vector<Range> after(count_ + 1);
        if (slow_ < 0 && !is_fast(layer)) {
            const std::int64_t least = c_.dwell.value(0) > 0 ? 0 : 1;
            for (std::size_t i = 0; i <= count_; ++i)
                if (!before[i].empty())
                    after[i] =
                        Range{before[i].lo + least, before[i].hi + c_.dwell.count()}.within(tube(i, layer));
            return after;
        }
        // Along a fast piece what stays is the count of slow steps, along a slow one that of fast steps.
        const bool shifted = slow_ >= 0 && is_fast(layer);
        Range run;
        for (std::size_t i = 0; i <= count_; ++i) {
            const auto here = static_cast<std::int64_t>(i);
            const Range limits = tube(i, layer);
            const auto turned = [&](Range r) {
                return r.empty() || !shifted ? r : Range{here - r.hi, here - r.lo};
            };
            if (i > 0) {
                run = run.within(turned(limits));
                if (corner(i)) after[i] = turned(run);
            }
            Range from = before[i];
            // From the start the first step may be a part of one: the count begins behind it.
            if (i == 0 && !from.empty() && slow_ >= 0)
                from = shifted && fast_first_ ? Range{-1, -1} : Range{0, 0};
            run = run.with(turned(from));
        }
        return after;
    }

    std::optional<RampPlan> finish() const {
        const std::size_t layer = layers_.size() - 1;
        const Range inside = layers_[layer][count_].within(
            counts(count_, ask_.duration - budget_, ask_.duration + budget_, layer));
        // A line that ended in a dwell would be over before its time.
        if (inside.empty() || (slow_ < 0 && !is_fast(layer))) return std::nullopt;
        std::int64_t best = inside.lo;
        const Range exact = counts(count_, ask_.duration, ask_.duration, layer);
        for (const std::int64_t near : {exact.lo, exact.hi}) {
            const std::int64_t z = std::clamp(near, inside.lo, inside.hi);
            if (std::abs(time(count_, z, layer) - ask_.duration) <
                std::abs(time(count_, best, layer) - ask_.duration))
                best = z;
        }
        return backwards(best);
    }

    std::optional<RampPlan> backwards(std::int64_t z) const {
        RampPlan plan;
        std::size_t i = count_;
        for (std::size_t layer = layers_.size() - 1; layer > 0; --layer) {
            const std::vector<Range>& before = layers_[layer - 1];
            RampPiece piece;
            piece.targets = {index(i)};
            if (slow_ < 0 && !is_fast(layer)) {
                const std::int64_t middle = (before[i].lo + before[i].hi) / 2;
                const std::int64_t least = c_.dwell.value(0) > 0 ? 0 : 1;
                const std::int64_t k = std::clamp(z - middle, std::max(least, z - before[i].hi),
                                                  std::min(c_.dwell.count(), z - before[i].lo));
                piece.dwell = k;
                piece.duration = c_.dwell.value(k);
                z -= k;
            } else {
                const bool shifted = slow_ >= 0 && is_fast(layer);
                std::size_t came = count_;
                std::int64_t came_z = 0;
                double nearest = std::numeric_limits<double>::infinity();
                for (std::size_t p = 0; p < i; ++p) {
                    std::int64_t there = shifted ? z - static_cast<std::int64_t>(i - p) : z;
                    if (p == 0 && slow_ >= 0) {
                        if (layer != 1) continue;
                        there = there == (shifted ? -1 : 0) ? 0 : -1;
                    }
                    if (!before[p].holds(there)) continue;
                    const double ideal = std::min(1.0, time(p, there, layer - 1) / ask_.duration) * length_;
                    const double off = std::abs(offset_ + way(p) - ideal);
                    if (off >= nearest) continue;
                    nearest = off;
                    came = p;
                    came_z = there;
                }
                if (came == count_) return std::nullopt;
                const std::int64_t k = is_fast(layer) ? fast_ : slow_;
                piece.rates = {k};
                piece.duration = (distance(i) - distance(came)) / rate_in_K_per_s(c_, k);
                i = came;
                z = came_z;
            }
            plan.pieces.push_back(std::move(piece));
        }
        if (i != 0) return std::nullopt;
        std::reverse(plan.pieces.begin(), plan.pieces.end());
        if (!judge_ramp(c_, ask_, plan)) return std::nullopt;
        plan.why = fmt::format("{} lies between the settable rates {} K/min and {} K/min",
                               to_text(length_ / ask_.duration, Kind::rate),
                               slow_ >= 0 ? c_.rate->text(slow_) : "0", c_.rate->text(fast_));
        return plan;
    }

    const program::Controller& c_;
    const RampAsk& ask_;
    std::int64_t fast_, slow_;
    double fast_rate_, slow_rate_; // K/s; slow 0 = dwell
    double from_;
    bool up_;
    double step_, dwell_lo_, dwell_step_, budget_;
    std::int64_t first_ = 0; // the first settable set-point of the way
    std::size_t count_ = 0;  // settable set-points of the way, the last one is its end
    double offset_ = 0, length_ = 0;
    bool fast_first_ = true;
    std::vector<std::vector<Range>> layers_;
};

} // namespace

std::optional<RampPlan> on_lattice(const program::Controller& c, const RampAsk& ask) {
    if (!c.rate || !(ask.duration > 0) || ask.most_pieces == 0) return std::nullopt;
    const double mean = std::abs(c.setpoint.value(ask.to[0]) - ask.from[0]) / ask.duration;
    const std::int64_t slow = std::min(c.rate->below(mean * 60.0), c.rate->count());
    const std::int64_t fast = slow + 1;
    if (fast > c.rate->count() || !(rate_in_K_per_s(c, fast) > 0)) return std::nullopt;
    std::optional<RampPlan> best;
    std::size_t most = ask.most_pieces;
    const auto offer = [&](std::int64_t below, bool fast_first) {
        if (most == 0) return;
        auto plan = Lattice(c, ask, fast, below).plan(fast_first, most);
        if (!plan) return;
        plan->rows = rows_of(plan->pieces, ask.fused);
        if (plan->rows > most) return;
        most = plan->rows - 1;
        best = std::move(plan);
    };
    const bool two_rates = slow >= 0 && rate_in_K_per_s(c, slow) > 0;
    for (const bool fast_first : {true, false}) {
        if (two_rates) offer(slow, fast_first);
    }
    offer(-1, true);
    return best;
}

} // namespace athanor::legalise
