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
    // 40 s under: the fixed part may give half a minute, what is only just sufficient nothing.
    p.parts[0].segments[0].dwell = 21;
    CHECK(verdict(p, t, 880).find("it takes") != std::string::npos);
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

namespace {

bool says(const std::string& verdict, const char* text) {
    return verdict.find(text) != std::string::npos;
}

Segment banded(Segment s, std::int64_t minutes, std::int64_t band_K) {
    s.kind = SegmentKind::dwell;
    s.rates.clear();
    s.dwell = minutes;
    s.band = band_K - 1; // the grid begins at 1 K
    return s;
}

/// To 300 degC, `within 5 K`; then the hour there, in its own band.
timeline::Timeline ramp_within(double band_behind) {
    timeline::Timeline t = part_of_recipe(2, 4);
    t.spans[0].ending.kind = timeline::EndingKind::band;
    t.spans[0].ending.band = 5;
    t.spans[1].ending.kind = band_behind > 0 ? timeline::EndingKind::band : timeline::EndingKind::fixed;
    t.spans[1].ending.band = band_behind;
    t.spans[1].duration = 3600.0;
    return t;
}

} // namespace

TEST_CASE("the band of a ramp may stand on a shortest dwell behind it") {
    const timeline::Timeline t = ramp_within(0);
    program::Program p = segments_of_table(2, 4);
    auto& s = p.parts[0].segments;
    s[1].band = -1;
    CHECK(says(verdict(p, t, 23), "no soak band at its end, the recipe has 5 K"));
    s.insert(s.begin() + 1, banded(s[0], 0, 5));
    CHECK(verdict(p, t, 23) == "");
    SUBCASE("in no wider band") {
        s[1].band = 5;
        CHECK(says(verdict(p, t, 23), "a soak band of 6 K"));
    }
    SUBCASE("in no band far narrower") {
        s[1].band = 1;
        CHECK(says(verdict(p, t, 23), "a soak band of 2 K"));
    }
    SUBCASE("no longer than the shortest") {
        s[1].dwell = 5;
        CHECK(says(verdict(p, t, 23), "a soak band of 5 K for 5 min"));
    }
    SUBCASE("before the gas changes") {
        s[1].outputs = 8;
        CHECK(says(verdict(p, t, 23), "no soak band at its end"));
    }
    SUBCASE("once only") {
        s.insert(s.begin() + 1, s[1]);
        CHECK_FALSE(verdict(p, t, 23).empty());
    }
    SUBCASE("not where ramps have bands of their own") {
        p.controller.band_on_ramps = true;
        CHECK(says(verdict(p, t, 23), "no soak band, the recipe has 5 K"));
        s.erase(s.begin() + 1);
        s[0].band = 4;
        CHECK(verdict(p, t, 23) == "");
    }
}

TEST_CASE("the dwell behind a ramp may wait for it in a band as narrow") {
    program::Program p = segments_of_table(2, 4);
    auto& s = p.parts[0].segments;
    CHECK(verdict(p, ramp_within(5), 23) == "");
    s[1].band = 2;
    CHECK(verdict(p, ramp_within(3), 23) == "");
    s[1].band = 7;
    CHECK(says(verdict(p, ramp_within(8), 23), "a soak band of 8 K"));
    s.insert(s.begin() + 1, banded(s[0], 0, 5));
    CHECK(verdict(p, ramp_within(8), 23) == "");
    SUBCASE("a dwell of its own does no harm either") {
        s[2].band = 2;
        CHECK(verdict(p, ramp_within(3), 23) == "");
    }
    SUBCASE("in another gas the dwell comes too late") {
        timeline::Timeline t = ramp_within(5);
        t.spans[1].state = t.end_state = recipe().spans[5].state; // the burner is lit in between
        s.erase(s.begin() + 1);
        s[1].band = 4;
        s[1].outputs = s[2].outputs = 8;
        CHECK(says(verdict(p, t, 23), "no soak band at its end"));
        s.insert(s.begin() + 1, banded(s[0], 0, 5));
        CHECK(verdict(p, t, 23) == "");
    }
}

TEST_CASE("a wait of no length in a band has a row of its own, or stands behind one as narrow") {
    timeline::Timeline t = part_of_recipe(2, 4);
    t.spans[1].ending.kind = timeline::EndingKind::band;
    t.spans[1].ending.band = 8;
    t.spans[1].ending.duration = 3600;
    t.spans[1].duration = 3600.0;
    timeline::Span instant = t.spans[1];
    instant.ending.duration = 0;
    instant.ending.band = 9;
    instant.duration = 0.0;
    for (const timeline::Span& span : {instant, t.spans[1]}) {
        t.spans.push_back(span);
        t.laws.push_back(t.laws[1]);
    }
    program::Program p = segments_of_table(2, 4);
    auto& s = p.parts[0].segments;
    s[1] = banded(s[1], 60, 8);
    s.insert(s.begin() + 2, banded(s[1], 0, 9));
    s.insert(s.begin() + 3, s[1]);
    CHECK(verdict(p, t, 23) == "");
    CHECK(joined(replay::compare_exactly(replay::run(p, 23), t, p)) == "");
    SUBCASE("in no other band") {
        s[2].band = 5;
        CHECK(says(verdict(p, t, 23), "segment 3: a soak band of 6 K"));
    }
    SUBCASE("needless behind a narrower band") {
        s.erase(s.begin() + 2);
        CHECK(verdict(p, t, 23) == "");
        CHECK(joined(replay::compare_exactly(replay::run(p, 23), t, p)) == "");
    }
    SUBCASE("not behind a wider one") {
        t.spans[2].ending.band = 5;
        s.erase(s.begin() + 2);
        CHECK(says(verdict(p, t, 23), "no soak band, the recipe has 5 K"));
        CHECK_FALSE(joined(replay::compare_exactly(replay::run(p, 23), t, p)).empty());
    }
}

TEST_CASE("a controller with a start set-point of its own is first brought to the recipe's") {
    const timeline::Timeline t = part_of_recipe(2, 4);
    program::Program p = segments_of_table(2, 4);
    p.controller.starts_from_measured = false;
    p.controller.start_setpoint = 20;
    auto& s = p.parts[0].segments;
    CHECK(says(verdict(p, t, 23), "K are allowed"));
    Segment step = s[0];
    step.kind = SegmentKind::step;
    step.rates.clear();
    step.targets = {23};
    s.insert(s.begin(), step);
    CHECK(verdict(p, t, 23) == "");
    SUBCASE("to no other") {
        s[0].targets = {33};
        CHECK(says(verdict(p, t, 23), "the set-point starts from 33"));
    }
    SUBCASE("in the recipe's gas") {
        s[0].outputs = 1;
        CHECK(says(verdict(p, t, 23), "argon is closed"));
    }
    SUBCASE("without waiting in a band") {
        s[0].band = 0;
        CHECK(says(verdict(p, t, 23), "a soak band of 1 K, the recipe has none"));
    }
    SUBCASE("once only") {
        s.insert(s.begin(), step);
        CHECK_FALSE(verdict(p, t, 23).empty());
    }
    SUBCASE("at the start only") {
        step.targets = {300};
        s.insert(s.begin() + 2, step);
        CHECK_FALSE(verdict(p, t, 23).empty());
    }
    SUBCASE("not where it starts from what is measured") {
        p.controller.starts_from_measured = true;
        CHECK(says(verdict(p, t, 23), "it steps to 23"));
    }
    SUBCASE("in one segment with the dwell there, behind the hand-over") {
        p = segments_of_table(1, 4);
        p.controller.starts_from_measured = p.controller.operator_wait = false;
        p.controller.start_setpoint = 20;
        p.parts[0].hand_over = "Load the boat";
        p.parts[0].segments[0].kind = SegmentKind::step;
        CHECK(verdict(p, part_of_recipe(0, 4), 23) == "");
    }
    // A random recipe found it: a purge that is over already, then a dwell within a band.
    SUBCASE("in the band of the dwell there, past a wait of no length") {
        timeline::Timeline waits = part_of_recipe(1, 4);
        for (const std::size_t i : {0U, 1U}) waits.laws[i] = waits.laws[2];
        waits.spans[0].duration = waits.spans[1].duration = 0.0;
        waits.spans[1].ending = waits.spans[0].ending;
        p = segments_of_table(3, 4);
        p.controller.starts_from_measured = false;
        p.controller.start_setpoint = 20;
        p.parts[0].segments[0].kind = SegmentKind::step;
        const double at = p.controller.setpoint.value(p.parts[0].segments[0].targets[0]);
        CHECK(verdict(p, waits, at) == "");
        waits.spans[1].duration = 300.0;
        CHECK(says(verdict(p, waits, at), "the recipe has none"));
    }
}

TEST_CASE("worked-out waits may grow, within reason, and never shrink") {
    program::Program p = table();
    auto& s = p.parts[0].segments;
    SUBCASE("purge, 3122 s in the recipe: at most 1.5 times that, 10 min and a step") {
        s[1].dwell = 89;
        CHECK(joined(check(p, recipe())) == "");
        s[1].dwell = 90;
        CHECK(says(joined(check(p, recipe())), "segment 2: it takes"));
        s[1].dwell = 51;
        CHECK(says(joined(check(p, recipe())), "segment 2: it takes"));
    }
    SUBCASE("natural cooling, at most 18000 s in the recipe") {
        s[16].band = -1;
        s[16].dwell = 460;
        CHECK(joined(check(p, recipe())) == "");
        s[16].dwell = 470; // more than the two together may take: the dwell behind it is left over
        CHECK(says(joined(check(p, recipe())), "segment 18: it holds 60 °C, the recipe has ended"));
        s[16].dwell = 289; // with the 10 min behind it 19 s short of the lower bound
        CHECK(says(joined(check(p, recipe())), "cooling may take 5 h"));
    }
    SUBCASE("a fixed time does neither") {
        s[10].dwell = 51;
        CHECK(says(joined(check(p, recipe())), "segment 11: it takes"));
    }
}

TEST_CASE("a wait of no length between a step and a banded dwell leaves the step its band") {
    timeline::Timeline t = part_of_recipe(1, 4); // purge, ramp, dwell in one gas
    const double low = t.laws[1].from, high = t.laws[1].to;
    t.laws[0] = {timeline::LawKind::jump, low, high, 0};
    t.laws[1] = {timeline::LawKind::hold, high, high, 0};
    std::swap(t.spans[0].ending, t.spans[1].ending);
    t.spans[0].ending.duration = 0;
    t.spans[0].duration = t.spans[1].duration = 0.0;
    program::Program p = segments_of_table(3, 4);
    auto& s = p.parts[0].segments;
    s[0].kind = SegmentKind::step;
    CHECK(verdict(p, t, 23) == "");
    SUBCASE("but not a wait that takes time") {
        t.spans[1].duration = 300.0;
        CHECK(says(verdict(p, t, 23), "a soak band of 5 K, the recipe has none"));
    }
    SUBCASE("nor a wider one") {
        s[0].band = 5;
        CHECK(says(verdict(p, t, 23), "a soak band of 6 K"));
    }
    SUBCASE("nor in another gas") {
        t.spans[1].state = recipe().spans[0].state;
        CHECK_FALSE(verdict(p, t, 23).empty());
    }
}

TEST_CASE("natural cooling in two steps: each is waited for by itself") {
    // 880 to 400 degC in at most 2 h, on to 60 degC in at most 3 h; the recipe speaks between the two.
    timeline::Timeline t = recipe();
    std::size_t off = 0;
    while (t.laws_of(off)[0].kind != timeline::LawKind::off) ++off;
    t = part_of_recipe(off, off + 1);
    t.spans.push_back(t.spans[0]);
    t.laws.push_back(t.laws[0]);
    const double zero = 273.15;
    t.laws[0].to = t.spans[0].ending.temperature = 400 + zero;
    t.laws[1].from = 400 + zero;
    t.laws[1].to = t.spans[1].ending.temperature = 60 + zero;
    t.spans[0].duration = {3600, 7200};
    t.spans[1].duration = {5400, 10800};
    const program::Program whole = segments_of_table(16, 17);
    program::Program p = whole;
    auto& s = p.parts[0].segments;
    const double start = t.laws[0].from - zero;
    p.controller.longest_wait = 14400; // s: for each of them, not for both
    s.insert(s.begin(), s[0]);
    s[0].targets = {400};
    CHECK(verdict(p, t, start) == "");
    SUBCASE("in one step the controller waits for both") {
        s.erase(s.begin());
        CHECK(verdict(p, t, start).find("gives up after 4 h, cooling may take 5 h") != std::string::npos);
    }
    SUBCASE("the longest wait counts for each") {
        p.controller.longest_wait = 9000;
        CHECK(verdict(p, t, start).find("gives up after 2 h 30 min, cooling may take 3 h") !=
              std::string::npos);
    }
    SUBCASE("by time, as long as each may take") {
        for (std::size_t i : {0U, 1U}) s[i].band = -1;
        s[0].dwell = 120; // 7200 s
        s[1].dwell = 180;
        CHECK(verdict(p, t, start) == "");
        s[1].dwell = 179;
        CHECK(verdict(p, t, start).find("it waits 2 h 59 min, cooling may take 3 h") != std::string::npos);
        // Time at 400 degC helps no cooling below it.
        s[0].dwell = 180;
        s[1].dwell = 120;
        CHECK(verdict(p, t, start).find("it waits 2 h, cooling may take 3 h") != std::string::npos);
        // All of it with the set-point down does.
        s[0].targets = {60};
        s[0].dwell = 300;
        s.erase(s.begin() + 1);
        CHECK(verdict(p, t, start) == "");
    }
    SUBCASE("the first by time, the second in a band") {
        s[0].band = -1;
        s[0].dwell = 120;
        CHECK(verdict(p, t, start) == "");
    }
    SUBCASE("not to the first of them only") {
        s.erase(s.begin() + 1);
        CHECK_FALSE(verdict(p, t, start).empty());
    }
    SUBCASE("not up again") {
        std::swap(s[0].targets, s[1].targets);
        CHECK_FALSE(verdict(p, t, start).empty());
    }
}
