#include "compiler/program/program.hpp"

#include <doctest/doctest.h>

using namespace athanor;
using namespace athanor::program;

namespace {

Grid grid(const char* lo, const char* hi, const char* step) {
    return {*Decimal::parse(lo), *Decimal::parse(hi), *Decimal::parse(step)};
}

Program small() {
    Program p;
    p.recipe = "anneal";
    p.title = "A short anneal";
    p.rig = "bench";
    Controller& c = p.controller;
    c.name = "keys";
    c.title = "Sixteen segments";
    c.segments = 16;
    c.setpoint = grid("0", "1200", "1");
    c.rate = grid("0.1", "99.9", "0.1");
    c.dwell = grid("0", "359940", "60");
    c.soak_band = grid("1", "99", "1");
    c.longest_wait = 7200;
    c.outputs = 4;
    c.channels = 1;
    p.zones = {"left", "right"};
    p.outputs = {{1, "argon", OutputUse::line, 2, true}, {4, "burner", OutputUse::burner, 0, false}};
    p.channels = {"hydrogen"};
    Part part;
    part.next = 2;
    part.hand_over = "reload the boat";
    Segment ramp;
    ramp.kind = SegmentKind::ramp_dwell;
    ramp.targets = {300, 310};
    ramp.rates = {39, 40};
    ramp.dwell = 2;
    ramp.band = 4;
    ramp.outputs = 0b1001;
    ramp.channels = {12500};
    ramp.instruction = "open argon";
    ramp.why.what = "ramp";
    ramp.why.placed = ramp.why.several = true;
    ramp.why.at = {0, 10, 20};
    ramp.why.up_to = {0, 24, 25};
    ramp.why.more = "; piece 1 of 2";
    ramp.why.apart = "outputs change only between segments";
    ramp.start_degC = 23;
    ramp.duration_s = 4155;
    ramp.duration_lo_s = 4080;
    ramp.duration_hi_s = 4230;
    ramp.source = {0, 10, 20};
    ramp.defaulted = true;
    part.segments = {ramp, {}};
    part.segments.back().kind = SegmentKind::end;
    part.loops = {{0, 0, 3}};
    part.thresholds = {{2, 650, false, "carbon dioxide above 650 degC", {0, 1, 2}}};
    p.parts = {part};
    return p;
}

Files files() {
    Files one;
    one.add("small.ath", "recipe small {         \n\n}\n");
    return one;
}

} // namespace

TEST_CASE("the printed program shows every field in the controller's own decimals") {
    const std::string text = print(small(), files());
    for (const char* part :
         {"recipe anneal \"A short anneal\" on bench", "programs 1, segments 16, linking no",
          "rate 0.1 K/min to 99.9 K/min", "ramp time none", "longest wait 7200 s", "zones left right",
          "output 1 argon (line 2), on without power", "output 4 burner (burner)\n", "channel 1 hydrogen",
          "program 1, goes on in 2", "hand-over: reload the boat",
          "threshold output 2 energised below 650 degC", "do: carbon dioxide above 650 degC",
          "1 ramp_dwell to 300/310 degC at 4/4.1 K/min dwell 120 s within 5 K energised 1 4 hydrogen 12.5 sccm",
          "from 23 degC, 4155 s [4080, 4230], source 0:10-20, default", "do: open argon",
          "why: ramp at small.ath:1, with those up to small.ath:2; piece 1 of 2; apart from the one before it: "
          "outputs "
          "change only between segments",
          "2 end energised none", "loop 1 to 1, 3 passes"})
        CHECK_MESSAGE(text.find(part) != std::string::npos, part, "\n", text);
}

TEST_CASE("a reason is a sentence") {
    Why why;
    CHECK(text(why, files()) == "");
    why.what = "two waits follow each other";
    CHECK(text(why, files()) == "two waits follow each other");
    why = {};
    why.what = "the shortest dwell: what follows";
    why.placed = true;
    why.at = {0, 25, 26};
    why.behind_place = " is safe only behind what comes before it";
    CHECK(text(why, files()) ==
          "the shortest dwell: what follows at small.ath:3 is safe only behind what comes before it");
    why.at.file = 1; // of no file
    CHECK(text(why, files()) ==
          "the shortest dwell: what follows at the recipe is safe only behind what comes before it");
}

TEST_CASE("a changed field changes the printed program") {
    const std::string before = print(small(), files());
    Program p = small();
    p.parts[0].segments[0].band = -1;
    CHECK(print(p, files()) != before);
    p = small();
    p.parts[0].segments[0].outputs ^= 1U;
    CHECK(print(p, files()) != before);
    p = small();
    p.controller.holds_at_end = true;
    CHECK(print(p, files()) != before);
    p = small();
    p.parts[0].loops[0].passes = 4;
    CHECK(print(p, files()) != before);
}
