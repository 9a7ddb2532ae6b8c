#pragma once
#include "tests/legalise/rig.hpp"

#include <cmath>
#include <initializer_list>
#include <random>

/// Random small recipes and controllers from a fixed seed, for tests that want many of them.
namespace athanor::bench {

/// A fixed seed: the same cases in every run.
class Dice {
public:
    explicit Dice(std::uint64_t seed) : engine_(seed) {}
    int below(int n) { return static_cast<int>(engine_() % static_cast<std::uint64_t>(n)); }
    int between(int lo, int hi) { return lo + below(hi - lo + 1); }
    bool once_in(int n) { return below(n) == 0; }
    template<typename T>
    T one_of(std::initializer_list<T> list) {
        return *(list.begin() + below(static_cast<int>(list.size())));
    }

private:
    std::mt19937_64 engine_;
};

inline program::Controller any_controller(Dice& dice) {
    program::Controller c = controller();
    c.programs = dice.one_of({1U, 2U, 20U});
    c.segments = dice.one_of({4U, 8U, 40U});
    c.linking = dice.once_in(2);
    c.loop_levels = dice.one_of({0U, 1U, 2U});
    c.passes_lo = dice.one_of({1U, 2U, 3U});
    c.passes_hi = dice.one_of({3U, 99U});
    c.setpoint = grid("0", "1200", dice.one_of({"0.1", "0.5", "1", "2"}));
    const int forms = dice.below(3);
    c.rate = grid(dice.one_of({"0.1", "1"}), "50", dice.one_of({"0.1", "0.5", "1"}));
    if (forms > 0) c.ramp_time = grid("0", "180000", dice.one_of({"1", "60"}));
    if (forms == 1) c.rate.reset();
    c.dwell = grid("0", dice.one_of({"36000", "360000"}), dice.one_of({"1", "10", "60"}));
    c.operator_wait = !dice.once_in(4);
    c.holds_at_end = dice.once_in(2);
    c.starts_from_measured = !dice.once_in(3);
    c.start_setpoint = dice.one_of({20, 23});
    c.ramp_and_dwell = dice.once_in(2);
    c.band_on_ramps = dice.once_in(2);
    if (dice.once_in(8)) c.soak_band.reset();
    return c;
}

/// Few values of everything, so that all of them can be tried.
inline program::Controller small_controller(Dice& dice) {
    program::Controller c = controller();
    c.programs = 1;
    c.segments = 60;
    c.linking = false;
    c.loop_levels = 0;
    const std::string step = dice.one_of({"0.5", "1", "2"});
    c.setpoint = grid("11", "75", step.c_str());
    const int forms = dice.below(3);
    c.rate = grid("1", "5", dice.one_of({"1", "2"}));
    if (forms > 0) c.ramp_time = grid("0", "3600", dice.one_of({"300", "600"}));
    if (forms == 1) c.rate.reset();
    c.dwell = grid("0", "3600", dice.one_of({"60", "120"}));
    c.ramp_and_dwell = dice.once_in(2);
    c.band_on_ramps = dice.once_in(2);
    return c;
}

struct Shape {
    int spans = 8, low = 30, high = 1100;
    bool persons = true, repeats = true;
    int coarsest = 1; // K between the set-points that are asked
};

inline timeline::Timeline any_recipe(Dice& dice, const Shape& shape) {
    Builder b;
    int at = 23;
    bool open = false;
    std::size_t moved = 1000; // spans before the last move of the valve
    const auto ramp = [&](Builder& to_builder, int to) {
        const double rate = dice.once_in(3) ? dice.between(10, 60) / 10.0 : dice.between(1, 6);
        to_builder.ramp(to, rate, dice.once_in(8) ? dice.one_of({2.0, 3.0, 5.0}) : 0.0);
    };
    const auto somewhere = [&] {
        int to = at;
        while (std::abs(to - at) < 20)
            to = shape.low + shape.coarsest * dice.below((shape.high - shape.low) / shape.coarsest);
        return to;
    };
    while (static_cast<int>(b.t.spans.size()) < shape.spans) {
        switch (dice.below(10)) {
        case 0:
        case 1:
        case 2:
            at = somewhere();
            ramp(b, at);
            break;
        case 3:
        case 4:
        case 5:
            b.dwell(dice.between(2, 20) * dice.one_of({60.0, 120.0, 97.0}),
                    dice.once_in(3) ? dice.one_of({2.0, 3.0, 5.0}) : 0.0);
            break;
        case 6:
            // Opened and shut in one instant moves nothing, and still wants a row for its words.
            if (b.t.spans.size() == moved) break;
            moved = b.t.spans.size();
            if (open)
                b.close(0);
            else
                b.open(0);
            open = !open;
            break;
        case 7:
            if (dice.once_in(3)) b.note("look");
            break;
        case 8:
            if (shape.persons && dice.once_in(4)) b.person("look");
            if (!shape.persons && dice.once_in(3)) {
                at = somewhere();
                b.jump(at);
                b.dwell(600);
            }
            break;
        default: {
            if (!shape.repeats) break;
            const int home = at;
            const int other = somewhere();
            b.repeat(static_cast<timeline::Index>(dice.between(2, 5)), [&](Builder& body, timeline::Index) {
                body.ramp(other, 5).dwell(1200, 4).ramp(home, 2).dwell(600);
            });
        }
        }
        if (b.t.spans.empty()) b.dwell(600);
    }
    return b.finish();
}

/// The rig and its plant serve every recipe: they differ in their spans only.
struct Bench {
    check::Model model = athanor::bench::model();
    check::Rig rig = athanor::bench::rig();
    timeline::Timeline like = Builder().dwell(60).finish();
    plant::Plant plant{model, rig, like};
    Files files;
    Bench() { files.add("test.ath", "recipe test\n"); }
};

} // namespace athanor::bench
