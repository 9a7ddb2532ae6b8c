// Closed forms against an adaptive integrator on random spans, where the formula is exact: 1e-9 relative.
#include "compiler/plant/dilution.hpp"
#include "compiler/plant/vacuum.hpp"
#include "compiler/plant/volume.hpp"
#include "compiler/plant/zone.hpp"
#include "tests/plant/rigs.hpp"

#include <boost/numeric/odeint.hpp>
#include <cmath>
#include <doctest/doctest.h>
#include <random>

using namespace athanor;

namespace {

namespace ode = boost::numeric::odeint;
using Pair = std::array<double, 2>;
constexpr double accuracy = 1e-12, absolute = 1e-15; // of the integrator

template<class F>
Pair integrated(Pair x, double seconds, F f) {
    ode::integrate_adaptive(ode::make_controlled(absolute, accuracy, ode::runge_kutta_dopri5<Pair>()), f, x,
                            0.0, seconds, 0.01 * seconds);
    return x;
}

double between(std::mt19937& random, double lo, double hi) { // evenly in the logarithm
    return lo * std::pow(hi / lo, std::uniform_real_distribution<>(0, 1)(random));
}

} // namespace

TEST_CASE("free gas and pores of one release time, 2000 spans") {
    std::mt19937 random(1);
    for (int i = 0; i < 2000; ++i) {
        const double a = between(random, 1e-5, 1e-2), ratio = between(random, 1e-3, 3),
                     release = between(random, 20, 900);
        const double seconds = between(random, 1, 5000), u = between(random, 1e-3, 0.2),
                     v = u * between(random, 1, 5);
        const double c = ratio / release, g = 1 / release;
        const Pair x = integrated({u, v}, seconds, [&](const Pair& y, Pair& d, double) {
            d = {-a * y[0] + c * (y[1] - y[0]), g * (y[0] - y[1])};
        });
        const plant::Excess e = plant::Dilution(a, ratio, plant::Release(release), 0, seconds)({u, v});
        // Relative to what was there: a fraction that has fallen by e^-50 has lost its digits in both.
        CHECK(std::abs(e.free - x[0]) <= 1e-9 * std::max(x[0], 1e-3 * u));
        CHECK(std::abs(e.pore - x[1]) <= 1e-9 * std::max(x[1], 1e-3 * u));
    }
}

TEST_CASE("a release time that is cut into cells bounds as the greatest of them, number for number") {
    std::mt19937 random(5);
    for (int i = 0; i < 20000; ++i) {
        const double a = between(random, 1e-7, 1e-1), ratio = between(random, 1e-5, 10),
                     stirring = i % 2 == 0 ? 0 : between(random, 1e-7, 1e-1),
                     seconds = between(random, 1, i % 5 == 0 ? 1e7 : 1e5);
        const double u = between(random, 1e-9, 1), v = i % 3 == 0 ? u : u * between(random, 1, 100);
        const Interval release{60, 60 * std::pow(1.2, i % 24 + 0.5)}; // one cell more than whole powers of 1.2
        const double cells = i % 24 + 1, step = std::pow(release.hi / release.lo, 1 / cells);
        plant::Excess most;
        bool rising = false;
        double fast = release.lo;
        for (int cell = 0; cell < static_cast<int>(cells); ++cell) {
            const double slow = cell + 1 == static_cast<int>(cells) ? release.hi : fast * step;
            const plant::Dilution one(a, ratio, plant::Release({fast, slow}), stirring, seconds);
            most.free = std::max(most.free, one({u, v}).free);
            most.pore = std::max(most.pore, one({u, v}).pore);
            rising = rising || one.rising({u, v});
            fast = slow;
        }
        const plant::Dilution all(a, ratio, plant::Release(release), stirring, seconds);
        CHECK(all({u, v}).free == most.free);
        CHECK(all({u, v}).pore == most.pore);
        CHECK(all.rising({u, v}) == rising);
    }
}

TEST_CASE("a mixed sweep without pores and its time, 2000 spans") {
    std::mt19937 random(2);
    for (int i = 0; i < 2000; ++i) {
        const double a = between(random, 1e-5, 1e-2), u = between(random, 1e-3, 0.3),
                     in = between(random, 1e-7, 1e-5);
        const double to = in + u * between(random, 1e-4, 0.9);
        const double seconds = std::log(u / (to - in)) / a;
        const Pair x = integrated({in + u, 0}, seconds, [&](const Pair& y, Pair& d, double) {
            d = {a * (in - y[0]), 0};
        });
        CHECK(x[0] == doctest::Approx(to).scale(0).epsilon(1e-9));
        const plant::Excess e = plant::Dilution(a, 0, {}, 0, seconds)({u, u});
        CHECK(e.free == doctest::Approx(to - in).scale(0).epsilon(1e-9));
    }
}

TEST_CASE("a first-order lag behind a line, 2000 spans") {
    std::mt19937 random(3);
    for (int i = 0; i < 2000; ++i) {
        const double tau = between(random, 1, 1000), slope = between(random, 1e-3, 1) * (i % 2 == 0 ? 1 : -1);
        const double from = between(random, 300, 1400), behind = between(random, 1, 200),
                     seconds = between(random, 1, 1e4);
        const Pair x = integrated({from - behind, 0}, seconds, [&](const Pair& y, Pair& d, double t) {
            d = {(from + slope * t - y[0]) / tau, 0};
        });
        CHECK(plant::lag_after(from - behind, from, slope, tau, seconds) ==
              doctest::Approx(x[0]).scale(0).epsilon(1e-9));
    }
}

TEST_CASE("moles between straight lines of temperature, 2000 bare tubes") {
    std::mt19937 random(4);
    bench::Bench b;
    b.rig.ends = {};
    b.rig.seals.rise = bench::figure(0);
    for (int i = 0; i < 2000; ++i) {
        const double bore = between(random, 0.005, 0.3), heated = between(random, 0.1, 2),
                     end = between(random, 0.01, 1), room = between(random, 280, 310),
                     hot = between(random, 310, 1900);
        b.rig.tube.inner_diameter = bench::figure(bore);
        b.rig.tube.length = bench::figure(heated + 2 * end);
        b.rig.furnace.heated_length = bench::figure(heated);
        b.rig.ambient_temperature = bench::figure(room);
        const Pair x = integrated({0, 0}, end, [&](const Pair&, Pair& d, double at) {
            d = {1 / (room + (hot - room) * at / end), 0};
        });
        const double area = 3.14159265358979323846 * bore * bore / 4;
        const double exact = area / 8.314462618 * (heated / hot + 2 * x[0]);
        const Interval content = plant::Volume(b.rig).content(hot).free;
        CHECK(content.lo == doctest::Approx(exact).scale(0).epsilon(1e-9));
        CHECK(content.hi == doctest::Approx(exact).scale(0).epsilon(1e-9));
    }
}

TEST_CASE("pump-down at constant speed, 2000 spans") {
    std::mt19937 random(5);
    bench::Bench b;
    b.pumped();
    for (int i = 0; i < 2000; ++i) {
        const double speed = between(random, 1e-4, 1e-2), ultimate = between(random, 1e-3, 10),
                     volume = between(random, 1e-3, 1e-1), from = between(random, 20, 1e5),
                     seconds = between(random, 0.1, 10) * volume / speed;
        b.rig.pump.speed = bench::figure(speed);
        b.rig.pump.ultimate = bench::figure(ultimate);
        const Pair x = integrated({from, 0}, seconds, [&](const Pair& y, Pair& d, double) {
            d = {-speed / volume * (y[0] - ultimate), 0};
        });
        CHECK(plant::Vacuum(b.rig).fastest(from, volume, seconds) ==
              doctest::Approx(x[0]).scale(0).epsilon(1e-9));
    }
}
