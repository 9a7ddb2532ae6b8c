// One ramp in as few segments as the controller needs for it.
#include "compiler/legalise/fewest.hpp"
#include "compiler/legalise/ramp_shapes.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::legalise {

namespace {

Degrees values(const Keys& c, const Values& targets) {
    Degrees degC;
    for (const std::int64_t k : targets) degC.push_back(c.setpoint.value(k));
    return degC;
}

} // namespace

bool shows_end(const Keys& c, const RampAsk& ask, const Degrees& at) {
    const double half = 0.5 * c.setpoint.step() + 1e-6;
    for (std::size_t z = 0; z < at.size(); ++z) {
        const double rest = ask.to_ideal[z] - at[z];
        const double way = ask.to_ideal[z] - ask.from_ideal[z];
        if ((way > 0 ? rest : way < 0 ? -rest : std::abs(rest)) > half) return false;
    }
    return true;
}

namespace {

/// Piece by piece, how far a plan is from what was asked. Both paths are piecewise straight, so the largest
/// difference lies at a corner.
class Judge {
public:
    explicit Judge(const RampAsk& ask)
        : ask_(ask), begin_(ask.from_ideal.data()), end_(ask.to_ideal.data()), zones_(ask.from.size()) {
        compare(0, [from = ask.from.data()](std::size_t z) { return from[z]; });
    }

    /// False where the piece is faster than tube and furnace stand.
    bool add(const Course& course) {
        const RampPiece& piece = course.kind;
        for (std::size_t z = 0; z < zones_ && piece.dwell < 0; ++z) {
            const double way = std::abs(course.to[z] - course.from[z]);
            const double rate = piece.rates.empty() ? way / piece.duration : course.rates[z];
            if (way > slack && !allowed(ask_, z, rate)) return false;
            // In rate form a zone may arrive before the slowest one, whose end comes below: a corner of its
            // own.
            if (const double arrives = piece.rates.empty() ? piece.duration : way / rate;
                arrives != piece.duration)
                compare(elapsed_ + arrives, [&](std::size_t other) { return course.at(other, arrives); });
        }
        if (elapsed_ < ask_.duration && ask_.duration < elapsed_ + piece.duration)
            compare(ask_.duration, [&](std::size_t z) { return course.at(z, ask_.duration - elapsed_); });
        elapsed_ += piece.duration;
        compare(elapsed_, [to = course.to.data()](std::size_t z) { return to[z]; });
        return true;
    }
    /// Whether all of it stays inside both budgets.
    bool within(const Keys& c, RampErrors& errors) const {
        // The recipe's line ends where it ends: a plan that is late runs behind it, one that is early before
        // it.
        errors = {setpoint_error_, std::abs(elapsed_ - ask_.duration)};
        return errors.instant_error <= instant_budget(c) + slack &&
               errors.setpoint_error <= ask_.budget + slack;
    }

private:
    void compare(double time, auto&& actual) {
        const double share = ask_.duration > 0 ? std::min(1.0, time / ask_.duration) : 1.0;
        for (std::size_t z = 0; z < zones_; ++z) {
            const double ideal = begin_[z] + (end_[z] - begin_[z]) * share;
            setpoint_error_ = std::max(setpoint_error_, std::abs(actual(z) - ideal));
        }
    }

    const RampAsk& ask_;
    const double *begin_, *end_; // of the recipe's line, by zone
    std::size_t zones_;
    double elapsed_ = 0, setpoint_error_ = 0;
};

} // namespace

bool judge_ramp(const Keys& c, const RampAsk& ask, RampPlan& plan) {
    Judge judge(ask);
    Degrees at = ask.from;
    for (const RampPiece& piece : plan.pieces) {
        const Course course(c, piece, at);
        if (!judge.add(course)) return false;
        at = course.to;
        // A line is over where its end shows: nothing that belongs to it can come behind that.
        if (&piece != &plan.pieces.back() && shows_end(c, ask, at)) return false;
    }
    return judge.within(c, plan);
}

namespace {

/// Makes `piece` a ramp by rate; false where no rate is settable or allowed.
bool ramp_by_rate(const Keys& c, const RampAsk& ask, const Degrees& from, const Values& to, double duration,
                  RampPiece& piece) {
    piece.targets = to;
    for (std::size_t z = 0; z < from.size(); ++z) {
        const double distance = std::abs(c.setpoint.value(to[z]) - from[z]);
        std::int64_t k = 0;
        if (distance > slack) {
            k = duration > 0 ? c.rate->nearest(distance / duration * 60.0) : c.rate->count() + 1;
            if (!c.rate->holds(k)) return false;
            double rate = rate_in_K_per_s(c, k);
            if (!allowed(ask, z, rate)) {
                if (!c.rate->holds(--k)) return false;
                rate = rate_in_K_per_s(c, k);
            }
            if (rate <= 0) return false;
            piece.duration = std::max(piece.duration, distance / rate);
        } else if (rate_in_K_per_s(c, 0) <= 0) {
            k = 1; // a zone that stays: any rate, but one that divides
        }
        piece.rates.push_back(k);
    }
    return true;
}

/// Makes `piece` a ramp by time; false where no time is settable.
bool ramp_by_time(const Keys& c, const RampAsk& ask, const Degrees& from, const Values& to, double duration,
                  RampPiece& piece) {
    const Steps& grid = *c.ramp_time;
    piece.targets = to;
    // The time that is just long enough for tube and furnace, where the nearest one is too short.
    double least = 0;
    for (std::size_t z = 0; z < from.size(); ++z)
        least = std::max(least, std::abs(c.setpoint.value(to[z]) - from[z]) / fastest(ask, z) * (1 - slack));
    piece.ramp_time = std::min(std::max(grid.nearest(duration), grid.above(least)), grid.count());
    if (piece.ramp_time < 0) return false;
    piece.duration = grid.value(piece.ramp_time);
    return piece.duration > 0;
}

/// As many ramps by time as a line needs.
std::int64_t times(const Keys& c, const RampAsk& ask) {
    const double longest = c.ramp_time->value(c.ramp_time->count());
    if (!(longest > 0)) return 0;
    return std::max<std::int64_t>(1, static_cast<std::int64_t>(std::ceil(ask.duration / longest - 1e-12)));
}

/// Set-points of the straight way from `from` to `to` at a share of it.
Values on_the_way(const Keys& c, const RampAsk& ask, double share) {
    Values targets;
    for (std::size_t z = 0; z < ask.from.size(); ++z) {
        const double degC = ask.from[z] + (c.setpoint.value(ask.to[z]) - ask.from[z]) * share;
        targets.push_back(std::clamp(c.setpoint.nearest(degC), std::int64_t{0}, c.setpoint.count()));
    }
    return targets;
}

/// Several ramps by time; no pieces where none can be.
RampPlan in_times(const Keys& c, const RampAsk& ask) {
    const std::int64_t count = times(c, ask);
    if (count < 2 || count > static_cast<std::int64_t>(ask.most_pieces)) return {};
    RampPlan plan;
    double elapsed = 0;
    Degrees at = ask.from;
    for (std::int64_t i = 1; i <= count; ++i) {
        RampPiece piece;
        const double share = static_cast<double>(i) / static_cast<double>(count);
        if (!ramp_by_time(c, ask, at, i == count ? ask.to : on_the_way(c, ask, share),
                          ask.duration * share - elapsed, piece))
            return {};
        at = values(c, piece.targets);
        elapsed += piece.duration;
        plan.pieces.push_back(std::move(piece));
    }
    plan.why =
        fmt::format("a ramp lasts at most {}", to_text(c.ramp_time->value(c.ramp_time->count()), Kind::time));
    if (!judge_ramp(c, ask, plan)) plan.pieces.clear();
    return plan;
}

/// Several zones in rate form: even pieces, each of which makes good what the one before it lost.
std::optional<RampPlan> in_even_pieces(const Keys& c, const RampAsk& ask) {
    for (std::size_t count = 2; count <= std::min<std::size_t>(ask.most_pieces, 512); ++count) {
        RampPlan plan;
        Degrees at = ask.from;
        double elapsed = 0;
        for (std::size_t i = 1; i <= count; ++i) {
            const double share = static_cast<double>(i) / static_cast<double>(count);
            RampPiece piece;
            if (!ramp_by_rate(c, ask, at, i == count ? ask.to : on_the_way(c, ask, share),
                              ask.duration * share - elapsed, piece) ||
                !(piece.duration > 0))
                break;
            elapsed += piece.duration;
            at = values(c, piece.targets);
            plan.pieces.push_back(std::move(piece));
        }
        plan.why = "no settable rates take every zone along its line in one piece";
        if (plan.pieces.size() == count && judge_ramp(c, ask, plan)) return plan;
        if (count > 8) count += count / 8;
    }
    return std::nullopt;
}

std::string describe_problem(const Keys& c, const RampAsk& ask, bool& out_of_range) {
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
            const std::string ends =
                fmt::format("{} {}", to_text(std::abs(off), Kind::time), off > 0 ? "late" : "early");
            const double target = c.setpoint.value(ask.to[0]);
            if (ask.to.size() == 1 && std::abs(target - ask.to_ideal[0]) > slack &&
                to_text(std::abs(ask.to_ideal[0] - ask.from_ideal[0]) / ask.duration, Kind::rate) ==
                    fmt::format("{} K/min", c.rate->text(k)))
                text = fmt::format("its nearest set-point to {} is {}, and a ramp to that at {} K/min ends {}",
                                   to_text(ask.to_ideal[0] + zero_celsius, Kind::temperature),
                                   to_text(target + zero_celsius, Kind::temperature), c.rate->text(k), ends);
            else
                text = fmt::format("its nearest rate to {} is {} K/min, which ends {}", asked, c.rate->text(k),
                                   ends);
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

Degrees setpoint_in(const Keys& controller, const RampPiece& piece, const Degrees& from, double elapsed) {
    const Course course(controller, piece, from);
    Degrees at = from;
    for (std::size_t z = 0; z < at.size(); ++z) at[z] = course.at(z, elapsed);
    return at;
}

std::size_t rows_of(const std::vector<RampPiece>& pieces, bool fused) {
    std::size_t rows = 0;
    for (std::size_t i = 0; i < pieces.size(); ++i) {
        const bool shares = fused && i > 0 && pieces[i].dwell >= 0 && pieces[i - 1].dwell < 0;
        rows += shares ? 0 : 1;
    }
    return rows;
}

namespace {

/// The larger of both errors, in budgets.
double error(const Keys& c, const RampAsk& ask, const RampErrors& plan) {
    return std::max(plan.setpoint_error / ask.budget, plan.instant_error / instant_budget(c));
}

/// The better one of the plans that are offered: fewer segments, then the smaller error.
class Better {
public:
    Better(const Keys& controller, const RampAsk& ask) : c_(controller), ask_(ask) {}

    void offer(RampPlan&& plan) {
        if (plan.pieces.empty()) return;
        plan.rows = rows_of(plan.pieces, ask_.fused);
        if (plan.rows > ask_.most_pieces) return;
        if (any() && plan.rows > best.rows) return;
        if (any() && plan.rows == best.rows && error(c_, ask_, plan) >= error(c_, ask_, best) - slack) return;
        best = std::move(plan);
    }
    void offer(std::optional<RampPlan>&& plan) {
        if (plan) offer(std::move(*plan));
    }
    bool any() const { return !best.pieces.empty(); }

    RampPlan best; // without pieces where none was good enough

private:
    const Keys& c_;
    const RampAsk& ask_;
};

} // namespace

bool plan_plainly(const Keys& controller, const RampAsk& ask, OneRamp& plan) {
    const auto keeps = [&](OneRamp& one) {
        Judge judge(ask);
        return judge.add(Course(controller, one.piece, ask.from)) && judge.within(controller, one);
    };
    plan.piece.rates.clear();
    plan.piece.ramp_time = plan.piece.dwell = -1;
    plan.piece.duration = 0;
    const bool by_rate = controller.rate &&
                         ramp_by_rate(controller, ask, ask.from, ask.to, ask.duration, plan.piece) &&
                         keeps(plan);
    if (!controller.ramp_time || times(controller, ask) != 1) return by_rate;
    OneRamp other;
    if (!ramp_by_time(controller, ask, ask.from, ask.to, ask.duration, other.piece) || !keeps(other))
        return by_rate;
    if (by_rate && error(controller, ask, other) >= error(controller, ask, plan) - slack) return true;
    plan = std::move(other);
    return true;
}

RampPlan plan_ramp(const Keys& controller, const RampAsk& ask) {
    if (OneRamp one; plan_plainly(controller, ask, one)) {
        RampPlan plan;
        static_cast<RampErrors&>(plan) = one;
        plan.pieces.push_back(std::move(one.piece));
        plan.rows = 1;
        return plan;
    }
    Better plans(controller, ask);
    if (controller.ramp_time) plans.offer(in_times(controller, ask));
    const bool more = ask.duration > 0;
    if (more && ask.from.size() == 1) {
        plans.offer(in_two(controller, ask));
        // A dwell that shares a segment may make two pieces one.
        if (!plans.any() || plans.best.rows > (ask.fused ? 1 : 2)) {
            Fewest fewest(controller, ask, {{ask.to[0], 0}}, ask.from);
            plans.offer(fewest.plan(ask.from[0], plans.any() ? plans.best.rows - 1 : ask.most_pieces));
            if (!plans.any() && controller.rate) plans.offer(in_zigzag(controller, ask));
        }
    } else if (more && !plans.any() && controller.rate) {
        plans.offer(in_even_pieces(controller, ask));
    }
    if (plans.any()) return std::move(plans.best);
    RampPlan none;
    none.problem = describe_problem(controller, ask, none.out_of_range);
    return none;
}

} // namespace athanor::legalise
