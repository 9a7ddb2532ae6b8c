// What a table may do otherwise and still say the same.
#include "tests/replay/bench.hpp"

#include <doctest/doctest.h>

using namespace bench;
using program::Segment;
using program::SegmentKind;

namespace {

/// Cuts the bench recipe down to spans [first, last).
timeline::Timeline part_of_recipe(std::size_t first, std::size_t last) {
    timeline::Timeline t = recipe();
    t.spans = {t.spans.begin() + static_cast<long>(first), t.spans.begin() + static_cast<long>(last)};
    t.laws = {t.laws.begin() + static_cast<long>(first), t.laws.begin() + static_cast<long>(last)};
    t.repeats.clear();
    t.runs = {{"", 0, static_cast<timeline::Index>(t.spans.size())}};
    t.end_state = t.spans.back().state;
    return t;
}

program::Program segments_of_table(std::size_t first, std::size_t last) {
    program::Program p = table();
    auto& s = p.parts[0].segments;
    Segment end = s.back();
    end.outputs = s[last - 1].outputs;
    s = {s.begin() + static_cast<long>(first), s.begin() + static_cast<long>(last)};
    end.targets = s.back().targets;
    s.push_back(end);
    p.parts[0].loops.clear();
    return p;
}

std::string verdict(const program::Program& p, const timeline::Timeline& t, double start) {
    replay::Run run = replay::run(p, start);
    return joined(run.problems) + joined(replay::compare(run, t, p, 1.0));
}

} // namespace

TEST_CASE("a long dwell may be cut in pieces") {
    program::Program p = table();
    auto& s = p.parts[0].segments;
    s.insert(s.begin() + 10, s[10]);
    s[10].dwell = 20;
    s[11].dwell = 30;
    p.parts[0].loops[0].first++;
    p.parts[0].loops[0].last++;
    CHECK(joined(check(p, recipe())) == "");
    s[11].dwell = 32;
    CHECK(joined(check(p, recipe())).find("segment 11: it takes") != std::string::npos);
}

TEST_CASE("two dwells in one state may share a segment") {
    timeline::Timeline t = part_of_recipe(17 + 2, 17 + 3); // dwell 4 in lit argon
    t.spans.push_back(t.spans[0]);
    t.laws.push_back(t.laws[0]);
    t.spans[1].ending.kind = timeline::EndingKind::fixed;
    t.spans[1].ending.duration = 300;
    t.spans[1].duration = 300.0;
    program::Program p = segments_of_table(15, 16);
    p.parts[0].segments[0].dwell = 22; // 17 min (1000 s up) and 5 min
    CHECK(verdict(p, t, 880) == "");
    p.parts[0].segments[0].dwell = 21; // 20 s under what is needed: rounding of the fixed part
    CHECK(verdict(p, t, 880) == "");
    p.parts[0].segments[0].dwell = 19;
    CHECK(verdict(p, t, 880).find("it takes") != std::string::npos);
}

TEST_CASE("natural cooling without a band waits the longest time") {
    program::Program p = table();
    auto& s = p.parts[0].segments;
    s[16].band = -1;
    s[16].dwell = 300; // 18000 s
    CHECK(joined(check(p, recipe())) == "");
    s[16].dwell = 310; // one dwell could hold both
    s.erase(s.begin() + 17);
    CHECK(joined(check(p, recipe())) == "");
    s[16].dwell = 308;
    CHECK(joined(check(p, recipe())).find("it takes") != std::string::npos);
}

TEST_CASE("the shortest segment may keep the order of two actions") {
    timeline::Timeline t = recipe();
    // At the exchange to hydrogen: argon shut first, then hydrogen opened.
    timeline::State between = t.states[t.spans[6].state];
    between.open = {false, false};
    between.flows = {0, 0};
    t.states.push_back(between);
    timeline::Action shut, open;
    shut.kind = timeline::ActionKind::close;
    shut.state = static_cast<timeline::Index>(t.states.size() - 1);
    open.kind = timeline::ActionKind::open;
    open.state = t.spans[6].state;
    t.actions = {shut, open};
    t.spans[6].first_action = 0;
    t.spans[6].actions = 2;
    program::Program p = table();
    auto& s = p.parts[0].segments;
    Segment brief = s[10];
    brief.dwell = 1;
    brief.outputs = 1 + 8;
    s.insert(s.begin() + 10, brief);
    p.parts[0].loops[0].first++;
    p.parts[0].loops[0].last++;
    CHECK(joined(check(p, t)) == "");
    SUBCASE("but no longer than that") {
        s[10].dwell = 2;
        CHECK_FALSE(joined(check(p, t)).empty());
    }
    SUBCASE("and in no other state") {
        s[10].outputs = 8;
        CHECK_FALSE(joined(check(p, t)).empty());
    }
}

TEST_CASE("a folded loop uses the longest `until` of its passes") {
    timeline::Timeline t = part_of_recipe(7, 7 + 12);
    for (std::size_t pass = 0; pass < 3; ++pass) {
        timeline::Span& rest = t.spans[pass * 4 + 3];
        rest.ending.kind = timeline::EndingKind::certain;
        rest.duration = 900.0 - 300.0 * static_cast<double>(pass);
    }
    t.repeats = {{0, 4, 3, {}}};
    program::Program p = segments_of_table(11, 15);
    p.parts[0].loops = {{0, 3, 3}};
    p.parts[0].segments[3].dwell = 15;
    CHECK(verdict(p, t, 880) == "");
    p.parts[0].segments[3].dwell = 14; // the first pass needs 15 min
    CHECK(verdict(p, t, 880).find("it takes") != std::string::npos);
}

TEST_CASE("a standing threshold is an output that follows, or segments cut at its temperature") {
    timeline::Timeline t = part_of_recipe(2, 3); // 23 to 300 degC
    t.thresholds = {{1, 4e-4, 150 + 273.15, true, true, {}}};
    t.states[t.spans[0].state].armed = 1;
    program::Program p = segments_of_table(2, 3);
    SUBCASE("as a threshold output") {
        p.parts[0].thresholds = {{2, 150, true, "", {}}};
        CHECK(verdict(p, t, 23) == "");
        p.parts[0].thresholds[0].temperature = 152;
        CHECK(verdict(p, t, 23).find("hydrogen follows 152") != std::string::npos);
        p.parts[0].thresholds[0] = {2, 150, false, "", {}};
        CHECK(verdict(p, t, 23).find("above 150") != std::string::npos);
    }
    SUBCASE("as segments") {
        CHECK(verdict(p, t, 23).find("on the other side of 150") != std::string::npos);
        auto& s = p.parts[0].segments;
        s.insert(s.begin(), s[0]);
        s[0].targets = {150};
        s[1].outputs |= 2;
        s[2].outputs |= 2;
        CHECK(verdict(p, t, 23) == "");
        s[0].targets = {160};
        CHECK(verdict(p, t, 23).find("on the other side of 150") != std::string::npos);
    }
}

TEST_CASE("zones move together or not at all") {
    timeline::Timeline t = part_of_recipe(2, 3);
    t.zones = {"left", "right"};
    t.laws.push_back(
        {timeline::LawKind::line, 23 + 273.15, 161.5 + 273.15, 2 / 60.0}); // half the way, half the rate
    program::Program p = segments_of_table(2, 3);
    p.zones = t.zones;
    p.controller.zones = 2;
    p.parts[0].segments[0].targets = {300, 162};
    p.parts[0].segments[0].rates = {39, 19};
    p.parts[0].segments[1].targets = {300, 162};
    CHECK(verdict(p, t, 23) == "");
    p.parts[0].segments[0].rates = {39, 20};
    CHECK(verdict(p, t, 23).find("of right") != std::string::npos);
}

TEST_CASE("channels carry the flow") {
    timeline::Timeline t = part_of_recipe(1, 2);
    t.lines[0].channel = true;
    program::Program p = segments_of_table(1, 2);
    p.controller.channels = 1;
    p.channels = {"argon"};
    // 1e-3 mol/s at 22.413 969 L/mol (CODATA 2018): 1344.838 sccm
    for (Segment& s : p.parts[0].segments) s.channels = {1344838};
    CHECK(verdict(p, t, 23) == "");
    p.parts[0].segments[0].channels = {1344938};
    CHECK(verdict(p, t, 23).find("argon flows at") != std::string::npos);
}
