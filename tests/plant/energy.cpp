// Energy that the heater takes, and what a furnace loses, against the balance of heat of one known furnace.
#include "tests/plant/rigs.hpp"

#include <cmath>
#include <doctest/doctest.h>

using namespace bench;

namespace {

/// C dT/dt = P - U (T - Ta): every row of its data sheet has a closed form (a first-order body; textbook).
struct Linear {
    double loss = 1.6;                     // W/K
    double capacity = 4200;                // J/K
    double room = 23 + zero, power = 3000; // K, W

    double heat_up(double to) const { return -capacity / loss * std::log(1 - loss * (to - room) / power); }
    double cool_down(double from, double to) const {
        return capacity / loss * std::log((from - room) / (to - room));
    }
    double holding(double at) const { return loss * (at - room); }
};

Interval about(double x, double share) {
    return {x * (1 - share), x * (1 + share)};
}

Bench bench_of(const Linear& f) {
    Bench b;
    const double hot = 1100 + zero, warm = 200 + zero;
    b.rig.furnace.heat_up = {{figure(about(f.heat_up(hot), 0.03)), hot}};
    b.rig.furnace.holding_power = {{figure(about(f.holding(hot), 0.03)), hot},
                                   {figure(about(f.holding(600 + zero), 0.03)), 600 + zero}};
    b.rig.furnace.cool_down = {{hot, warm, figure(about(f.cool_down(hot, warm), 0.03))}};
    return b;
}

} // namespace

TEST_CASE("energy of a ramp and a hold, by the balance of heat") {
    const Linear f;
    Bench b = bench_of(f);
    plant::Plant& p = b.build();
    const timeline::State gas = Bench::closed();
    const double from = 300 + zero, to = 900 + zero, rate = 5.0 / 60, length = (to - from) / rate;
    const timeline::Law stay = hold(from), up = ramp(from, to, rate), soak = hold(to);
    const plant::State entry = p.pass(p.start(), {&stay, &gas}, fixed(20 * hour)).exit;

    const double ramped = f.capacity * (to - from) + f.loss * (0.5 * (from + to) - f.room) * length;
    const Interval of_ramp = p.energy(entry, {&up, &gas}, length);
    CHECK(of_ramp.contains(ramped));
    CHECK(of_ramp.width() < 0.5 * ramped);

    const plant::State hot = p.pass(entry, {&up, &gas}, fixed(length)).exit;
    const double held = f.holding(to) * 4 * hour;
    const Interval of_hold = p.energy(hot, {&soak, &gas}, 4 * hour);
    CHECK(of_hold.contains(held));
    CHECK(of_hold.width() < 0.4 * held);
    // Never more than full power at the highest mains voltage.
    CHECK(p.energy(p.start(), {&soak, &gas}, hour).hi <= 3000 * 1.21 * hour * (1 + 1e-6));

    // Cooling off takes nothing, until the fastest furnace stands at the target.
    const timeline::Law cool = off(to, 400 + zero);
    const plant::State soaked = p.pass(hot, {&soak, &gas}, fixed(4 * hour)).exit;
    const Interval cooling = p.natural_cooling(to, 400 + zero);
    CHECK(p.energy(soaked, {&cool, &gas}, 0.5 * cooling.lo) == Interval{0});
    const Interval late = p.energy(soaked, {&cool, &gas}, cooling.hi);
    CHECK(late.lo == 0);
    CHECK(late.hi < f.holding(430 + zero) * cooling.hi);
    // One that has undershot by 10 K takes the heat of that more to come back.
    Bench flat = bench_of(f);
    flat.rig.furnace.overshoot = figure(0);
    const Interval without = flat.build().energy(soaked, {&cool, &gas}, cooling.hi);
    CHECK(late.hi >= without.hi + f.capacity * 10);
}

TEST_CASE("what a furnace loses lies inside each holding power that it declares") {
    const Linear f;
    Bench b = bench_of(f);
    plant::Plant& p = b.build();
    for (double at : {600 + zero, 1100 + zero}) {
        const Interval loss = p.holding_power(at), declared = about(f.holding(at), 0.03);
        CHECK(loss.contains(f.holding(at)));
        CHECK(loss.hi <= declared.hi * 1.01); // between two knots of the table
        CHECK(loss.lo >= declared.lo * 0.97);
    }
}
