#pragma once
#include "compiler/plant/furnace.hpp"

#include <array>
#include <cstddef>

/// A zone and the zones beside it. Every zone is taken as an equal share of the furnace: its rates are those of
/// the whole one. Beside a neighbour at T_n a zone at T gains at most
///   q = A (sigma (T_n^4 - T^4) + h (T_n - T)),
/// black radiation through the whole opening between the zones (Stefan-Boltzmann; nothing between two bodies
/// exchanges more) and what tube and insulation conduct, h = 30 W/(m2 K) (common practice, no source); at least
/// nothing.
///
/// Why this bounds: dT_z/dt = f_z(T_z) + sum q_n grows with every T_n, so the system is cooperative, and a
/// zone's solution with its neighbours held at their greatest temperatures stays above every true one, with the
/// least ones below. Sums over temperature with outward rounding: net cooling grows with temperature.
namespace athanor::plant {

struct Exchange {
    double area = 0;  // m2; 0: not coupled
    double zones = 1; // how many share the furnace's capacity
    /// W from a body at `hot` K to one at `cold` K, greatest; 0 where it is no hotter.
    double most(double hot, double cold) const;
};

/// The furnace as one zone sees it, between neighbours whose temperatures stay in given intervals.
class FurnaceZone {
public:
    explicit FurnaceZone(const Furnace& furnace) : furnace_(&furnace) {}
    FurnaceZone(const Furnace& furnace, const Exchange& exchange) : furnace_(&furnace), exchange_(&exchange) {}
    void beside(Interval temperature);
    bool coupled() const { return count_ > 0; }

    Interval ambient() const { return furnace_->ambient(); }
    Interval heating_rate(double t) const {
        return count_ == 0 ? furnace_->heating_rate(t) : heating_beside(t);
    }
    Interval cooling_rate(double t) const {
        return count_ == 0 ? furnace_->cooling_rate(t) : cooling_beside(t);
    }
    double holdable() const { return count_ == 0 ? furnace_->holdable() : holdable_beside(); }
    double heats_up_to(double rate) const;
    double cools_down_to(double rate) const;
    double coolest(const Furnace::Fastest& way, double seconds) const;
    double warmest(const Furnace::Slowest& way, double seconds) const;
    double warmest(double from, double seconds) const {
        return warmest(Furnace::Slowest(*furnace_, from), seconds);
    }
    double least_heated(double from, double seconds) const;
    double most_heated(double from, double seconds) const;
    Interval cooling_time(double from, double to) const;
    double longest_cooling(double from, double to) const {
        const double alone = furnace_->longest_cooling(from, to);
        return count_ == 0 ? alone : longest_beside(from, to, alone);
    }
    Interval heating_time(double from, double to) const;
    /// K up to which the neighbours may keep the zone with its heater off; the lowest ambient when uncoupled.
    double driven() const;

private:
    double gain(double t) const; // K/s, greatest
    double loss(double t) const; // K/s, greatest
    double net_cooling(double t) const { return furnace_->cooling_rate(t).lo - gain(t); }
    double net_heating(double t) const { return furnace_->heating_rate(t).lo - loss(t); }
    Interval heating_beside(double t) const;
    Interval cooling_beside(double t) const;
    double holdable_beside() const;
    double slow_cooling(double from, double to) const; // s, not less than any zone takes
    double longest_beside(double from, double to, double alone) const;

    const Furnace* furnace_;
    const Exchange* exchange_ = nullptr;
    std::array<Interval, 2> beside_{};
    std::size_t count_ = 0;
    mutable double driven_ = -1; // computed on demand
};

} // namespace athanor::plant
