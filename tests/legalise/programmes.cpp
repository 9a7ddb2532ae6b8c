// Loops, linked programmes, waits for people, runs, standing thresholds.
#include "compiler/replay/replay.hpp"
#include "tests/legalise/rig.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

using namespace athanor;
using bench::Builder;
using bench::controller;
using bench::kelvin;
using bench::key;
using program::SegmentKind;

namespace {

std::string said(const Diagnostics& out) {
    std::string all;
    for (const Diagnostic& d : out.all()) {
        all += std::string(name(d.code)) + ": " + d.message + "\n";
        for (const std::string& remedy : d.remedies) all += "  " + remedy + "\n";
    }
    return all;
}

timeline::Timeline cycles(timeline::Index passes) {
    Builder b;
    b.ramp(400, 8);
    b.repeat(passes,
             [](Builder& body, timeline::Index) { body.ramp(800, 8).dwell(1200, 5).ramp(400, 1).dwell(600); });
    b.ramp(100, 1);
    return b.finish();
}

program::Controller single() {
    program::Controller c = controller();
    c.programs = 1;
    c.linking = false;
    c.loop_levels = 0;
    return c;
}

} // namespace

TEST_CASE("forty equal passes are one loop") {
    const auto k = key(cycles(40), controller());
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    // Four of the body, a ramp, the end: the ramp before the repeat and the first of the first pass are one,
    // which is keyed as in every other pass.
    CHECK(k->segments() == 6);
    REQUIRE(k->part().loops.size() == 1);
    CHECK(k->part().loops[0].first == 0);
    CHECK(k->part().loops[0].last == 3);
    CHECK(k->part().loops[0].passes == 40);
    // The legalised timeline has every pass.
    CHECK(k->result.timeline.spans.size() == 162);
    REQUIRE(k->result.timeline.repeats.size() == 1);
    CHECK(k->result.timeline.repeats[0].passes == 40);
    CHECK(k->result.timeline.repeats[0].spans == 4);
}

TEST_CASE("passes beyond the longest loop are divided, and without loops they are unrolled") {
    program::Controller c = controller();
    c.passes_hi = 15;
    const auto divided = key(cycles(40), c);
    REQUIRE_MESSAGE(divided->result.complete, said(divided->out));
    REQUIRE(divided->part().loops.size() == 3);
    CHECK(divided->part().loops[0].passes + divided->part().loops[1].passes + divided->part().loops[2].passes ==
          40);
    CHECK(divided->segments() == 14);

    c = single();
    c.segments = 100;
    const auto unrolled = key(cycles(5), c);
    REQUIRE_MESSAGE(unrolled->result.complete, said(unrolled->out));
    CHECK(unrolled->part().loops.empty());
    CHECK(unrolled->segments() == 22); // the first ramp of the first pass goes on from the one before
}

TEST_CASE("a first pass that starts elsewhere stays outside the loop") {
    Builder b;
    b.repeat(6,
             [](Builder& body, timeline::Index) { body.ramp(520, 4.04).dwell(600).ramp(120, 4).dwell(600); });
    const auto k = key(b.finish(), controller());
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    // The zigzag of the first ramp, from 23 °C, has other corners than that of the others, from 120 °C.
    std::uint32_t passes = 0;
    for (const program::Loop& loop : k->part().loops) passes += loop.passes;
    CHECK(passes == 5);
}

TEST_CASE("a first pass that the recipe does not list is folded in where it is keyed alike") {
    Builder b;
    b.open(0).dwell(600).close(0).dwell(300);
    b.repeat(3, [](Builder& body, timeline::Index) { body.open(0).dwell(600).close(0).dwell(300); });
    const auto k = key(b.finish(), controller());
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    CHECK(k->segments() == 3);
    REQUIRE(k->part().loops.size() == 1);
    CHECK(k->part().loops[0].passes == 4);
    // Another length, another pass.
    Builder other;
    other.open(0).dwell(600).close(0).dwell(360);
    other.repeat(3, [](Builder& body, timeline::Index) { body.open(0).dwell(600).close(0).dwell(300); });
    CHECK(key(other.finish(), controller())->segments() == 5);
}

TEST_CASE("a note that one pass says stands in no row of a loop") {
    const auto keyed = [](const Builder& b) {
        auto k = key(Builder(b).finish(), controller());
        REQUIRE_MESSAGE(k->result.complete, said(k->out));
        std::string words; // along the run
        const program::Part& part = k->part();
        for (std::size_t i = 0; i < part.segments.size(); ++i) {
            std::uint32_t times = 1;
            for (const program::Loop& loop : part.loops)
                if (i >= loop.first && i <= loop.last) times *= loop.passes;
            const std::string& text = part.segments[i].instruction;
            if (!text.empty() && !text.starts_with("at the end"))
                words += (words.empty() ? "" : ", ") + std::to_string(times) + "x" + text;
        }
        return words;
    };
    const auto plain = [](Builder& body, timeline::Index) { body.dwell(3600, 5).dwell(1800); };
    Builder before;
    before.ramp(300, 5).note("flux").repeat(3, plain).ramp(200, 5);
    CHECK(keyed(before) == "1xflux");
    Builder in_each;
    in_each.ramp(300, 5).repeat(
        3, [](Builder& body, timeline::Index) { body.note("flux").dwell(3600, 5).dwell(1800); });
    CHECK(keyed(in_each) == "3xflux");
    Builder behind; // the words of the last pass stand behind the loop
    behind.ramp(300, 5).repeat(
        3, [](Builder& body, timeline::Index) { body.dwell(3600, 5).dwell(1800).note("sample"); });
    behind.ramp(200, 5);
    CHECK(keyed(behind) == "2xsample, 1xsample");
    Builder outer;
    outer.ramp(300, 5).repeat(2, [&](Builder& body, timeline::Index) {
        body.note("flux").repeat(3, plain);
        body.ramp(350, 5).ramp(300, 5);
    });
    CHECK(keyed(outer) == "2xflux");
    // What an output does is said once for all passes that leave the same.
    Builder valves;
    valves.ramp(300, 5);
    valves.repeat(
        3, [](Builder& body, timeline::Index) { body.open(1).close(0).dwell(600).close(1).open(0).dwell(60); });
    const std::string words = keyed(valves);
    CHECK_MESSAGE(words.find("3xclose argon") != std::string::npos, words);
}

TEST_CASE("waits in a folded loop take the longest of the passes") {
    Builder b;
    b.ramp(300, 5).open(0);
    b.repeat(4, [](Builder& body, timeline::Index pass) {
        body.until(1, 1e-3, 600.0 + 240.0 * pass).ramp(350, 5).ramp(300, 5);
    });
    const auto k = key(b.finish(), controller());
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    REQUIRE(k->part().loops.size() == 1);
    CHECK(k->part().loops[0].passes == 4);
    const program::Segment& wait = k->segment(k->part().loops[0].first);
    CHECK(controller().dwell.value(wait.dwell) >= 600.0 + 240.0 * 3);
    for (timeline::Index pass = 0; pass < 4; ++pass)
        CHECK(k->result.timeline.spans[1 + 3 * pass].ending.duration == controller().dwell.value(wait.dwell));
}

TEST_CASE("nested repeats fold as deep as the controller has levels") {
    Builder b;
    b.ramp(400, 5);
    b.repeat(3, [](Builder& outer, timeline::Index) {
        outer.repeat(10, [](Builder& inner, timeline::Index) { inner.ramp(500, 5).ramp(400, 5); });
        outer.dwell(3600);
    });
    // The builder lists inner repeats first and one for each outer pass.
    program::Controller c = controller();
    c.loop_levels = 2;
    const auto two = key(b.finish(), c);
    REQUIRE_MESSAGE(two->result.complete, said(two->out));
    CHECK(two->segments() == 5);
    REQUIRE(two->part().loops.size() == 2);
    // One level: three loops of ten are shorter than one loop of three around twenty-one segments.
    c.loop_levels = 1;
    const auto one = key(b.finish(), c);
    REQUIRE_MESSAGE(one->result.complete, said(one->out));
    CHECK(one->segments() == 11);
    CHECK(one->part().loops.size() == 3);
}

TEST_CASE("nested repeats fold however many rows they have unrolled") {
    // Inner repeats need not be listed: what is keyed alike is found among the rows.
    const auto nested = [](timeline::Index outer, timeline::Index inner) {
        Builder b;
        b.ramp(300, 8);
        b.repeat(outer, [&](Builder& body, timeline::Index) {
            for (timeline::Index n = 0; n < inner; ++n) body.ramp(500, 5).dwell(300).ramp(300, 1);
            body.dwell(3600);
        });
        b.ramp(100, 1);
        return b.finish();
    };
    program::Controller two = controller();
    two.loop_levels = 2;
    two.passes_hi = 999;
    for (const auto& [outer, inner] : {std::pair{3U, 20U}, std::pair{3U, 40U}, std::pair{10U, 100U}}) {
        const auto k = key(nested(outer, inner), two);
        REQUIRE_MESSAGE(k->result.complete, said(k->out));
        const program::Part& part = k->result.program.parts.at(0);
        CHECK(k->result.program.parts.size() == 1);
        CHECK(part.segments.size() == 7); // two ramps and the end beside the body
        REQUIRE(part.loops.size() == 2);
        CHECK(std::min(part.loops[0].passes, part.loops[1].passes) == outer);
        CHECK(std::max(part.loops[0].passes, part.loops[1].passes) == inner);
        CHECK(replay::compare_exactly(replay::run(k->result.program, 23), k->result.timeline, k->result.program)
                  .empty());
    }
    // With one level the inner passes are folded, and the outer ones stand behind each other.
    two.loop_levels = 1;
    const auto k = key(nested(5, 100), two);
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    CHECK(program::segment_count(k->result.program) + 1 == 5 * 4 + 3 + k->result.program.parts.size());
    // Rows that differ in every pass leave nothing to fold, and are not looked at for long.
    Builder b;
    for (int n = 0; n < 400; ++n) b.ramp(300 + n, 8).ramp(200, 5);
    two.programs = 99;
    CHECK(program::segment_count(key(b.finish(), two)->result.program) > 800);
}

TEST_CASE("a recipe longer than a programme goes on in linked ones") {
    Builder b;
    for (int i = 0; i < 20; ++i) b.ramp(300 + 20 * i, 5).dwell(600);
    program::Controller c = controller();
    const auto k = key(b.finish(), c);
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    REQUIRE(k->result.program.parts.size() == 3); // 40 segments, fifteen and an end in each
    CHECK(k->part(0).next == 2);
    CHECK(k->part(1).next == 3);
    CHECK(k->part(2).next == 0);
    for (const program::Part& part : k->result.program.parts) {
        CHECK(part.segments.size() <= c.segments);
        CHECK(part.segments.back().kind == SegmentKind::end);
        CHECK(part.hand_over.empty());
    }
    CHECK(k->segments(0) == 16);
    CHECK(k->segments(2) == 11);
    // A programme ends as the segment before it held.
    CHECK(k->segment(15, 0).outputs == k->segment(14, 0).outputs);
    CHECK(k->segment(15, 0).targets == k->segment(14, 0).targets);
}

TEST_CASE("a loop is never cut by a link") {
    Builder b;
    for (int i = 0; i < 12; ++i) b.ramp(300 + 20 * i, 5);
    b.dwell(60);
    b.repeat(5,
             [](Builder& body, timeline::Index) { body.ramp(800, 8).dwell(1200, 5).ramp(520, 1).dwell(600); });
    program::Controller c = controller();
    c.segments = 8;
    const auto k = key(b.finish(), c);
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    for (const program::Part& part : k->result.program.parts)
        for (const program::Loop& loop : part.loops) {
            CHECK(loop.last < part.segments.size() - 1);
            CHECK(part.segments[loop.first].targets[0] == 800);
        }
}

TEST_CASE("too many segments: how many are needed, how many there are, what would help") {
    Builder b;
    b.ramp(300, 5);
    b.repeat(5, [](Builder& body, timeline::Index) { body.ramp(400, 5).dwell(600).ramp(300, 5); });
    program::Controller c = single();
    c.segments = 8;
    const auto k = key(b.finish(), c);
    CHECK(!k->result.complete);
    CHECK(k->out.errors() == 1);
    REQUIRE(k->out.has(Code::too_many_segments));
    const std::string text = said(k->out);
    CHECK(text.find("needs 16 segments with its end, keys holds 8 segments") != std::string::npos);
    CHECK(text.find("a controller with loops needs 4 segments") != std::string::npos);
    // At the limit: sixteen fit, fifteen do not.
    c.segments = 16;
    CHECK(key(b.finish(), c)->result.complete);
    c.segments = 15;
    CHECK(!key(b.finish(), c)->result.complete);
    // Linking needs a second programme.
    c.segments = 8;
    c.linking = true;
    CHECK(!key(b.finish(), c)->result.complete);
    c.programs = 3;
    CHECK(key(b.finish(), c)->result.complete);
}

TEST_CASE("a person is waited for by the controller, or stands between two programmes, or neither") {
    Builder b;
    b.person("load the boat").dwell(600).person("close the door").ramp(300, 5);
    b.t.lines[0].open_without_power = false; // nothing is energised while the person acts
    const auto waits = key(b.finish(), controller());
    REQUIRE_MESSAGE(waits->result.complete, said(waits->out));
    REQUIRE(waits->result.program.parts.size() == 1);
    CHECK(waits->segment(0).kind == SegmentKind::operator_wait);
    CHECK(waits->segment(0).instruction == "load the boat");
    CHECK(waits->segment(0).duration_hi_s == 0);
    CHECK(waits->result.timeline.spans[0].ending.kind == timeline::EndingKind::person);

    program::Controller c = controller();
    c.operator_wait = false;
    const auto parts = key(b.finish(), c);
    REQUIRE_MESSAGE(parts->result.complete, said(parts->out));
    REQUIRE(parts->result.program.parts.size() == 2);
    CHECK(parts->part(0).hand_over == "load the boat");
    CHECK(parts->part(1).hand_over == "close the door");
    CHECK(parts->part(0).next == 0);
    CHECK(parts->segments(0) == 2);

    c.programs = 1;
    const auto neither = key(b.finish(), c);
    CHECK(neither->out.errors() == 1);
    CHECK(neither->out.has(Code::no_operator_wait));
}

TEST_CASE("no separate programmes where the set-point or a valve would not be held between them") {
    program::Controller c = controller();
    c.operator_wait = false;
    Builder hot;
    hot.ramp(600, 5).person("look through the window").ramp(700, 5);
    const auto k = key(hot.finish(), c);
    CHECK(k->out.errors() == 1);
    REQUIRE(k->out.has(Code::no_operator_wait));
    CHECK(k->out.all()[0].causes.at(0).find("600 °C") != std::string::npos);
    c.holds_at_end = true;
    CHECK(key(hot.finish(), c)->result.complete);
    // Argon is open without power: closed, it is energised, and would open when the programme ends.
    c.holds_at_end = false;
    Builder valve;
    valve.open(0).dwell(600).close(0).person("reload").dwell(600);
    CHECK(key(valve.finish(), c)->out.has(Code::no_operator_wait));
}

TEST_CASE("each run is a programme of its own") {
    Builder b;
    b.dwell(600).person("regrind").ramp(300, 5).ramp(100, 1);
    b.t.lines[0].open_without_power = false;
    timeline::Timeline t = b.finish();
    t.runs = {{"first firing", 0, 1}, {"second firing", 1, 4}};
    const auto k = key(t, controller());
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    REQUIRE(k->result.program.parts.size() == 2);
    CHECK(k->part(1).hand_over == "regrind");
    CHECK(k->result.timeline.runs[1].first == 1);
    CHECK(k->result.timeline.runs[1].last == 4);
}

TEST_CASE("before its first programme a controller switches nothing") {
    program::Controller c = controller();
    c.operator_wait = false;
    c.holds_at_end = true;
    Builder b;
    b.open(1).person("fit the boat").dwell(600); // hydrogen: closed without power
    const auto k = key(b.finish(), c);
    REQUIRE(k->out.has(Code::no_operator_wait));
    CHECK(k->out.all()[0].causes.at(0) == "output 2 (hydrogen) would not be energised yet");
    // What falls open is open then; what it would take power to shut is shut by the people who are there.
    CHECK(key(Builder().open(0).person("fit the boat").dwell(600).finish(), c)->result.complete);
    CHECK(key(Builder().person("fit the boat").dwell(600).finish(), c)->result.complete);
    // Its flow is another thing: no channel is set yet.
    Builder channel;
    channel.t.lines[0].channel = true;
    channel.open(0).person("fit the boat").dwell(600);
    c.channels = 1;
    const auto set = key(channel.finish(), c);
    REQUIRE(set->out.has(Code::no_operator_wait));
    CHECK(set->out.all()[0].causes.at(0) == "the channel of argon would set no flow");
}

// A random recipe found it.
TEST_CASE("a purge that is over already stands before a person who ends the programme") {
    program::Controller c = controller();
    c.operator_wait = false;
    c.linking = false;
    Builder b;
    b.open(0).dwell(600).close(0).open(0).until(1, 0.05, 0).person("look");
    const auto k = key(b.finish(), c);
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    REQUIRE(k->result.program.parts.size() == 2);
    const auto differences =
        replay::compare_exactly(replay::run(k->result.program, 23), k->result.timeline, k->result.program);
    CHECK_MESSAGE(differences.empty(), replay::text_of(differences[0]));
}

namespace {

timeline::Threshold above_650() {
    timeline::Threshold threshold;
    threshold.line = 1;
    threshold.flow = 2e-4;
    threshold.temperature = kelvin(650);
    return threshold;
}

} // namespace

namespace {
program::Controller controller_without_thresholds() {
    program::Controller c = controller();
    c.thresholds = 0;
    return c;
}
} // namespace

TEST_CASE("a standing threshold goes to an output that follows the temperature by itself") {
    Builder b;
    b.arm(above_650()).ramp(800, 6).dwell(1800).cool(90, {20000, 40000});
    const auto k = key(b.finish(), controller());
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    REQUIRE(k->part().thresholds.size() == 1);
    CHECK(k->part().thresholds[0].output == 2);
    CHECK(k->part().thresholds[0].temperature == 650);
    CHECK(k->part().thresholds[0].energised_above);
    CHECK(k->part().thresholds[0].instruction.find("open hydrogen above 650 °C") == 0);
    CHECK(k->segments() == 4);
    // A valve that is open without power is energised below instead.
    Builder reversed;
    reversed.t.lines[1].open_without_power = true;
    reversed.arm(above_650()).ramp(800, 6).cool(90, {20000, 40000});
    const auto r = key(reversed.finish(), controller());
    REQUIRE_MESSAGE(r->result.complete, said(r->out));
    CHECK(!r->part().thresholds[0].energised_above);
}

TEST_CASE("an output that follows the temperature must be idle behind the end where the controller holds") {
    // Over with its block, at 640 degC; what is held then is 660 degC, to which the furnace is still on its
    // way.
    Builder b;
    b.arm(above_650()).ramp(620, 6).dwell(1800).disarm().jump(660);
    program::Controller c = controller();
    for (const bool holds : {false, true}) {
        c.holds_at_end = holds;
        const auto k = key(b.finish(), c);
        CHECK_MESSAGE((k->result.complete && k->part().thresholds.size() == 1) == !holds, said(k->out));
    }
    // What cooled naturally is held where it was sent, and goes no further down.
    timeline::Threshold below = above_650();
    below.temperature = kelvin(300);
    below.above = false;
    Builder cooled;
    cooled.arm(below).ramp(800, 6).dwell(1800).disarm().dwell(600).cool(600, {1000, 8000});
    const auto k = key(cooled.finish(), c);
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    CHECK(k->part().thresholds.size() == 1);
}

TEST_CASE("without such an output the threshold splits the ramp where the set-point passes") {
    program::Controller c = controller();
    c.thresholds = 0;
    Builder b;
    b.arm(above_650()).ramp(800, 6).dwell(1800).ramp(500, 3);
    const auto k = key(b.finish(), c);
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    CHECK(k->part().thresholds.empty());
    REQUIRE(k->segments() == 6);
    CHECK(k->segment(0).targets[0] == 650);
    CHECK((k->segment(0).outputs & 2U) == 0);
    CHECK((k->segment(1).outputs & 2U) != 0);
    CHECK(k->segment(1).instruction.find("open hydrogen at") == 0);
    CHECK((k->segment(2).outputs & 2U) != 0);
    CHECK((k->segment(3).outputs & 2U) != 0);
    CHECK(k->segment(3).targets[0] == 650);
    CHECK((k->segment(4).outputs & 2U) == 0);
    CHECK(k->segment(4).instruction == "close hydrogen");
    for (const timeline::Span& span : k->result.timeline.spans)
        CHECK(k->result.timeline.states[span.state].armed == 0);
    // In natural cooling no set-point says when.
    Builder cooled;
    cooled.arm(above_650()).ramp(800, 6).cool(90, {20000, 40000});
    const auto refused = key(cooled.finish(), c);
    CHECK(refused->out.errors() == 1);
    REQUIRE(refused->out.has(Code::too_many_outputs));
    CHECK(said(refused->out).find("natural cooling passes 650 °C") != std::string::npos);
}

// A random recipe found it: between two settable rates one piece fewer ends beyond 650 degC.
TEST_CASE("a threshold without an output of its own is cut where any zone passes it") {
    program::Controller c = controller();
    c.thresholds = 0;
    c.zones = 2;
    Builder together({"left", "right"});
    together.arm(above_650()).ramp_all({800, 800}, 6).dwell(1800);
    const auto k = key(together.finish(), c);
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    CHECK(k->segment(0).targets == std::vector<std::int64_t>{650, 650});
    // A random recipe found it: a step, or a cooling, that ends at the temperature is above it on the way.
    Builder at;
    at.arm(above_650()).ramp(655, 5).jump(650).dwell(600);
    CHECK(key(at.finish(), controller_without_thresholds())->out.has(Code::too_many_outputs));
    // What is refused takes its time all the same: what follows begins behind it.
    Builder steps;
    for (int i = 0; i < 40; ++i) steps.ramp(100 + 5 * i, 5);
    steps.arm(above_650()).ramp(800, 5).cool(90, {20000, 40000}).ramp(300, 5);
    const auto refused_in_between = key(steps.finish(), controller_without_thresholds());
    CHECK(refused_in_between->out.errors() == 1);
    CHECK(refused_in_between->out.has(Code::too_many_outputs));
    // One zone above and one below: a segment could only have the valve right for one of them.
    for (const auto& ends : {std::vector<double>{600, 800}, std::vector<double>{800, 600}}) {
        Builder apart({"left", "right"});
        apart.arm(above_650()).ramp_all(ends, 6).dwell(1800);
        const auto refused = key(apart.finish(), c);
        REQUIRE(refused->out.has(Code::too_many_outputs));
        CHECK(said(refused->out).find("hydrogen follows 650 °C, and the zones stand on both sides of it") !=
              std::string::npos);
    }
}

TEST_CASE("a ramp that ends at a threshold does not end beyond it") {
    program::Controller c = controller();
    c.setpoint.step = {1, -1};
    c.segments = 40;
    c.ramp_time.reset();
    for (const unsigned outputs : {0U, 1U}) {
        c.thresholds = outputs;
        Builder up;
        up.arm(above_650()).ramp(650, 15 / 17.0).jump(118).dwell(600);
        Builder down;
        down.jump(1000).dwell(600).arm(above_650()).ramp(650, 15 / 17.0).jump(1000).dwell(600);
        for (Builder* b : {&up, &down}) {
            const auto k = key(b->finish(), c);
            REQUIRE_MESSAGE(k->result.complete, said(k->out));
            double last_ramp = 0;
            for (const program::Segment& s : k->part().segments)
                if (s.kind == program::SegmentKind::ramp) last_ramp = c.setpoint.value(s.targets[0]);
            CHECK(last_ramp == doctest::Approx(650).epsilon(1e-12));
        }
    }
}

TEST_CASE("a threshold output may not act where the recipe does not arm it") {
    Builder b;
    b.ramp(800, 6).dwell(600).ramp(600, 3).arm(above_650()).ramp(800, 6).dwell(600).ramp(500, 3);
    const auto k = key(b.finish(), controller());
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    CHECK(k->part().thresholds.empty());
    CHECK((k->segment(1).outputs & 2U) == 0); // 800 °C, not armed
    CHECK(std::any_of(k->part().segments.begin(), k->part().segments.end(),
                      [](const program::Segment& s) { return (s.outputs & 2U) != 0; }));
}

TEST_CASE("a threshold output that opens below its temperature would open in the cold") {
    for (const bool opens : {true, false}) {
        CAPTURE(opens);
        timeline::Threshold threshold = above_650();
        threshold.opens = opens;
        threshold.above = !opens; // open below, or closed above
        Builder b;
        b.ramp(800, 6).arm(threshold).ramp(700, 3).disarm().ramp(500, 3);
        const auto k = key(b.finish(), controller());
        REQUIRE_MESSAGE(k->result.complete, said(k->out));
        CHECK(k->part().thresholds.empty());
    }
}

TEST_CASE("where an analogue channel sets the flow, the message names it as the reason") {
    Builder b;
    b.t.lines[1].channel = true;
    b.arm(above_650()).ramp(800, 6).cool(90, {20000, 40000});
    const auto k = key(b.finish(), controller());
    REQUIRE(k->out.has(Code::too_many_outputs));
    CHECK(said(k->out).find("an analogue channel sets the flow of hydrogen") != std::string::npos);
    Builder plain;
    plain.arm(above_650()).ramp(800, 6).cool(90, {20000, 40000});
    CHECK(key(plain.finish(), controller())->result.complete);
}
