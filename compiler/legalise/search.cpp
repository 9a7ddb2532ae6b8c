// The fewest pieces of a ramp by trying every settable ramp and dwell that stays near the asked line, one piece
// more in each round. Exact, and given up where the grids are so fine that there is too much to try.
#include "compiler/legalise/ramp_shapes.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <unordered_set>

namespace athanor::legalise {

namespace {

/// Set-points on the way; finer grids are left to the lattice of two rates.
constexpr std::int64_t most_setpoints = 120;
/// Pieces that are tried in all before it is given up; some milliseconds.
constexpr std::size_t most_tried = 20'000;

class Search {
public:
    Search(const program::Controller& c, const RampAsk& ask)
        : c_(c), ask_(ask), from_(ask.from[0]), up_(c.setpoint.value(ask.to[0]) > from_),
          late_(instant_budget(c)) {
        const double sign = up_ ? 1 : -1;
        offset_ = sign * (from_ - ask.from_ideal[0]);
        length_ = sign * (ask.to_ideal[0] - ask.from_ideal[0]);
    }

    std::optional<RampPlan> plan() {
        if (!(length_ > 0) || !(ask_.duration > 0)) return std::nullopt;
        if (length_ / c_.setpoint.step.value() > static_cast<double>(most_setpoints)) return std::nullopt;
        nodes_.push_back({0, 0, 0, none, {}});
        std::vector<std::size_t> layer{0};
        for (std::size_t rows = 1; rows <= ask_.most_pieces && !layer.empty(); ++rows) {
            std::vector<std::size_t> next;
            // A dwell behind a ramp: in the same segment where one holds both.
            for (std::size_t n = 0; n < layer.size(); ++n) dwells(layer[n], ask_.fused ? layer : next);
            for (const std::size_t node : layer) {
                ramps(node, next);
                if (tried_ > most_tried) return std::nullopt;
            }
            if (best_) return std::move(best_);
            layer = std::move(next);
        }
        return std::nullopt;
    }

private:
    static constexpr std::size_t none = static_cast<std::size_t>(-1);
    struct Node {
        std::int64_t target = 0;
        double way = 0, time = 0; // K, s from the beginning
        std::size_t before = none;
        RampPiece piece;
    };

    double way_to(std::int64_t k) const {
        return up_ ? c_.setpoint.value(k) - from_ : from_ - c_.setpoint.value(k);
    }
    double earliest(double way) const {
        return std::max(0.0, (offset_ + way - ask_.budget) / length_ * ask_.duration);
    }
    double latest(double way) const {
        const double at = offset_ + way + ask_.budget;
        return at >= length_ ? ask_.duration + late_ : at / length_ * ask_.duration;
    }
    void reach(std::size_t before, std::int64_t target, double way, RampPiece piece,
               std::vector<std::size_t>& into) {
        ++tried_;
        const double time = nodes_[before].time + piece.duration;
        piece.targets = {target};
        const bool dwell = piece.dwell >= 0;
        if (target == ask_.to[0] && !dwell) return finish(before, piece);
        if (length_ - (offset_ + way) <= 0.5 * c_.setpoint.step.value() + 1e-6) return;
        const std::uint64_t key = static_cast<std::uint64_t>(target) << 42U |
                                  static_cast<std::uint64_t>(std::llround(time * 1000)) << 1U |
                                  static_cast<std::uint64_t>(dwell);
        if (!seen_.insert(key).second) return;
        nodes_.push_back({target, way, time, before, std::move(piece)});
        into.push_back(nodes_.size() - 1);
    }
    void ramps(std::size_t node, std::vector<std::size_t>& next) {
        const double way = nodes_[node].way;
        const double time = nodes_[node].time;
        const std::int64_t step = up_ ? 1 : -1;
        std::int64_t first = 0;
        if (nodes_[node].before == none)
            first = up_ ? c_.setpoint.above(from_ + 1e-7) : c_.setpoint.below(from_ - 1e-7);
        else
            first = nodes_[node].target + step;
        for (std::int64_t k = first; up_ ? k <= ask_.to[0] : k >= ask_.to[0]; k += step) {
            const double there = way_to(k);
            const double distance = there - way;
            const double shortest = std::max(1e-6, earliest(there) - time - slack);
            const double longest = latest(there) - time + slack;
            if (++tried_ > most_tried) return;
            if (longest < shortest) continue;
            if (c_.rate) {
                const std::int64_t last =
                    std::min(c_.rate->below(distance / shortest * 60.0), c_.rate->count());
                for (std::int64_t r = std::max<std::int64_t>(0, c_.rate->above(distance / longest * 60.0));
                     r <= last && tried_ <= most_tried; ++r) {
                    if (!(rate_in_K_per_s(c_, r) > 0)) continue;
                    RampPiece piece;
                    piece.rates = {r};
                    piece.duration = distance / rate_in_K_per_s(c_, r);
                    reach(node, k, there, std::move(piece), next);
                }
            }
            if (c_.ramp_time) {
                const std::int64_t last = std::min(c_.ramp_time->below(longest), c_.ramp_time->count());
                for (std::int64_t t = std::max<std::int64_t>(0, c_.ramp_time->above(shortest));
                     t <= last && tried_ <= most_tried; ++t) {
                    RampPiece piece;
                    piece.ramp_time = t;
                    piece.duration = c_.ramp_time->value(t);
                    reach(node, k, there, std::move(piece), next);
                }
            }
        }
    }
    void dwells(std::size_t node, std::vector<std::size_t>& into) {
        if (nodes_[node].before == none || nodes_[node].piece.dwell >= 0) return;
        const double longest = latest(nodes_[node].way) - nodes_[node].time + slack;
        const std::int64_t last = std::min(c_.dwell.below(longest), c_.dwell.count());
        for (std::int64_t k = c_.dwell.value(0) > 0 ? 0 : 1; k <= last && tried_ <= most_tried; ++k) {
            RampPiece piece;
            piece.dwell = k;
            piece.duration = c_.dwell.value(k);
            reach(node, nodes_[node].target, nodes_[node].way, std::move(piece), into);
        }
    }
    void finish(std::size_t before, const RampPiece& last) {
        if (std::abs(nodes_[before].time + last.duration - ask_.duration) > late_ + slack) return;
        RampPlan plan;
        plan.pieces.push_back(last);
        for (std::size_t n = before; nodes_[n].before != none; n = nodes_[n].before)
            plan.pieces.push_back(nodes_[n].piece);
        std::reverse(plan.pieces.begin(), plan.pieces.end());
        if (!judge_ramp(c_, ask_, plan)) return;
        const double error = std::max(plan.setpoint_error / ask_.budget, plan.instant_error / late_);
        if (best_ && error >= error_ - slack) return;
        error_ = error;
        plan.why =
            fmt::format("no fewer settable pieces follow {} for {}",
                        to_text(length_ / ask_.duration, Kind::rate), to_text(ask_.duration, Kind::time));
        best_ = std::move(plan);
    }

    const program::Controller& c_;
    const RampAsk& ask_;
    double from_;
    bool up_;
    double late_;
    double offset_ = 0, length_ = 0;
    std::vector<Node> nodes_;
    std::unordered_set<std::uint64_t> seen_;
    std::size_t tried_ = 0;
    std::optional<RampPlan> best_;
    double error_ = 0;
};

} // namespace

std::optional<RampPlan> by_search(const program::Controller& c, const RampAsk& ask) {
    return Search(c, ask).plan();
}

} // namespace athanor::legalise
