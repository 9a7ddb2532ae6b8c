// Which set-points the ends of lines take: the nearest, unless others inside the budget save segments. A
// shortest way through the settable set-points at every end, from one place where the set-point is given to the
// next.
#include "compiler/legalise/fewest.hpp"
#include "compiler/legalise/ramp_shapes.hpp"
#include "compiler/legalise/walker.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <optional>
#include <vector>

namespace athanor::legalise {

using timeline::EndingKind;
using timeline::Index;
using timeline::LawKind;

namespace {

using Setpoints = Values;

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

/// A line of the recipe between two places where the set-point is chosen.
struct Line {
    Index first = 0, last = 0;
    std::vector<Setpoints> choices; // at its end; the first one is the nearest
};

} // namespace

/// The choice for one timeline: lines are gathered into a chain, which is solved where the set-point is given.
class Walker::Route {
public:
    explicit Route(Walker& walker) : w_(walker), at_(walker.setpoint_) {}

    void choose() {
        const auto count = static_cast<Index>(w_.recipe_.spans.size());
        for (Index i = 0; i < count;) {
            const bool person = w_.span(i).ending.kind == EndingKind::person;
            if (!person && (w_.any(i, LawKind::jump) || w_.any(i, LawKind::off))) {
                solve(i);
                chain_.clear();
                at_ = values(nearest(i));
                ++i;
            } else if (!person && w_.any(i, LawKind::line)) {
                const Index last = w_.end_of_line(i);
                // The rest of a line that was cut makes good what came before: worked out on the way.
                if (w_.continues(i)) {
                    solve(i);
                    chain_.clear();
                    at_ = values(nearest(last));
                } else {
                    chain_.push_back({i, last, {}});
                }
                i = last + 1;
            } else {
                ++i;
            }
        }
        solve(count);
    }

private:
    Setpoints nearest(Index i) const {
        Setpoints k;
        for (std::size_t z = 0; z < w_.zones(); ++z)
            k.push_back(nearest_setpoint(w_.keys_, w_.law(i, z).to - zero_celsius));
        return k;
    }
    Degrees values(const Setpoints& k) const {
        Degrees degC;
        for (const std::int64_t index : k) degC.push_back(w_.keys_.setpoint.value(index));
        return degC;
    }
    /// The largest distance from the asked set-point that the spans up to the next line allow.
    double room_behind(const Line& line, Index end) const {
        double room = w_.budget(line.first);
        for (Index i = line.last + 1; i < end; ++i) room = std::min(room, w_.budget(i));
        return std::min(room, setpoint_budget);
    }
    /// Where the recipe's set-point does not pass what a valve waits for, the controller's does not either.
    bool passes_threshold(double to, double keyed) const {
        return std::any_of(w_.recipe_.thresholds.begin(), w_.recipe_.thresholds.end(),
                           [&](const auto& threshold) {
                               const double degC = threshold.temperature - zero_celsius;
                               const double side = keyed > to ? 1 : -1;
                               return (degC - to) * side > -slack && (keyed - degC) * side > slack;
                           });
    }
    /// A line may end beyond its end, never short of it by more than the display shows.
    std::vector<Setpoints> choices(const Line& line, double room) const {
        std::vector<Setpoints> list{nearest(line.last)};
        for (std::size_t z = 0; z < w_.zones(); ++z) {
            if (w_.law(line.last, z).kind != LawKind::line) continue;
            const double to = w_.law(line.last, z).to - zero_celsius;
            const std::int64_t step = w_.law(line.last, z).to > w_.law(line.first, z).from ? 1 : -1;
            const std::size_t before = list.size();
            for (std::int64_t k = list[0][z] + step; w_.keys_.setpoint.holds(k); k += step) {
                const double keyed = w_.keys_.setpoint.value(k);
                if (std::abs(keyed - to) > room + 1e-9 || list.size() >= most_choices) break;
                if (passes_threshold(to, keyed)) break;
                for (std::size_t n = 0; n < before && list.size() < most_choices; ++n) {
                    list.push_back(list[n]);
                    list.back()[z] = k;
                }
            }
        }
        return list;
    }
    void take(std::size_t n, const Setpoints& choice, Index end) {
        if (choice == chain_[n].choices[0]) return;
        const Index until = n + 1 < chain_.size() ? chain_[n + 1].first : end;
        w_.chosen_.resize(w_.recipe_.spans.size());
        for (Index i = chain_[n].last; i < until; ++i) w_.chosen_[i] = choice;
        w_.walked_.displaced = true;
    }

    RampAsk line_ask(const Line& line, double from, const Setpoints& to) const {
        return w_.asked(line.first, line.last, {from}, to);
    }
    /// What follows from the beginnings of one line, counted from the cheapest of its ends: passes of a repeat
    /// differ in what comes behind them, and in nothing else.
    struct Onward {
        std::vector<std::optional<std::size_t>> rows;    // from each beginning
        std::vector<std::optional<std::int64_t>> target; // where that way ends; only where `ways` are asked
    };
    static std::size_t least_behind(const std::vector<LineEnd>& ends) {
        std::size_t least = ends.empty() ? 0 : ends[0].behind;
        for (const LineEnd& end : ends) least = std::min(least, end.behind);
        return least;
    }
    const Onward& onward(const RampAsk& ask, std::vector<LineEnd> ends, const std::vector<double>& starts,
                         bool ways) {
        const std::size_t base = least_behind(ends);
        std::vector<double> key{ask.from_ideal[0],     ask.to_ideal[0],
                                ask.duration,          ask.budget,
                                ask.fastest[0],        static_cast<double>(ask.most_pieces),
                                ask.fused ? 1.0 : 0.0, ways ? 1.0 : 0.0};
        for (LineEnd& end : ends) {
            end.behind -= base;
            key.push_back(static_cast<double>(end.target));
            key.push_back(static_cast<double>(end.behind));
        }
        key.insert(key.end(), starts.begin(), starts.end());
        const auto known = onward_.find(key);
        if (known != onward_.end()) return known->second;
        Onward found;
        Fewest fewest(w_.keys_, ask, ends, starts);
        for (const double start : starts) {
            std::optional<std::size_t> rows = fewest.rows(start, ask.most_pieces);
            // Where it stands already, a dwell does.
            for (const LineEnd& e : ends)
                if (w_.keys_.setpoint.value(e.target) == start)
                    rows = std::min(rows.value_or(e.behind + 1), e.behind + 1);
            found.rows.push_back(rows);
            found.target.push_back(rows && ways ? fewest.end(start, *rows) : std::nullopt);
        }
        return onward_.emplace(std::move(key), std::move(found)).first->second;
    }
    bool leads(std::size_t n, double from, const Setpoints& to, const std::vector<LineEnd>& behind,
               std::size_t least) const {
        const auto e =
            std::find_if(behind.begin(), behind.end(), [&](const LineEnd& one) { return one.target == to[0]; });
        if (e == behind.end() || e->behind >= least) return false;
        RampAsk ask = line_ask(chain_[n], from, to);
        ask.most_pieces = least - e->behind;
        return w_.keys_.setpoint.value(to[0]) == from || !w_.planned(ask).pieces.empty();
    }
    /// Of each line, from the last one backwards: its ends, and the segments that come behind each.
    std::vector<std::vector<LineEnd>> ends_of_chain() {
        std::vector<std::vector<LineEnd>> ends(chain_.size());
        for (std::size_t n = chain_.size(); n-- > 0;) {
            if (n + 1 == chain_.size()) {
                for (const Setpoints& choice : chain_[n].choices) ends[n].push_back({choice[0], 0});
                continue;
            }
            std::vector<double> starts;
            for (const Setpoints& choice : chain_[n].choices)
                starts.push_back(w_.keys_.setpoint.value(choice[0]));
            const RampAsk ask = line_ask(chain_[n + 1], starts[0], chain_[n + 1].choices[0]);
            const Onward& on = onward(ask, ends[n + 1], starts, false);
            const std::size_t base = least_behind(ends[n + 1]);
            for (std::size_t i = 0; i < starts.size(); ++i)
                if (on.rows[i] && *on.rows[i] + base <= ask.most_pieces)
                    ends[n].push_back({chain_[n].choices[i][0], *on.rows[i] + base});
            // A line that nothing follows is reported by the walk: it weighs the same from everywhere.
            if (ends[n].empty())
                for (const Setpoints& choice : chain_[n].choices) ends[n].push_back({choice[0], 0});
        }
        return ends;
    }
    /// One zone, exact: from the last line backwards the segments that each beginning of a line costs; then
    /// forwards the nearest end that leads there.
    void exactly(Index end) {
        std::pair<std::vector<Index>, double> key{{end}, at_[0]};
        for (const Line& line : chain_) key.first.push_back(line.first), key.first.push_back(line.last);
        if (const auto known = w_.input_.memory.ends.find(key); known != w_.input_.memory.ends.end()) {
            for (std::size_t n = 0; n < chain_.size(); ++n) take(n, {known->second[n]}, end);
            return;
        }
        std::vector<std::int64_t>& picked = w_.input_.memory.ends[key];
        const std::vector<std::vector<LineEnd>> ends = ends_of_chain();
        double from = at_[0];
        for (std::size_t n = 0; n < chain_.size(); ++n) {
            const RampAsk ask = line_ask(chain_[n], from, chain_[n].choices[0]);
            const Onward& on = onward(ask, ends[n], {from}, true);
            const std::size_t base = least_behind(ends[n]);
            const bool fits = on.rows[0] && *on.rows[0] + base <= ask.most_pieces;
            std::size_t pick = 0;
            if (fits && !leads(n, from, chain_[n].choices[0], ends[n], *on.rows[0] + base) && on.target[0])
                while (pick + 1 < chain_[n].choices.size() && chain_[n].choices[pick][0] != *on.target[0])
                    ++pick;
            picked.push_back(chain_[n].choices[pick][0]);
            take(n, chain_[n].choices[pick], end);
            from = w_.keys_.setpoint.value(chain_[n].choices[pick][0]);
        }
    }

    /// The nearest set-points first: where every line is one segment they are the answer.
    bool nearest_do() const {
        Degrees from = at_, to;
        Setpoints ends;
        for (const Line& line : chain_) {
            ends.clear();
            to.clear();
            for (std::size_t z = 0; z < w_.zones(); ++z) {
                ends.push_back(nearest_setpoint(w_.keys_, w_.law(line.last, z).to - zero_celsius));
                to.push_back(w_.keys_.setpoint.value(ends[z]));
            }
            if (from != to && !w_.one_segment(line.first, line.last, from, ends)) {
                RampAsk single = w_.asked(line.first, line.last, from, ends);
                single.most_pieces = 1;
                if (w_.planned(single).pieces.empty()) return false;
            }
            from = to;
        }
        return true;
    }
    void solve(Index end) {
        if (chain_.empty() || nearest_do()) return;
        for (std::size_t n = 0; n < chain_.size(); ++n) {
            const Index until = n + 1 < chain_.size() ? chain_[n + 1].first : end;
            chain_[n].choices = choices(chain_[n], room_behind(chain_[n], until));
        }
        if (w_.zones() == 1) return exactly(end);
        by_pairs(end);
    }
    /// Several zones: the cheapest way through the choices, from one end to the next.
    void by_pairs(Index end) {
        std::vector<std::vector<Cost>> best(chain_.size());
        std::vector<std::vector<std::size_t>> came(chain_.size());
        for (std::size_t n = 0; n < chain_.size(); ++n) {
            const Line& line = chain_[n];
            const std::size_t froms = n == 0 ? 1 : chain_[n - 1].choices.size();
            best[n].assign(line.choices.size(), never);
            came[n].assign(line.choices.size(), 0);
            std::size_t plans = 0;
            // One segment more than from nearest to nearest may pay at the next line; no more than that.
            const RampAsk direct = w_.asked(line.first, line.last,
                                            n == 0 ? at_ : values(chain_[n - 1].choices[0]), line.choices[0]);
            const std::size_t usual = direct.from == values(direct.to) ? 1 : w_.planned(direct).rows;
            const std::size_t enough = usual == 1 ? 1 : usual == 0 ? most_rows : usual + 1;
            for (std::size_t sum = 0; sum < froms + line.choices.size(); ++sum) // the nearest pairs first
                for (std::size_t a = 0; a <= sum && a < froms; ++a) {
                    const std::size_t b = sum - a;
                    if (b >= line.choices.size()) continue;
                    Cost cost = n == 0 ? Cost{} : best[n - 1][a];
                    if (cost.rows >= never.rows) continue;
                    RampAsk ask = w_.asked(line.first, line.last,
                                           n == 0 ? at_ : values(chain_[n - 1].choices[a]), line.choices[b]);
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
                        const RampPlan plan = w_.planned(ask);
                        // What no plan follows is reported by the walk: it counts as if it were long.
                        if (plan.pieces.empty() && b != 0) continue;
                        cost.rows += plan.pieces.empty() ? std::size_t{1} << 20U : plan.rows;
                        cost.error +=
                            plan.setpoint_error / ask.budget + plan.instant_error / instant_budget(w_.keys_);
                    }
                    for (std::size_t z = 0; z < w_.zones(); ++z)
                        cost.error += std::abs(static_cast<double>(line.choices[b][z] - line.choices[0][z])) *
                                      w_.keys_.setpoint.step();
                    if (cost < best[n][b]) {
                        best[n][b] = cost;
                        came[n][b] = a;
                    }
                }
        }
        std::size_t pick = 0;
        for (std::size_t b = 1; b < best.back().size(); ++b)
            if (best.back()[b] < best.back()[pick]) pick = b;
        for (std::size_t n = chain_.size(); n-- > 0;) {
            take(n, chain_[n].choices[pick], end);
            pick = came[n][pick];
        }
    }

    Walker& w_;
    Degrees at_; // where the chain begins
    std::vector<Line> chain_;
    std::map<std::vector<double>, Onward> onward_;
};

void Walker::choose_setpoints() {
    Route(*this).choose();
}

} // namespace athanor::legalise
