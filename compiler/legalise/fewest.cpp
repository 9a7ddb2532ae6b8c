#include "compiler/legalise/fewest.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>

namespace athanor::legalise {

namespace {

constexpr std::size_t most_nodes = 20'000;
/// Set-points times rates of one layer; where there are more, rates far from the one asked are left out.
constexpr std::size_t most_per_layer = 2'000;
/// The same over all layers: then it is given up.
constexpr std::size_t most_work = 300'000;
/// Stretches of time that are looked at, over all layers, before it is given up: short ones may lie side by
/// side by the thousand.
constexpr std::size_t most_visited = 5'000'000;
constexpr double touch = 1e-9; // s

void add(Instants& to, Stretch s) {
    if (s.hi < s.lo) {
        if (s.hi < s.lo - touch) return;
        s.hi = s.lo;
    }
    if (to.empty() || to.back().hi < s.lo - touch) {
        to.push_back(s);
        return;
    }
    auto first = std::lower_bound(to.begin(), to.end(), s.lo - touch,
                                  [](const Stretch& a, double lo) { return a.hi < lo; });
    auto last = first;
    for (; last != to.end() && last->lo <= s.hi + touch; ++last) {
        s.lo = std::min(s.lo, last->lo);
        s.hi = std::max(s.hi, last->hi);
    }
    if (first == last) {
        to.insert(first, s);
        return;
    }
    *first = s;
    to.erase(first + 1, last);
}

/// Adds many at once, in the order of their beginnings: one by one each would push the rest along.
void add_in_order(Instants& to, const Instants& batch) {
    constexpr std::size_t few = 4;
    if (batch.size() <= few || to.empty()) {
        for (const Stretch& s : batch) add(to, s);
        return;
    }
    Instants all;
    all.reserve(to.size() + batch.size());
    std::merge(to.begin(), to.end(), batch.begin(), batch.end(), std::back_inserter(all),
               [](const Stretch& a, const Stretch& b) { return a.lo < b.lo; });
    to.clear();
    for (const Stretch& s : all)
        if (to.empty() || to.back().hi < s.lo - touch)
            to.push_back(s);
        else
            to.back().hi = std::max(to.back().hi, s.hi);
}

/// A stretch within limits, as `add` would take it.
void keep(Instants& batch, Stretch s) {
    if (s.hi < s.lo - touch) return;
    batch.push_back({s.lo, std::max(s.lo, s.hi)});
}

/// Adds what of `from`, moved by `shift`, lies within `limits`.
void add_moved(Instants& to, const Instants& from, double shift, Stretch limits) {
    Instants batch;
    batch.reserve(from.size());
    for (const Stretch& s : from)
        keep(batch, {std::max(s.lo + shift, limits.lo), std::min(s.hi + shift, limits.hi)});
    add_in_order(to, batch);
}

void clip(Instants& list, Stretch limits) {
    std::size_t kept = 0;
    for (Stretch s : list) {
        s.lo = std::max(s.lo, limits.lo);
        s.hi = std::min(s.hi, limits.hi);
        if (s.hi >= s.lo) list[kept++] = s;
    }
    list.resize(kept);
}

bool all(const Instants& list, Stretch limits) {
    return list.size() == 1 && list[0].lo <= limits.lo + touch && list[0].hi >= limits.hi - touch;
}

bool holds(const Instants& list, double t) {
    const auto at = std::lower_bound(list.begin(), list.end(), t - 1e-6,
                                     [](const Stretch& a, double time) { return a.hi < time; });
    return at != list.end() && at->lo <= t + 1e-6;
}

constexpr Stretch nothing{std::numeric_limits<double>::infinity(), -std::numeric_limits<double>::infinity()};

/// A hull takes in what of `s` lies within `limits`, and a little more than `add` would.
void widen(Stretch& hull, Stretch s, Stretch limits) {
    s = {std::max(s.lo, limits.lo) - touch, std::min(s.hi, limits.hi) + touch};
    if (s.hi < s.lo) return;
    hull = {std::min(hull.lo, s.lo), std::max(hull.hi, s.hi)};
}

/// All instants from which some time of the grid, not under `least`, leads from `limits` into a stretch.
Stretch before(const Steps& grid, Stretch s, double least, Stretch limits) {
    const double step = grid.step();
    const double lowest = grid.grid().lo.value();
    if (!(step > 0)) return {s.lo - grid.grid().hi.value(), s.hi - lowest};
    const double first = std::max(0.0, std::ceil((std::max(least, s.lo - limits.hi) - lowest) / step - 1e-6));
    const double most =
        std::min(static_cast<double>(grid.count()), std::floor((s.hi - limits.lo - lowest) / step + 1e-6));
    if (first > most) return nothing;
    return {s.lo - (lowest + most * step) - touch, s.hi - (lowest + first * step) + touch};
}

std::size_t stretches(const std::vector<Instants>& nodes) {
    std::size_t count = 0;
    for (const Instants& list : nodes) count += list.size();
    return count;
}

double length_of(const std::vector<Instants>& nodes) {
    double sum = 0;
    for (const Instants& list : nodes)
        for (const Stretch& s : list) sum += s.hi - s.lo;
    return sum;
}

} // namespace

Fewest::Fewest(const Keys& c, const RampAsk& ask, const std::vector<LineEnd>& ends,
               const std::vector<double>& starts)
    : c_(c), ask_(ask), from_(ask.from_ideal[0]), sign_(ask.to_ideal[0] > ask.from_ideal[0] ? 1 : -1),
      length_(std::abs(ask.to_ideal[0] - ask.from_ideal[0])), late_(instant_budget(c)),
      fastest_(fastest(ask, 0)) {
    if (!(length_ > 0) || !(ask.duration > 0) || ends.empty() || starts.empty()) {
        too_many_ = true;
        return;
    }
    const auto x_of = [&](double degC) { return sign_ * (degC - from_); };
    double first = 0;
    double last = 0;
    for (const double start : starts) first = std::min(first, x_of(start));
    for (const LineEnd& end : ends) last = std::max(last, x_of(c.setpoint.value(end.target)));
    const double step = c.setpoint.step();
    if ((last - first) / step > static_cast<double>(most_nodes)) {
        too_many_ = true;
        return;
    }
    const std::int64_t begin = sign_ > 0 ? c.setpoint.above(from_ + first) : c.setpoint.below(from_ - first);
    const std::int64_t move = sign_ > 0 ? 1 : -1;
    for (std::int64_t k = begin; x_of(c.setpoint.value(k)) <= last + 1e-9; k += move) {
        if (!c.setpoint.holds(k)) continue;
        Node node;
        node.x = x_of(c.setpoint.value(k));
        node.target = k;
        node.corner = length_ - node.x > 0.5 * step + 1e-6;
        for (const LineEnd& end : ends)
            if (end.target == k) node.behind = end.behind;
        nodes_.push_back(node);
    }
    for (const double start : starts) {
        const std::size_t at = node_of(start);
        if (at < nodes_.size()) {
            nodes_[at].start = true;
            continue;
        }
        Node node;
        node.start = true;
        node.x = x_of(start);
        nodes_.insert(std::lower_bound(nodes_.begin(), nodes_.end(), node,
                                       [](const Node& a, const Node& b) { return a.x < b.x; }),
                      node);
    }
    for (Node& node : nodes_) {
        node.near = near(node.x);
        most_behind_ = std::max(most_behind_, node.behind.value_or(0));
    }
    weigh_rates();
}

std::size_t Fewest::node_of(double start) const {
    const double x = sign_ * (start - from_);
    const auto at = std::lower_bound(nodes_.begin(), nodes_.end(), x - 1e-7,
                                     [](const Node& a, double value) { return a.x < value; });
    const bool there = at != nodes_.end() && at->x <= x + 1e-7;
    return there ? static_cast<std::size_t>(at - nodes_.begin()) : nodes_.size();
}

void Fewest::weigh_rates() {
    if (!c_.rate) return;
    double least = length_; // K of the shortest piece
    for (std::size_t i = 1; i < nodes_.size(); ++i)
        least = std::min(least, std::max(1e-6, nodes_[i].x - nodes_[i - 1].x));
    const double mean = length_ / ask_.duration;
    // Slower than this the shortest piece runs through the whole budget and beyond.
    const double slowest = mean / (1 + (2 * ask_.budget + mean * late_) / least);
    std::int64_t last = c_.rate->count();
    if (std::isfinite(fastest_)) last = std::min(last, rate_below(c_, fastest_));
    const std::size_t most = std::max<std::size_t>(2, most_per_layer / std::max<std::size_t>(1, nodes_.size()));
    std::int64_t below = std::min(rate_below(c_, mean), last);
    std::int64_t above = below + 1;
    const auto usable = [&](std::int64_t k) {
        return k >= 0 && k <= last && rate_in_K_per_s(c_, k) > 0 && rate_in_K_per_s(c_, k) >= slowest - slack;
    };
    // One on each side, then those that leave the line least.
    if (usable(below)) rates_.push_back(below--);
    if (usable(above)) rates_.push_back(above++);
    while (usable(below) || usable(above)) {
        if (rates_.size() >= most) break;
        const bool down = usable(below) && (!usable(above) || mean / rate_in_K_per_s(c_, below) - 1 <
                                                                  1 - mean / rate_in_K_per_s(c_, above));
        rates_.push_back(down ? below-- : above++);
    }
}

Stretch Fewest::near(double x) const {
    if (x - ask_.budget > length_ + slack) return {1, 0};
    const double late = x + ask_.budget >= length_ - slack ? ask_.duration + late_
                                                           : (x + ask_.budget) / length_ * ask_.duration;
    return {std::max(0.0, (x - ask_.budget) / length_ * ask_.duration - slack), late + slack};
}

bool Fewest::passes(double x, double t, double to, double until) const {
    if (t >= ask_.duration || until <= ask_.duration) return true;
    const double at = x + (to - x) * (ask_.duration - t) / (until - t);
    return std::abs(at - length_) <= ask_.budget + slack;
}

void Fewest::add_rates(const Layer& last, Layer& next) {
    // Along one rate what stays the same is the instant at which it would have begun at 0 K.
    Instants run;
    for (const std::int64_t k : rates_) {
        const double rate = rate_in_K_per_s(c_, k);
        run.clear();
        bool before_end = false;
        for (std::size_t i = nodes_.size(); i-- > 0;) {
            const double time = nodes_[i].x / rate;
            if (!before_end && nodes_[i].x < length_ - ask_.budget) {
                // The corner of the line's own end is the one place where the space about it is not convex.
                before_end = true;
                clip(run, {-std::numeric_limits<double>::infinity(),
                           ask_.duration - (length_ - ask_.budget - slack) / rate});
            }
            const Stretch limits = nodes_[i].near;
            visited_ += run.size() + last.enters[i].size();
            if (visited_ > most_visited) return;
            clip(run, {limits.lo - time, limits.hi - time});
            if (!run.empty() && !all(next.ramps[i], limits)) add_moved(next.ramps[i], run, time, limits);
            if (!last.enters[i].empty())
                add_moved(run, last.enters[i], -time, {limits.lo - time, limits.hi - time});
        }
    }
}

void Fewest::add_times(const Layer& last, Layer& next) {
    const Steps& grid = *c_.ramp_time;
    const double step = grid.step();
    Instants batch;
    for (std::size_t j = 1; j < nodes_.size(); ++j) {
        if (last.enters[j].empty()) continue;
        for (std::size_t i = 0; i < j; ++i) {
            if (!by_time(nodes_[i], nodes_[j])) continue;
            const double way = nodes_[j].x - nodes_[i].x;
            const Stretch limits = nodes_[i].near;
            const double least = way / fastest_;
            for (const Stretch& s : last.enters[j]) {
                if (all(next.ramps[i], limits)) break;
                const std::int64_t first =
                    std::max<std::int64_t>(grid.above(std::max({least, 1e-9, s.lo - limits.hi})), 0);
                const std::int64_t most = std::min(grid.below(s.hi - limits.lo), grid.count());
                const bool corner = nodes_[i].x < length_ - ask_.budget && s.hi > ask_.duration;
                if (!corner && first <= most && step <= s.hi - s.lo) {
                    add(next.ramps[i], {std::max(limits.lo, s.lo - grid.value(most)),
                                        std::min(limits.hi, s.hi - grid.value(first))});
                    continue;
                }
                visited_ += first <= most ? static_cast<std::size_t>(most - first) + 1 : 1;
                if (visited_ > most_visited) return;
                // The longest first: the instants then come in their order.
                batch.clear();
                for (std::int64_t k = most; k >= first; --k) {
                    const double time = grid.value(k);
                    if (!(time > 0)) continue;
                    Stretch from{std::max(limits.lo, s.lo - time), std::min(limits.hi, s.hi - time)};
                    if (corner) {
                        // Behind the end in time, or near it when it comes.
                        const double until =
                            ask_.duration - time * (length_ - ask_.budget - slack - nodes_[i].x) / way;
                        from.hi = std::min(from.hi, std::max(until, ask_.duration - time));
                    }
                    if (from.hi >= from.lo) batch.push_back(from);
                }
                add_in_order(next.ramps[i], batch);
            }
        }
    }
}

void Fewest::add_dwells(const Layer& last, Layer& next) {
    const Steps& grid = c_.dwell;
    const double step = grid.step();
    const Layer& behind = ask_.fused ? next : last;
    constexpr std::size_t many = 256; // so many are added at once
    Instants batch;
    for (std::size_t i = 0; i < nodes_.size(); ++i) {
        if (!nodes_[i].corner) continue;
        const Stretch limits = nodes_[i].near;
        batch.clear();
        const auto flush = [&] {
            std::sort(batch.begin(), batch.end(),
                      [](const Stretch& a, const Stretch& b) { return a.lo < b.lo; });
            add_in_order(next.enters[i], batch);
            batch.clear();
        };
        for (const Stretch& s : behind.ramps[i]) {
            if (batch.size() >= many || next.enters[i].empty()) flush();
            if (all(next.enters[i], limits)) break;
            const std::int64_t first = std::max<std::int64_t>(grid.above(std::max(1e-9, s.lo - limits.hi)), 0);
            const std::int64_t most = std::min(grid.below(s.hi - limits.lo), grid.count());
            if (first <= most && step <= s.hi - s.lo) {
                keep(batch, {std::max(limits.lo, s.lo - grid.value(most)),
                             std::min(limits.hi, s.hi - grid.value(first))});
                continue;
            }
            visited_ += first <= most ? static_cast<std::size_t>(most - first) + 1 : 1;
            if (visited_ > most_visited) return;
            for (std::int64_t k = most; k >= first; --k)
                keep(batch,
                     {std::max(limits.lo, s.lo - grid.value(k)), std::min(limits.hi, s.hi - grid.value(k))});
        }
        flush();
    }
}

void Fewest::add_ends(std::size_t rows, Layer& layer) const {
    for (std::size_t i = 0; i < nodes_.size(); ++i) {
        if (!nodes_[i].behind || *nodes_[i].behind > rows) continue;
        const Stretch limits = nodes_[i].near;
        const Stretch end{std::max(limits.lo, ask_.duration - late_ - slack),
                          std::min(limits.hi, ask_.duration + late_ + slack)};
        if (end.hi >= end.lo) add(layer.enters[i], end);
    }
}

std::size_t Fewest::layer_work() const {
    return nodes_.size() * (1 + rates_.size()) +
           (c_.ramp_time ? nodes_.size() * std::min(nodes_.size(), most_for_times) / 4 : 0);
}

void Fewest::hull_rates(const Hulls& last, Hulls& next) const {
    for (const std::int64_t k : rates_) {
        const double rate = rate_in_K_per_s(c_, k);
        Stretch run = nothing;
        bool before_end = false;
        for (std::size_t i = nodes_.size(); i-- > 0;) {
            const double time = nodes_[i].x / rate;
            if (!before_end && nodes_[i].x < length_ - ask_.budget) {
                before_end = true;
                run.hi = std::min(run.hi, ask_.duration - (length_ - ask_.budget - slack) / rate + touch);
            }
            const Stretch limits = nodes_[i].near;
            run = {std::max(run.lo, limits.lo - time - touch), std::min(run.hi, limits.hi - time + touch)};
            if (run.hi < run.lo) run = nothing;
            widen(next.ramps[i], {run.lo + time, run.hi + time}, limits);
            widen(run, {last.enters[i].lo - time, last.enters[i].hi - time},
                  {limits.lo - time, limits.hi - time});
        }
    }
}

void Fewest::hull_times(const Hulls& last, Hulls& next) const {
    for (std::size_t j = 1; j < nodes_.size(); ++j) {
        const Stretch& s = last.enters[j];
        if (s.hi < s.lo) continue;
        for (std::size_t i = 0; i < j; ++i) {
            if (!by_time(nodes_[i], nodes_[j])) continue;
            const Stretch limits = nodes_[i].near;
            const double least = (nodes_[j].x - nodes_[i].x) / fastest_;
            widen(next.ramps[i], before(*c_.ramp_time, s, least, limits), limits);
        }
    }
}

void Fewest::hull_dwells(const Hulls& last, Hulls& next) const {
    const std::vector<Stretch>& behind = ask_.fused ? next.ramps : last.ramps;
    for (std::size_t i = 0; i < nodes_.size(); ++i)
        if (nodes_[i].corner && behind[i].lo <= behind[i].hi)
            widen(next.enters[i], before(c_.dwell, behind[i], 0, nodes_[i].near), nodes_[i].near);
}

void Fewest::grow_hulls() {
    Hulls next;
    next.ramps.resize(nodes_.size(), nothing);
    next.enters.resize(nodes_.size(), nothing);
    if (!hulls_.empty()) {
        const Hulls& last = hulls_.back();
        hull_rates(last, next);
        if (c_.ramp_time) hull_times(last, next);
        for (std::size_t i = 0; i < nodes_.size(); ++i)
            if (nodes_[i].corner) next.enters[i] = next.ramps[i];
        hull_dwells(last, next);
    }
    for (std::size_t i = 0; i < nodes_.size(); ++i)
        if (nodes_[i].behind && *nodes_[i].behind <= hulls_.size())
            widen(next.enters[i], {ask_.duration - late_ - slack, ask_.duration + late_ + slack},
                  nodes_[i].near);
    const auto same = [](const std::vector<Stretch>& a, const std::vector<Stretch>& b) {
        return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                          [](Stretch x, Stretch y) { return x.lo == y.lo && x.hi == y.hi; });
    };
    hulls_settled_ = hulls_.size() > most_behind_ && !hulls_.empty() && same(hulls_.back().ramps, next.ramps) &&
                     same(hulls_.back().enters, next.enters);
    hulls_.push_back(std::move(next));
}

std::size_t Fewest::at_least(std::size_t node, std::size_t most) {
    for (std::size_t rows = 0; rows <= most; ++rows) {
        if (rows >= hulls_.size()) {
            if (hulls_settled_) return std::numeric_limits<std::size_t>::max();
            grow_hulls();
        }
        const Stretch& hull = hulls_[rows].ramps[node];
        if (hull.lo <= 1e-5 && hull.hi >= -1e-5) return rows;
    }
    return std::numeric_limits<std::size_t>::max();
}

void Fewest::grow() {
    Layer next;
    next.ramps.resize(nodes_.size());
    next.enters.resize(nodes_.size());
    if (!layers_.empty()) {
        const Layer& last = layers_.back();
        add_rates(last, next);
        if (c_.ramp_time) add_times(last, next);
        for (std::size_t i = 0; i < nodes_.size(); ++i)
            if (nodes_[i].corner) next.enters[i] = next.ramps[i];
        add_dwells(last, next);
    }
    add_ends(layers_.size(), next);
    work_ += layer_work();
    too_many_ = too_many_ || work_ > most_work || visited_ > most_visited;
    if (!layers_.empty()) {
        const Layer& last = layers_.back();
        settled_ = layers_.size() > most_behind_ && stretches(last.enters) == stretches(next.enters) &&
                   std::abs(length_of(last.enters) - length_of(next.enters)) < 1e-6 &&
                   stretches(last.ramps) == stretches(next.ramps) &&
                   std::abs(length_of(last.ramps) - length_of(next.ramps)) < 1e-6;
    }
    layers_.push_back(std::move(next));
}

std::optional<std::size_t> Fewest::rows(double start, std::size_t most) {
    if (too_many_) return std::nullopt;
    const std::size_t at = node_of(start);
    if (at >= nodes_.size()) return std::nullopt;
    for (std::size_t rows = 0; rows <= most; ++rows) {
        if (rows >= layers_.size()) {
            if (too_many_ || settled_) return std::nullopt;
            // The first layers are quick; before the others, whether any that there will be can be enough.
            const std::size_t last = std::min(most, most_work / layer_work());
            if (rows > 1 && at_least(at, last) > last) return std::nullopt;
            grow();
        }
        if (holds(layers_[rows].ramps[at], 0)) return rows;
    }
    return std::nullopt;
}

std::optional<Fewest::Step> Fewest::best_ramp(std::size_t node, double t, std::size_t rows) const {
    std::optional<Step> best;
    double error = 0;
    bool ended = false;
    const double x = nodes_[node].x;
    for (std::size_t j = node + 1; j < nodes_.size(); ++j) {
        const Instants& there = layers_[rows - 1].enters[j];
        if (there.empty()) continue;
        const double way = nodes_[j].x - x;
        const auto offer = [&](RampPiece piece) {
            const double until = t + piece.duration;
            if (!holds(there, until) || !passes(x, t, nodes_[j].x, until)) return;
            const bool ends = nodes_[j].behind.has_value();
            const double line = std::min(1.0, until / ask_.duration) * length_;
            double off = std::abs(nodes_[j].x - line) / ask_.budget;
            if (ends) off = std::max(off, std::abs(until - ask_.duration) / late_);
            if (best && (ended != ends ? ended : off > error + slack)) return;
            piece.targets = {nodes_[j].target};
            best = Step{j, std::move(piece)};
            error = off;
            ended = ends;
        };
        for (const std::int64_t k : rates_) {
            RampPiece piece;
            piece.rates = {k};
            piece.duration = way / rate_in_K_per_s(c_, k);
            offer(std::move(piece));
        }
        if (!by_time(nodes_[node], nodes_[j])) continue;
        const Steps& grid = *c_.ramp_time;
        for (const Stretch& s : there) {
            const std::int64_t most = std::min(grid.below(s.hi - t + 1e-6), grid.count());
            const double least = std::max(way / fastest_, s.lo - t - 1e-6);
            for (std::int64_t k = std::max<std::int64_t>(0, grid.above(least)); k <= most; ++k) {
                RampPiece piece;
                piece.ramp_time = k;
                piece.duration = grid.value(k);
                if (piece.duration > 0) offer(std::move(piece));
            }
        }
    }
    return best;
}

std::optional<Fewest::Step> Fewest::best_dwell(std::size_t node, double t, std::size_t rows) const {
    if (!ask_.fused && rows == 0) return std::nullopt;
    std::optional<Step> best;
    double error = 0;
    for (const Stretch& s : layers_[ask_.fused ? rows : rows - 1].ramps[node]) {
        const std::int64_t most = std::min(c_.dwell.below(s.hi - t + 1e-6), c_.dwell.count());
        for (std::int64_t k = std::max<std::int64_t>(0, c_.dwell.above(std::max(1e-9, s.lo - t - 1e-6)));
             k <= most; ++k) {
            const double until = t + c_.dwell.value(k);
            const double off = std::abs(nodes_[node].x - std::min(1.0, until / ask_.duration) * length_);
            if (best && off >= error - slack) continue;
            RampPiece piece;
            piece.targets = {nodes_[node].target};
            piece.dwell = k;
            piece.duration = c_.dwell.value(k);
            best = Step{node, std::move(piece)};
            error = off;
        }
    }
    return best;
}

std::optional<Fewest::Way> Fewest::way(double start, std::size_t most) {
    const std::optional<std::size_t> least = rows(start, most);
    if (!least) return std::nullopt;
    Way way;
    std::size_t node = node_of(start);
    double t = 0;
    for (std::size_t left = *least; left > 0;) {
        std::optional<Step> step = best_ramp(node, t, left);
        if (!step) return std::nullopt;
        --left;
        node = step->node;
        t += step->piece.duration;
        way.pieces.push_back(std::move(step->piece));
        way.end = nodes_[node].target;
        if (nodes_[node].behind) return way;
        if (holds(layers_[left].ramps[node], t)) continue;
        step = best_dwell(node, t, left);
        if (!step) return std::nullopt;
        t += step->piece.duration;
        way.pieces.push_back(std::move(step->piece));
        if (!ask_.fused) --left;
    }
    return std::nullopt;
}

std::optional<std::int64_t> Fewest::end(double start, std::size_t most) {
    const std::optional<Way> found = way(start, most);
    return found ? std::optional(found->end) : std::nullopt;
}

std::optional<RampPlan> Fewest::plan(double start, std::size_t most) {
    std::optional<Way> found = way(start, most);
    if (!found) return std::nullopt;
    RampPlan plan;
    plan.pieces = std::move(found->pieces);
    if (!judge_ramp(c_, ask_, plan)) return std::nullopt;
    const double mean = length_ / ask_.duration;
    const std::int64_t below = c_.rate ? rate_below(c_, mean) : 0;
    if (!c_.rate || below >= c_.rate->count())
        plan.why = fmt::format("no fewer settable pieces follow {} for {}", to_text(mean, Kind::rate),
                               to_text(ask_.duration, Kind::time));
    else
        plan.why =
            fmt::format("{} lies between the settable rates {} K/min and {} K/min", to_text(mean, Kind::rate),
                        below >= 0 ? c_.rate->text(below) : "0", c_.rate->text(below + 1));
    return plan;
}

} // namespace athanor::legalise
