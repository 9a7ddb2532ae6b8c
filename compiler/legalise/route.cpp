// Which set-points the ends of lines take: the nearest, unless others inside the budget save segments. A
// shortest way through the settable set-points at every end, from one place where the set-point is given to the
// next.
#include "compiler/legalise/ramp_shapes.hpp"
#include "compiler/legalise/walker.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

namespace athanor::legalise {

using timeline::EndingKind;
using timeline::Index;
using timeline::LawKind;

namespace {

using Setpoints = std::vector<std::int64_t>;

/// Choices at one end that are weighed; grids down to 0.05 K come whole for one zone.
constexpr std::size_t most_choices = 41;
/// Pairs of ends of one line that are planned in more than one piece; where there are more, those nearest.
constexpr std::size_t most_plans = 24;
/// Segments of one line for which another set-point is weighed where the nearest ones give no plan at all.
constexpr std::size_t most_rows = 6;

struct Cost {
    std::size_t rows = 0;
    double error = 0; // set-point and instant in budgets, summed
    bool operator<(const Cost& other) const {
        return rows != other.rows ? rows < other.rows : error < other.error - 1e-12;
    }
};

constexpr Cost never{std::numeric_limits<std::size_t>::max() / 2, 0};

} // namespace

namespace {

/// A line of the recipe between two places where the set-point is chosen.
struct Line {
    Index first = 0, last = 0;
    std::vector<Setpoints> choices; // at its end; the first one is the nearest
};

} // namespace

void Walker::choose_setpoints() {
    const auto count = static_cast<Index>(recipe_.spans.size());
    const auto nearest = [&](Index i) {
        Setpoints k;
        for (std::size_t z = 0; z < zones(); ++z)
            k.push_back(std::clamp(c_.setpoint.nearest(law(i, z).to - kelvin_offset), std::int64_t{0},
                                   c_.setpoint.count()));
        return k;
    };
    const auto values = [&](const Setpoints& k) {
        std::vector<double> degC;
        for (const std::int64_t index : k) degC.push_back(c_.setpoint.value(index));
        return degC;
    };
    // The largest distance from the asked set-point that the spans up to the next line allow.
    const auto room_behind = [&](const Line& line, Index end) {
        double room = budget(line.first);
        for (Index i = line.last + 1; i < end; ++i) room = std::min(room, budget(i));
        return std::min(room, setpoint_budget);
    };
    // A line may end beyond its end, never short of it by more than the display shows.
    const auto choices = [&](const Line& line, double room) {
        std::vector<Setpoints> list{nearest(line.last)};
        for (std::size_t z = 0; z < zones(); ++z) {
            if (law(line.last, z).kind != LawKind::line) continue;
            const double to = law(line.last, z).to - kelvin_offset;
            const std::int64_t step = law(line.last, z).to > law(line.first, z).from ? 1 : -1;
            const std::size_t before = list.size();
            for (std::int64_t k = list[0][z] + step; c_.setpoint.holds(k); k += step) {
                if (std::abs(c_.setpoint.value(k) - to) > room + 1e-9 || list.size() >= most_choices) break;
                for (std::size_t n = 0; n < before && list.size() < most_choices; ++n) {
                    list.push_back(list[n]);
                    list.back()[z] = k;
                }
            }
        }
        return list;
    };

    std::vector<double> at = setpoint_; // where a chain of lines begins
    std::vector<Line> chain;
    const auto solve = [&](Index end) {
        if (chain.empty()) return;
        // The nearest set-points first: where every line is one segment they are the answer.
        bool more = false;
        std::vector<double> from = at;
        for (const Line& line : chain) {
            const RampAsk ask = asked(line.first, line.last, from, nearest(line.last));
            if (ask.from == values(ask.to)) {
                from = values(ask.to);
                continue;
            }
            RampAsk single = ask;
            single.most_pieces = 1;
            more = more || plan_ramp(c_, single).pieces.empty();
            from = values(ask.to);
        }
        if (!more) return;
        for (std::size_t n = 0; n < chain.size(); ++n) {
            const Index until = n + 1 < chain.size() ? chain[n + 1].first : end;
            chain[n].choices = choices(chain[n], room_behind(chain[n], until));
        }
        std::vector<std::vector<Cost>> best(chain.size());
        std::vector<std::vector<std::size_t>> came(chain.size());
        for (std::size_t n = 0; n < chain.size(); ++n) {
            const Line& line = chain[n];
            const std::size_t froms = n == 0 ? 1 : chain[n - 1].choices.size();
            best[n].assign(line.choices.size(), never);
            came[n].assign(line.choices.size(), 0);
            std::size_t plans = 0;
            // One segment more than from nearest to nearest may pay at the next line; no more than that.
            const RampAsk direct =
                asked(line.first, line.last, n == 0 ? at : values(chain[n - 1].choices[0]), line.choices[0]);
            const std::size_t usual = direct.from == values(direct.to) ? 1 : plan_ramp(c_, direct).rows;
            const std::size_t enough = usual == 1 ? 1 : usual == 0 ? most_rows : usual + 1;
            for (std::size_t sum = 0; sum < froms + line.choices.size(); ++sum) // the nearest pairs first
                for (std::size_t a = 0; a <= sum && a < froms; ++a) {
                    const std::size_t b = sum - a;
                    if (b >= line.choices.size()) continue;
                    Cost cost = n == 0 ? Cost{} : best[n - 1][a];
                    if (cost.rows >= never.rows) continue;
                    RampAsk ask = asked(line.first, line.last, n == 0 ? at : values(chain[n - 1].choices[a]),
                                        line.choices[b]);
                    // No more than would beat the way that is known.
                    if (best[n][b].rows < never.rows)
                        ask.most_pieces =
                            std::min(ask.most_pieces, best[n][b].rows - std::min(best[n][b].rows, cost.rows));
                    if (ask.most_pieces == 0) continue;
                    if (a + b > 0) ask.most_pieces = std::min(ask.most_pieces, enough);
                    if (plans >= most_plans) ask.most_pieces = std::min<std::size_t>(ask.most_pieces, 1);
                    if (ask.from == values(ask.to)) {
                        cost.rows += 1; // a dwell
                    } else {
                        if (ask.most_pieces > 1) ++plans;
                        const RampPlan plan = plan_ramp(c_, ask);
                        // What no plan follows is reported by the walk: it counts as if it were long.
                        if (plan.pieces.empty() && b != 0) continue;
                        cost.rows += plan.pieces.empty() ? std::size_t{1} << 20U : plan.rows;
                        cost.error +=
                            plan.setpoint_error / ask.budget + plan.instant_error / instant_budget(c_);
                    }
                    for (std::size_t z = 0; z < zones(); ++z)
                        cost.error += std::abs(static_cast<double>(line.choices[b][z] - line.choices[0][z])) *
                                      c_.setpoint.step.value();
                    if (cost < best[n][b]) {
                        best[n][b] = cost;
                        came[n][b] = a;
                    }
                }
        }
        std::size_t pick = 0;
        for (std::size_t b = 1; b < best.back().size(); ++b)
            if (best.back()[b] < best.back()[pick]) pick = b;
        for (std::size_t n = chain.size(); n-- > 0;) {
            if (pick != 0) {
                const Index until = n + 1 < chain.size() ? chain[n + 1].first : end;
                for (Index i = chain[n].last; i < until; ++i) chosen_[i] = chain[n].choices[pick];
                walked_.displaced = true;
            }
            pick = came[n][pick];
        }
    };

    for (Index i = 0; i < count;) {
        const bool person = span(i).ending.kind == EndingKind::person;
        if (!person && (any(i, LawKind::jump) || any(i, LawKind::off))) {
            solve(i);
            chain.clear();
            at = values(nearest(i));
            ++i;
        } else if (!person && any(i, LawKind::line)) {
            const Index last = end_of_line(i);
            // The rest of a line that a threshold has cut makes good what came before: worked out on the way.
            if (input_.continues[i]) {
                solve(i);
                chain.clear();
                at = values(nearest(last));
            } else {
                chain.push_back({i, last, {}});
            }
            i = last + 1;
        } else {
            ++i;
        }
    }
    solve(count);
}

} // namespace athanor::legalise
