// Endings, modes and signals.
#include "tests/plant/rigs.hpp"

#include <cmath>
#include <doctest/doctest.h>

using namespace bench;
using timeline::Comparison;
using timeline::SignalKind;

namespace {

struct Run {
    plant::Plant& plant;
    plant::State state;
    plant::Passage last{};

    const plant::Passage& go(const timeline::Law& law, const timeline::State& gas,
                             const timeline::Ending& ending) {
        last = plant.pass(state, {&law, &gas}, ending);
        state = last.exit;
        return last;
    }
};

timeline::State pumping() {
    timeline::State s = Bench::closed();
    s.pump = true;
    return s;
}

} // namespace

TEST_CASE("a purge ends when oxygen is certain, and no earlier") {
    Bench b;
    const timeline::Ending clean = b.until(fraction(Bench::oxygen), Comparison::less, 10e-6);
    plant::Plant& p = b.build();
    const timeline::State gas = Bench::flowing(Bench::at_meter(1.5));
    const timeline::Law law = hold(p.start().zones[0].setpoint);
    const plant::Passage purge = p.pass(p.start(), {&law, &gas}, clean);
    REQUIRE(purge.reachable);
    CHECK(purge.duration.is_point());
    CHECK(purge.duration.lo > 40 * minute);
    CHECK(purge.duration.lo < 60 * minute);
    const auto verdict = [&](double t) {
        return p.evaluate(b.timeline.conditions[0], p.during(p.start(), {&law, &gas}, t), gas);
    };
    CHECK(verdict(purge.duration.lo) == plant::Verdict::proven);
    CHECK(verdict(purge.duration.lo * 0.999) == plant::Verdict::not_provable);
    CHECK(purge.exit.swept.lo > 20);
    // More flow, a smaller tube, better mixing, faster plugs: less time.
    const auto time = [&](auto change) {
        Bench other;
        other.until(fraction(Bench::oxygen), Comparison::less, 10e-6);
        change(other);
        plant::Plant& q = other.build();
        return q.pass(q.start(), {&law, &gas}, clean).duration.lo;
    };
    CHECK(time([](Bench& o) { o.rig.mixing = figure({0.9, 1}); }) < purge.duration.lo);
    CHECK(time([](Bench& o) { o.rig.tube.inner_diameter = figure(0.05); }) < purge.duration.lo);
    CHECK(time([](Bench& o) { o.rig.ends.air_release = figure({60, 120}); }) < purge.duration.lo);
    CHECK(time([](Bench& o) { o.rig.leak_rate = figure({0, 2e-5}); }) > purge.duration.lo);
    CHECK(time([](Bench& o) { o.rig.lines[0].meter.accuracy = figure(0.1); }) > purge.duration.lo);
}

TEST_CASE("a condition below the floor is unreachable and says which floor") {
    Bench b;
    const timeline::Ending pure = b.until(fraction(Bench::oxygen), Comparison::less, 2.5e-6);
    plant::Plant& p = b.build();
    const timeline::State gas = Bench::flowing(Bench::at_meter(1.5));
    const timeline::Law law = hold(p.start().zones[0].setpoint);
    const plant::Passage purge = p.pass(p.start(), {&law, &gas}, pure);
    CHECK(!purge.reachable);
    CHECK(purge.why == "oxygen may be as high as 3.26 ppm: argon_n50 brings 2 ppm, the leak 1.3 ppm");
    // Without any flow air may come in.
    const timeline::State none = Bench::closed();
    const plant::Passage still = p.pass(p.start(), {&law, &none}, pure);
    CHECK(!still.reachable);
    CHECK(still.why.find("no gas is certain to flow") != std::string::npos);
}

TEST_CASE("at_most is kept") {
    Bench b;
    timeline::Ending clean = b.until(fraction(Bench::oxygen), Comparison::less, 10e-6);
    clean.at_most = 20 * minute;
    plant::Plant& p = b.build();
    const timeline::State gas = Bench::flowing(Bench::at_meter(1.5));
    const timeline::Law law = hold(p.start().zones[0].setpoint);
    const plant::Passage purge = p.pass(p.start(), {&law, &gas}, clean);
    CHECK(!purge.reachable);
    CHECK(purge.why.find("at most 20 min") != std::string::npos);
}

TEST_CASE("a whole run: ramp, dwell, hydrogen, clearing, natural cooling") {
    Bench b;
    const timeline::Ending clean = b.until(fraction(Bench::oxygen), Comparison::less, 10e-6);
    const timeline::Ending clear = b.until(fraction(Bench::hydrogen), Comparison::less, 0.01);
    plant::Plant& p = b.build();
    Run run{p, p.start()};
    const double start = run.state.zones[0].setpoint;
    const timeline::State argon = Bench::flowing(Bench::at_meter(1.5)), hydrogen = Bench::flowing(0, 0.5 * slm);
    run.go(hold(start), argon, clean);
    run.go(ramp(start, 880 + zero, 5.0 / 60), argon, fixed((880 + zero - start) * 12));
    CHECK(run.state.zones[0].control.contains(880 + zero));
    CHECK(run.state.fraction[Bench::oxygen].hi < 10e-6);
    CHECK(run.state.zones[0].load.lo < run.state.zones[0].control.lo - 20); // it lags, and lies lower at rest
    const plant::Passage& soak = run.go(hold(880 + zero), argon, band(20 * minute, 5));
    CHECK(soak.duration.lo == 20 * minute);
    CHECK(soak.duration.hi > 20 * minute);
    CHECK(soak.duration.hi < 35 * minute);
    CHECK(run.state.zones[0].load.lo > 840 + zero);
    CHECK(p.signal(signal(SignalKind::flammability), run.state, argon).hi == 0);
    run.go(hold(880 + zero), hydrogen, fixed(hour));
    CHECK(run.state.fraction[Bench::hydrogen].lo > 0.99);
    // Le Chatelier with one fuel: share over 4 % (IEC 60079-20-1:2010).
    CHECK(p.signal(signal(SignalKind::flammability), run.state, hydrogen).hi ==
          doctest::Approx(25).scale(0).epsilon(1e-4));
    const plant::Passage& cleared = run.go(hold(880 + zero), argon, clear);
    REQUIRE(cleared.reachable);
    CHECK(cleared.duration.lo < 30 * minute);
    CHECK(p.signal(signal(SignalKind::flammability), run.state, argon).hi <= 0.25 + 1e-9);
    const plant::Passage& cooled = run.go(off(880 + zero, 60 + zero), argon, passes(60 + zero));
    REQUIRE(cooled.reachable);
    CHECK(cooled.duration.hi < 14 * hour);
    CHECK(run.state.zones[0].control.hi <= 60 + zero + p.sensor_tolerance(60 + zero) + 1e-9);
    CHECK(run.state.zones[0].load.hi < 75 + zero);
    CHECK(run.state.drawn_in.hi == 0); // the argon flows faster than the gas contracts
    CHECK(run.state.fraction[Bench::oxygen].hi < 10e-6);
}

TEST_CASE("cooling with the gas shut draws air in") {
    Bench b;
    plant::Plant& p = b.build();
    plant::State hot = p.start();
    hot.zones[0].setpoint = 700 + zero;
    hot.zones[0].control = {695 + zero, 705 + zero};
    hot.zones[0].load = {675 + zero, 710 + zero};
    hot.fraction[Bench::oxygen] = hot.pore[Bench::oxygen] = {0, 10e-6};
    hot.swept = 20;
    const timeline::Law law = off(700 + zero, 80 + zero);
    const timeline::State none = Bench::closed();
    const plant::State at = p.during(hot, {&law, &none}, {0, 600});
    CHECK(at.drawn_in.hi > 0);
    CHECK(p.during(hot, {&law, &none}, 600).drawn_in.lo > 0);
    CHECK(at.fraction[Bench::oxygen].hi > 0.2);
    CHECK(at.swept.lo == 0);
    // At the instant of closing nothing has changed yet.
    CHECK(p.during(hot, {&law, &none}, 0).fraction[Bench::oxygen].hi == 10e-6);
}

TEST_CASE("pump and fill") {
    Bench b;
    b.pumped();
    const timeline::Ending down = b.until(signal(SignalKind::pressure), Comparison::less_equal, 100);
    const timeline::Ending up =
        b.until(signal(SignalKind::pressure), Comparison::greater_equal, {98000 + 2000, 103000 + 2000});
    const timeline::Ending too_low = b.until(signal(SignalKind::pressure), Comparison::less_equal, 0.1);
    plant::Plant& p = b.build();
    Run run{p, p.start()};
    const timeline::Law law = hold(run.state.zones[0].setpoint);
    const timeline::State gas = Bench::flowing(Bench::at_meter(1.5)), pump = pumping();
    for (int i = 0; i < 3; ++i) {
        const plant::Passage& evacuated = run.go(law, pump, down);
        REQUIRE(evacuated.reachable);
        // 3.39 L at 4 m3/h (1.11 L/s) through a short pipe: (V/S) ln(1013/1) = 21 s.
        CHECK(evacuated.duration.lo > 20);
        CHECK(evacuated.duration.lo < 30);
        CHECK(run.state.pressure.hi <= 100);
        const plant::Passage& filled = run.go(law, gas, up);
        REQUIRE(filled.reachable);
        CHECK(filled.duration.lo > 2 * minute);
        CHECK(filled.duration.lo < 4 * minute);
    }
    CHECK(run.state.fraction[Bench::oxygen].hi < 10e-6);
    CHECK(run.state.swept.lo > 3 * 6.5); // ln of a thousand a cycle
    const plant::Passage never = p.pass(run.state, {&law, &pump}, too_low);
    CHECK(!never.reachable);
    CHECK(never.why.find("the pump ends at") != std::string::npos);
    // Hours under vacuum: whatever leaks in becomes the gas.
    run.go(law, pump, fixed(2 * hour));
    CHECK(run.state.fraction[Bench::oxygen].hi > 0.05);
    CHECK(run.state.pressure.hi < 100);
    CHECK(p.lowest_pressure().hi < 2);
}

TEST_CASE("a leak-tight evacuated tube keeps its gas") {
    Bench b;
    b.pumped();
    b.rig.leak_rate = figure(0);
    b.rig.outgassing = figure(0);
    plant::Plant& p = b.build();
    plant::State s = p.start();
    s.pressure = {50, 100};
    s.fraction[Bench::oxygen] = s.pore[Bench::oxygen] = {0, 1e-3};
    const timeline::Law law = hold(s.zones[0].setpoint);
    const timeline::State none = Bench::closed();
    const plant::State later = p.during(s, {&law, &none}, hour);
    // The held zone may move inside its band, and the pressure with it; nothing is added.
    CHECK(later.pressure.hi >= 100);
    CHECK(later.pressure.hi < 106);
    CHECK(later.fraction[Bench::oxygen].hi == doctest::Approx(1e-3).scale(0));
}

TEST_CASE("a threshold that an undershoot may pass on the way is not forgotten at its end") {
    Bench b;
    b.timeline.thresholds.push_back({Bench::hydrogen_line, 1e-4, 275 + zero, true, false, {}});
    plant::Plant& p = b.build();
    timeline::State armed = Bench::flowing(5e-4);
    armed.armed = 1;
    plant::State entry = p.start();
    entry.zones[0].setpoint = 323 + zero;
    entry.zones[0].control = entry.zones[0].load = 323 + zero;
    for (timeline::Index i : {Bench::oxygen, Bench::nitrogen, Bench::argon, Bench::hydrogen, Bench::water})
        entry.fraction[i] = entry.pore[i] = i == Bench::argon ? 1 : 0;
    const timeline::Law step = jump(323 + zero, 286 + zero);
    // Below 286 degC by up to 12 K for five tracking times; an hour later long back.
    const plant::State late = p.during(entry, {&step, &armed}, 1.2 * hour);
    CHECK(p.signal({timeline::SignalKind::flow, Bench::hydrogen_line}, late, armed).hi == 0);
    CHECK(late.fraction[Bench::hydrogen].hi > 1e-4);
}

TEST_CASE("a threshold line is open, shut or undecided by the temperature") {
    Bench b;
    timeline::Threshold t;
    t.line = Bench::argon_line;
    t.flow = 1e-3;
    t.temperature = 650 + zero;
    b.timeline.thresholds.push_back(t);
    plant::Plant& p = b.build();
    timeline::State s = Bench::closed();
    s.armed = 1;
    const auto flow_at = [&](double degrees) {
        plant::State z = p.start();
        z.zones[0].setpoint = degrees + zero;
        z.zones[0].control = {degrees + zero - 2, degrees + zero + 2};
        z.zones[0].load = z.zones[0].control;
        const timeline::Law law = hold(degrees + zero);
        return p.during(z, {&law, &s}, 0).inflow;
    };
    CHECK(flow_at(500).hi == 0);
    CHECK(flow_at(800).lo == doctest::Approx(0.95e-3).scale(0));
    CHECK(flow_at(650).lo == 0);
    CHECK(flow_at(650).hi == doctest::Approx(1.05e-3).scale(0));
}

TEST_CASE("opening the tube lets air in") {
    Bench b;
    plant::Plant& p = b.build();
    plant::State s = p.start();
    s.swept = 12;
    s.fraction[Bench::oxygen] = s.pore[Bench::oxygen] = 0;
    const plant::State open = p.open_tube(s);
    CHECK(open.swept == Interval{0});
    CHECK(open.fraction[Bench::oxygen].hi == doctest::Approx(0.2095).scale(0));
    // For a moment only, what was there may stay, in plugs as well.
    CHECK(open.fraction[Bench::oxygen].lo == 0);
    CHECK(open.pore[Bench::oxygen].lo == 0);
    const plant::State fresh = p.open_tube(p.start());
    CHECK(fresh.fraction[Bench::oxygen].lo > 0.19); // moist air has less
}

TEST_CASE("fuel that may be in a gas which as a whole cannot burn may stay in an opened tube") {
    // Only an opening to a gas that is flammable as a whole is refused from a quarter of the limit of 4 % on.
    const auto left = [](double most) {
        Bench b;
        const check::Index lean = b.gas("lean");
        b.model.gases[lean].parts = {{Bench::hydrogen, {0, most}}, {Bench::argon, {1 - most, 1}}};
        for (check::Gas& g : b.model.gases)
            if (g.name == "hydrogen_n50") g.hazards.flammable = true;
        check::Line line = b.rig.lines[Bench::argon_line];
        line.gas = lean;
        b.rig.lines.push_back(line);
        b.timeline.lines.resize(3);
        plant::Plant& p = b.build();
        plant::State s = p.start();
        s.fraction[Bench::hydrogen] = s.pore[Bench::hydrogen] = {0, 0.03};
        return p.open_tube(s).fraction[Bench::hydrogen].hi;
    };
    CHECK(left(0.03) == 0.03);
    CHECK(left(0.009) == doctest::Approx(0.01).scale(0).epsilon(1e-5));
}

TEST_CASE("conditions have three answers") {
    Bench b;
    b.until(signal(SignalKind::temperature), Comparison::less, 40 + zero);
    b.until(signal(SignalKind::temperature), Comparison::less, 20 + zero);
    b.until(signal(SignalKind::temperature), Comparison::less, 10 + zero);
    plant::Plant& p = b.build();
    timeline::State none = Bench::closed();
    const auto verdict = [&](std::size_t i) { return p.evaluate(b.timeline.conditions[i], p.start(), none); };
    CHECK(verdict(0) == plant::Verdict::proven);
    CHECK(verdict(1) == plant::Verdict::not_provable);
    CHECK(verdict(2) == plant::Verdict::violated);
    timeline::Condition c = b.timeline.conditions[2];
    timeline::Term burner;
    burner.left = signal(SignalKind::burner);
    c.terms.push_back(burner);
    timeline::Term either;
    either.kind = timeline::Term::Kind::or_;
    c.terms.push_back(either);
    CHECK(p.evaluate(c, p.start(), none) == plant::Verdict::violated);
    none.burner = true;
    CHECK(p.evaluate(c, p.start(), none) == plant::Verdict::proven);
    timeline::Term inverse;
    inverse.kind = timeline::Term::Kind::not_;
    c.terms.push_back(inverse);
    CHECK(p.evaluate(c, p.start(), none) == plant::Verdict::violated);
}

TEST_CASE("natural cooling waits for the zones whose heater is off, and for no other") {
    Bench b;
    b.timeline.zones = {"left", "right"};
    b.rig.furnace.zone_opening = figure(1e-3); // all but closed: nothing keeps the cooling zone warm
    plant::Plant& p = b.build();
    const timeline::State gas = Bench::closed();
    plant::State hot = p.start();
    const double top = 600 + zero;
    for (std::size_t z = 0; z < 2; ++z) {
        hot.zones[z].setpoint = top;
        hot.zones[z].control = hot.zones[z].load = hot.zones[z].setpoints = top;
    }
    timeline::Ending passes;
    passes.kind = timeline::EndingKind::passes;
    passes.temperature = 300 + zero;
    timeline::Law off{timeline::LawKind::off, top, passes.temperature, 0};
    const timeline::Law both[] = {off, off}, one[] = {off, hold(top)}, other[] = {hold(top), off};
    const plant::Passage all = p.pass(hot, {both, &gas}, passes);
    REQUIRE(all.reachable);
    for (const timeline::Law* laws : {one, other}) {
        const plant::Passage half = p.pass(hot, {laws, &gas}, passes);
        REQUIRE_MESSAGE(half.reachable, half.why);
        CHECK(half.duration.lo ==
              doctest::Approx(all.duration.lo).scale(0).epsilon(0.3)); // summed over rates of its own
        CHECK(half.duration.hi == doctest::Approx(all.duration.hi).scale(0).epsilon(0.3));
        CHECK(half.duration.hi >= all.duration.hi);
        CHECK(half.duration.lo <= all.duration.lo);
        const std::size_t held = laws == one ? 1 : 0;
        CHECK(half.exit.zones[held].control.lo > 590 + zero);
        CHECK(half.exit.zones[1 - held].control.hi < 305 + zero);
    }
    // The zone that does not get there is the one that is told of.
    passes.temperature = 20 + zero;
    hot.zones[0].control = hot.zones[0].load = 30 + zero;
    const plant::Passage never = p.pass(hot, {other, &gas}, passes);
    CHECK_FALSE(never.reachable);
    CAPTURE(never.why);
    CHECK(never.why.find("600") != std::string::npos);
}

TEST_CASE("rows that no furnace can meet are told") {
    Bench b;
    b.rig.furnace.cool_down = {{1100 + zero, 200 + zero, figure(20 * minute)}};
    CHECK(b.build().furnace_fault().find("heat capacity") != std::string::npos);
}

TEST_CASE("the rates a furnace is certain of") {
    Bench b;
    plant::Plant& p = b.build();
    CHECK(p.furnace_fault().empty());
    CHECK(p.certain_heating_rate(20 + zero, 1000 + zero) > 8.0 / 60);
    CHECK(p.certain_cooling_rate(800 + zero, 400 + zero) > 1.0 / 60);
    CHECK(p.certain_cooling_rate(600 + zero, 50 + zero) < 10.0 / 60);
    CHECK(p.certain_heating_rate(20 + zero, 1000 + zero) <= p.certain_heating_rate(20 + zero, 500 + zero));
    CHECK(p.natural_cooling(1100 + zero, 200 + zero).lo ==
          doctest::Approx(0.85 * 5 * hour).scale(0).epsilon(2e-3));
    CHECK(p.natural_cooling(1100 + zero, 200 + zero).hi ==
          doctest::Approx(1.15 * 5 * hour).scale(0).epsilon(2e-3));
    CHECK(std::isinf(p.natural_cooling(100 + zero, 25 + zero).hi)); // the room may have 28 degC
}
