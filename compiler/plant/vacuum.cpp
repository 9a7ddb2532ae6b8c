#include "compiler/plant/vacuum.hpp"

#include "compiler/physics/constants.hpp"
#include "compiler/physics/vacuum.hpp"
#include "compiler/plant/given.hpp"
#include "compiler/plant/pipe.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>

namespace athanor::plant {

using physics::in_series;

namespace {
constexpr double top = 2.5e5;      // Pa
constexpr double step = 1.06;      // ratio of neighbouring pressures in the table
constexpr double slow_gas = 0.8;   // argon over air: viscous 18.2/22.3 uPa s, molecular sqrt(29/40) = 0.85
constexpr double heaviest = 0.044; // kg/mol, carbon dioxide
constexpr double pascal_per_mbar = 100.0; // one mbar
constexpr double room = 293.15;           // K, of the handbooks' conductances
// Viscosity ~ T^0.8 bounds argon, nitrogen, air and hydrogen between 20 and 1500 degC (from memory of gas
// tables: the exponents fall from 0.65..0.85 at room temperature).
constexpr double viscosity_exponent = 0.8;

/// Puts a pipe before the ones so far. Each regime in series on its own is no more than both together where the
/// first pipe is the one in which the viscous part weighs more (the wider one); where it is not, the others'
/// viscous part is taken down to its weight.
void add(double viscous, double molecular, double& viscous_all, double& molecular_all) {
    const double least = molecular > 0 ? std::min(viscous_all, molecular_all * viscous / molecular) : 0;
    viscous_all = in_series(least, viscous);
    molecular_all = in_series(molecular_all, molecular);
}

/// Share of the long pipe's molecular conductance that surely passes.
double short_pipe(double d, double l) {
    const double clausing = 1 - 0.12 * std::min(1.0, 12 * d / l); // under the table, and 1 for long pipes
    return clausing * 0.75 * l / d / (1 + 0.75 * l / d);
}
} // namespace

double viscous_conductance(double d, double l, double mean_pressure) {
    const double cm = 100 * d;
    return 1e-3 * 135 * cm * cm * cm * cm * (mean_pressure / pascal_per_mbar) / (100 * l);
}

double molecular_conductance(double d, double l) {
    const double cm = 100 * d;
    return 1e-3 * 12.1 * cm * cm * cm / (100 * l);
}

double orifice_conductance(double area) {
    return 1e-3 * 11.6 * area * 1e4;
}

Vacuum::Vacuum(const check::Rig& rig, double hottest) : present_(rig.pump.present), hottest_(hottest) {
    leak_ = {0, rig.leak_rate.given ? std::max(0.0, rig.leak_rate.hi()) : 0.0};
    outgassing_ = max(given(rig.outgassing), Interval{0});
    room_ = rig.ambient_temperature.value;
    if (rig.tube.inner_diameter.given) {
        gap_ = rig.tube.inner_diameter.lo();
        if (rig.ends.kind == check::EndsKind::radiation_shields) // a ring around each shield
            gap_ *= 0.5 * (1 - std::sqrt(1 - given(rig.ends.open_area).lo));
        gap_ = std::max(gap_, 1e-5);
    }
    if (!present_) return;
    const check::Pump& pump = rig.pump;
    speed_ = pump.speed.value;
    ultimate_ = pump.ultimate.value;
    viscous_ = molecular_ = 1e3; // no pipe: no resistance
    if (pump.pipe_diameter.given && pump.pipe_length.given && pump.pipe_length.hi() > 0) {
        pipe_bore_ = pump.pipe_diameter.lo();
        pipe_length_ = pump.pipe_length.hi();
        pipe_area_ = 0.25 * std::numbers::pi * pipe_bore_ * pipe_bore_;
        viscous_ = viscous_conductance(pipe_bore_, pipe_length_, 1.0);
        molecular_ = short_pipe(pipe_bore_, pipe_length_) * molecular_conductance(pipe_bore_, pipe_length_);
    }
    const double range = rig.furnace.range.given ? rig.furnace.range.hi() : room;
    const double hot = std::max(1.0, std::min(range, hottest) / room);
    if (rig.tube.inner_diameter.given && rig.tube.length.given && rig.tube.length.hi() > 0) {
        const double bore = rig.tube.inner_diameter.lo(), half = 0.5 * rig.tube.length.hi();
        const double viscous = viscous_conductance(bore, half, 1.0),
                     molecular = molecular_conductance(bore, half);
        // The slow side takes the whole half as hot as it may get.
        add(viscous * std::pow(hot, -1 - viscosity_exponent), molecular / std::sqrt(hot), viscous_, molecular_);
    }
    const check::Ends& ends = rig.ends;
    if (ends.kind == check::EndsKind::radiation_shields && ends.count.given && rig.tube.inner_diameter.given) {
        // A shield is a thin orifice; in denser gas it passes more than in molecular flow.
        const double bore = rig.tube.inner_diameter.lo();
        const double open = given(ends.open_area).lo;
        const double orifice = orifice_conductance(open * 0.25 * std::numbers::pi * bore * bore);
        if (ends.count.hi() > 0) shields_ = slow_gas * orifice / std::sqrt(hot) / ends.count.hi();
    }
    // Where the slowest pump balances the worst gas load; S_eff (p - p_ult) grows with p.
    const double load = leak_.hi + outgassing_.hi;
    const auto removed = [&](double p) { return speed(p).lo * (p - ultimate_.hi); };
    double lo = ultimate_.hi, hi = top;
    for (int i = 0; i < 60; ++i) {
        const double middle = lo > 0 && hi / lo < 1e6 ? std::sqrt(lo * hi) : 0.5 * (lo + hi);
        (removed(middle) < load ? lo : hi) = middle;
    }
    lowest_ = {ultimate_.lo, hi};

    // 1/removal is convex in p, so trapezoids give an upper bound of the time.
    const double bottom = std::max(lowest_.hi * (1 + 1e-6), 1e-12);
    double p = top, sum = 0, removal = removed(p) - load;
    knots_.push_back({p, sum, removal});
    while (p > bottom) {
        // Finer towards the end, where the removal vanishes.
        const double above = p - lowest_.hi;
        const double next = std::max({p / step, lowest_.hi + above / step, bottom});
        if (!(next < p)) break;
        const double there = removed(next) - load;
        sum += 0.5 * (p - next) * (1 / removal + 1 / there);
        p = next;
        removal = there;
        knots_.push_back({p, sum, removal});
        if (knots_.size() > 2000) break;
    }
}

/// With v at the tube's side, S the pump and c the laminar conductance: 1 = (v/S)^2 + v/c + a v^2, of which the
/// first is at most v/S.
double Vacuum::through_pipe(double p, double c) const {
    double v = in_series(speed_.lo, c);
    if (pipe_area_ <= 0 || v <= 0) return v;
    constexpr double gas = physics::gas_constant * room / heaviest; // (m/s)2
    const double b = 1 / speed_.lo + 1 / c;
    // Single molecules push nothing: it fades with the mean free path, 6.6e-3 Pa m over the pressure (nitrogen
    // at 20 degC; vacuum handbooks, from memory).
    const double dense = 1 / (1 + 6.6e-3 / (p * pipe_bore_));
    for (int i = 0; i < 12; ++i) { // from above, by a small step already after the third
        const double re = p / gas * v * pipe_bore_ / (pipe_area_ * pipe::thickest);
        const double friction = std::max(0.0, pipe::blasius / std::pow(re, pipe::power) - pipe::laminar / re);
        const double heads =
            friction * pipe_length_ / pipe_bore_ + pipe::of_ends + 2 * std::log(std::max(1.0, speed_.lo / v));
        const double a = dense * heads / (pipe_area_ * pipe_area_ * gas);
        const double next = 2 / (b + std::sqrt(b * b + 4 * a));
        const bool stands = std::abs(next - v) <= 1e-12 * v;
        v = next;
        if (stands) break;
    }
    return v;
}

Interval Vacuum::speed(double p) const {
    if (!std::isfinite(shields_)) {
        const double c = slow_gas * (viscous_ * 0.5 * p + molecular_);
        return {through_pipe(p, c), speed_.hi};
    }
    // Behind the shields the pressure is lower by what they hold back from the fastest pump.
    const double behind = p * shields_ / (shields_ + speed_.hi);
    const double c = slow_gas * (viscous_ * 0.5 * behind + molecular_);
    return {in_series(through_pipe(behind, c), shields_), speed_.hi};
}

double Vacuum::hot_pressure(double p, double hottest) const {
    if (!present_ || hottest <= room_.hi) return p;
    // No pressure differs where the gap is wider than a hundred mean free paths: p d > 0.67 mbar cm for air at
    // 20 degC, three times that for the lightest gases; the mean free path grows as T^1.2 at most.
    const double dense = 2.0 * pascal_per_mbar * 0.01 / gap_ * std::pow(std::max(1.0, hottest / room), 1.2);
    if (p >= dense) return p;
    return std::max(p, std::min(p * std::sqrt(hottest / room_.lo), dense));
}

double Vacuum::carried(double p) const {
    return std::max(0.0, speed(p).lo * (p - ultimate_.hi) - leak_.hi - outgassing_.hi);
}

std::vector<Vacuum::Knot>::const_iterator Vacuum::knot_below(double p) const {
    return std::partition_point(knots_.begin(), knots_.end(), [&](const Knot& k) { return k.pressure >= p; });
}

double Vacuum::slow_time(double p) const {
    if (p > knots_.front().pressure || p < knots_.back().pressure) return infinity;
    const auto below = knot_below(p);
    if (below == knots_.end()) return knots_.back().time;
    // Time is convex in p: the chord lies above it.
    const Knot& above = *std::prev(below);
    const double part = (above.pressure - p) / (above.pressure - below->pressure);
    return above.time + part * (below->time - above.time);
}

double Vacuum::sufficient(double from, double to, double volume) const {
    if (from <= to) return 0;
    if (!present_ || from > knots_.front().pressure || to < knots_.back().pressure) return infinity;
    // A chord lies above its curve at both ends, so the start is taken at the next knot above.
    const auto below = knot_below(from);
    const double before = below == knots_.begin() ? 0 : std::prev(below)->time;
    return volume * std::max(0.0, slow_time(to) - before);
}

double Vacuum::slowest(double from, double volume, double seconds, double expands, double thinned) const {
    if (expands > 0) {
        // The amount of gas falls at least as fast as in a tube that stays cold and dense.
        double best = thinned * slowest(from, volume, seconds);
        // Or: where the expansion takes no more than a share of what the pump removes, the rest counts. The
        // removal per pascal grows with pressure, so that this holds from some pressure on.
        const double load = leak_.hi + outgassing_.hi;
        for (const double share : {0.002, 0.01, 0.03, 0.1, 0.3, 0.6}) {
            const auto covers = [&](double p) {
                return expands * p <= share * (speed(p).lo * (p - ultimate_.hi) - load);
            };
            const auto below = std::partition_point(knots_.begin(), knots_.end(), [&](const Knot& k) {
                return expands * k.pressure <= share * k.removal;
            });
            if (below == knots_.begin()) continue;
            double lo = below == knots_.end() ? lowest_.hi : below->pressure, hi = std::prev(below)->pressure;
            for (int i = 0; i < 5; ++i) { // to 0.2 %
                const double middle = std::sqrt(lo * hi);
                (covers(middle) ? hi : lo) = middle;
            }
            best = std::min(best, std::max(hi, slowest(from, volume / (1 - share), seconds)));
        }
        return best;
    }
    const auto done = [&](double p) { return sufficient(from, p, volume) <= seconds; };
    if (from <= lowest_.hi) return lowest_.hi;
    double hi = from, lo = knots_.back().pressure;
    if (done(lo)) return lo;
    for (int i = 0; i < 48; ++i) {
        const double middle = std::sqrt(hi * lo);
        (done(middle) ? hi : lo) = middle;
    }
    return hi;
}

double Vacuum::fastest(double from, double volume, double seconds, double contracts) const {
    // No gas load, the pump's own speed, its best ultimate; and none comes back out of the pump below it.
    const double pumped = from <= ultimate_.lo
                              ? from
                              : ultimate_.lo + (from - ultimate_.lo) * std::exp(-speed_.hi * seconds / volume);
    return contracts > 0 ? pumped * std::exp(-contracts * seconds / volume) : pumped;
}

} // namespace athanor::plant
