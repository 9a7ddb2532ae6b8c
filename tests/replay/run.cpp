#include "tests/replay/bench.hpp"

#include <doctest/doctest.h>

using namespace bench;
using replay::Stretch;

TEST_CASE("a run unrolls loops and times ramps") {
    replay::Run run = replay::run(table(), 23);
    REQUIRE(run.problems.empty());
    // 11 segments, three passes of 4, a dwell, a step and a dwell.
    REQUIRE(run.stretches.size() == 11 + 12 + 3);
    CHECK(run.stretches[0].kind == Stretch::Kind::person);
    // 277 K at 4 K/min.
    CHECK(run.stretches[2].duration_s == doctest::Approx(277.0 / 4 * 60).scale(0));
    CHECK(run.stretches[3].band_K == 5);
    CHECK(run.stretches[11].from_degC[0] == 880);
    CHECK(run.stretches[15].from_degC[0] == 880);
    CHECK(run.stretches.back().segment == 18);
    CHECK(run.end_outputs == std::vector<bool>{true, false, false, false});
}

TEST_CASE("what a controller cannot hold is a problem") {
    auto problems = [](auto change) {
        program::Program p = table();
        change(p);
        return joined(replay::run(p, 23).problems);
    };
    using program::Program;
    CHECK(problems([](Program& p) {
              p.controller.segments = 18;
          }).find("19 segments, the controller holds 18") != std::string::npos);
    CHECK(problems([](Program& p) { p.controller.segments = 19; }).empty());
    // A wait moves nothing; a value that is keyed there must be the one that stands.
    CHECK(problems([](Program& p) { p.parts[0].segments.front().targets = {900}; }) ==
          "programme 1, segment 1: a wait at 900 degC, the set-point is 23 degC there\n");
    CHECK(problems([](Program& p) { p.controller.loop_levels = 0; }).find("loops 1 deep") != std::string::npos);
    CHECK(problems([](Program& p) { p.controller.passes_hi = 2; }).find("a loop of 3 passes") !=
          std::string::npos);
    CHECK(problems([](Program& p) { p.controller.soak_band.reset(); }).find("the controller takes none") !=
          std::string::npos);
    CHECK(problems([](Program& p) { p.controller.operator_wait = false; }).find("a wait for a person") !=
          std::string::npos);
    CHECK(problems([](Program& p) { p.controller.outputs = 3; }).find("output 4 (burner)") !=
          std::string::npos);
    CHECK(problems([](Program& p) { p.controller.rate.reset(); }).find("a rate in K/min") != std::string::npos);
    CHECK(problems([](Program& p) { p.parts[0].segments[2].rates = {999}; }).find("of 100,") !=
          std::string::npos);
    CHECK(problems([](Program& p) { p.parts[0].segments.pop_back(); }).find("end segment") !=
          std::string::npos);
    CHECK(problems([](Program& p) { p.parts[0].segments[2].band = 3; }).find("on a ramp") != std::string::npos);
    CHECK(problems([](Program& p) {
              p.parts[0].loops.push_back({10, 12, 2});
          }).find("cross") != std::string::npos);
    CHECK(problems([](Program& p) { p.parts[0].loops[0].last = 99; }).find("a loop over segments") !=
          std::string::npos);
    CHECK(problems([](Program& p) { p.parts[0].next = 1; }).find("it never ends") != std::string::npos);
    CHECK(problems([](Program& p) { p.parts[0].next = 3; }).find("which is not there") != std::string::npos);
    CHECK(problems([](Program& p) {
              p.parts[0].segments[4].targets.clear();
          }).find("0 set-points for 1 zones") != std::string::npos);
    CHECK(problems([](Program& p) {
              p.controller.thresholds = 2;
              p.parts[0].thresholds = {{1, 500, true, "", {}}, {1, 600, true, "", {}}};
          }).find("two thresholds move output 1") != std::string::npos);
    CHECK(problems([](Program& p) { p.parts.clear(); }).find("no programme") != std::string::npos);
    CHECK(problems([](Program& p) { p.parts[0].segments[4].outputs = 4; }).find("nothing is named for") !=
          std::string::npos);
}

TEST_CASE("nested loops multiply and runaway ones stop") {
    program::Program p = table();
    p.controller.loop_levels = 3;
    p.parts[0].loops = {{11, 12, 2}, {11, 14, 3}};
    p.parts[0].segments[13].targets = {950};
    p.parts[0].segments[14].targets = {950};
    p.parts[0].segments[15].targets = {950};
    replay::Run run = replay::run(p, 23);
    REQUIRE(joined(run.problems) == "");
    CHECK(run.stretches.size() == 11 + 3 * (2 * 2 + 2) + 3);
    p.parts[0].loops = {{11, 11, 999}, {11, 12, 999}, {11, 14, 999}};
    CHECK(joined(replay::run(p, 23).problems).find("every loop") != std::string::npos);
}

TEST_CASE("linked programmes run on, unlinked ones wait for a person") {
    program::Program whole = table();
    program::Program split = whole;
    program::Part second = whole.parts[0];
    // Cut behind the first soak.
    program::Part& first = split.parts[0];
    first.loops.clear();
    first.segments.resize(4);
    first.segments.push_back(whole.parts[0].segments.back());
    first.segments.back().targets = {300};
    first.segments.back().outputs = 0;
    second.segments.erase(second.segments.begin(), second.segments.begin() + 4);
    second.loops[0].first -= 4;
    second.loops[0].last -= 4;
    second.number = 2;
    split.parts.push_back(second);
    SUBCASE("linked") {
        split.parts[0].next = 2;
        CHECK(joined(check(split, recipe())) == "");
    }
    SUBCASE("not linked: the person in between is a difference") {
        CHECK(joined(check(split, recipe())).find("before programme 2") != std::string::npos);
    }
    SUBCASE("linked by a controller that cannot") {
        split.parts[0].next = 2;
        split.controller.linking = false;
        CHECK(joined(check(split, recipe())).find("links none") != std::string::npos);
    }
}

TEST_CASE("a hand-over stands for the operator's wait at the start") {
    program::Program p = table();
    p.controller.operator_wait = false;
    p.parts[0].hand_over = "Load the boat";
    p.parts[0].segments.erase(p.parts[0].segments.begin());
    --p.parts[0].loops[0].first;
    --p.parts[0].loops[0].last;
    CHECK(joined(check(p, recipe())) == "");
}
