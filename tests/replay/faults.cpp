// Seeded faults: each changes the table in one way, and each must be found where it is.
#include "tests/replay/bench.hpp"

#include <doctest/doctest.h>

#include <functional>

using namespace bench;
using program::Program;
using program::Segment;

namespace {

struct Fault {
    const char* name;
    const char* says; // part of a message
    std::function<void(Program&)> seed;
};

std::vector<Segment>& segments(Program& p) {
    return p.parts[0].segments;
}

const std::vector<Fault> faults{
    {"argon shut during the purge", "segment 2: argon is closed, the recipe has it open (recipe step purge 1)",
     [](Program& p) { segments(p)[1].outputs = 1; }},
    {"outputs swapped", "hydrogen",
     [](Program& p) {
         for (Segment& s : segments(p))
             s.outputs = (s.outputs & ~3U) | (s.outputs & 1U) << 1 | (s.outputs & 2U) >> 1;
     }},
    {"an output bit off by one", "segment 10: it energises an output that nothing is named for",
     [](Program& p) { segments(p)[9].outputs = 4; }},
    {"burner forgotten", "segment 10: burner is off, the recipe has it on",
     [](Program& p) { segments(p)[9].outputs = 0; }},
    {"hydrogen opened one segment early", "segment 10: hydrogen is open, the recipe has it closed",
     [](Program& p) { segments(p)[9].outputs = 11; }},
    {"hydrogen shut one segment late", "hydrogen is open, the recipe has it closed",
     [](Program& p) { segments(p)[15].outputs = 11; }},
    {"purge rounded down", "segment 2: it takes", [](Program& p) { segments(p)[1].dwell = 50; }},
    {"purge far too long", "segment 2: it takes", [](Program& p) { segments(p)[1].dwell = 90; }},
    {"soak cut short", "segment 4: it takes", [](Program& p) { segments(p)[3].dwell = 59; }},
    {"minutes for hours", "segment 4: it takes", [](Program& p) { segments(p)[3].dwell = 1; }},
    {"wider band", "segment 4: a soak band of 6 K, the recipe has 5 K",
     [](Program& p) { segments(p)[3].band = 5; }},
    {"band lost", "segment 4: no soak band", [](Program& p) { segments(p)[3].band = -1; }},
    {"band too narrow by two steps", "a soak band of 3 K", [](Program& p) { segments(p)[3].band = 2; }},
    {"a band that nobody asked for", "segment 2: a soak band of 2 K, the recipe has none",
     [](Program& p) { segments(p)[1].band = 1; }},
    {"wrong rate", "segment 3", [](Program& p) { segments(p)[2].rates = {40}; }},
    {"rate ten times too high", "segment 3", [](Program& p) { segments(p)[2].rates = {399}; }},
    {"pieces of a ramp in the wrong order", "K are allowed",
     [](Program& p) {
         for (std::size_t i : {4U, 6U}) segments(p)[i].rates = {50};
         segments(p)[8].rates = {50};
     }},
    {"wrong target", "segment 3",
     [](Program& p) {
         segments(p)[2].targets = {310};
         segments(p)[3].targets = {310};
     }},
    {"target and dwell disagree", "segment 4: a dwell at 302 degC",
     [](Program& p) { segments(p)[3].targets = {302}; }},
    {"peak off by two kelvin", "the set-point is 952",
     [](Program& p) {
         segments(p)[11].targets = {952};
         segments(p)[12].targets = {952};
     }},
    {"one pass too few", "recipe", [](Program& p) { p.parts[0].loops[0].passes = 2; }},
    {"one pass too many", "recipe", [](Program& p) { p.parts[0].loops[0].passes = 4; }},
    {"loop begins one segment late", "segment 13: a dwell at 950 degC",
     [](Program& p) { ++p.parts[0].loops[0].first; }},
    {"loop ends one segment early", "recipe", [](Program& p) { --p.parts[0].loops[0].last; }},
    {"loop begins one segment early", "segment 11: ", [](Program& p) { --p.parts[0].loops[0].first; }},
    {"loop lost", "recipe", [](Program& p) { p.parts[0].loops.clear(); }},
    {"operator wait lost", "the recipe waits for a person",
     [](Program& p) {
         segments(p).erase(segments(p).begin());
         --p.parts[0].loops[0].first;
         --p.parts[0].loops[0].last;
     }},
    {"clearing dwell lost", "the recipe holds 880",
     [](Program& p) { segments(p).erase(segments(p).begin() + 15); }},
    {"last dwell lost", "the recipe goes on", [](Program& p) { segments(p).erase(segments(p).begin() + 17); }},
    {"two segments swapped", "segment 10", [](Program& p) { std::swap(segments(p)[9], segments(p)[10]); }},
    {"cooling does not wait", "it waits 10 min, cooling may take 5 h",
     [](Program& p) { segments(p)[16].band = -1; }},
    {"cooling waits the shortest time", "cooling may take 5 h",
     [](Program& p) {
         segments(p)[16].band = -1;
         segments(p)[16].dwell = 150;
     }},
    {"cooling to a wrong temperature", "cools to 60",
     [](Program& p) {
         segments(p)[16].targets = {80};
         segments(p)[17].targets = {80};
     }},
    {"the controller gives up too early", "the controller gives up after 1 h",
     [](Program& p) { p.controller.longest_wait = 3600; }},
    {"gas left open at the end", "hydrogen is open, the recipe has it closed",
     [](Program& p) { segments(p).back().outputs = 3; }},
    {"a segment more", "the recipe has ended",
     [](Program& p) {
         Segment s = segments(p)[17];
         s.band = 3;
         segments(p).insert(segments(p).end() - 1, s);
     }},
    {"valve wired the other way", "argon is closed when output 1 is not energised, the rig has it open",
     [](Program& p) { p.outputs[0].on_without_power = false; }},
    {"output of another number", "output 3 switches hydrogen, the rig has it on output 2",
     [](Program& p) {
         p.outputs[1].number = 3;
         for (Segment& s : segments(p)) s.outputs = (s.outputs & ~2U) | (s.outputs & 2U) << 1;
     }},
    {"output missing", "no output switches hydrogen",
     [](Program& p) {
         p.outputs.erase(p.outputs.begin() + 1);
         for (Segment& s : segments(p)) s.outputs &= ~2U;
     }},
    {"a threshold that the recipe lacks", "a threshold at 500",
     [](Program& p) {
         p.parts[0].thresholds = {{2, 500, true, "", {}}};
     }},
    {"cooling goes on far above its target", "it goes on 50 K above 60",
     [](Program& p) { segments(p)[16].band = 49; }},
    {"cooling to one of its own steps only", "it steps to 200",
     [](Program& p) { segments(p)[16].targets = {200}, segments(p)[17].targets = {200}; }},
    {"natural cooling keyed as a ramp", "the recipe cools freely",
     [](Program& p) {
         Segment& s = segments(p)[16];
         s.kind = program::SegmentKind::ramp;
         s.band = -1;
         s.rates = {99};
     }},
    {"a dwell keyed as a step without a wait", "segment 4",
     [](Program& p) {
         segments(p)[3].kind = program::SegmentKind::step;
         segments(p)[3].band = -1;
         segments(p)[3].dwell = -1;
     }},
    {"a ramp keyed as a step", "segment 3",
     [](Program& p) {
         segments(p)[2].kind = program::SegmentKind::step;
         segments(p)[2].rates.clear();
     }},
    {"two programmes that no link joins", "recipe",
     [](Program& p) {
         program::Part second;
         second.number = 2;
         second.segments.assign(segments(p).begin() + 16, segments(p).end());
         segments(p).erase(segments(p).begin() + 16, segments(p).end() - 1);
         p.parts.push_back(second);
     }},
    {"a link to itself", "it never ends", [](Program& p) { p.parts[0].next = 1; }},
    {"a link to a programme that is not there", "which is not there", [](Program& p) { p.parts[0].next = 3; }},
    {"a ramp by time and by rate", "either a rate or a time",
     [](Program& p) {
         p.controller.ramp_time = Grid{{0, 0}, {359999, 0}, {1, 0}};
         segments(p)[2].ramp_time = 4155;
     }},
    {"a ramp by time, an hour too long", "segment 3",
     [](Program& p) {
         p.controller.ramp_time = Grid{{0, 0}, {359999, 0}, {1, 0}};
         segments(p)[2].rates.clear();
         segments(p)[2].ramp_time = 4155 + 3600;
     }},
    {"a channel that the rig does not have", "channel 1 sets helium",
     [](Program& p) {
         p.controller.channels = 1;
         p.channels = {"helium"};
         for (Segment& s : segments(p)) s.channels = {0};
     }},
    {"a second zone", "the table drives 2 zones",
     [](Program& p) {
         p.controller.zones = 2;
         p.zones = {"centre", "right"};
         for (Segment& s : segments(p)) {
             s.targets.push_back(s.targets[0]);
             if (!s.rates.empty()) s.rates.push_back(s.rates[0]);
         }
     }},
};

} // namespace

TEST_CASE("the table as it should be refines the recipe") {
    CHECK(joined(check(table(), recipe())) == "");
}

TEST_CASE("every seeded fault is found") {
    CHECK(faults.size() >= 50);
    for (const Fault& fault : faults) {
        Program wrong = table();
        fault.seed(wrong);
        std::string messages = joined(check(wrong, recipe()));
        CAPTURE(fault.name);
        CAPTURE(messages);
        CHECK_FALSE(messages.empty());
        CHECK(messages.find(fault.says) != std::string::npos);
    }
}
