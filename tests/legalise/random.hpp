#pragma once
#include "tests/legalise/rig.hpp"

#include <rapidcheck.h>

#include <cmath>

/// Random recipes and controllers, inside a rapidcheck property.
namespace athanor::bench {

inline program::Controller random_controller() {
    program::Controller c = controller();
    c.programs = *rc::gen::element(1U, 4U, 20U);
    c.segments = *rc::gen::element(8U, 16U, 40U);
    c.linking = *rc::gen::arbitrary<bool>();
    c.loop_levels = *rc::gen::element(0U, 1U, 2U);
    c.passes_hi = *rc::gen::element(4U, 999U);
    c.setpoint.step = {*rc::gen::element(1, 10), static_cast<std::int8_t>(-1)};
    if (*rc::gen::arbitrary<bool>()) c.ramp_time = grid("0", "360000", *rc::gen::element("1", "60"));
    if (c.ramp_time && *rc::gen::arbitrary<bool>()) c.rate.reset();
    c.dwell = grid("0", *rc::gen::element("59940", "359940"), *rc::gen::element("1", "60"));
    c.ramp_and_dwell = *rc::gen::arbitrary<bool>();
    c.band_on_ramps = *rc::gen::arbitrary<bool>();
    c.operator_wait = *rc::gen::weightedElement<bool>({{4, true}, {1, false}});
    c.holds_at_end = *rc::gen::arbitrary<bool>();
    c.thresholds = *rc::gen::element(0U, 1U);
    c.longest_wait = *rc::gen::element(600.0, 1e7);
    if (*rc::gen::weightedElement<bool>({{1, true}, {9, false}})) c.soak_band.reset();
    return c;
}

class Writer {
public:
    void steps(int count, bool may_repeat) {
        for (int i = 0; i < count; ++i) step(may_repeat);
    }
    Builder b;
    bool ramp_bands = false;

private:
    void step(bool may_repeat) {
        switch (*rc::gen::inRange(0, may_repeat ? 9 : 8)) {
        case 0:
        case 1: ramp(); break;
        case 2: b.dwell(*rc::gen::inRange(1, 400) * 60.0); break;
        case 3: b.dwell(*rc::gen::inRange(2, 100000) * 7.0, *rc::gen::inRange(2, 20) * 0.5 + 0.5); break;
        case 4: valve(); break;
        case 5:
            if (at_ > 200) {
                at_ = *rc::gen::inRange(150, at_);
                b.cool(at_, {100, 1000});
            } else {
                b.person("look");
            }
            break;
        case 6:
            b.open(0);
            open_ = true;
            b.until(1, 0.05, 100);
            break;
        case 7: b.note("look"); break;
        default: {
            ramp();
            const int home = at_;
            b.repeat(static_cast<timeline::Index>(*rc::gen::inRange(2, 7)),
                     [&](Builder& body, timeline::Index) {
                         body.ramp(home + 50, 5).dwell(1200, 4).ramp(home, 2).dwell(600);
                     });
        }
        }
    }
    void ramp() {
        // Often where the threshold of `random_recipe` lies.
        const int to =
            *rc::gen::inRange(0, 8) == 0 ? *rc::gen::element(649, 650, 651) : *rc::gen::inRange(30, 1100);
        if (std::abs(to - at_) < 5) return;
        if (*rc::gen::inRange(0, 12) == 0)
            b.jump(to).dwell(600);
        else
            b.ramp(to, *rc::gen::inRange(2, 200) / (*rc::gen::element(10.0, 17.0)),
                   ramp_bands && *rc::gen::inRange(0, 6) == 0 ? 4.5 : 0.0);
        at_ = to;
    }
    void valve() {
        if (open_)
            b.close(0);
        else
            b.open(0);
        open_ = !open_;
    }
    int at_ = 23;
    bool open_ = false;
};

inline timeline::Timeline random_recipe(const program::Controller& c) {
    Writer writer;
    writer.ramp_bands = c.band_on_ramps;
    if (*rc::gen::inRange(0, 4) == 0) {
        timeline::Threshold threshold;
        threshold.line = 1;
        threshold.flow = 2e-4;
        threshold.temperature = kelvin(650);
        writer.b.arm(threshold);
    }
    writer.steps(*rc::gen::inRange(1, 9), true);
    return writer.b.finish();
}

} // namespace athanor::bench
