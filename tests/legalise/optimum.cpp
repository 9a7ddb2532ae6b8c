// Where walking from left to right by the nearest values loses segments, and where two actions need their
// order.
#include "compiler/legalise/limits.hpp"
#include "compiler/replay/replay.hpp"
#include "tests/legalise/rig.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string>
#include <vector>

using namespace athanor;
using bench::Builder;
using bench::controller;
using bench::kelvin;
using bench::key;
using program::SegmentKind;

namespace {

/// Empty when the program does what the recipe says.
std::string differs(const bench::Keyed& k) {
    const replay::Run run = replay::run(k.result.program, 23);
    if (!run.problems.empty()) return replay::text_of(run.problems[0]);
    const std::vector<replay::Finding> list = replay::compare(run, k.recipe, k.result.program, 1.0);
    return list.empty() ? "" : replay::text_of(list[0]);
}

std::string why(const bench::Keyed& k, std::size_t segment) {
    return text(k.segment(segment).why, k.files);
}

} // namespace

TEST_CASE("a set-point beyond the end of a ramp saves a segment where the nearest one costs two") {
    program::Controller c = controller();
    c.setpoint = bench::grid("0", "1200", "0.1");
    c.rate = bench::grid("1", "50", "1");
    c.dwell = bench::grid("0", "359940", "10"); // ends within 5 s
    // 37 K at 2.97 K/min are 747.5 s; at 3 K/min they are 740 s, and 37.2 K are 744 s.
    Builder b;
    b.ramp(60, 2.97).dwell(600);
    const auto k = key(b.finish(), c);
    REQUIRE(k->result.complete);
    CHECK(k->segments() == 3);
    CHECK(k->result.displaced);
    CHECK(c.setpoint.value(k->segment(0).targets[0]) > 60.1);
    CHECK(c.setpoint.value(k->segment(0).targets[0]) < 61.0 + 1e-9);
    CHECK(k->segment(1).targets == k->segment(0).targets);
    CHECK(differs(*k) == "");
    // Where the nearest does as well it is taken.
    const auto nearest = key(Builder().ramp(60, 3).dwell(600).finish(), c);
    CHECK(!nearest->result.displaced);
    CHECK(c.setpoint.text(nearest->segment(0).targets[0]) == "60");
    // Nearest set-points alone take two ramps.
    Diagnostics out;
    const auto apart = legalise::legalise_within({}, k->recipe, *k->plant, c, k->files, out, true);
    REQUIRE(apart.complete);
    CHECK(program::segment_count(apart.program) == 4);
}

TEST_CASE("no piece is faster than the tube stands, where the recipe's own ramp is not") {
    const legalise::Limits limits{[](double, double) { return 3.0 / 60; }, {}};
    program::Controller c = controller();
    c.rate.reset();
    c.ramp_time = bench::grid("0", "360000", "15");
    const auto k = key(Builder().ramp(999, 3).dwell(600).finish(), c); // 976 K in 19520 s
    REQUIRE(k->result.complete);
    CHECK(c.ramp_time->value(k->segment(0).ramp_time) == 19515); // 3.0008 K/min
    Diagnostics out;
    const auto slower = legalise::legalise_within(limits, k->recipe, *k->plant, c, k->files, out);
    REQUIRE(slower.complete);
    CHECK(c.ramp_time->value(slower.program.parts[0].segments[0].ramp_time) == 19530);
    for (const timeline::Law& law : slower.timeline.laws) CHECK(std::abs(law.rate) <= 3.0 / 60 * (1 + 1e-9));
    // A zigzag of 2 and 4 K/min would be too fast half of the time.
    c = controller();
    c.rate = bench::grid("2", "50", "2");
    const auto zigzag = key(Builder().ramp(60, 3).dwell(600).finish(), c);
    CHECK(zigzag->result.complete);
    CHECK(zigzag->segments() > 3);
    const auto refused =
        legalise::legalise_within(limits, zigzag->recipe, *zigzag->plant, c, zigzag->files, out);
    CHECK(!refused.complete);
    REQUIRE(!out.all().empty());
    CHECK(out.all()[0].code == Code::rounding_too_coarse);
    REQUIRE(!out.all()[0].causes.empty());
    CHECK(out.all()[0].causes[0].find("no piece may be faster than 3 K/min") != std::string::npos);
    REQUIRE(!out.all()[0].remedies.empty());
    CHECK(out.all()[0].remedies[0].find("2 K/min") != std::string::npos);
    // A ramp that is faster of itself was judged before: it is keyed as it is asked.
    Diagnostics none;
    CHECK(legalise::legalise_within(limits, Builder().ramp(999, 4).finish(), *k->plant, c, k->files, none)
              .complete);
}

TEST_CASE("every order of two outputs is looked at, also where a threshold may act") {
    // The pump stops before hydrogen comes: in the other order hydrogen would go to the pump.
    Builder pumped;
    pumped.t.pump = {3, true, false};
    pumped.light().dwell(600).start_pump().dwell(600);
    pumped.stop_pump().open(1).dwell(600);
    const auto p = key(pumped.finish(), controller());
    REQUIRE(p->result.complete);
    REQUIRE(p->segments() == 5);
    CHECK(p->segment(2).outputs == 0b1001);
    CHECK(p->segment(3).outputs == 0b1011);
    CHECK(differs(*p) == "");
    // Hydrogen that follows the temperature is disarmed before the burner goes out: it may be flowing.
    timeline::Threshold threshold;
    threshold.line = 1;
    threshold.flow = 2e-4;
    threshold.temperature = kelvin(650);
    Builder armed;
    armed.light().dwell(600).arm(threshold).dwell(600).disarm().shut().dwell(600);
    const auto a = key(armed.finish(), controller());
    REQUIRE(a->result.complete);
    // The dwell between them is there, though no output of a segment shows the threshold.
    REQUIRE(a->result.timeline.spans.size() == 4);
    CHECK(a->result.timeline.states[a->result.timeline.spans[2].state].burner);
    CHECK(!a->result.timeline.states[a->result.timeline.spans[3].state].burner);
}

TEST_CASE("a staircase takes two segments for three pieces where a segment holds a ramp and a dwell") {
    program::Controller c = controller();
    c.rate = bench::grid("1", "50", "1");
    Builder b;
    b.ramp(24, 5).ramp(34, 0.5).open(0).dwell(600); // 10 K in 1200 s, under the slowest rate
    const auto apart = key(b.finish(), c);
    c.ramp_and_dwell = true;
    const auto shared = key(b.finish(), c);
    REQUIRE(apart->result.complete);
    REQUIRE(shared->result.complete);
    CHECK(shared->segments() + 3 == apart->segments()); // three dwells
    CHECK(differs(*shared) == "");
    CHECK(differs(*apart) == "");
}

TEST_CASE("natural coolings that go on are one step") {
    Builder b;
    b.ramp(900, 5).cool(700, {600, 3000}).cool(300, {3000, 9000});
    program::Controller c = controller();
    for (const double longest : {1e7, 60.0}) { // waits in a band; by time
        c.longest_wait = longest;
        const auto k = key(b.finish(), c, true);
        REQUIRE(k->result.complete);
        CHECK(k->segments() == 3);
        CHECK(k->segment(1).kind == SegmentKind::step);
        CHECK(k->segment(1).targets[0] == 300);
        // The recipe's boundary stays in what is proven.
        REQUIRE(k->result.timeline.spans.size() == 3);
        CHECK(k->result.timeline.spans[2].duration.hi > 0);
        CHECK(differs(*k) == "");
    }
    // A valve between them keeps them apart.
    Builder parted;
    parted.ramp(900, 5).cool(700, {600, 3000}).open(0).cool(300, {3000, 9000});
    CHECK(key(parted.finish(), c, true)->segments() == 4);
}

TEST_CASE("a banded ramp inside one set-point is a dwell in that band, and replays") {
    // 0.4 K in 480 s: less than half a step of the set-point.
    for (const bool on_ramps : {true, false}) {
        program::Controller c = controller();
        c.band_on_ramps = on_ramps;
        Builder b;
        b.ramp(300, 5).ramp(300.4, 0.05, 3).open(0).dwell(600);
        const auto k = key(b.finish(), c);
        REQUIRE(k->result.complete);
        CHECK(k->segments() == 4);
        CHECK(k->segment(1).kind == SegmentKind::dwell);
        CHECK(k->segment(1).band == 2);
        CHECK(differs(*k) == "");
    }
}

TEST_CASE("every piece of a banded ramp waits, in what is proven too") {
    program::Controller c = controller();
    c.band_on_ramps = true;
    Builder b;
    b.ramp(520, 4.04, 2);
    const auto k = key(b.finish(), c);
    REQUIRE(k->result.complete);
    REQUIRE(k->segments() > 2);
    for (const timeline::Span& span : k->result.timeline.spans)
        CHECK(span.ending.kind == timeline::EndingKind::band);
    CHECK(differs(*k) == "");
}

TEST_CASE("two actions that are only safe in their order get the shortest dwell between them") {
    // Flammable gas must be shut before the burner goes out.
    Builder b;
    b.light().dwell(600).open(1).ramp(900, 5).close(1).shut().dwell(600);
    const auto k = key(b.finish(), controller());
    REQUIRE(k->result.complete);
    REQUIRE(k->segments() == 5);
    CHECK(k->segment(1).outputs == 0b1011); // argon is shut by its output
    CHECK(k->segment(2).outputs == 0b1001);
    CHECK(k->segment(2).dwell == 1); // one minute, the shortest
    CHECK(k->segment(3).outputs == 0b0001);
    CHECK(why(*k, 2).find("the shortest dwell") != std::string::npos);
    CHECK(differs(*k) == "");
    // The reverse order of lighting and opening.
    Builder lit;
    lit.ramp(900, 5).light().open(1).dwell(600);
    const auto l = key(lit.finish(), controller());
    REQUIRE(l->segments() == 4);
    CHECK(l->segment(1).outputs == 0b1001);
    CHECK(differs(*l) == "");
    // In steps of their own, or with argon, nothing is put between.
    Builder apart;
    apart.light().dwell(600).open(1).ramp(900, 5).close(1).dwell(300).shut().dwell(600);
    CHECK(key(apart.finish(), controller())->segments() == 5);
    Builder inert;
    inert.light().open(0).ramp(900, 5).close(0).shut().dwell(600);
    CHECK(key(inert.finish(), controller())->segments() == 3);
}

TEST_CASE("hydrogen is shut a segment before the pump starts, at the end of the recipe too") {
    Builder b;
    b.t.pump = {3, true, false};
    b.light().dwell(600).open(1).ramp(900, 5).close(1).start_pump().dwell(600);
    const auto k = key(b.finish(), controller());
    REQUIRE(k->result.complete);
    REQUIRE(k->segments() == 5);
    CHECK(k->segment(2).outputs == 0b1001);
    CHECK(k->segment(3).outputs == 0b1101);
    Builder end;
    end.light().dwell(600).open(1).ramp(900, 5).close(1).shut();
    const auto e = key(end.finish(), controller());
    REQUIRE(e->result.complete);
    REQUIRE(e->segments() == 4);
    CHECK(e->segment(2).outputs == 0b1001);
    CHECK(e->segment(3).outputs == 0b0001);
}

TEST_CASE("an expectation between two ordered actions stays between them") {
    Builder b;
    b.light().dwell(600).open(1).ramp(900, 5).close(1).shut().dwell(600);
    timeline::Timeline t = b.finish();
    t.conditions.push_back({});
    t.expectations.push_back({0, 2, 0, {}}); // before both
    t.expectations.push_back({0, 2, 1, {}}); // behind the first
    t.expectations.push_back({0, 2, 2, {}}); // behind both
    const auto k = key(t, controller());
    const timeline::Timeline& legal = k->result.timeline;
    REQUIRE(legal.spans.size() == 4);
    CHECK(legal.spans[2].actions == 1);
    CHECK(legal.spans[3].actions == 1);
    CHECK(legal.expectations[0].boundary == 2);
    CHECK(legal.expectations[0].after_actions == 0);
    CHECK(legal.expectations[1].boundary == 2);
    CHECK(legal.expectations[1].after_actions == 1);
    CHECK(legal.expectations[2].boundary == 3);
    CHECK(legal.expectations[2].after_actions == 1);
}

TEST_CASE("a loop may begin in the middle of a pass") {
    // A, then four times B A, then B: five times A B.
    Builder b;
    b.ramp(400, 8).open(0).dwell(600);
    b.repeat(
        4, [](Builder& body, timeline::Index) { body.close(0).ramp(300, 4).ramp(400, 8).open(0).dwell(600); });
    b.close(0).ramp(300, 4);
    const auto k = key(b.finish(), controller());
    REQUIRE(k->result.complete);
    REQUIRE(k->part().loops.size() == 1);
    CHECK(k->part().loops[0].passes == 5);
    CHECK(k->segments() == 4);
    CHECK(differs(*k) == "");
}

TEST_CASE("passes that no loop can hold are not kept apart") {
    Builder b;
    b.ramp(100, 5);
    b.repeat(2, [](Builder& body, timeline::Index) { body.dwell(600).ramp(300, 5).ramp(100, 5).dwell(600); });
    program::Controller c = controller();
    c.passes_lo = 9;
    const auto k = key(b.finish(), c);
    REQUIRE(k->result.complete);
    CHECK(differs(*k) == "");
    CHECK(k->segments() == 9); // the dwells where the passes meet are one
    c.passes_lo = 2;
    CHECK(key(b.finish(), c)->segments() == 6);
}

TEST_CASE("a loop that is longer than a programme is unrolled and linked") {
    Builder b;
    b.repeat(3, [](Builder& body, timeline::Index) {
        body.ramp(400, 8).dwell(600).ramp(500, 3).dwell(600).ramp(300, 8).dwell(900);
    });
    program::Controller c = controller();
    c.segments = 6; // five and an end: the body has six
    const auto k = key(b.finish(), c);
    CHECK(k->result.complete);
    CHECK(k->result.program.parts.size() == 4);
    CHECK(differs(*k) == "");
}

TEST_CASE("each segment says why it is not one with the one before") {
    Builder b;
    b.ramp(300, 5).dwell(600).open(0).dwell(600).ramp(400, 5).ramp(500, 6);
    const auto k = key(b.finish(), controller());
    REQUIRE(k->segments() == 6);
    CHECK(why(*k, 1).find("a segment holds a ramp or a dwell, not both") != std::string::npos);
    CHECK(why(*k, 2).find("outputs change only between segments") != std::string::npos);
    CHECK(why(*k, 3).find("a dwell stands before the ramp") != std::string::npos);
    CHECK(why(*k, 4).find("one segment has one rate and one target") != std::string::npos);
}
