// One recipe, one property of the controller at a time: what is keyed.
#include "compiler/legalise/limits.hpp"
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

std::vector<SegmentKind> kinds(const program::Part& part) {
    std::vector<SegmentKind> list;
    for (const program::Segment& s : part.segments) list.push_back(s.kind);
    return list;
}

/// Laws of the legalised timeline join, and its spans lie inside the states of the recipe.
void check_joined(const timeline::Timeline& t) {
    REQUIRE(t.laws.size() == t.spans.size() * t.zones.size());
    for (std::size_t i = 1; i < t.spans.size(); ++i)
        for (std::size_t z = 0; z < t.zones.size(); ++z)
            CHECK(std::abs(t.laws_of(i)[z].from - t.laws_of(i - 1)[z].to) <= 1e-6);
    for (const timeline::Span& span : t.spans) CHECK(span.state < t.states.size());
}

} // namespace

TEST_CASE("ramp, soak and natural cooling with valves: kinds, values and outputs") {
    Builder b;
    b.open(0).dwell(3180).ramp(300, 4).dwell(3600, 5.5).ramp(880, 5).light().dwell(1200, 5);
    b.close(0).open(1).ramp(950, 2).close(1).open(0).dwell(300).ramp(900, 2);
    const auto k = key(b.finish(), controller());
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    const auto& s = k->part().segments;
    REQUIRE(kinds(k->part()) ==
            std::vector<SegmentKind>{SegmentKind::dwell, SegmentKind::ramp, SegmentKind::dwell,
                                     SegmentKind::ramp, SegmentKind::dwell, SegmentKind::ramp,
                                     SegmentKind::dwell, SegmentKind::ramp, SegmentKind::end});
    CHECK(s[0].targets == std::vector<std::int64_t>{23});
    CHECK(s[0].dwell == 53);  // 3180 s in minutes
    CHECK(s[0].outputs == 0); // argon is open without power
    CHECK(s[1].rates == std::vector<std::int64_t>{39});
    CHECK(s[1].start_degC == 23);
    CHECK(s[1].duration_s == doctest::Approx(4155).scale(0).epsilon(1e-9));
    CHECK(s[2].band == 4); // a band rounds down: 5.5 K to 5 K
    CHECK(s[2].dwell == 60);
    CHECK(s[4].outputs == 0b1000); // burner
    CHECK(s[5].outputs == 0b1011); // hydrogen open, argon shut
    CHECK(s[6].outputs == 0b1000);
    CHECK(s[5].instruction.find("close argon; open hydrogen at") == 0);
    CHECK(s[4].instruction == "light burner");
    CHECK(k->part().next == 0);
    CHECK(k->result.program.outputs.size() == 3);
    check_joined(k->result.timeline);
    CHECK(k->result.timeline.spans.size() == k->recipe.spans.size());
    CHECK(k->result.setpoint_error <= 1e-6);
    CHECK(k->result.instant_error <= 1e-6);
}

TEST_CASE("the first ramp from the measured temperature lasts as long as the bench is cold or warm") {
    const auto k = key(Builder().ramp(300, 4).finish(), controller());
    const program::Segment& s = k->segment(0);
    CHECK(s.duration_s == doctest::Approx(4155).scale(0).epsilon(1e-9));
    CHECK(s.duration_lo_s < 4155);
    CHECK(s.duration_hi_s > 4155);
    const Interval legal = k->result.timeline.spans[0].duration;
    CHECK(legal.lo == doctest::Approx(s.duration_lo_s).scale(0));
    CHECK(legal.hi == doctest::Approx(s.duration_hi_s).scale(0));
}

TEST_CASE("a controller that starts from a set-point of its own is first brought to the recipe's") {
    program::Controller c = controller();
    c.starts_from_measured = false;
    c.start_setpoint = 20;
    const auto k = key(Builder().ramp(300, 4).finish(), c);
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    CHECK(kinds(k->part()) == std::vector<SegmentKind>{SegmentKind::step, SegmentKind::ramp, SegmentKind::end});
    CHECK(k->segment(0).targets[0] == 23);
    CHECK(k->segment(0).dwell == -1);
    // A dwell takes the step into itself.
    const auto dwelling = key(Builder().dwell(600).ramp(300, 4).finish(), c);
    CHECK(kinds(dwelling->part()) ==
          std::vector<SegmentKind>{SegmentKind::step, SegmentKind::ramp, SegmentKind::end});
    CHECK(dwelling->segment(0).dwell == 10);
    // Where it lies within the budget nothing is needed.
    c.start_setpoint = 23.5;
    CHECK(key(Builder().ramp(300, 4).finish(), c)->segments() == 2);
}

TEST_CASE("neighbouring steps that one segment can hold are merged, and a note keeps its row") {
    Builder b;
    b.ramp(300, 5).ramp(600, 5).dwell(600).dwell(90).ramp(700, 5);
    const auto k = key(b.finish(), controller());
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    REQUIRE(k->segments() == 4);
    CHECK(k->segment(0).targets[0] == 600);
    CHECK(k->segment(1).dwell == 12); // 690 s: 11.5 min, ties up
    CHECK(k->result.instant_error == doctest::Approx(30).scale(0));
    // The spans of the recipe stay apart in the legalised timeline: requirements refer to them.
    REQUIRE(k->result.timeline.spans.size() == 5);
    CHECK(k->result.timeline.laws_of(0)[0].to == doctest::Approx(kelvin(300)).scale(0).epsilon(1e-9));
    CHECK(k->result.timeline.laws_of(1)[0].to == doctest::Approx(kelvin(600)).scale(0).epsilon(1e-12));
    CHECK(k->result.timeline.spans[2].ending.duration + k->result.timeline.spans[3].ending.duration == 720);
    check_joined(k->result.timeline);

    Builder noted;
    noted.ramp(300, 5).note("watch the bubbler").ramp(600, 5);
    const auto n = key(noted.finish(), controller());
    REQUIRE(n->segments() == 3);
    CHECK(n->segment(1).instruction == "watch the bubbler");
    // Another rate, another band, another valve: no merge.
    CHECK(key(Builder().ramp(300, 5).ramp(600, 6).finish(), controller())->segments() == 3);
    CHECK(key(Builder().dwell(600, 5).dwell(600, 3).finish(), controller())->segments() == 3);
    CHECK(key(Builder().dwell(600).open(0).dwell(600).finish(), controller())->segments() == 3);
}

TEST_CASE("requirements, expectations and runs follow their spans") {
    Builder b;
    b.ramp(520, 4.04).dwell(600).ramp(600, 5);
    timeline::Timeline t = b.finish();
    t.requirements.push_back({0, timeline::none, 1, 3, {}});
    t.conditions.push_back({});
    t.expectations.push_back({0, 2, 0, {}});
    const auto k = key(t, controller());
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    const timeline::Timeline& legal = k->result.timeline;
    const auto pieces = static_cast<timeline::Index>(legal.spans.size() - 2);
    CHECK(pieces > 1);
    CHECK(legal.requirements[0].first_span == pieces);
    CHECK(legal.requirements[0].last_span == pieces + 2);
    CHECK(legal.expectations[0].boundary == pieces + 1);
    CHECK(legal.runs[0].last == legal.spans.size());
    check_joined(legal);
}

TEST_CASE("a ramp and the dwell behind it share a segment where the controller takes both") {
    program::Controller c = controller();
    c.ramp_and_dwell = true;
    Builder b;
    b.ramp(300, 5).dwell(600, 5).ramp(600, 5).open(0).dwell(600);
    const auto k = key(b.finish(), c);
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    CHECK(kinds(k->part()) == std::vector<SegmentKind>{SegmentKind::ramp_dwell, SegmentKind::ramp,
                                                       SegmentKind::dwell, SegmentKind::end});
    CHECK(k->segment(0).dwell == 10);
    CHECK(k->segment(0).band == 4);
    CHECK(k->segment(0).duration_s == doctest::Approx(277.0 / 5 * 60 + 600).scale(0));
    // Where the band counts on ramps too, a band of the dwell alone keeps it apart.
    c.band_on_ramps = true;
    Builder again;
    again.ramp(300, 5).dwell(600, 5);
    CHECK(key(again.finish(), c)->segments() == 3);
}

TEST_CASE("a soak band on a ramp") {
    Builder b;
    b.ramp(300, 5, 4).ramp(600, 5);
    SUBCASE("on a controller whose ramps wait") {
        program::Controller c = controller();
        c.band_on_ramps = true;
        const auto k = key(b.finish(), c);
        CHECK(kinds(k->part()) ==
              std::vector<SegmentKind>{SegmentKind::ramp, SegmentKind::ramp, SegmentKind::end});
        CHECK(k->segment(0).band == 3);
        CHECK(k->segment(1).band == -1);
        CHECK(k->result.timeline.spans[0].ending.kind == timeline::EndingKind::band);
    }
    SUBCASE("on one whose dwells wait: a dwell without length behind the ramp") {
        const auto k = key(b.finish(), controller());
        CHECK(kinds(k->part()) == std::vector<SegmentKind>{SegmentKind::ramp, SegmentKind::dwell,
                                                           SegmentKind::ramp, SegmentKind::end});
        CHECK(k->segment(0).band == -1);
        CHECK(k->segment(1).band == 3);
        CHECK(k->segment(1).dwell == 0);
    }
    SUBCASE("but for a shortest dwell that the recipe does not have") {
        program::Controller c = controller();
        c.dwell.lo = {60, 0};
        CHECK(key(b.finish(), c)->result.complete);
        c.dwell.lo = {1800, 0};
        const auto k = key(b.finish(), c);
        REQUIRE(k->out.has(Code::no_soak_band));
        CHECK(said(k->out).find("its shortest dwell of 30 min behind the ramp") != std::string::npos);
    }
    SUBCASE("the dwell that follows waits in a band as narrow") {
        Builder soaked;
        soaked.ramp(300, 5, 4).dwell(600, 4).ramp(600, 5, 4).dwell(600, 5);
        const auto k = key(soaked.finish(), controller());
        CHECK(k->segments() == 6); // the wider band of the last dwell does not stand for the ramp's
        CHECK(k->segment(1).dwell == 10);
        CHECK(k->segment(3).dwell == 0);
    }
    SUBCASE("on one without soak bands") {
        program::Controller c = controller();
        c.soak_band.reset();
        const auto k = key(b.finish(), c);
        CHECK(!k->result.complete);
        REQUIRE(k->out.has(Code::no_soak_band));
        CHECK(k->out.errors() == 1);
        CHECK(said(k->out).find("drop `within 4 K` and lengthen the dwell") != std::string::npos);
    }
}

TEST_CASE("a band under the smallest settable one is not settable, one over the largest is narrowed") {
    program::Controller c = controller();
    c.soak_band = bench::grid("3", "20", "1");
    CHECK(key(Builder().dwell(600, 2).finish(), c)->out.has(Code::value_not_settable));
    const auto k = key(Builder().dwell(600, 50).finish(), c);
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    CHECK(c.soak_band->text(k->segment(0).band) == "20");
}

TEST_CASE("natural cooling waits in a band where the controller waits long enough, else by the longest time") {
    Builder b;
    b.ramp(900, 5).cool(700, {600, 3000});
    program::Controller c = controller();
    c.longest_wait = 1e6;
    const auto waits = key(b.finish(), c);
    REQUIRE_MESSAGE(waits->result.complete, said(waits->out));
    CHECK(waits->segment(1).kind == SegmentKind::step);
    CHECK(waits->segment(1).targets[0] == 700);
    CHECK(waits->segment(1).band == 0);
    CHECK(waits->segment(1).dwell == -1);
    CHECK(waits->result.timeline.spans[1].ending.kind == timeline::EndingKind::passes);

    c.longest_wait = 60;
    const auto times = key(b.finish(), c);
    REQUIRE_MESSAGE(times->result.complete, said(times->out));
    const program::Segment& s = times->segment(1);
    CHECK(s.kind == SegmentKind::step);
    CHECK(s.band == -1);
    REQUIRE(s.dwell > 0);
    // Never shorter than the recipe found, nor than the slowest rig needs from the rounded start.
    CHECK(c.dwell.value(s.dwell) >= 3000);
    const timeline::Span& legal = times->result.timeline.spans[1];
    CHECK(legal.ending.kind == timeline::EndingKind::fixed);
    CHECK(legal.ending.duration == c.dwell.value(s.dwell));
    CHECK(times->result.timeline.laws_of(1)[0].kind == timeline::LawKind::off);
}

TEST_CASE("natural cooling of a hazard waits in no band without a longest wait") {
    Builder b;
    b.ramp(900, 5).open(1).cool(700, {600, 3000}).close(1).cool(500, {600, 3000});
    program::Controller c = controller();
    const auto k = key(b.finish(), c);
    const legalise::Limits limits{
        {}, [](const plant::State&, const timeline::State& discrete) { return discrete.open[1] != 0; }};
    for (const bool limited : {false, true}) {
        c.longest_wait = limited ? std::optional(1e6) : std::nullopt;
        Diagnostics out;
        const auto keyed = legalise::legalise_within(limits, k->recipe, *k->plant, c, k->files, out);
        REQUIRE_MESSAGE(keyed.complete, said(out));
        const auto& s = keyed.program.parts.at(0).segments;
        CHECK((s[1].band >= 0) == limited);
        CHECK((s[1].dwell > 0) != limited);
        CHECK(s[2].band >= 0); // nothing is at stake there
    }
}

TEST_CASE("a wait for a condition is worked out again on the rounded prefix and rounded up") {
    Builder b;
    b.open(0).until(1, 1e-3, 100).dwell(300).ramp(300, 4);
    const auto k = key(b.finish(), controller());
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    REQUIRE(k->segments() == 3); // the wait and the dwell behind it are one
    const timeline::Span& wait = k->result.timeline.spans[0];
    const timeline::Span& dwell = k->result.timeline.spans[1];
    CHECK(wait.ending.kind == timeline::EndingKind::fixed);
    CHECK(dwell.ending.duration == 300);
    // What is certain on this rig, from the same entry.
    plant::State entry = k->plant->start();
    const timeline::Timeline& legal = k->result.timeline;
    const plant::Passage sufficient =
        k->plant->pass(entry, {legal.laws_of(0), &legal.states[wait.state]}, k->recipe.spans[0].ending);
    REQUIRE(sufficient.reachable);
    CHECK(wait.ending.duration >= sufficient.duration.hi - 1e-6);
    CHECK(wait.ending.duration < std::max(sufficient.duration.hi, 100.0) + 60);
    const double keyed = controller().dwell.value(k->segment(0).dwell);
    CHECK(keyed == doctest::Approx(wait.ending.duration + 300).scale(0).epsilon(1e-12));
}

TEST_CASE("what cannot be keyed is refused at its place, once") {
    SUBCASE("a set-point outside the range") {
        const auto k = key(Builder().ramp(1300, 5).dwell(600).finish(), controller());
        CHECK(k->out.has(Code::value_not_settable));
        CHECK(said(k->out).find("1300 °C") != std::string::npos);
        CHECK(!k->result.complete);
    }
    SUBCASE("a rate outside the range") {
        const auto k = key(Builder().ramp(900, 200).dwell(600).finish(), controller());
        CHECK(k->out.errors() == 1);
        CHECK(k->out.has(Code::value_not_settable));
    }
    SUBCASE("a dwell that rounding would double") {
        const auto k = key(Builder().ramp(300, 5).dwell(15).finish(), controller());
        CHECK(k->out.errors() == 1);
        CHECK(k->out.has(Code::rounding_too_coarse));
        // The nearest that passes: half a step.
        CHECK(key(Builder().ramp(300, 5).dwell(30).finish(), controller())->result.complete);
    }
    SUBCASE("rates too coarse for the ramp") {
        program::Controller c = controller();
        c.rate = bench::grid("5", "50", "5");
        c.segments = 3;
        c.programs = 1;
        const auto k = key(Builder().ramp(900, 7.3).finish(), c);
        CHECK(k->out.errors() == 1);
        CHECK(k->out.has(Code::rounding_too_coarse));
    }
    SUBCASE("more outputs than there are") {
        program::Controller c = controller();
        c.outputs = 3;
        const auto k = key(Builder().light().ramp(300, 5).finish(), c);
        CHECK(k->out.errors() == 1);
        CHECK(k->out.has(Code::too_many_outputs));
        // Without the burner the same rig fits.
        CHECK(key(Builder().ramp(300, 5).finish(), c)->result.complete);
    }
    SUBCASE("more zones than there are") {
        const auto k = key(Builder({"left", "right"}).ramp_all({300, 400}, 5).finish(), controller());
        CHECK(k->out.has(Code::value_not_settable));
    }
}

TEST_CASE("several zones: one target and rate each") {
    program::Controller c = controller();
    c.zones = 2;
    const auto k = key(Builder({"left", "right"}).ramp_all({323, 623}, 3).dwell(600).finish(), c);
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    REQUIRE(k->segments() == 3);
    CHECK(k->segment(0).targets == std::vector<std::int64_t>{323, 623});
    CHECK(k->segment(0).rates == std::vector<std::int64_t>{29, 59});
    CHECK(k->segment(1).targets == std::vector<std::int64_t>{323, 623});
    check_joined(k->result.timeline);
}

TEST_CASE("a controlled meter takes a channel, in thousandths of a standard cubic centimetre") {
    Builder b;
    b.t.lines[1].channel = true;
    // 100 cm3/min at 0 °C and 101.325 kPa is 7.4358e-5 mol/s (ideal gas, CODATA 2018 molar gas constant)
    b.open(1, 101325.0 * 100e-6 / 60 / (8.314462618 * 273.15)).dwell(600).close(1).dwell(600);
    program::Controller c = controller();
    CHECK(key(b.finish(), c)->out.has(Code::too_many_outputs));
    c.channels = 1;
    const auto k = key(b.finish(), c);
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    CHECK(k->result.program.channels == std::vector<std::string>{"hydrogen"});
    CHECK(k->segment(0).channels == std::vector<std::int64_t>{100000});
    CHECK(k->segment(1).channels == std::vector<std::int64_t>{0});
}

TEST_CASE("a line without an output costs none and is worked by hand") {
    Builder b;
    b.t.lines[1].output = 0;
    b.dwell(600).open(1).dwell(600);
    const auto k = key(b.finish(), controller());
    REQUIRE_MESSAGE(k->result.complete, said(k->out));
    CHECK(k->result.program.outputs.size() == 1);
    REQUIRE(k->segments() == 3);
    CHECK(k->segment(1).instruction.find("by hand") != std::string::npos);
}

TEST_CASE("a ramp to a target that cannot be set, as fast as the tube stands: the target is named, and one "
          "that holds") {
    // By 1 K; the budget is 1 K and 1 s, and 0.2 K more take 6 s at 2 K/min.
    program::Controller c = controller();
    c.dwell = bench::grid("0", "360000", "1");
    legalise::Limits limits;
    limits.tube = [](double, double) { return 2.0 / 60; };
    const auto refused = [&](double target, double rate) {
        const auto k = key(Builder().ramp(500, 2).dwell(600).ramp(target, rate).dwell(600).finish(), c);
        Diagnostics out;
        const auto again = legalise::legalise_within(limits, k->recipe, *k->plant, c, k->files, out);
        if (again.complete) return std::string("complete");
        const Diagnostic& d = out.all().front();
        REQUIRE(!d.remedies.empty());
        return d.message + "; remedy: " + d.remedies.front();
    };
    const std::string told = refused(957.8, 2);
    CHECK_MESSAGE(
        told.find("its nearest set-point to 957.8 °C is 958 °C, and a ramp to that at 2 K/min ends 6 s late; "
                  "remedy: ramp to 958 °C at 2 K/min") != std::string::npos,
        told);
    CHECK(refused(958, 2) == "complete"); // what the remedy says
}

TEST_CASE("a ramp that cannot be followed: the one that is offered is the same process") {
    const auto remedy = [](const bench::Keyed& k) {
        REQUIRE(k.out.has(Code::rounding_too_coarse));
        return k.out.all()[0].remedies.at(0);
    };
    SUBCASE("of one zone, while the others stay") {
        program::Controller c = controller();
        c.zones = 2;
        Builder b({"back", "front"});
        b.ramp_all({600, 600}, 5).dwell(3600).ramp_all({500, 600}, 100 / 1200.0);
        const auto k = key(b.finish(), c);
        CHECK_MESSAGE(remedy(*k) == "ramp back to 500 °C at 0.1 K/min", said(k->out));
    }
    SUBCASE("of all zones") {
        program::Controller c = controller();
        c.zones = 2;
        const auto k = key(Builder({"front", "back"}).ramp_all({28, 28}, 0.05).finish(), c);
        CHECK_MESSAGE(remedy(*k) == "ramp to 28 °C at 0.1 K/min", said(k->out));
    }
    SUBCASE("in a band") {
        program::Controller c = controller();
        c.rate = bench::grid("5", "50", "5");
        c.segments = 3;
        c.programs = 1;
        const auto k = key(Builder().ramp(900, 7.3, 4).finish(), c);
        CHECK_MESSAGE(remedy(*k) == "ramp to 900 °C at 5 K/min within 4 K", said(k->out));
    }
    SUBCASE("by time") {
        program::Controller c = controller();
        c.rate.reset();
        c.ramp_time = bench::grid("0", "360000", "60");
        c.setpoint = bench::grid("0", "1200", "0.1");
        const auto k = key(Builder().ramp(900, 5).finish(), c);
        CHECK_MESSAGE(remedy(*k) == "ramp to 900 °C over 2 h 55 min", said(k->out));
    }
}
