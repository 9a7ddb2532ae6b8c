// A wait in a band lasts until the sensor reads so, whatever its error and whatever came before. Each test
// follows rigs by themselves in small steps: D' = -min(full, D / tracking), D being what is missing by the
// reading; the slowest furnace, and the sensor at either end of its tolerance.
#include "compiler/plant/zone.hpp"
#include "tests/plant/drawn.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <optional>

using namespace bench;
using timeline::Law;
using timeline::LawKind;

namespace {

/// A rig whose controller has no error and no overshoot; it may lag by `tracking` s.
void set_exact(Bench& b, double tracking) {
    b.rig.furnace.tracking = figure({0, tracking});
    b.rig.furnace.control_error = figure({0, 0});
    b.rig.furnace.overshoot = figure({0, 0});
}

/// One rig of them: the coldest that there is.
class Followed {
public:
    Followed(const plant::Plant& p, double start, double tracking, double sign)
        : plant_(p), kelvin_(start), tracking_(tracking), sign_(sign) {}

    double kelvin() const { return kelvin_; }
    double missing(double setpoint) const {
        return setpoint + sign_ * plant_.sensor_tolerance(setpoint) - kelvin_;
    }

    void follow(const Law& law, double seconds) {
        const double step = std::min(1.0, tracking_ / 30);
        for (double t = 0; t < seconds; t += step) {
            const double dt = std::min(step, seconds - t);
            const plant::Capacity can = plant_.capacity(kelvin_);
            if (law.kind == LawKind::off) {
                kelvin_ -= dt * can.cooling.hi;
                continue;
            }
            const double wanted = missing(plant::setpoint_at(law, t)) / tracking_;
            kelvin_ += dt * std::clamp(wanted, -can.cooling.hi, can.heating.lo);
        }
    }

    /// s at a held set-point until it reads within `width` of it; nothing where it comes from above.
    std::optional<double> wait(double setpoint, double width) {
        if (missing(setpoint) < 0) return {};
        constexpr double step = 0.05;
        double t = 0;
        for (; missing(setpoint) > width; t += step) follow(hold(setpoint), step);
        return t;
    }

private:
    const plant::Plant& plant_;
    double kelvin_, tracking_, sign_;
};

constexpr double accuracy = 0.5; // s, of the small steps

} // namespace

TEST_CASE("a step that is nearly there: a sensor that reads low is in the band later") {
    for (double tracking : {12.0, 60.0, 118.0})
        for (double to : {98.0, 300.0, 700.0})
            for (double width : {3.0, 10.0}) {
                Bench b;
                set_exact(b, tracking);
                const plant::Plant& p = b.build();
                const timeline::State gas = Bench::flowing(slm);
                const Law step = jump(p.start().zones[0].setpoint, to + zero), held = hold(to + zero);
                const double room = p.start().zones[0].control.lo;
                Followed high(p, room, tracking, -1), low(p, room, tracking, 1);
                double waits = 0;
                for (double after = 0; after < 4000; after += 100) {
                    CAPTURE(tracking);
                    CAPTURE(to);
                    CAPTURE(width);
                    CAPTURE(after);
                    const plant::State there = p.pass(p.start(), {&step, &gas}, fixed(after)).exit;
                    const double bound =
                        p.pass(there, {&held, &gas, nullptr, width}, band(0, width)).duration.hi;
                    for (const Followed& rig : {high, low})
                        if (Followed from_here = rig; const auto needs = from_here.wait(to + zero, width)) {
                            CHECK(*needs <= bound + accuracy);
                            waits += *needs;
                        }
                    high.follow(step, 100);
                    low.follow(step, 100);
                }
                CHECK(waits > 0);
            }
}

// Over so short a way the slowest cooling at each temperature is that of one furnace, nearly.
TEST_CASE("a step down that is nearly there: a sensor that reads high is in the band later") {
    for (double tracking : {1.0, 60.0, 118.0})
        for (double to : {98.0, 300.0, 700.0})
            for (double by : {10.0, 30.0, 60.0}) {
                Bench b;
                set_exact(b, tracking);
                b.rig.furnace.mains = figure(1);
                b.rig.furnace.holding_power = {{figure(1200), 1100 + zero}};
                b.rig.furnace.cool_down = {{1100 + zero, 200 + zero, figure(5 * hour)}};
                b.rig.ambient_temperature = figure(23 + zero);
                const plant::Plant& p = b.build();
                const timeline::State gas = Bench::flowing(slm);
                const double top = to + by + zero, bottom = to + zero, width = 3;
                const Law up = jump(p.start().zones[0].setpoint, top), stays = hold(top),
                          down = jump(top, bottom), held = hold(bottom);
                const plant::State risen = p.pass(p.start(), {&up, &gas}, fixed(12 * hour)).exit;
                const plant::State entry = p.pass(risen, {&stays, &gas}, fixed(12 * hour)).exit;
                // The zone stands where such a sensor has held it.
                double kelvin = top - p.sensor_tolerance(top), needs = 0;
                const double target = bottom - p.sensor_tolerance(bottom);
                for (; kelvin - target > width; needs += 0.5)
                    kelvin -= 0.5 * std::min(p.capacity(kelvin).cooling.lo, (kelvin - target) / tracking);
                for (double after = 0; after < needs; after += needs / 20) {
                    CAPTURE(tracking);
                    CAPTURE(to);
                    CAPTURE(by);
                    CAPTURE(after);
                    const plant::State there = p.pass(entry, {&down, &gas}, fixed(after)).exit;
                    const double bound =
                        p.pass(there, {&held, &gas, nullptr, width}, band(0, width)).duration.hi;
                    CHECK(needs - after <= bound + 1);
                }
            }
}

TEST_CASE("a step that has arrived long ago: its bounds are as if it had been held for ever") {
    Bench b;
    const plant::Plant& p = b.build();
    const timeline::State gas = Bench::flowing(slm);
    const Law step = jump(p.start().zones[0].setpoint, 700 + zero), held = hold(700 + zero);
    const plant::State there = p.pass(p.start(), {&step, &gas}, fixed(3 * hour)).exit;
    CHECK(there.zones[0].unread.below == 0);
    CHECK(p.pass(there, {&held, &gas, nullptr, 3.0}, band(0, 3)).duration.hi == 0);
}

TEST_CASE("a wait in a band behind steps, ramps and cooling") {
    int waited = 0;
    for (std::uint64_t seed = 1; seed <= 150; ++seed) {
        CAPTURE(seed);
        Draw draw(seed);
        Bench b;
        const double tracking = draw.one_in(5) ? 5 : draw.between(10, 130);
        set_exact(b, tracking);
        const plant::Plant& p = b.build();
        const timeline::State gas = Bench::flowing(slm);
        plant::State now = p.start();
        double at = now.zones[0].setpoint;
        std::vector<Followed> rigs;
        for (double share : {1.0, 0.3})
            for (double sign : {-1.0, 1.0})
                rigs.emplace_back(p, now.zones[0].control.lo, share * tracking, sign);
        const auto go = [&](const Law& law, double seconds) {
            now = p.pass(now, {&law, &gas}, fixed(seconds)).exit;
            for (Followed& rig : rigs) rig.follow(law, seconds);
            at = law.to;
        };
        for (int moves = 1 + draw.below(3); moves > 0; --moves) {
            const double wish = draw.one_in(2) ? at + draw.between(-60, 80) : zero + draw.between(40, 1000);
            const double to = std::clamp(wish, zero + 40, zero + 1050);
            const int kind = draw.below(10);
            if (kind < 5) {
                go(jump(at, to), std::exp(draw.between(0, 8)));
            } else if (kind < 9) {
                const double rate = std::exp(draw.between(-3, 0.5)) / 6, length = std::abs(to - at) / rate;
                if (length > 1) go(ramp(at, to, std::copysign(rate, to - at)), length);
            } else {
                go(off(at, zero + 20), std::exp(draw.between(2, 7)));
                const double near = now.zones[0].control.lo + draw.between(-5, 30);
                go(jump(at, std::max(near, zero + 40)), draw.one_in(2) ? 0 : std::exp(draw.between(0, 5)));
            }
        }
        const double width = draw.between(2, 12);
        const Law held = hold(at);
        const plant::Passage pass = p.pass(now, {&held, &gas, nullptr, width}, band(0, width));
        if (!pass.reachable) continue;
        for (Followed& rig : rigs)
            if (const auto needs = rig.wait(at, width)) {
                CAPTURE(rig.kelvin());
                CHECK(*needs <= pass.duration.hi + accuracy);
                waited += *needs > 1 ? 1 : 0;
            }
    }
    CHECK(waited > 100);
}

TEST_CASE("a band inside the error that every rig's controller has is never reached") {
    Bench b;
    b.rig.furnace.control_error = figure({3, 4});
    const plant::Plant& p = b.build();
    const timeline::State gas = Bench::flowing(slm);
    const Law step = jump(p.start().zones[0].setpoint, 500 + zero);
    CHECK_FALSE(p.pass(p.start(), {&step, &gas}, band(hour, 2.5)).reachable);
    CHECK(p.pass(p.start(), {&step, &gas}, band(hour, 3.5)).reachable);
}
