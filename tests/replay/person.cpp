// What a person does at the furnace, compared by what it means.
#include "compiler/replay/person.hpp"
#include "compiler/quantity/unit.hpp"
#include "compiler/replay/instruction.hpp"
#include "tests/replay/bench.hpp"

#include <doctest/doctest.h>

using namespace bench;

namespace {

/// The bench's table with the words that its recipe needs.
program::Program told() {
    program::Program p = table();
    auto& s = p.parts[0].segments;
    s[0].instruction = "tube may be opened; Load the boat";
    s[1].instruction = "open argon at 1345 sccm"; // 1e-3 mol/s
    s[9].instruction = "light burner";
    s[10].instruction = "open hydrogen at 537.9 sccm; close argon"; // 4e-4 mol/s
    s[15].instruction = "open argon at 1345 sccm; close hydrogen";
    s[16].instruction = "shut burner";
    s[18].instruction = "close argon";
    return p;
}
timeline::Timeline opened() {
    timeline::Timeline t = recipe();
    t.states[t.spans[0].state].tube_open = true;
    t.states.push_back(t.states[t.end_state]);
    t.states.back().tube_open = false;
    t.end_state = static_cast<timeline::Index>(t.states.size() - 1);
    return t;
}
/// "2: message" of each instruction that says something else.
std::string otherwise(const program::Program& table, const program::Program& wanted = told()) {
    const replay::Instructions result = replay::compare_instructions(table, wanted, recipe());
    std::string text = result.alike ? "" : "other rows|";
    for (const replay::Finding& asked : result.otherwise)
        text += std::to_string(asked.row.second) + ": " + asked.message + "|";
    return text;
}
std::string with(std::size_t segment, const std::string& instruction) {
    program::Program p = told();
    p.parts[0].segments[segment - 1].instruction = instruction;
    return otherwise(p);
}
/// Along the run, without a table to lay beside it.
std::string along(const program::Program& p) {
    return joined(replay::compare(replay::run(p, 23), opened(), p, 1.0, true));
}
std::string along(std::size_t segment, const std::string& instruction) {
    program::Program p = told();
    p.parts[0].segments[segment - 1].instruction = instruction;
    return along(p);
}

} // namespace

TEST_CASE("an instruction is told at its row, in the words of the furnace") {
    CHECK(otherwise(told()) == "");
    CHECK(with(2, "open argon at 300 sccm") ==
          "2: the table has `open argon at 300 sccm`, the recipe needs `open argon at 1345 sccm`|");
    CHECK(with(2, "") == "2: the table has no instruction, the recipe needs `open argon at 1345 sccm`|");
    CHECK(with(11, "close argon") ==
          "11: the recipe needs `open hydrogen at 537.9 sccm`, the table does not have it|");
    CHECK(with(10, "light burner; close argon") ==
          "10: the table has `close argon`, the recipe has nothing there|");
    CHECK(with(10, "shut burner") == "10: the table has `shut burner`, the recipe needs `light burner`|");
    CHECK(with(1, "Load the boat") == "1: the recipe needs `tube may be opened`, the table does not have it|");
    CHECK(with(1, "tube may be opened; Load the crucible") ==
          "1: the table has `Load the crucible`, the recipe needs `Load the boat`|");
    CHECK(with(5, "tube may be opened") ==
          "5: the table has `tube may be opened`, the recipe has nothing there|");
    // The order in which a person acts is part of what is asked.
    CHECK(with(16, "close hydrogen; open argon at 1345 sccm") != "");
}

TEST_CASE("what goes on behind the end is told where a table keeps silent about it, and is nobody's order") {
    const std::size_t last = told().parts[0].segments.size();
    const std::string own = told().parts[0].segments.back().instruction;
    const std::string said = own + "; at the end argon falls open and flows until it is shut by hand";
    program::Program wanted = told();
    wanted.parts[0].segments.back().instruction = said;
    CHECK(otherwise(wanted, wanted) == "");
    CHECK(otherwise(told(), wanted).find("`at the end argon falls open and flows until it is shut by hand`") !=
          std::string::npos);
    CHECK(with(last, said) != "");
    CHECK(along(last, said) == ""); // the run itself is the same
    for (const char* free : {"at the end of the shift tell the foreman", "argon falls closed"})
        CHECK(replay::words_of(free).front().order == replay::Order::text);
}

TEST_CASE("the same flow in another unit is the same") {
    for (const char* same :
         {"open argon at 1.345 slm", "open argon at 1.345 slm by hand", "open argon at 1345.2 sccm"})
        CHECK(with(2, same) == "");
    for (const char* other : {"open argon at 1.35 slm", "open argon at 1345 slm", "open argon at 1345",
                              "open argon", "open hydrogen at 1345 sccm", "set argon to 1345 sccm"})
        CHECK_MESSAGE(with(2, other) != "", other);
}

TEST_CASE("hand-overs and thresholds carry instructions as well") {
    program::Program p = told(), q = told();
    p.parts[0].hand_over = "Fit the plugs";
    CHECK(otherwise(p, q) == "0: the table has `Fit the plugs`, the recipe has nothing there|");
    q.parts[0].hand_over = "Fit both plugs";
    CHECK(otherwise(p, q) == "0: the table has `Fit the plugs`, the recipe needs `Fit both plugs`|");
    p = told();
    p.parts[0].thresholds = {{1, 650, true, "open argon above 650 °C, at 0.4 slm", {}}};
    q = p;
    p.parts[0].thresholds[0].instruction = "open argon above 650 ?C, at 400 sccm"; // as an ASCII layout has it
    CHECK(otherwise(p, q) == "");
    p.parts[0].thresholds[0].instruction = "open argon above 650 °C, at 0.5 slm";
    CHECK(otherwise(p, q).find("the recipe needs `open argon above 650 °C, at 0.4 slm`") != std::string::npos);
    p.parts[0].thresholds[0].instruction = "";
    CHECK(otherwise(p, q).find("no instruction") != std::string::npos);
}

TEST_CASE("where the rows are others, meters and taps are followed along the run") {
    CHECK(along(told()) == "");
    CHECK(along(2, "open argon at 300 sccm")
              .find("segment 2: argon is set to 300 sccm, the recipe needs 1.345 slm") != std::string::npos);
    CHECK(along(2, "").find("segment 2: no instruction says the flow of argon") != std::string::npos);
    CHECK(along(11, "open hydrogen at 900 sccm").find("hydrogen is set to 900 sccm") != std::string::npos);
    CHECK(along(1, "Load the boat").find("segment 1: the recipe needs `tube may be opened`") !=
          std::string::npos);
    // What stays set wrongly is told once.
    const std::string once = along(2, "open argon at 300 sccm");
    CHECK(once.find("argon is set to") == once.rfind("argon is set to"));
    // An output works this valve: the words may come again, or not at all, where the meter stands right.
    CHECK(along(16, "") == "");

    program::Program more = told();
    auto& segments = more.parts[0].segments;
    segments.insert(segments.begin() + 3, segments[3]);
    segments[3].dwell = 20; // the soak in two dwells
    segments[4].dwell = 40;
    for (program::Loop& loop : more.parts[0].loops) ++loop.first, ++loop.last;
    CHECK(otherwise(more) == "other rows|");
    CHECK(along(more) == "");
    segments[0].instruction = "tube may be opened; Load nothing";
    CHECK(otherwise(more).find("the recipe needs `Load the boat`") != std::string::npos);
    segments[0].instruction = told().parts[0].segments[0].instruction;
    segments[11].instruction = "open hydrogen at 0.9 slm; close argon";
    CHECK(along(more).find("hydrogen is set to") != std::string::npos);
}

TEST_CASE("a meter that is turned while its line is shut stays so") {
    const std::string turned =
        "argon is set to 400 sccm, the recipe needs 1.345 slm: its meter stays so while it is shut";
    const std::string exchange = "open hydrogen at 537.9 sccm; close argon";
    for (const char* words : {"set argon to 400 sccm; ", "open argon at 0.4 slm; "})
        CHECK(along(11, words + exchange).find("segment 11: " + turned) != std::string::npos);
    CHECK(along(19, "open argon at 400 sccm; close argon").find(turned) != std::string::npos);
    CHECK(along(1, "tube may be opened; Load the boat; open argon at 400 sccm; close argon").find(turned) !=
          std::string::npos);
    // To where the recipe has it, it may be.
    CHECK(along(11, "set argon to 1.345 slm; " + exchange) == "");
    CHECK(along(19, "open argon at 1345 sccm; close argon") == "");
    CHECK(along(11, "set argon to 400 sccm; set argon to 1345 sccm; " + exchange) == "");

    program::Program p = told();
    timeline::Timeline t = opened();
    t.lines.push_back({"forming", 3, true, false, false});
    for (timeline::State& state : t.states) {
        state.open.push_back(0);
        state.flows.push_back(0);
    }
    p.outputs.push_back({3, "forming", program::OutputUse::line, 2, true});
    for (program::Segment& s : p.parts[0].segments) s.outputs |= 4U;
    const auto differs = [&] { return joined(replay::compare(replay::run(p, 23), t, p, 1.0, true)); };
    CHECK(differs() == "");
    p.parts[0].segments[4].instruction = "open forming at 500 sccm; close forming";
    CHECK(differs().find("forming is set to 500 sccm, the recipe never sets it: its meter stays so") !=
          std::string::npos);
    // The recipe's threshold sets it.
    t.thresholds = {{2, to_si(500, *unit_named("sccm")), 1100 + 273.15, true, true, {}}};
    CHECK(differs() == "");
    // A channel sets it to nothing while it is shut.
    t.thresholds.clear();
    p.controller.channels = 1;
    p.channels = {"forming"};
    for (program::Segment& s : p.parts[0].segments) s.channels = {0};
    CHECK(differs() == "");
}

TEST_CASE("where the rows are others, thresholds and what goes on behind the end are compared all the same") {
    const auto longer = [](program::Program p) {
        auto& segments = p.parts[0].segments;
        segments.insert(segments.begin() + 3, segments[3]);
        for (program::Loop& loop : p.parts[0].loops) ++loop.first, ++loop.last;
        return p;
    };
    program::Program wanted = told();
    const std::string falls = "at the end argon falls open and flows until it is shut by hand";
    wanted.parts[0].segments.back().instruction = "close argon; " + falls;
    wanted.parts[0].thresholds = {{2, 650, true, "open hydrogen above 650 °C, at 0.4 slm", {}}};
    program::Program p = longer(wanted);
    CHECK(otherwise(p, wanted) == "other rows|");
    std::string& end = p.parts[0].segments.back().instruction;
    end = "close argon";
    CHECK(otherwise(p, wanted).find("20: the recipe needs `" + falls + "`, the table does not have it") !=
          std::string::npos);
    end = "close argon; at the end argon falls closed";
    CHECK(otherwise(p, wanted).find("20: the table has `at the end argon falls closed`, the recipe needs `" +
                                    falls) != std::string::npos);
    end = falls; // an output closes argon: that may go unsaid
    CHECK(otherwise(p, wanted) == "other rows|");

    std::string& words = p.parts[0].thresholds[0].instruction;
    words = "open hydrogen above 650 °C, at 400 sccm";
    CHECK(otherwise(p, wanted) == "other rows|");
    for (const char* other : {"", "open hydrogen above 650 °C, at 0.9 slm",
                              "open hydrogen above 600 °C, at "
                              "0.4 slm",
                              "close hydrogen above 650 °C, at 0.4 slm"}) {
        words = other;
        CHECK_MESSAGE(otherwise(p, wanted).find("the recipe needs `open hydrogen above 650 °C, at 0.4 slm`") !=
                          std::string::npos,
                      other);
    }
    // The recipe's own table keys it as segments: the recipe says the flow.
    wanted.parts[0].thresholds.clear();
    timeline::Timeline t = recipe();
    t.thresholds = {{1, 4e-4, 650 + 273.15, true, true, {}}}; // 537.9 sccm
    const auto against = [&](const std::string& instruction) {
        words = instruction;
        return joined(replay::compare_instructions(p, wanted, t).otherwise);
    };
    CHECK(against("open hydrogen above 650 °C, at 537.9 sccm") == "");
    CHECK(against("open hydrogen above 650 °C, at 900 sccm")
              .find("hydrogen is set to 900 sccm, the recipe needs 537.9 sccm") != std::string::npos);
    CHECK(against("").find("no instruction says the flow of hydrogen") != std::string::npos);
}

TEST_CASE("a threshold that is keyed as segments has its flow in their words") {
    // The bench's hydrogen follows the temperature: open where the table has it open.
    program::Program p = told();
    timeline::Timeline t = opened();
    t.thresholds = {{1, 4e-4, 879 + 273.15, true, true, {}}};
    timeline::State armed = t.states[t.spans[6].state];
    armed.open[1] = 0;
    armed.flows[1] = 0;
    armed.armed = 1;
    for (timeline::State& state : t.states)
        if (state.open[1]) state = armed;
    const auto differs = [&](const char* words) {
        p.parts[0].segments[10].instruction = words;
        return joined(replay::compare(replay::run(p, 23), t, p, 1.0, true));
    };
    CHECK(differs("open hydrogen at 537.9 sccm; close argon") == "");
    CHECK(differs("open hydrogen at 900 sccm; close argon").find("hydrogen is set to 900 sccm") !=
          std::string::npos);
    CHECK(differs("close argon").find("no instruction says the flow of hydrogen") != std::string::npos);
}

TEST_CASE("an output lets the fuel in, and a person lights it") {
    CHECK(along(10, "").find("segment 10: by the instructions the burner is not lit") != std::string::npos);
    // Where its output shut the feed it must be lit again; that it is shut may go unsaid.
    program::Program p = told();
    p.parts[0].segments[16].instruction = "";
    CHECK(along(p) == "");
    timeline::Timeline t = opened();
    t.states.push_back(t.states[t.spans.back().state]);
    t.states.back().burner = true;
    t.spans.back().state = static_cast<timeline::Index>(t.states.size() - 1);
    p.parts[0].segments[17].outputs |= 8U;
    const auto again = [&] { return joined(replay::compare(replay::run(p, 23), t, p, 1.0, true)); };
    CHECK(again().find("segment 18: by the instructions the burner is not lit") != std::string::npos);
    p.parts[0].segments[17].instruction = "light burner";
    CHECK(again() == "");
}

TEST_CASE("words for a valve that this table has no output for are work by hand") {
    program::Program p = told();
    timeline::Timeline t = opened();
    t.lines.push_back({"forming", 3, false, false, false});
    for (timeline::State& state : t.states) {
        state.open.push_back(0);
        state.flows.push_back(0);
    }
    const auto differs = [&] { return joined(replay::compare(replay::run(p, 23), t, p, 1.0, true)); };
    CHECK(differs() == "");
    p.parts[0].segments[4].instruction = "open forming at 500 sccm";
    CHECK(differs().find("segment 5: forming is open by hand, the recipe has it shut") != std::string::npos);
}

TEST_CASE("a text of one pass is no text of every pass") {
    program::Program once;
    program::Part& part = once.parts.emplace_back();
    part.segments.resize(4);
    for (program::Segment& s : part.segments) s.kind = program::SegmentKind::dwell;
    part.segments.back().kind = program::SegmentKind::end;
    part.segments[1].instruction = "add flux";
    program::Program each = once;
    each.parts[0].loops.push_back({1, 2, 3});
    CHECK(otherwise(once, once) == "");
    CHECK(otherwise(each, each) == "");
    CHECK(otherwise(each, once).find("the table has `add flux`, the recipe has nothing there") !=
          std::string::npos);
    CHECK(otherwise(once, each).find("the recipe needs `add flux`") != std::string::npos);
    // An order between two texts parts none of them.
    program::Program two = once, between = once;
    two.parts[0].segments[1].instruction = "add flux; stir";
    between.parts[0].segments[1].instruction = "add flux; open argon at 300 sccm; stir";
    between.parts[0].loops.push_back({1, 1, 1});
    CHECK(otherwise(between, two) == "other rows|");
}

TEST_CASE("without outputs everything is worked by hand") {
    program::Program p = told();
    timeline::Timeline t = opened();
    t.burner.output = 0;
    p.outputs.pop_back();
    for (program::Segment& s : p.parts[0].segments) s.outputs &= 7U;
    const auto differs = [&] { return joined(replay::compare(replay::run(p, 23), t, p, 1.0, true)); };
    CHECK(differs() == "");
    p.parts[0].segments[9].instruction = "";
    CHECK(differs().find("segment 10: the burner is off by hand, the recipe has it on") != std::string::npos);
}
