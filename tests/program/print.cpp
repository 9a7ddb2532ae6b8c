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
    ramp.why = "the ramp at line 3";
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

} // namespace

TEST_CASE("the printed program shows every field in the controller's own decimals") {
    const std::string text = print(small());
    for (const char* part :
         {"recipe anneal \"A short anneal\" on bench", "programs 1, segments 16, linking no",
          "rate 0.1 K/min to 99.9 K/min", "ramp time none", "longest wait 7200 s", "zones left right",
          "output 1 argon (line 2), on without power", "output 4 burner (burner)\n", "channel 1 hydrogen",
          "program 1, goes on in 2", "hand-over: reload the boat",
          "threshold output 2 energised below 650 degC", "do: carbon dioxide above 650 degC",
          "1 ramp_dwell to 300/310 degC at 4/4.1 K/min dwell 120 s within 5 K energised 1 4 hydrogen 12.5 sccm",
          "from 23 degC, 4155 s [4080, 4230], source 0:10-20, default", "do: open argon",
          "why: the ramp at line 3", "2 end energised none", "loop 1 to 1, 3 passes"})
        CHECK_MESSAGE(text.find(part) != std::string::npos, part, "\n", text);
}

TEST_CASE("a changed field changes the printed program") {
    const std::string before = print(small());
    Program p = small();
    p.parts[0].segments[0].band = -1;
    CHECK(print(p) != before);
    p = small();
    p.parts[0].segments[0].outputs ^= 1U;
    CHECK(print(p) != before);
    p = small();
    p.controller.holds_at_end = true;
    CHECK(print(p) != before);
    p = small();
    p.parts[0].loops[0].passes = 4;
    CHECK(print(p) != before);
}
