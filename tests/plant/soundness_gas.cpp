// Gas of rigs drawn inside the declared intervals never leaves the envelope.
#include "compiler/plant/volume.hpp"
#include "tests/plant/rigs.hpp"

#include <boost/numeric/odeint.hpp>
#include <cmath>
#include <doctest/doctest.h>
#include <random>

using namespace bench;

namespace {

using Vector = std::array<double, 4>; // oxygen and hydrogen, free and in the pores
namespace ode = boost::numeric::odeint;

double drawn(std::mt19937& random, Interval x) {
    const double u = std::uniform_real_distribution<>(-0.3, 1.3)(random);
    return x.lo + std::clamp(u, 0.0, 1.0) * x.width();
}

/// mol per Pa, by quadrature over the length; plugs next to the hot zone or next to the seals.
struct Content {
    double free = 0, pore = 0;
};
Content content(const check::Rig& rig, double hot, double seal, bool plugs_hot) {
    const double area = 0.25 * 3.141592653589793 * std::pow(rig.tube.inner_diameter.hi(), 2);
    const double end = 0.5 * (rig.tube.length.hi() - rig.furnace.heated_length.hi()),
                 plug = rig.ends.length.hi();
    Content c;
    c.free = rig.furnace.heated_length.hi() / hot;
    constexpr int n = 100; // even, so that the plugs end between two points
    for (int i = 0; i < n; ++i) {
        const double u = (i + 0.5) / n, t = seal + (hot - seal) * u, dx = 2 * end / n;
        const bool inside = plugs_hot ? u > 1 - plug / end : u < plug / end;
        if (inside)
            c.pore += rig.ends.porosity.hi() * dx / t;
        else
            c.free += dx / t;
    }
    c.free *= area / 8.314462618;
    c.pore *= area / 8.314462618;
    return c;
}

} // namespace

TEST_CASE("purges and changes of gas of drawn tubes stay inside the envelope") {
    Bench b;
    plant::Plant& p = b.build();
    std::mt19937 random(4711);
    int outside = 0;
    for (int i = 0; i < 2000; ++i) {
        const double mixing = drawn(random, b.rig.mixing.value),
                     release = drawn(random, b.rig.ends.air_release.value);
        const double leak = drawn(random, b.rig.leak_rate.value) / (8.314462618 * 293.15);
        const double pressure = drawn(random, b.rig.ambient_pressure.value);
        const double wrong = drawn(random, {0.95, 1.05}), seal_rise = drawn(random, {0, 80});
        const double set = drawn(random, {0.2 * slm, 2 * slm}), from = drawn(random, {30 + zero, 900 + zero});
        const double to = drawn(random, {30 + zero, 900 + zero}), minutes = drawn(random, {5, 90});
        const bool plugs_hot = i % 2 == 0, brings_hydrogen = i % 3 == 0;
        const double ambient = drawn(random, b.rig.ambient_temperature.value);
        const double rate = (to - from) / (minutes * 60);
        const double inlet[2] = {2e-6, brings_hydrogen ? 1 - 7e-6 : 0.0}, air[2] = {0.2095, 0.0};
        const double flow = set * wrong;
        const auto hot_at = [&](double t) { return from + rate * t; };
        const auto system = [&](const Vector& x, Vector& d, double t) {
            const double hot = hot_at(t), seal = std::min(ambient + seal_rise, hot);
            const Content n = content(b.rig, hot, seal, plugs_hot);
            const double whole = n.free * pressure;
            for (std::size_t k = 0; k < 2; ++k) {
                const double exchange = (x[2 + k] - x[k]) / release;
                d[k] = (mixing * flow * (inlet[k] - x[k]) + leak * (air[k] - x[k]) +
                        n.pore * pressure * exchange) /
                       whole;
                d[2 + k] = -exchange;
            }
        };
        // Free gas and pores need not start alike.
        const double was = drawn(random, {1e-5, 0.2095}), held = drawn(random, {1e-5, 0.2095}),
                     fuel = drawn(random, {0, 0.9});
        Vector x{was, fuel, held, fuel};
        plant::State entry = p.start();
        entry.fraction[Bench::oxygen] = was;
        entry.pore[Bench::oxygen] = held;
        entry.fraction[Bench::hydrogen] = entry.pore[Bench::hydrogen] = fuel;
        entry.zones[0].control = from;
        entry.zones[0].load = from;
        const timeline::Law law = std::abs(to - from) < 1 ? hold(from) : ramp(from, to, rate);
        const timeline::State gas = brings_hydrogen ? Bench::flowing(0, set) : Bench::flowing(set);
        double now = 0;
        auto stepper = ode::make_controlled(1e-9, 1e-9, ode::runge_kutta_dopri5<Vector>());
        for (double share : {0.05, 0.3, 1.0}) {
            const double until = share * minutes * 60;
            ode::integrate_adaptive(stepper, system, x, now, until, 5.0);
            const plant::State at = p.during(entry, {&law, &gas}, until);
            const plant::State over = p.during(entry, {&law, &gas}, {now, until});
            now = until;
            const std::size_t species[2] = {Bench::oxygen, Bench::hydrogen};
            for (std::size_t k = 0; k < 2; ++k) {
                const double slack = 1e-8;
                const auto holds = [&](Interval bound, double value) {
                    return bound.lo - slack <= value && value <= bound.hi + slack;
                };
                const bool inside =
                    holds(at.fraction[species[k]], x[k]) && holds(at.pore[species[k]], x[2 + k]) &&
                    holds(over.fraction[species[k]], x[k]) && holds(over.pore[species[k]], x[2 + k]);
                if (!inside) {
                    ++outside;
                    CAPTURE(k);
                    CAPTURE(until);
                    CAPTURE(x[k]);
                    CAPTURE(x[2 + k]);
                    CAPTURE(at.fraction[species[k]].hi);
                    CAPTURE(at.pore[species[k]].hi);
                    CHECK(inside);
                }
            }
        }
    }
    CHECK(outside == 0);
}

TEST_CASE("the content of a tube holds every place of its plugs") {
    Bench b;
    const plant::Volume volume(b.rig);
    std::mt19937 random(99);
    for (int i = 0; i < 500; ++i) {
        const double hot = drawn(random, {30 + zero, 1200 + zero}), spread = drawn(random, {0, 40});
        const double ambient = drawn(random, b.rig.ambient_temperature.value);
        const Content c = content(b.rig, hot, std::min(hot, ambient + drawn(random, {0, 80})), i % 2 == 0);
        const plant::Volume::Content bound = volume.content({hot - spread, hot + spread});
        CHECK(bound.free.lo <= c.free * (1 + 1e-5));
        CHECK(c.free <= bound.free.hi * (1 + 1e-5));
        CHECK(bound.pore.lo <= c.pore * (1 + 1e-5));
        CHECK(c.pore <= bound.pore.hi * (1 + 1e-5));
        // What a kelvin moves, by difference.
        const double seal = std::min(hot, ambient);
        const Content warmer = content(b.rig, hot + 1, seal, i % 2 == 0),
                      at = content(b.rig, hot, seal, i % 2 == 0);
        const double moved = at.free - warmer.free;
        CHECK(moved <= volume.contraction({hot - spread, hot + 1 + spread}).hi * (1 + 1e-6));
        // Seals that cool with the furnace, in proportion.
        const double follows = std::min(1.0, drawn(random, {0, 80}) / (hot - ambient));
        const auto with = [&](double t) {
            const Content all = content(b.rig, t, ambient + follows * (t - ambient), i % 2 == 0);
            return all.free + all.pore;
        };
        CHECK(with(hot) - with(hot + 1) <= volume.contraction(hot).hi * (1 + 1e-6));
    }
}
