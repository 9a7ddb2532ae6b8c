// The pipe between tube and burner: what leaves it is as lean as the plant says of the tube, whether the pipe
// mixes or passes its gas on in plug flow (tanks in series: Levenspiel, Chemical Reaction Engineering, ch. 14;
// from memory).
#include "tests/plant/rigs.hpp"

#include <cmath>
#include <doctest/doctest.h>
#include <numbers>
#include <vector>

using namespace bench;

namespace {

constexpr double gas_constant = 8.314462618;
constexpr double room = 296.15; // K

double volume(double bore, double length) {
    return std::numbers::pi / 4 * bore * bore * length;
}

/// A cold tube full of hydrogen that is swept out through a pipe, one rig.
struct Swept {
    double mixing, flow, release, pores, porosity; // -, mol/s, s, m3 of plugs, -
    double bore, length;                           // of the pipe, m
    int tanks;                                     // in series, that stand for the pipe

    /// Share of hydrogen at the pipe's end after `seconds`.
    double leaves(double seconds) const {
        const double mol = 101325 / (gas_constant * room); // in a m3
        const double free = mol * (volume(0.06, 1.2) - pores), pore = mol * pores * porosity;
        const double pipe = mol * volume(bore, length);
        double x = 1, y = 1;
        std::vector<double> tank(static_cast<std::size_t>(tanks), 1.0);
        const double step = std::min(0.5, 0.2 * pipe / tanks / flow);
        for (double t = 0; t < seconds; t += step) {
            double before = x;
            for (double& z : tank) {
                const double was = z;
                z += step * flow / (pipe / tanks) * (before - z);
                before = was;
            }
            const double out = pore > 0 ? (y - x) / release : 0;
            x += step * (pore / free * out - mixing * flow / free * x);
            y -= step * out;
        }
        return tank.back();
    }
};

} // namespace

TEST_CASE("what leaves the pipe behind the tube is as lean as is said of the tube, mixed or in plug flow") {
    for (const auto& [bore, length] : {std::pair{6e-3, 1.0}, {25e-3, 6.0}, {40e-3, 10.0}})
        for (const bool plugs : {false, true}) {
            Bench b;
            if (!plugs) b.shielded();
            b.rig.leak_rate = figure(0);
            b.rig.outlet_diameter = figure(bore);
            b.rig.outlet_length = figure(length);
            const timeline::Ending clear = b.until({timeline::SignalKind::fraction, Bench::hydrogen},
                                                   timeline::Comparison::less, Interval{0.01});
            plant::Plant& p = b.build();
            plant::State entry = p.start();
            for (std::size_t i = 0; i < b.timeline.species.size(); ++i)
                entry.fraction[i] = entry.pore[i] = i == Bench::hydrogen ? 1 : 0;
            const timeline::Law stays = hold(entry.zones[0].setpoint);
            const timeline::State argon = Bench::flowing(Bench::at_meter(2));
            const plant::Passage passed = p.pass(entry, {&stays, &argon}, clear);
            REQUIRE(passed.reachable);
            const double claimed = passed.duration.hi, flow = argon.flows[0];
            double greatest = 0;
            for (const double mixing : {0.7, 1.0})
                for (const double meter : {0.95, 1.05})
                    for (const double release : {60.0, 180.0})
                        for (const int tanks : {1, 4, 30}) {
                            const Swept rig{mixing, meter * flow, release, plugs ? volume(0.06, 0.3) : 0,
                                            0.85,   bore,         length,  tanks};
                            greatest = std::max(greatest, rig.leaves(claimed));
                        }
            CAPTURE(bore);
            CAPTURE(plugs);
            CHECK(greatest < 0.01);
            CHECK(greatest > 0.0001); // and not by waiting without end
            CHECK(claimed > 101325 / (gas_constant * room) * volume(bore, length) / flow);
        }
}

TEST_CASE("volumes swept count the pipe behind the tube") {
    Bench b;
    b.shielded();
    const auto swept = [&](double bore, double length) {
        b.rig.outlet_diameter = figure(bore);
        b.rig.outlet_length = figure(length);
        plant::Plant& p = b.build();
        const timeline::Law stays = hold(p.start().zones[0].setpoint);
        const timeline::State argon = Bench::flowing(Bench::at_meter(2));
        CHECK(p.time_of_volumes(5, Bench::argon_line, argon.flows[0]) > 0);
        return p.during(p.start(), {&stays, &argon}, hour).swept.lo;
    };
    const double alone = swept(1e-3, 0.01), piped = swept(40e-3, 10);
    const double tube = volume(0.06, 1.2), pipe = volume(40e-3, 10);
    CHECK(piped == doctest::Approx(alone * tube / (tube + pipe)).epsilon(1e-3));
}
