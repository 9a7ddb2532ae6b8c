// Drawn rigs with a pump: pumping down, and gas flowing at a pressure that a throttle holds.
#include "compiler/physics/vacuum.hpp"
#include "compiler/plant/vacuum.hpp"
#include "tests/plant/rigs.hpp"

#include <boost/numeric/odeint.hpp>
#include <cmath>
#include <doctest/doctest.h>
#include <random>

using namespace bench;
using timeline::SignalKind;

namespace {

namespace ode = boost::numeric::odeint;
constexpr double gas = 8.314462618;

double drawn(std::mt19937& random, Interval x) {
    const double u = std::uniform_real_distribution<>(-0.3, 1.3)(random);
    return x.lo + std::clamp(u, 0.0, 1.0) * x.width();
}

struct Pumped : Bench {
    Pumped() {
        pumped();
        rig.ends.count = figure(4);
        rig.ends.open_area = figure({0.05, 0.2});
        rig.pump.speed = figure({3.5 / 3600, 4.5 / 3600});
        rig.pump.ultimate = figure({0.5, 2});
        rig.outgassing = figure({0, 2e-5});
        rig.has_throttle = true;
        rig.throttle_accuracy = figure(0.05);
    }
};

} // namespace

TEST_CASE("a thin orifice passes 11.6 L/s for each cm2") {
    // Vacuum handbooks, air at 20 degC, molecular flow.
    CHECK(plant::orifice_conductance(1e-4) * 1e3 == doctest::Approx(11.6).scale(0));
    Pumped b;
    const plant::Vacuum with(b.rig);
    b.rig.ends.count = figure(0);
    const plant::Vacuum without(b.rig);
    for (const double p : {0.1, 10.0, 1e3, 1e5}) {
        CHECK(with.speed(p).lo < without.speed(p).lo);
        CHECK(with.speed(p).hi == without.speed(p).hi);
    }
}

TEST_CASE("no time is known from above 2.5 bar, where the table of times begins") {
    Pumped b;
    const plant::Vacuum v(b.rig);
    const double volume = 3e-3, down = v.sufficient(2.5e5, 1e5, volume);
    CHECK(down > v.sufficient(2e5, 1e5, volume));
    CHECK(std::isfinite(down));
    CHECK(v.sufficient(2.6e5, 1e5, volume) == infinity);
    CHECK(v.sufficient(2.6e5, 2.55e5, volume) == infinity);
    CHECK(v.sufficient(2.6e5, 2.7e5, volume) == 0); // is below it already
    CHECK(v.slowest(2.6e5, volume, 1e6) == 2.6e5);
}

TEST_CASE("thermal transpiration: up to the root of the temperatures, and none in dense gas") {
    Pumped b;
    const plant::Vacuum v(b.rig);
    // Knudsen: p_hot / p_cold = sqrt(T_hot / T_cold) in molecular flow.
    CHECK(v.hot_pressure(1e-3, 1164) == doctest::Approx(1e-3 * 2).scale(0).epsilon(1e-3)); // 1164 K over 291 K
    CHECK(v.hot_pressure(1e5, 1164) == 1e5);
    CHECK(v.hot_pressure(10, 300) == 10); // as cold as the room
    double before = 0;
    for (double p = 1e-3; p < 1e5; p *= 1.1) {
        const double at = v.hot_pressure(p, 1164);
        CHECK(at >= p);
        CHECK(at >= before);
        CHECK(at <= p * 2.001);
        before = at;
    }
}

TEST_CASE("drawn rigs that are pumped, with or without gas at a held pressure, stay inside the envelope") {
    Pumped b;
    plant::Plant& p = b.build();
    std::mt19937 random(404);
    int outside = 0, held_inside = 0;
    for (int i = 0; i < 600; ++i) {
        const bool flows = i % 3 != 0;
        const double speed = drawn(random, b.rig.pump.speed.value),
                     ultimate = drawn(random, b.rig.pump.ultimate.value);
        const double leak = drawn(random, {0, 1e-5}), walls = drawn(random, {0, 2e-5});
        const double room = drawn(random, b.rig.ambient_temperature.value);
        const double hot = i % 2 == 0 ? room : drawn(random, {30 + zero, 1000 + zero});
        const double held = flows ? std::pow(10, drawn(random, {2.3, 4})) : 0; // 200 Pa to 100 mbar
        const double most = flows ? p.held_flow(held) : 0;
        const double set = flows ? drawn(random, {0.1, 0.95}) * most / 1.05 : 0,
                     flow = set * drawn(random, {0.95, 1.05});
        // Plug-free tube; ends fall linearly to seals.
        const double area = 0.25 * 3.141592653589793 * 0.06 * 0.06,
                     seal = std::min(hot, room + drawn(random, {0, 80}));
        double content = 0.6 / hot;
        for (int k = 0; k < 50; ++k) content += 0.6 / 50 / (seal + (hot - seal) * (k + 0.5) / 50);
        content *= area / gas; // mol per Pa
        // Pipe and tube in air (viscosity 18.2 uPa s), four shields of a drawn opening, as conductances of room
        // air.
        const double open = drawn(random, b.rig.ends.open_area.value);
        const double shields = plant::orifice_conductance(open * area) / 4 * std::sqrt(293.15 / hot);
        const auto pump_speed = [&](double at) {
            const double pipe =
                plant::viscous_conductance(0.025, 1, 0.5 * at) + plant::molecular_conductance(0.025, 1);
            const double one = physics::in_series(speed, pipe);
            return physics::in_series(one, shields);
        };
        const double band = drawn(random, {-0.05, 0.05});
        const double mixing = drawn(random, b.rig.mixing.value);
        using Vector = std::array<double, 3>; // pressure, oxygen, volumes swept
        const auto system = [&](const Vector& x, Vector& d, double) {
            const double gas_in = flow + (leak + walls) / (gas * 293.15);
            // Inside its accuracy the throttle opens as far as it must, outside it is open or shut.
            double out = pump_speed(x[0]) * std::max(0.0, x[0] - ultimate) / (gas * room);
            if (flows) {
                const double target = held * (1 + band);
                if (x[0] < 0.95 * held)
                    out = 0;
                else if (x[0] <= 1.05 * held)
                    out = std::clamp(gas_in + (x[0] - target) * content / 5, 0.0, out);
            }
            d[0] = (gas_in - out) / content;
            const double moles = x[0] * content;
            d[1] = (mixing * flow * (2e-6 - x[1]) + leak / (gas * 293.15) * (0.2095 - x[1]) -
                    walls / (gas * 293.15) * x[1]) /
                   moles;
            d[2] = flow / moles;
        };
        plant::State entry = p.start();
        const double from = flows ? std::pow(10, drawn(random, {1, 4.5})) : 1e5;
        entry.pressure = from;
        entry.fraction[Bench::oxygen] = entry.pore[Bench::oxygen] = 0.2;
        entry.zones[0].control = entry.zones[0].load = hot;
        const timeline::Law law = hold(hot);
        timeline::State state = flows ? Bench::flowing(set) : Bench::closed();
        state.pump = true;
        state.regulated = held;
        Vector x{from, 0.2, 0};
        auto stepper = ode::make_controlled(1e-9, 1e-9, ode::runge_kutta_dopri5<Vector>());
        double now = 0;
        for (const double until : {2.0, 20.0, 120.0, 1200.0}) {
            ode::integrate_adaptive(stepper, system, x, now, until, 0.01);
            const plant::State at = p.during(entry, {&law, &state}, until),
                               over = p.during(entry, {&law, &state}, {now, until});
            now = until;
            for (const plant::State* s : {&at, &over}) {
                const bool pressure =
                    s->pressure.lo * (1 - 1e-6) - 1e-6 <= x[0] && x[0] <= s->pressure.hi * (1 + 1e-6);
                const Interval oxygen = s->fraction[Bench::oxygen];
                const bool composition = oxygen.lo - 1e-7 <= x[1] && x[1] <= oxygen.hi + 1e-7;
                const bool swept = s->swept.lo * (1 - 1e-6) <= x[2] && x[2] <= s->swept.hi * (1 + 1e-6);
                if (pressure && composition && swept) continue;
                ++outside;
                CAPTURE(i);
                CAPTURE(until);
                CAPTURE(held);
                CAPTURE(x[0]);
                CAPTURE(s->pressure.lo);
                CAPTURE(s->pressure.hi);
                CAPTURE(x[1]);
                CAPTURE(oxygen.lo);
                CAPTURE(oxygen.hi);
                CHECK(pressure);
                CHECK(composition);
                CAPTURE(x[2]);
                CAPTURE(s->swept.lo);
                CAPTURE(s->swept.hi);
                CHECK(swept);
            }
            if (flows && until == 1200)
                held_inside += at.pressure.hi <= 1.06 * held && at.pressure.lo >= 0.94 * held;
        }
    }
    CHECK(outside == 0);
    CHECK(held_inside > 300); // of 400: the held pressure is told as held
}

TEST_CASE("a tube at its pump's ultimate pressure that cools may fall below it: nothing need come back") {
    Bench b;
    b.pumped();
    b.rig.leak_rate = figure(0);
    plant::Plant& p = b.build();
    timeline::State pumping = Bench::closed();
    pumping.pump = true;
    const timeline::Law hot = hold(800 + zero), cold = off(800 + zero, 20 + zero);
    plant::State entry = p.start();
    entry.zones[0].control = entry.zones[0].load = 800 + zero;
    entry.zones[0].setpoint = 800 + zero;
    entry = p.pass(entry, {&hot, &pumping}, fixed(10 * hour)).exit;
    const double start = entry.pressure.lo;
    entry = p.pass(entry, {&cold, &pumping}, fixed(10 * hour)).exit;
    // The ideal gas law: the amount that 0.6 m at 800 degC and 2 x 0.3 m between it and 20 to 108 degC held now
    // fills 1.2 m at room temperature.
    const double room = 20 + zero, seal = 108 + zero, inside = 800 + zero;
    const double held = 0.6 / inside + 0.6 * std::log(inside / room) / (inside - room);
    CHECK(entry.pressure.lo <= start * held * room / 1.2 * 1.05);
    CHECK(entry.pressure.lo >= 0.5 * start * held * seal / 1.2 / 1.5);
    CHECK(start <= 1.0);
}
