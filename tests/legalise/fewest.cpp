// Random small recipes on random controllers: what is keyed replays as the recipe, what is refused is refused
// for a true reason, and no program is longer than the fewest segments that brute force finds.
#include "compiler/legalise/legalise.hpp"
#include "compiler/replay/replay.hpp"
#include "tests/legalise/fewest_segments.hpp"
#include "tests/legalise/rig.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <map>
#include <random>
#include <string>

using namespace athanor;
using bench::kelvin;

namespace {

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

program::Controller any_controller(Dice& dice) {
    program::Controller c = bench::controller();
    c.programs = dice.one_of({1U, 2U, 20U});
    c.segments = dice.one_of({4U, 8U, 40U});
    c.linking = dice.once_in(2);
    c.loop_levels = dice.one_of({0U, 1U, 2U});
    c.passes_lo = dice.one_of({1U, 2U, 3U});
    c.passes_hi = dice.one_of({3U, 99U});
    c.setpoint = bench::grid("0", "1200", dice.one_of({"0.1", "0.5", "1", "2"}));
    const int forms = dice.below(3);
    c.rate = bench::grid(dice.one_of({"0.1", "1"}), "50", dice.one_of({"0.1", "0.5", "1"}));
    if (forms > 0) c.ramp_time = bench::grid("0", "180000", dice.one_of({"1", "60"}));
    if (forms == 1) c.rate.reset();
    c.dwell = bench::grid("0", dice.one_of({"36000", "360000"}), dice.one_of({"1", "10", "60"}));
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
program::Controller small_controller(Dice& dice) {
    program::Controller c = bench::controller();
    c.programs = 1;
    c.segments = 60;
    c.linking = false;
    c.loop_levels = 0;
    const std::string step = dice.one_of({"0.5", "1", "2"});
    c.setpoint = bench::grid("11", "75", step.c_str());
    const int forms = dice.below(3);
    c.rate = bench::grid("1", "5", dice.one_of({"1", "2"}));
    if (forms > 0) c.ramp_time = bench::grid("0", "3600", dice.one_of({"300", "600"}));
    if (forms == 1) c.rate.reset();
    c.dwell = bench::grid("0", "3600", dice.one_of({"60", "120"}));
    c.ramp_and_dwell = dice.once_in(2);
    c.band_on_ramps = dice.once_in(2);
    return c;
}

struct Shape {
    int spans = 8, low = 30, high = 1100;
    bool persons = true, repeats = true;
    int coarsest = 1; // K between the set-points that are asked
};

timeline::Timeline any_recipe(Dice& dice, const Shape& shape) {
    bench::Builder b;
    int at = 23;
    bool open = false;
    const auto ramp = [&](bench::Builder& to_builder, int to) {
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
            b.repeat(static_cast<timeline::Index>(dice.between(2, 5)),
                     [&](bench::Builder& body, timeline::Index) {
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
    check::Model model = bench::model();
    check::Rig rig = bench::rig();
    timeline::Timeline like = bench::Builder().dwell(60).finish();
    plant::Plant plant{model, rig, like};
    Files files;
    Bench() { files.add("test.ath", "recipe test\n"); }
};

double seconds_of(const timeline::Timeline& t, std::size_t i) {
    return t.spans[i].ending.duration;
}

/// Is there a span that this code is a true reason to refuse?
bool true_reason(Code code, const timeline::Timeline& t, const program::Controller& c) {
    const double late = std::max(1.0, c.dwell.step.value() / 2);
    for (std::size_t i = 0; i < t.spans.size(); ++i) {
        const timeline::Law& law = *t.laws_of(i);
        const timeline::Ending& ending = t.spans[i].ending;
        const double budget = ending.kind == timeline::EndingKind::band ? ending.band : 1;
        const double off = std::abs(c.setpoint.value(std::clamp<std::int64_t>(
                                        c.setpoint.nearest(law.to - 273.15), 0, c.setpoint.count())) -
                                    (law.to - 273.15));
        switch (code) {
        case Code::value_not_settable:
            if (off > budget) return true;
            if (law.kind == timeline::LawKind::line && c.rate &&
                std::abs(law.rate) * 60 > c.rate->hi.value() + c.rate->step.value() / 2 - 1e-9)
                return true;
            if (law.kind != timeline::LawKind::line && seconds_of(t, i) > 1e6 * c.dwell.hi.value()) return true;
            break;
        case Code::rounding_too_coarse:
            if (law.kind == timeline::LawKind::hold &&
                std::abs(c.dwell.value(c.dwell.nearest(seconds_of(t, i))) - seconds_of(t, i)) > late)
                return true;
            // No settable rate and no settable time ends the line in time.
            if (law.kind == timeline::LawKind::line) {
                // Spans of one rate are one line, and end in time together.
                const auto same_rate = [&](std::size_t n) {
                    return n < t.spans.size() && t.laws_of(n)->kind == timeline::LawKind::line &&
                           std::abs(t.laws_of(n)->rate - law.rate) < 1e-9;
                };
                if (same_rate(i + 1) || (i > 0 && same_rate(i - 1))) return true;
                bool fits = false;
                const double way = std::abs(law.to - law.from);
                // What is late lags behind the line, and each end may be half a step off.
                const auto follows = [&](double seconds) {
                    return std::abs(seconds - seconds_of(t, i)) * std::abs(law.rate) +
                               c.setpoint.step.value() <=
                           budget;
                };
                for (std::int64_t k = 0; c.rate && k <= c.rate->count(); ++k)
                    fits = fits || (c.rate->value(k) > 0 && follows(way / c.rate->value(k) * 60) &&
                                    // The ends may each be 1 K off.
                                    std::abs(way / c.rate->value(k) * 60 - seconds_of(t, i)) <=
                                        late - 2 / c.rate->value(k) * 60);
                if (c.ramp_time && c.ramp_time->hi.value() > seconds_of(t, i)) {
                    const double near = c.ramp_time->value(c.ramp_time->nearest(seconds_of(t, i)));
                    fits = fits || (std::abs(near - seconds_of(t, i)) <= late && follows(near));
                }
                if (!fits) return true;
            }
            break;
        case Code::no_soak_band:
            if (!c.soak_band && ending.kind == timeline::EndingKind::band) return true;
            break;
        case Code::no_operator_wait:
            if (!c.operator_wait && ending.kind == timeline::EndingKind::person) return true;
            break;
        default: break;
        }
    }
    // Every span may need a segment of its own; with fewer places than that it may be too long.
    return code == Code::too_many_segments && (c.segments < 4 * t.spans.size() + 2 || !c.linking);
}

std::string said(const Diagnostics& out) {
    std::string all;
    for (const Diagnostic& d : out.all()) all += std::string(name(d.code)) + ": " + d.message + "\n";
    return all;
}

} // namespace

TEST_CASE("random recipes on random controllers replay as they are written, or are truly refused") {
    constexpr int cases = 400;
    Dice dice(20261125);
    Bench bench;
    std::map<std::string, int> seen;
    for (int n = 0; n < cases; ++n) {
        const program::Controller c = any_controller(dice);
        Shape shape;
        shape.spans = dice.between(1, 8);
        shape.high = dice.once_in(30) ? 1250 : 1100;
        const timeline::Timeline recipe = any_recipe(dice, shape);
        Diagnostics out;
        const legalise::Legalised l = legalise::legalise(recipe, bench.plant, c, bench.files, out);
        INFO("case ", n);
        if (!l.complete) {
            REQUIRE(out.any_error());
            for (const Diagnostic& d : out.all()) {
                ++seen[std::string(name(d.code))];
                INFO(d.message);
                INFO(timeline::print(recipe));
                REQUIRE(true_reason(d.code, recipe, c));
            }
            continue;
        }
        ++seen["keyed"];
        if (l.displaced) ++seen["displaced"];
        const replay::Run run = replay::run(l.program, 23);
        const std::string problems = run.problems.empty() ? "" : run.problems[0];
        INFO(problems);
        REQUIRE(run.problems.empty());
        const std::vector<std::string> differences = replay::compare(run, recipe, l.program, 1.0);
        if (!differences.empty()) {
            INFO(timeline::print(recipe));
            INFO(program::print(l.program));
            INFO(differences[0]);
            REQUIRE(differences.empty());
        }
    }
    std::string text;
    for (const auto& [what, count] : seen) text += what + " " + std::to_string(count) + ", ";
    MESSAGE(text);
    CHECK(seen["keyed"] > cases / 3);
}

TEST_CASE("as few segments as brute force finds but for one in a hundred, and none refused that it keys") {
    Dice dice(31);
    Bench bench;
    int compared = 0, refused = 0, multiple = 0, longer = 0;
    for (int n = 0; n < 600; ++n) {
        const program::Controller c = small_controller(dice);
        Shape shape;
        shape.spans = dice.between(1, 8);
        shape.low = 13;
        shape.high = 73;
        shape.persons = shape.repeats = false;
        shape.coarsest = 2;
        const timeline::Timeline recipe = any_recipe(dice, shape);
        const int fewest = bench::FewestSegments(recipe, c, 3).count();
        Diagnostics out;
        const legalise::Legalised l = legalise::legalise(recipe, bench.plant, c, bench.files, out);
        if (fewest == bench::FewestSegments::never) {
            // It may be keyed with more pieces a line than were tried.
            ++refused;
            continue;
        }
        ++compared;
        if (l.displaced) ++multiple;
        const auto keyed = static_cast<int>(program::segment_count(l.program));
        INFO("case ", n);
        INFO(said(out));
        CHECK(l.complete);
        // Fewer than brute force would be a fault of one of the two.
        CHECK(keyed >= fewest);
        // Known to be longer: the search of one line is given up where there is too much to try.
        if (keyed > fewest) {
            ++longer;
            MESSAGE("case ", n, ": ", keyed, " segments, brute force needs ", fewest);
        }
    }
    CHECK(longer * 100 <= compared);
    MESSAGE("compared ", compared, ", of them with another than the nearest set-point ", multiple,
            "; without a program of three pieces a line ", refused);
    CHECK(compared > 150);
}
