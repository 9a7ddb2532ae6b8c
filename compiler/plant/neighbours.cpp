#include "compiler/plant/neighbours.hpp"

#include "compiler/physics/constants.hpp"

#include <algorithm>
#include <cmath>

namespace athanor::plant {

namespace {

constexpr double conduction = 30; // W/(m2 K) of the opening: common practice, no source
constexpr int halvings = 40;
constexpr int most_steps = 160;
constexpr double approach = 0.94; // of what is left to an end that is never reached
constexpr double finest = 0.05;   // K
constexpr int parts = 64;         // of a way between two temperatures

/// The place between `good` (holds) and `bad` (does not), on the holding side.
template<class Holds>
double border(double good, double bad, Holds holds) {
    for (int i = 0; i < halvings; ++i) {
        const double middle = 0.5 * (good + bad);
        (holds(middle) ? good : bad) = middle;
    }
    return good;
}

} // namespace

double Exchange::most(double hot, double cold) const {
    if (hot <= cold) return 0;
    const double h2 = hot * hot, c2 = cold * cold;
    return area * (physics::stefan_boltzmann * (h2 + c2) * (hot + cold) + conduction) * (hot - cold);
}

void FurnaceZone::beside(Interval temperature) {
    if (exchange_ == nullptr || !(exchange_->area > 0) || count_ == beside_.size()) return;
    beside_[count_++] = temperature;
    driven_ = -1;
}

double FurnaceZone::gain(double t) const {
    double watts = 0;
    for (std::size_t i = 0; i < count_; ++i) watts += exchange_->most(beside_[i].hi, t);
    const double capacity = std::min(furnace_->heating_capacity().lo, furnace_->cooling_capacity().lo);
    return watts > 0 ? watts * exchange_->zones / std::max(capacity, 1e-9) : 0;
}

double FurnaceZone::loss(double t) const {
    double watts = 0;
    for (std::size_t i = 0; i < count_; ++i) watts += exchange_->most(t, beside_[i].lo);
    const double capacity = std::min(furnace_->heating_capacity().lo, furnace_->cooling_capacity().lo);
    return watts > 0 ? watts * exchange_->zones / std::max(capacity, 1e-9) : 0;
}

Interval FurnaceZone::heating_beside(double t) const {
    const Interval alone = furnace_->heating_rate(t);
    return {alone.lo - loss(t), alone.hi + gain(t)};
}

Interval FurnaceZone::cooling_beside(double t) const {
    const Interval alone = furnace_->cooling_rate(t);
    return {std::max(0.0, alone.lo - gain(t)), alone.hi + loss(t)};
}

double FurnaceZone::holdable_beside() const {
    const double top = furnace_->holdable();
    const auto holds = [&](double t) { return net_heating(t) >= 0; };
    if (holds(top)) return top;
    return border(furnace_->ambient().lo, top, holds);
}

double FurnaceZone::heats_up_to(double rate) const {
    const double alone = furnace_->heats_up_to(rate);
    const auto heats = [&](double t) { return net_heating(t) >= rate; };
    if (count_ == 0 || heats(alone)) return alone;
    return heats(furnace_->ambient().lo) ? border(furnace_->ambient().lo, alone, heats) : 0;
}

double FurnaceZone::cools_down_to(double rate) const {
    const double alone = furnace_->cools_down_to(rate);
    const auto cools = [&](double t) { return net_cooling(t) >= rate; };
    if (count_ == 0 || !std::isfinite(alone) || cools(alone)) return alone;
    double high = alone;
    for (std::size_t i = 0; i < count_; ++i) high = std::max(high, beside_[i].hi); // nothing is gained there
    return border(high, alone, cools);
}

double FurnaceZone::driven() const {
    if (driven_ >= 0) return driven_;
    double hottest = furnace_->ambient().lo;
    for (std::size_t i = 0; i < count_; ++i) hottest = std::max(hottest, beside_[i].hi);
    const auto cools = [&](double t) { return net_cooling(t) > 0; };
    driven_ = hottest <= furnace_->ambient().hi ? furnace_->ambient().lo
                                                : border(hottest, furnace_->ambient().lo, cools);
    return driven_;
}

double FurnaceZone::coolest(const Furnace::Fastest& way, double seconds) const {
    const double from = way.from();
    if (count_ == 0 || seconds <= 0 || loss(from) <= 0) return way.after(seconds);
    const double end = std::min(from, furnace_->ambient().lo);
    double t = from, left = seconds;
    for (int i = 0; i < most_steps && t - end > finest; ++i) {
        const double next = end + (t - end) * approach;
        const double fastest = furnace_->cooling_rate(t).hi + loss(t);
        const double time = std::isfinite(fastest) ? (t - next) / fastest : 0.0;
        if (time >= left) return std::max(next, t - fastest * left);
        left -= time;
        t = next;
    }
    return end;
}

double FurnaceZone::slow_cooling(double from, double to) const {
    const double end = driven();
    if (to <= end) return infinity;
    double t = from, time = 0;
    for (int i = 0; t > to; ++i) {
        if (i == most_steps) return infinity;
        const double next = std::max(to, end + (t - end) * approach);
        const double slowest = net_cooling(next);
        if (!(slowest > 0)) return infinity;
        time += (t - next) / slowest;
        t = next;
    }
    return time * (1 + 1e-9) + 1e-6;
}

double FurnaceZone::warmest(const Furnace::Slowest& way, double seconds) const {
    const double from = way.from(), alone = way.after(seconds);
    if (count_ == 0 || gain(alone) <= 0) return alone;
    const double end = driven();
    if (from <= end) // the neighbours warm it: at most at the first pace, at most up to the balance
        return std::max(from, std::min(end, from + gain(from) * std::max(0.0, seconds)));
    double t = from, left = seconds;
    for (int i = 0; i < most_steps && t - end > finest; ++i) {
        const double next = end + (t - end) * approach;
        const double slowest = net_cooling(next);
        if (!(slowest > 0)) break;
        const double time = (t - next) / slowest;
        if (time >= left) return std::max(alone, t - slowest * left);
        left -= time;
        t = next;
    }
    return std::max(alone, t);
}

double FurnaceZone::least_heated(double from, double seconds) const {
    const double alone = furnace_->least_heated(from, seconds);
    if (count_ == 0 || loss(alone) <= 0) return alone;
    const double end = holdable_beside();
    if (from >= end) return std::min(end, alone); // falls back to what it can hold
    if (seconds <= 0) return std::min(from, alone);
    double t = from, left = seconds;
    for (int i = 0; i < most_steps && end - t > finest; ++i) {
        const double next = end - (end - t) * approach;
        const double slowest = net_heating(next); // full power heats less the hotter it is
        if (!(slowest > 0)) break;
        const double time = (next - t) / slowest;
        if (time >= left) return std::min(alone, t + slowest * left);
        left -= time;
        t = next;
    }
    return std::min(alone, t);
}

double FurnaceZone::most_heated(double from, double seconds) const {
    // Only ever an improvement of other bounds, so none is claimed where a neighbour may help.
    return count_ == 0 || gain(from) <= 0 ? furnace_->most_heated(from, seconds) : infinity;
}

Interval FurnaceZone::cooling_time(double from, double to) const {
    Interval time = furnace_->cooling_time(from, to);
    if (count_ == 0 || to >= from) return time;
    if (loss(from) > 0) {
        double t = from, sum = 0;
        for (int i = 1; i <= parts; ++i) {
            const double next = from + (to - from) * i / parts;
            const double fastest = furnace_->cooling_rate(t).hi + loss(t);
            sum += std::isfinite(fastest) && fastest > 0 ? (t - next) / fastest : 0.0;
            t = next;
        }
        time.lo = std::min(time.lo, sum);
    }
    time.hi = longest_beside(from, to, time.hi);
    return time;
}

double FurnaceZone::longest_beside(double from, double to, double alone) const {
    return to < from && gain(to) > 0 ? std::max(alone, slow_cooling(from, to)) : alone;
}

Interval FurnaceZone::heating_time(double from, double to) const {
    Interval time = furnace_->heating_time(from, to);
    if (count_ == 0 || to <= from) return time;
    if (gain(from) > 0) time.lo = 0;
    if (loss(to) > 0) {
        double t = from, sum = 0;
        for (int i = 1; i <= parts && std::isfinite(sum); ++i) {
            const double next = from + (to - from) * i / parts, slowest = net_heating(next);
            sum += slowest > 0 ? (next - t) / slowest : infinity;
            t = next;
        }
        time.hi = std::max(time.hi, sum);
    }
    return time;
}

} // namespace athanor::plant
