// Ranges of parameters: bounds over all of them hold what each value gives.
#include "tests/plant/drawn.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

using namespace bench;
using timeline::Ending;
using timeline::EndingKind;
using timeline::Law;
using timeline::LawKind;

namespace {

/// A span over a range, and one value of it.
struct Ranged {
    Law low, high, one;
    Ending first, last, of_one;
    timeline::State flows, flow_of_one;
    double length = 0; // s, of the one
};

struct Setpoints {
    double lo, hi, one; // K, set-points so far
};

double arrival(const Law& law) {
    return std::abs(law.to - law.from) / std::abs(law.rate);
}

Ranged drawn(Draw& draw, const Bench& b, const Setpoints& at) {
    Ranged r;
    const double u = draw.one_in(4) ? 0 : draw.one_in(3) ? 1 : draw.between(0, 1);
    const auto mid = [&](double x, double y) { return x + u * (y - x); };
    const double spread = draw.one_in(3) ? 0 : draw.between(0, 80);
    const double target = zero + draw.between(100, 1100);
    const double least = target - spread * draw.between(0, 1), most = target + spread * draw.between(0, 1);
    const int kind = draw.below(5);
    double shortest = std::exp(draw.between(1, 10)), longest = shortest * draw.between(1, 1.5);
    r.length = mid(shortest, longest);
    if (kind == 0 && (least > at.hi + 5 || most < at.lo - 5)) {
        // Falling, every furnace follows: the bounds of one that cannot are looser for the steeper line.
        const bool up = least > at.hi;
        const double slow = (up ? 1 : 0.03) * draw.between(0.5, 20) / 60, fast = slow * draw.between(1, 1.6);
        r.low = ramp(at.lo, least, up ? slow : -fast);
        r.high = ramp(at.hi, most, up ? fast : -slow);
        r.one = ramp(at.one, mid(least, most), mid(r.low.rate, r.high.rate));
        r.length = arrival(r.one);
        shortest = std::min({r.length, arrival(r.low), arrival(r.high)});
        longest = std::max({r.length, arrival(r.low), arrival(r.high)});
    } else if (kind == 0 && at.lo > zero + 150) {
        // One value comes down over a time, another goes up, both so slowly that every furnace follows.
        const double down = at.lo - draw.between(2, 60), up = at.hi + draw.between(2, 60);
        const double time = std::max({shortest, (at.lo - down) / 0.005, (up - at.hi) / 0.05});
        const auto way = [&](double from, double to) { return ramp(from, to, (to - from) / time); };
        r.low = way(at.lo, down);
        r.high = way(at.hi, up);
        r.one = way(at.one, mid(down, up));
        shortest = longest = r.length = time;
    } else if (kind == 1) {
        r.low = r.high = r.one = off(zero + 20, zero + 20);
    } else if (kind == 2 || at.lo < zero + 35) { // below that nothing is held
        r.low = jump(at.lo, least);
        r.high = jump(at.hi, most);
        r.one = jump(at.one, mid(least, most));
    } else {
        r.low = hold(at.lo);
        r.high = hold(at.hi);
        r.one = hold(at.one);
    }
    r.first = fixed(shortest);
    r.last = fixed(longest);
    r.of_one = fixed(r.length);
    const auto all = {&r.first, &r.last, &r.of_one};
    if (kind == 1) {
        for (Ending* e : all) e->kind = EndingKind::passes;
        r.first.temperature = std::max(zero + 45, at.lo - draw.between(20, 400));
        r.last.temperature = r.first.temperature + draw.between(0, 30);
        r.of_one.temperature = mid(r.first.temperature, r.last.temperature);
    } else if (draw.one_in(4)) {
        for (Ending* e : all) e->kind = EndingKind::band;
        r.first.band = draw.between(3, 20);
        r.last.band = r.first.band * (1 + spread / 40);
        r.of_one.band = mid(r.first.band, r.last.band);
    }
    r.flows = drawn_flows(draw, b);
    r.flow_of_one = r.flows;
    r.flows.between.assign(r.flows.flows.size(), Interval{0});
    for (timeline::Index l = 0; l < r.flows.flows.size(); ++l) {
        const double lo = r.flows.flows[l], hi = lo * draw.between(1, 2);
        r.flows.flows[l] = hi;
        r.flow_of_one.flows[l] = mid(lo, hi);
        if (r.flows.open[l]) r.flows.between[l] = hull(b.plant->true_flow(l, lo), b.plant->true_flow(l, hi));
    }
    return r;
}

/// Upper bounds: those of one value are sometimes looser by a little, what a stretch is cut into differs.
bool above(Interval whole, Interval part) {
    return whole.hi >= part.hi - 1e-3 * std::abs(part.hi);
}

} // namespace

TEST_CASE("bounds over a range of parameters hold those of a value in it") {
    int asked = 0;
    for (std::uint64_t seed = 1; seed <= 400; ++seed) {
        CAPTURE(seed);
        Draw draw(seed);
        Bench b;
        set_up(b, draw);
        const std::size_t zones = b.timeline.zones.size();
        const plant::Plant& p = b.build();
        plant::State whole = p.start(), one = whole;
        Setpoints at{zero + 35, zero + 35, zero + 35};
        for (int step = 0; step < 6; ++step) {
            CAPTURE(step);
            const Ranged r = drawn(draw, b, at);
            const std::vector<Law> low(zones, r.low), high(zones, r.high), of_one(zones, r.one);
            const plant::Drive range{low.data(), &r.flows, high.data(), r.first.band};
            const plant::Drive value{of_one.data(), &r.flow_of_one, nullptr, r.of_one.band};
            for (double share : {0.2, 1.0}) {
                const double t = share * r.length;
                const plant::State w = p.during(whole, range, {t, t}), v = p.during(one, value, {t, t});
                for (std::size_t z = 0; z < zones; ++z) CHECK(above(w.zones[z].control, v.zones[z].control));
                CHECK(above(w.pressure, v.pressure));
            }
            const plant::Passage all = p.pass(whole, range, r.first, r.last),
                                 some = p.pass(one, value, r.of_one);
            if (!all.reachable) break;
            REQUIRE(some.reachable);
            ++asked;
            CHECK(above(all.duration, some.duration));
            // The tolerance at a line's warmer end counts along it: a value that rises has a little more of it.
            CHECK(all.duration.lo <= some.duration.lo * (1 + 1e-4) + 1e-9);
            for (std::size_t z = 0; z < zones; ++z) {
                CHECK(above(all.exit.zones[z].control, some.exit.zones[z].control));
                if (r.one.kind == LawKind::off) CHECK(above(all.exit.zones[z].load, some.exit.zones[z].load));
            }
            whole = all.exit;
            one = some.exit;
            if (r.one.kind == LawKind::off) {
                const Interval c = one.zones[0].control;
                at = {whole.zones[0].control.lo, whole.zones[0].control.hi, c.middle()};
            } else {
                at = {r.low.to, r.high.to, r.one.to};
            }
        }
    }
    CHECK(asked > 1500);
}

// From 600 to 650 degC and for 10 to 20 min: the longest is what the lower set-point with the longer time
// gives.
TEST_CASE("a wait in a band over a range pairs the lower set-points with the longer time") {
    Bench b;
    const plant::Plant& p = b.build();
    const std::vector<Law> hot(1, jump(zero + 23, zero + 1000));
    const timeline::State s = Bench::flowing(slm);
    const plant::State entry = p.pass(p.start(), {hot.data(), &s}, fixed(3 * hour)).exit;
    const std::vector<Law> low(1, jump(zero + 1000, zero + 600)), high(1, jump(zero + 1000, zero + 650));
    Ending ten = fixed(10 * minute), twenty = fixed(20 * minute);
    ten.kind = twenty.kind = EndingKind::band;
    ten.band = twenty.band = 10;
    const double longest = p.pass(entry, {low.data(), &s, nullptr, 10}, twenty).duration.hi;
    CHECK(longest > p.pass(entry, {high.data(), &s, nullptr, 10}, twenty).duration.hi);
    CHECK(p.pass(entry, {low.data(), &s, high.data(), 10}, ten, twenty).duration.hi ==
          doctest::Approx(longest).epsilon(1e-12));
}

// From 3 to 20 K and for 10 to 20 min: it waits as long as in 3 K for 20 min, and ends anywhere in 20 K.
TEST_CASE(
    "a wait in a band that is itself a range takes its time from the narrowest, its end from the widest") {
    Bench b;
    const plant::Plant& p = b.build();
    const std::vector<Law> up(1, jump(zero + 23, zero + 1000));
    const timeline::State s = Bench::flowing(slm);
    const auto within = [](double time, double band) {
        Ending ending = fixed(time);
        ending.kind = EndingKind::band;
        ending.band = band;
        return ending;
    };
    const auto pass = [&](const Ending& first, const Ending& last) {
        return p.pass(p.start(), {up.data(), &s, up.data(), first.band}, first, last);
    };
    const Ending longest = within(20 * minute, 3), soonest = within(10 * minute, 20);
    const plant::Passage narrow = pass(longest, longest), wide = pass(soonest, soonest);
    CHECK(narrow.duration.hi > wide.duration.hi + 10 * minute + 1);
    CHECK(narrow.exit.zones[0].control.width() < wide.exit.zones[0].control.width());
    for (const plant::Passage& both : {pass(within(10 * minute, 3), within(20 * minute, 20)),
                                       pass(within(10 * minute, 20), within(20 * minute, 3))}) {
        CHECK(both.duration.lo == 10 * minute);
        CHECK(both.duration.hi == doctest::Approx(narrow.duration.hi).epsilon(1e-12));
        CHECK(both.exit.zones[0].control.lo <= wide.exit.zones[0].control.lo + 1e-9);
        CHECK(both.exit.zones[0].control.hi >= wide.exit.zones[0].control.hi - 1e-9);
    }
}

// Rigs of one state may have passed the target at entry: their load is as hot as it was.
TEST_CASE("natural cooling to what some rigs have passed already leaves their load as it is") {
    Bench b;
    const plant::Plant& p = b.build();
    const std::vector<Law> cools(1, off(zero + 20, zero + 20));
    const timeline::State s = Bench::flowing(slm);
    plant::State entry = p.start();
    entry.zones[0].control = {zero + 780, zero + 1060};
    entry.zones[0].load = {zero + 700, zero + 1065};
    Ending ending = fixed(0);
    ending.kind = EndingKind::passes;
    ending.temperature = zero + 850;
    CHECK(p.pass(entry, {cools.data(), &s}, ending).exit.zones[0].load.hi == entry.zones[0].load.hi);
    // Where none has, the load is no further behind than its lag makes it.
    entry.zones[0].control.lo = zero + 900;
    CHECK(p.pass(entry, {cools.data(), &s}, ending).exit.zones[0].load.hi < zero + 1000);
}
