// One drive from one entry, asked at several times.
#include "tests/plant/rigs.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <random>

using namespace bench;

namespace {

class Draw {
public:
    explicit Draw(std::uint64_t seed) : engine_(seed) {}
    double between(double a, double b) { return std::uniform_real_distribution<double>(a, b)(engine_); }
    bool one_in(int n) { return std::uniform_int_distribution<int>(1, n)(engine_) == 1; }
    int below(int n) { return std::uniform_int_distribution<int>(0, n - 1)(engine_); }

private:
    std::mt19937_64 engine_;
};

void set_up(Bench& b, Draw& draw) {
    if (draw.one_in(3))
        b.pumped();
    else if (draw.one_in(3)) {
        b.rig.ends = {};
        b.rig.ends.kind = check::EndsKind::radiation_shields;
    }
    if (draw.one_in(6)) b.rig.exhaust.kind = check::ExhaustKind::shut;
    if (draw.one_in(5)) b.rig.seals.gas_tight = false;
    if (draw.one_in(3)) b.rig.outgassing = figure({0, 1e-5});
    if (draw.one_in(4)) {
        timeline::Threshold t;
        t.line = Bench::hydrogen_line;
        t.flow = 0.3 * slm;
        t.temperature = zero + draw.between(200, 900);
        t.opens = t.above = true;
        b.timeline.thresholds.push_back(t);
    }
    if (draw.one_in(5)) {
        timeline::Evolved e;
        e.species = Bench::hydrogen;
        e.flow = 1e-6;
        e.above = 500;
        b.timeline.evolved.push_back(e);
    }
    if (draw.one_in(3)) {
        b.timeline.zones = b.rig.furnace.zones = {"left", "centre", "right"};
    }
}

timeline::Law drawn_law(Draw& draw, double at) {
    const double to = zero + draw.between(100, 1100);
    switch (draw.below(5)) {
    case 0: return ramp(at, to, (to < at ? -0.3 : 1) * draw.between(0.5, 20) / 60);
    case 1: return off(zero + 20, zero + 20);
    case 2: return jump(at, to);
    default: return hold(at);
    }
}

/// Whether the bounds of a stretch hold those of an instant in it. An instant's own may be looser by a little:
/// what a stretch is cut into differs.
bool holds(Interval whole, Interval part) {
    const double slack = 1e-3 * std::max(std::abs(part.lo), std::abs(part.hi)) + 1e-15;
    return whole.lo <= part.lo + slack && (whole.hi >= part.hi - slack || !std::isfinite(part.hi));
}

void check_holds(const plant::State& whole, const plant::State& part, std::size_t zones) {
    for (std::size_t z = 0; z < zones; ++z) {
        CHECK(holds(whole.zones[z].control, part.zones[z].control));
        CHECK(holds(whole.zones[z].load, part.zones[z].load));
    }
    CHECK(holds(whole.pressure, part.pressure));
    for (std::size_t i = 0; i < 5; ++i) {
        CAPTURE(i);
        CHECK(holds(whole.fraction[i], part.fraction[i]));
        CHECK(holds(whole.pore[i], part.pore[i]));
    }
}

bool same(Interval a, Interval b) {
    return a.lo == b.lo && a.hi == b.hi;
}

} // namespace

TEST_CASE("a way answers as if it were asked anew, and a stretch holds its instants") {
    for (std::uint64_t seed = 1; seed <= 300; ++seed) {
        CAPTURE(seed);
        Draw draw(seed);
        Bench b;
        set_up(b, draw);
        const std::size_t zones = b.timeline.zones.size();
        const plant::Plant& p = b.build();
        plant::State now = p.start();
        double at = zero + 23;
        for (int step = 0; step < 6; ++step) {
            CAPTURE(step);
            timeline::State s = draw.one_in(4) ? Bench::closed()
                                               : Bench::flowing(slm * draw.between(0.01, 2),
                                                                draw.one_in(2) ? 0 : slm * draw.between(0, 1));
            s.pump = b.rig.pump.present && draw.one_in(2);
            if (s.pump && draw.one_in(3)) s.regulated = draw.between(100, 5000);
            if (!b.timeline.thresholds.empty()) s.armed = draw.one_in(2) ? 1 : 0;
            const std::vector<timeline::Law> laws(zones, drawn_law(draw, at));
            const double length = laws[0].kind == timeline::LawKind::line
                                      ? (laws[0].to - laws[0].from) / laws[0].rate
                                      : std::exp(draw.between(1, 10));
            const plant::Drive drive{laws.data(), &s, nullptr, draw.one_in(6) ? draw.between(3, 20) : 0};
            const plant::Plant::Way way(p, now, drive);
            for (int question = 0; question < 4; ++question) {
                const double from = question == 0 ? 0 : draw.between(0, length);
                const double to = from + draw.between(0, length - from);
                const plant::State whole = way.during({from, to}), anew = p.during(now, drive, {from, to});
                CHECK(same(whole.fraction[0], anew.fraction[0]));
                CHECK(same(whole.pore[4], anew.pore[4]));
                CHECK(same(whole.pressure, anew.pressure));
                CHECK(same(whole.zones[0].load, anew.zones[0].load));
                for (double share : {0.0, 0.3, 1.0})
                    check_holds(whole, way.during(from + share * (to - from)), zones);
            }
            now = p.pass(now, drive, fixed(length)).exit;
            at = laws[0].kind == timeline::LawKind::off ? now.zones[0].control.middle() : laws[0].to;
        }
    }
}
