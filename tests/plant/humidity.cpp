// Gas led through water, gas from the load, and a sample that stands aside.
#include "compiler/physics/moisture.hpp"
#include "tests/plant/rigs.hpp"

#include <boost/numeric/odeint.hpp>
#include <cmath>
#include <doctest/doctest.h>
#include <random>

using namespace bench;
using timeline::SignalKind;

namespace {

namespace ode = boost::numeric::odeint;

double drawn(std::mt19937& random, Interval x) {
    const double u = std::uniform_real_distribution<>(-0.3, 1.3)(random);
    return x.lo + std::clamp(u, 0.0, 1.0) * x.width();
}

struct Wet : Bench {
    Wet() {
        rig.ends = {}; // no plugs
        rig.bubbler.present = true;
        rig.bubbler.bath_error = figure({0, 1});
        rig.bubbler.saturation = figure({0.8, 1});
        timeline.bubbler_line = argon_line;
    }
    static timeline::State through(double flow, double bath) {
        timeline::State s = Bench::flowing(flow);
        s.bubbler = true;
        s.bath = bath;
        return s;
    }
};

} // namespace

TEST_CASE("a saturated gas at 20 degC carries 2.31 % water, and its dew point is the bath's temperature") {
    // Sonntag 1994: 2339.25 Pa at 20 degC; over 101 325 Pa 2.309 %.
    Wet b;
    b.rig.ambient_pressure = figure(101325);
    b.rig.heated_lines = figure(60 + zero); // nothing condenses on the way
    b.rig.bubbler.bath_error = figure(0);
    b.rig.bubbler.saturation = figure(1);
    b.rig.leak_rate = figure({0, 0});
    plant::Plant& p = b.build();
    const timeline::Law law = hold(p.start().zones[0].setpoint);
    const timeline::State gas = Wet::through(slm, 20 + zero);
    const plant::State late = p.during(p.start(), {&law, &gas}, 1e6);
    CHECK(late.fraction[Bench::water].hi == doctest::Approx(0.023087).scale(0).epsilon(1e-3));
    CHECK(late.fraction[Bench::water].lo < 0.0231);
    CHECK(late.fraction[Bench::water].lo > 0.0231 / 1.11); // up to 100 mbar of head over the bath
    const Interval dew = p.signal(signal(SignalKind::dew_point), late, gas);
    CHECK(dew.contains(20 + zero));
    CHECK(dew.width() < 3);
    // The flow grows by 1/(1 - x), with the meter's 5 %.
    CHECK(late.inflow.hi == doctest::Approx(1.05 * slm / (1 - 0.023087)).scale(0).epsilon(1e-4));
    // 40 degC, 7385.30 Pa: 7.29 %; 60 degC, 19 947.7 Pa: 19.7 %.
    const timeline::State warm = Wet::through(slm, 40 + zero), hot = Wet::through(slm, 60 + zero);
    CHECK(p.during(p.start(), {&law, &warm}, 1e6).fraction[Bench::water].hi ==
          doctest::Approx(0.07289).scale(0).epsilon(1e-3));
    CHECK(p.during(p.start(), {&law, &hot}, 1e6).fraction[Bench::water].hi ==
          doctest::Approx(0.19687).scale(0).epsilon(1e-3));
    // In a cold room the water of a warm bath may condense: it is no longer certain, and neither is its
    // absence.
    b.rig.heated_lines = {};
    plant::Plant& cold = b.build();
    const plant::State wet = cold.during(cold.start(), {&law, &hot}, 1e6);
    CHECK(wet.fraction[Bench::water].hi > 0.19);
    CHECK(wet.fraction[Bench::water].lo < 0.0205); // 18 degC: 2064 Pa
    CHECK(wet.fraction[Bench::argon].hi > 0.97);
}

TEST_CASE("humid gas in drawn tubes stays inside the envelope, condensing or not") {
    Wet b;
    plant::Plant& p = b.build();
    std::mt19937 random(5);
    int outside = 0;
    for (int i = 0; i < 1000; ++i) {
        const double pressure = drawn(random, b.rig.ambient_pressure.value), head = drawn(random, {0, 10000});
        const double bath = drawn(random, {15 + zero, 60 + zero}), error = drawn(random, {-1, 1});
        const double set = drawn(random, {0.2 * slm, 2 * slm}), flow = set * drawn(random, {0.95, 1.05});
        const double mixing = drawn(random, b.rig.mixing.value),
                     leak = drawn(random, {0, 1e-5}) / (8.314462618 * 293.15);
        const double hot = drawn(random, {30 + zero, 900 + zero});
        double x = drawn(random, {0.8, 1}) * physics::saturation_pressure(bath + error) / (pressure + head);
        if (i % 2 == 0) // the line's coldest part keeps back what it cannot carry
            x = std::min(x, physics::saturation_pressure(drawn(random, b.rig.ambient_temperature.value)) /
                                pressure);
        // Free gas alone: a tube without plugs.
        const double area = 0.25 * 3.141592653589793 * 0.06 * 0.06,
                     seal = std::min(hot, drawn(random, {18 + zero, 108 + zero}));
        double content = 0.6 / hot;
        for (int k = 0; k < 50; ++k) content += 0.6 / 50 / (seal + (hot - seal) * (k + 0.5) / 50);
        content *= area / 8.314462618 * pressure;
        const double grown = flow / (1 - x);
        using Vector = std::array<double, 2>; // water, oxygen
        const double in[2] = {x + (1 - x) * 3e-6, (1 - x) * 2e-6}, air[2] = {0.005, 0.2095};
        const auto system = [&](const Vector& c, Vector& d, double) {
            for (std::size_t k = 0; k < 2; ++k)
                d[k] = (mixing * grown * (in[k] - c[k]) + leak * (air[k] - c[k])) / content;
        };
        Vector c{0.005, 0.2};
        plant::State entry = p.start();
        entry.fraction[Bench::water] = c[0];
        entry.fraction[Bench::oxygen] = c[1];
        entry.zones[0].control = entry.zones[0].load = hot;
        const timeline::Law law = hold(hot);
        const timeline::State gas = Wet::through(set, bath);
        auto stepper = ode::make_controlled(1e-10, 1e-10, ode::runge_kutta_dopri5<Vector>());
        double now = 0;
        for (const double until : {60.0, 600.0, 3600.0}) {
            ode::integrate_adaptive(stepper, system, c, now, until, 1.0);
            now = until;
            const plant::State at = p.during(entry, {&law, &gas}, until);
            const std::size_t species[2] = {Bench::water, Bench::oxygen};
            for (std::size_t k = 0; k < 2; ++k) {
                const Interval bound = at.fraction[species[k]];
                if (bound.lo - 1e-8 <= c[k] && c[k] <= bound.hi + 1e-8) continue;
                ++outside;
                CAPTURE(k);
                CAPTURE(c[k]);
                CAPTURE(bound.lo);
                CAPTURE(bound.hi);
                CHECK(false);
            }
        }
    }
    CHECK(outside == 0);
}

TEST_CASE("gas from the load obeys its line and its temperature, and is bounded by well-mixed dilution") {
    Bench b;
    b.timeline.evolved.push_back({Bench::hydrogen, 0.1 * slm, Bench::argon_line, 400 + zero});
    plant::Plant& p = b.build();
    plant::State s = p.start();
    const timeline::State gas = Bench::flowing(slm), none = Bench::closed();
    const auto at = [&](double celsius, const timeline::State& state, double time) {
        plant::State entry = s;
        entry.zones[0].control = entry.zones[0].load = celsius + zero;
        const timeline::Law law = hold(celsius + zero);
        return p.during(entry, {&law, &state}, time);
    };
    CHECK(at(300, gas, 1e6).fraction[Bench::hydrogen].hi == 0);
    CHECK(at(500, none, 1e4).fraction[Bench::hydrogen].hi == 0);
    const plant::State late = at(500, gas, 1e6);
    // Textbook dilution q/(K Q + q) with the least flow (5 % low) and the least mixing, 0.7.
    CHECK(late.fraction[Bench::hydrogen].hi ==
          doctest::Approx(0.1 / (0.1 + 0.7 * 0.95)).scale(0).epsilon(1e-3));
    CHECK(late.fraction[Bench::hydrogen].lo == 0);
    CHECK(late.swept.lo == at(300, gas, 1e6).swept.lo); // it sweeps nothing for certain
    CHECK(p.signal(signal(SignalKind::flammability), late, gas).hi > 1);
    CHECK(p.mixture(late, gas).hi < p.mixture(at(500, gas, 60), gas).hi); // air goes, fuel stays
    // Draws: any source below the greatest, any mixing and flow.
    std::mt19937 random(9);
    for (int i = 0; i < 500; ++i) {
        const double q = drawn(random, {0, 0.1}), mixing = drawn(random, {0.7, 1}),
                     flow = drawn(random, {0.95, 1.05});
        const double there = q / (q + mixing * flow);
        CHECK(late.fraction[Bench::hydrogen].lo <= there);
        CHECK(there <= late.fraction[Bench::hydrogen].hi * (1 + 1e-9));
    }
}

TEST_CASE("a shut tube is driven up by what its load gives off, past the supply's pressure") {
    Bench b;
    b.rig.exhaust.kind = check::ExhaustKind::shut;
    b.timeline.evolved.push_back({Bench::hydrogen, 0.1 * slm, timeline::none, 0});
    plant::Plant& p = b.build();
    const timeline::State none = Bench::closed();
    plant::State s = p.start();
    const double t = 300 + zero;
    s.zones[0].control = s.zones[0].load = t;
    const timeline::Law law = hold(t);
    const double hours = 5;
    const plant::State late = p.during(s, {&law, &none}, hours * hour);
    // Ideal gas: 0.1 slm for five hours into at most 3.4 L at 20 degC and more.
    const double rise = 0.1 * slm * hours * hour * 8.314462618 * 293.15 / 3.4e-3;
    CHECK(late.pressure.hi > b.rig.ambient_pressure.hi() + rise);
    CHECK(late.pressure.lo <= b.rig.ambient_pressure.hi());
}

TEST_CASE("a sample that stands aside has any temperature between the room and the hot zone") {
    Bench b;
    b.timeline.places = {{"out", false}, {"hot", true}};
    plant::Plant& p = b.build();
    const double t = 900 + zero;
    plant::State s = p.start();
    s.zones[0].control = s.zones[0].load = t;
    timeline::State aside = Bench::closed(), inside = aside;
    aside.place = 0;
    inside.place = 1;
    const timeline::Law law = hold(t);
    const plant::State out = p.during(s, {&law, &aside}, 100);
    CHECK(out.zones[0].load.lo <= 18 + zero);
    CHECK(out.zones[0].load.hi >= t);
    CHECK(p.signal(signal(SignalKind::temperature), out, aside).lo > 880 + zero); // of the hot zone alone
    CHECK(p.signal(signal(SignalKind::load_temperature), out, aside).lo <= 18 + zero);
    // Back in the hot zone it comes up with its lag, at most 240 s.
    const plant::State early = p.during(out, {&law, &inside}, 60), late = p.during(out, {&law, &inside}, 3600);
    CHECK(early.zones[0].load.lo < 400 + zero);
    CHECK(late.zones[0].load.lo > 870 + zero);
    // Textbook: 1 - exp(-60/240) of the way.
    const double way = 18 + zero + (1 - std::exp(-60.0 / 240)) * (t - 20 - 6 - 18 - zero);
    CHECK(early.zones[0].load.lo <= way + 1);
}
