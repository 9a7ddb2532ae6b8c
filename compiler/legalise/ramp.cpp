#include "compiler/legalise/rounding.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::legalise {

namespace {

constexpr double slack = 1e-9;

double rate_in_K_per_s(const program::Controller& c, std::int64_t k) {
    return c.rate->value(k) / 60.0;
}

std::vector<double> values(const program::Controller& c, const std::vector<std::int64_t>& targets) {
    std::vector<double> degC;
    degC.reserve(targets.size());
    for (const std::int64_t k : targets) degC.push_back(c.setpoint.value(k));
    return degC;
}

/// Fills the errors of a plan and says whether it stays inside both budgets. Both paths are piecewise straight,
/// so the largest difference lies at a corner.
bool judge(const program::Controller& c, const RampAsk& ask, RampPlan& plan) {
    double total = 0;
    for (const RampPiece& piece : plan.pieces) total += piece.duration;
    // The recipe's line ends where it ends: a plan that is late runs behind it, one that is early before it.
    plan.instant_error = std::abs(total - ask.duration);
    plan.setpoint_error = 0;
    std::vector<double> at = ask.from;
    double elapsed = 0;
    const auto compare = [&](double time, const std::vector<double>& actual) {
        const double share = ask.duration > 0 ? std::min(1.0, time / ask.duration) : 1.0;
        for (std::size_t z = 0; z < actual.size(); ++z) {
            const double ideal = ask.from_ideal[z] + (ask.to_ideal[z] - ask.from_ideal[z]) * share;
            plan.setpoint_error = std::max(plan.setpoint_error, std::abs(actual[z] - ideal));
        }
    };
    compare(0, at);
    for (const RampPiece& piece : plan.pieces) {
        // In rate form a zone may arrive before the slowest one: a corner of its own.
        for (std::size_t z = 0; z < piece.rates.size(); ++z) {
            const double arrives =
                std::abs(c.setpoint.value(piece.targets[z]) - at[z]) / rate_in_K_per_s(c, piece.rates[z]);
            compare(elapsed + arrives, setpoint_in(c, piece, at, arrives));
        }
        if (elapsed < ask.duration && ask.duration < elapsed + piece.duration)
            compare(ask.duration, setpoint_in(c, piece, at, ask.duration - elapsed));
        elapsed += piece.duration;
        at = piece.dwell >= 0 ? at : values(c, piece.targets);
        compare(elapsed, at);
    }
    return plan.instant_error <= instant_budget(c) + slack && plan.setpoint_error <= ask.budget + slack;
}

std::optional<RampPiece> rate_piece(const program::Controller& c, const std::vector<double>& from,
                                    std::vector<std::int64_t> to, double duration) {
    RampPiece piece;
    piece.targets = std::move(to);
    for (std::size_t z = 0; z < from.size(); ++z) {
        const double distance = std::abs(c.setpoint.value(piece.targets[z]) - from[z]);
        std::int64_t k = 0;
        if (distance > slack) {
            k = duration > 0 ? c.rate->nearest(distance / duration * 60.0) : c.rate->count() + 1;
            if (!c.rate->holds(k) || rate_in_K_per_s(c, k) <= 0) return std::nullopt;
            piece.duration = std::max(piece.duration, distance / rate_in_K_per_s(c, k));
        } else if (rate_in_K_per_s(c, 0) <= 0) {
            k = 1; // a zone that stays: any rate, but one that divides
        }
        piece.rates.push_back(k);
    }
    return piece;
}

std::optional<RampPlan> by_rate(const program::Controller& c, const RampAsk& ask) {
    const auto piece = rate_piece(c, ask.from, ask.to, ask.duration);
    if (!piece) return std::nullopt;
    RampPlan plan;
    plan.pieces.push_back(*piece);
    if (!judge(c, ask, plan)) return std::nullopt;
    return plan;
}

/// Set-points of the straight way from `from` to `to` at a share of it.
std::vector<std::int64_t> on_the_way(const program::Controller& c, const RampAsk& ask, double share) {
    std::vector<std::int64_t> targets;
    for (std::size_t z = 0; z < ask.from.size(); ++z) {
        const double degC = ask.from[z] + (c.setpoint.value(ask.to[z]) - ask.from[z]) * share;
        targets.push_back(std::clamp(c.setpoint.nearest(degC), std::int64_t{0}, c.setpoint.count()));
    }
    return targets;
}

std::optional<RampPlan> by_time(const program::Controller& c, const RampAsk& ask) {
    const Grid& grid = *c.ramp_time;
    const double longest = grid.value(grid.count());
    if (!(longest > 0)) return std::nullopt;
    const auto count =
        std::max<std::int64_t>(1, static_cast<std::int64_t>(std::ceil(ask.duration / longest - 1e-12)));
    if (count > static_cast<std::int64_t>(ask.most_pieces)) return std::nullopt;
    RampPlan plan;
    double elapsed = 0;
    for (std::int64_t i = 1; i <= count; ++i) {
        RampPiece piece;
        const double share = static_cast<double>(i) / static_cast<double>(count);
        piece.targets = i == count ? ask.to : on_the_way(c, ask, share);
        piece.ramp_time = std::min(grid.nearest(ask.duration * share - elapsed), grid.count());
        if (piece.ramp_time < 0) return std::nullopt;
        piece.duration = grid.value(piece.ramp_time);
        if (!(piece.duration > 0)) return std::nullopt;
        elapsed += piece.duration;
        plan.pieces.push_back(std::move(piece));
    }
    if (count > 1) plan.why = fmt::format("a ramp lasts at most {}", to_text(longest, Kind::time));
    if (!judge(c, ask, plan)) return std::nullopt;
    return plan;
}

/// One zone on a zigzag of the two settable rates beside the one asked, on settable set-points, inside a tube
/// of `room` K about the straight way.
class Zigzag {
public:
    Zigzag(const program::Controller& c, const RampAsk& ask)
        : c_(c), ask_(ask), from_(ask.from[0]), to_(c.setpoint.value(ask.to[0])), way_(std::abs(to_ - from_)),
          up_(to_ > from_), mean_(way_ / ask.duration) {
        room_ = ask.budget - std::max(std::abs(from_ - ask.from_ideal[0]), std::abs(to_ - ask.to_ideal[0]));
        const std::int64_t k = c.rate->below(mean_ * 60.0);
        slow_ = std::min(k, c.rate->count());
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
        plan_.why =
            fmt::format("{} lies between the settable rates {} K/min and {} K/min", to_text(mean_, Kind::rate),
                        slow_ >= 0 ? c_.rate->text(slow_) : "0", c_.rate->text(fast_));
        if (!judge(c_, ask_, plan_)) return std::nullopt;
        return plan_;
    }

    const program::Controller& c_;
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

/// Several zones in rate form: even pieces, each of which makes good what the one before it lost.
std::optional<RampPlan> in_even_pieces(const program::Controller& c, const RampAsk& ask) {
    for (std::size_t count = 2; count <= std::min<std::size_t>(ask.most_pieces, 512); ++count) {
        RampPlan plan;
        std::vector<double> at = ask.from;
        double elapsed = 0;
        for (std::size_t i = 1; i <= count; ++i) {
            const double share = static_cast<double>(i) / static_cast<double>(count);
            auto piece = rate_piece(c, at, i == count ? ask.to : on_the_way(c, ask, share),
                                    ask.duration * share - elapsed);
            if (!piece || !(piece->duration > 0)) break;
            elapsed += piece->duration;
            at = values(c, piece->targets);
            plan.pieces.push_back(std::move(*piece));
        }
        plan.why = "no settable rates take every zone along its line in one piece";
        if (plan.pieces.size() == count && judge(c, ask, plan)) return plan;
        if (count > 8) count += count / 8;
    }
    return std::nullopt;
}

std::string describe_problem(const program::Controller& c, const RampAsk& ask, bool& out_of_range) {
    double fastest = 0;
    for (std::size_t z = 0; z < ask.from.size(); ++z)
        fastest = std::max(fastest, std::abs(c.setpoint.value(ask.to[z]) - ask.from[z]) / ask.duration);
    const std::string asked = to_text(fastest, Kind::rate);
    std::string text;
    if (c.rate) {
        const std::int64_t last = c.rate->count();
        if (c.rate->nearest(fastest * 60.0) > last || !(ask.duration > 0)) {
            out_of_range = true;
            text = fmt::format("{} is faster than its fastest rate of {} K/min", asked, c.rate->text(last));
        } else {
            const std::int64_t k = std::max<std::int64_t>(0, c.rate->nearest(fastest * 60.0));
            const double off = fastest * ask.duration / rate_in_K_per_s(c, k) - ask.duration;
            text = fmt::format("its nearest rate to {} is {} K/min, which ends {} {}", asked, c.rate->text(k),
                               to_text(std::abs(off), Kind::time), off > 0 ? "late" : "early");
        }
    }
    if (c.ramp_time) {
        const std::int64_t last = c.ramp_time->count();
        const std::int64_t k = std::clamp(c.ramp_time->nearest(ask.duration), std::int64_t{0}, last);
        if (!text.empty()) text += "; ";
        text += fmt::format("its nearest ramp time to {} is {}", to_text(ask.duration, Kind::time),
                            to_text(c.ramp_time->value(k), Kind::time));
        out_of_range = false;
    }
    if (!c.rate && !c.ramp_time) {
        out_of_range = true;
        text = "it declares no ramps";
    }
    return text;
}

} // namespace

std::vector<double> setpoint_in(const program::Controller& controller, const RampPiece& piece,
                                const std::vector<double>& from, double elapsed) {
    std::vector<double> at = from;
    if (piece.dwell >= 0) return at;
    for (std::size_t z = 0; z < at.size(); ++z) {
        const double to = controller.setpoint.value(piece.targets[z]);
        const double distance = to - from[z];
        if (piece.ramp_time >= 0) {
            at[z] = piece.duration > 0 ? from[z] + distance * std::min(1.0, elapsed / piece.duration) : to;
        } else {
            const double moved = rate_in_K_per_s(controller, piece.rates[z]) * elapsed;
            at[z] = moved >= std::abs(distance) - slack ? to : from[z] + (distance < 0 ? -moved : moved);
        }
    }
    return at;
}

RampPlan plan_ramp(const program::Controller& controller, const RampAsk& ask) {
    std::optional<RampPlan> best;
    const auto error = [&](const RampPlan& plan) {
        return std::max(plan.setpoint_error / ask.budget, plan.instant_error / instant_budget(controller));
    };
    const auto offer = [&](std::optional<RampPlan> plan) {
        if (!plan || plan->pieces.size() > ask.most_pieces) return;
        if (best && plan->pieces.size() > best->pieces.size()) return;
        if (best && plan->pieces.size() == best->pieces.size() && error(*plan) >= error(*best) - slack) return;
        best = std::move(plan);
    };
    if (controller.rate) offer(by_rate(controller, ask));
    if (controller.ramp_time) offer(by_time(controller, ask));
    if (!best && controller.rate && ask.duration > 0) {
        if (ask.from.size() == 1)
            offer(Zigzag(controller, ask).plan());
        else
            offer(in_even_pieces(controller, ask));
    }
    if (best) return *best;
    RampPlan none;
    none.problem = describe_problem(controller, ask, none.out_of_range);
    return none;
}

} // namespace athanor::legalise
