// What the words of a table say against what the same table keys.
#include "compiler/replay/said.hpp"
#include "compiler/replay/instruction.hpp"
#include "tests/replay/bench.hpp"

#include <doctest/doctest.h>

using namespace bench;

namespace {

/// The bench's table with other words in one row.
std::string said(std::size_t segment, const std::string& instruction) {
    program::Program p = table();
    p.parts[0].segments[segment - 1].instruction = instruction;
    return joined(replay::compare_said(p, recipe()));
}
bool says(const std::string& all, const std::string& part) {
    return all.find(part) != std::string::npos;
}
const std::size_t last = table().parts[0].segments.size();

} // namespace

TEST_CASE("a valve or a burner that the words move the other way") {
    // Row 2: argon open, the others shut; row 11: hydrogen open, burner lit.
    CHECK(said(2, "open argon at 1 slm; close hydrogen; shut burner") == "");
    CHECK(said(2, "") == "");
    CHECK(said(2, "tell the foreman") == "");
    CHECK(says(said(2, "open hydrogen; open argon at 1 slm"),
               "segment 2: it says that hydrogen is open, its output has it closed"));
    CHECK(says(said(2, "close argon"), "it says that argon is closed, its output has it open"));
    CHECK(says(said(11, "shut burner"), "it says that the burner is off, its output has it on"));
    CHECK(says(said(2, "light burner"), "it says that the burner is on, its output has it off"));
    // What is said last holds.
    CHECK(said(2, "close argon; open argon at 1 slm") == "");
    CHECK(said(11, "shut burner; light burner") == "");
}

TEST_CASE("outputs that fall at the end may be keyed so at once") {
    CHECK(said(last, "close argon") == "");
    program::Program p = table();
    program::Segment& end = p.parts[0].segments.back();
    end.outputs = 0;
    end.instruction = "close argon; shut burner";
    CHECK(joined(replay::compare_said(p, recipe())) == "");
    end.instruction = "close argon; open hydrogen";
    CHECK(says(joined(replay::compare_said(p, recipe())), "it says that hydrogen is open"));
    p.controller.holds_at_end = true;
    end.instruction = "close argon";
    CHECK(says(joined(replay::compare_said(p, recipe())), "it says that argon is closed"));
}

TEST_CASE("what the words have behind the end is where the rig falls") {
    const std::string opens = "at the end argon falls open and flows until it is shut by hand";
    CHECK(said(last, "close argon; " + opens) == "");
    CHECK(said(last, "at the end hydrogen falls closed") == "");
    CHECK(said(last, "at the end argon flows on until it is shut by hand") == "");
    CHECK(says(said(last, "at the end argon falls closed"),
               "it says `at the end argon falls closed`; it falls open on this rig"));
    CHECK(says(said(last, "at the end hydrogen falls open and flows until it is shut by hand"),
               "it falls closed on this rig"));
    CHECK(says(said(last, "at the end hydrogen flows on until it is shut by hand"),
               "it falls closed on this rig"));
    CHECK(says(said(last, "at the end the burner's feed falls open and stays open until it is shut by hand"),
               "it falls closed on this rig"));
    CHECK(says(said(last, "at the end nitrogen falls closed"), "nitrogen, which the rig does not have"));
    CHECK(says(said(last, "at the end the pump's valve falls closed"),
               "the pump's valve, which the rig does not have"));

    program::Program p = table();
    p.controller.holds_at_end = true;
    program::Segment& end = p.parts[0].segments.back();
    end.outputs = 3; // argon shut, hydrogen open
    const auto held = [&](const std::string& words) {
        end.instruction = words;
        return joined(replay::compare_said(p, recipe()));
    };
    CHECK(held("at the end hydrogen flows on until it is shut by hand") == "");
    CHECK(says(held(opens), "the controller holds its output at the end"));
    CHECK(says(held("at the end argon flows on until it is shut by hand"), "its output holds it closed"));
    for (const char* free : {"at the end of the shift the door falls closed", "at the end falls closed"})
        CHECK(replay::words_of(free).front().order == replay::Order::text);
}

TEST_CASE("what the words of a threshold say against what it keys") {
    const auto threshold = [](const std::string& words, bool energised_above = true) {
        program::Program p = table();
        p.parts[0].thresholds = {{2, 650, energised_above, words, {}}};
        return joined(replay::compare_said(p, recipe()));
    };
    CHECK(threshold("open hydrogen above 650 °C, at 0.4 slm") == "");
    CHECK(threshold("close hydrogen below 650 ?C, at 0.4 slm") == "");
    CHECK(threshold("close hydrogen above 650 °C, at 0.4 slm", false) == "");
    CHECK(threshold("hydrogen as the card says") == "");
    CHECK(says(threshold("open hydrogen above 550 °C, at 0.4 slm"),
               "the threshold of hydrogen says 550 °C, 650 °C is keyed"));
    CHECK(says(threshold("open hydrogen below 650 °C, at 0.4 slm"),
               "says that it is open below 650 °C, its output has it closed there"));
    CHECK(says(threshold("close hydrogen above 650 °C, at 0.4 slm"),
               "says that it is closed above 650 °C, its output has it open there"));
    CHECK(says(threshold("open argon above 650 °C, at 0.4 slm"), "the threshold of hydrogen names argon"));
    // Nobody moves by hand what follows the temperature.
    program::Program p = table();
    p.parts[0].thresholds = {{2, 650, true, "", {}}};
    p.parts[0].segments[1].instruction = "open hydrogen at 0.4 slm";
    CHECK(
        says(joined(replay::compare_said(p, recipe())), "it says that hydrogen is open, a threshold moves it"));
}

TEST_CASE("a flow that nobody can read is no flow") {
    program::Program p = table();
    p.parts[0].segments[1].instruction = "open argon at 1 L/min"; // its meter has no reference
    const auto against = [&] { return joined(replay::compare_said(p, recipe())); };
    const std::string volume = "segment 2: it says that argon flows at 1 L/min, and no reference of its meter "
                               "says how much gas that is; say it in sccm or slm";
    CHECK(says(against(), volume));
    p.channels = {"argon"};
    for (program::Segment& s : p.parts[0].segments) s.channels = {1'000'000};
    CHECK(says(against(), volume));
    CHECK(against().find(volume) == against().rfind(volume));
    p.parts[0].segments[1].instruction = "open argon at 1 widget";
    CHECK(says(against(), "argon flows at 1 widget, which is no flow that can be read"));
    for (const char* read : {"open argon at 1 slm", "open argon at 1000 sccm", "open argon"}) {
        p.parts[0].segments[1].instruction = read;
        CHECK_MESSAGE(against() == "", read);
    }
    p.channels.clear();
    timeline::Timeline litres = recipe();
    litres.lines[0].per_volume = 40;
    p.parts[0].segments[1].instruction = "open argon at 1 L/min";
    CHECK(joined(replay::compare_said(p, litres)) == "");
}

TEST_CASE("lines, devices and places that the words name are the rig's") {
    CHECK(says(said(11, "open oxygen at 1 slm"), "segment 11: it names oxygen, which the rig does not have"));
    for (const char* words : {"close oxygen", "set oxygen to 1 slm", "lead oxygen through the bath at 25 °C"})
        CHECK_MESSAGE(says(said(11, words), "it names oxygen, which the rig does not have"), words);
    for (const char* words : {"start pump", "stop pump", "regulate pressure to 100 mbar"})
        CHECK_MESSAGE(says(said(11, words), "it names a pump, which the rig does not have"), words);
    CHECK(says(said(11, "lead argon through the bath at 25 °C"), "it names a bath"));
    CHECK(says(said(11, "move the sample to cold"),
               "it moves the sample to cold, a place that the rig does not have"));
    program::Program p = table();
    p.parts[0].hand_over = "open oxygen at 1 slm";
    CHECK(says(joined(replay::compare_said(p, recipe())), "it names oxygen, which the rig does not have"));

    timeline::Timeline rig = recipe();
    rig.pump = {0, true, false};
    rig.places = {{"hot", true}, {"cold", false}};
    rig.bubbler = {0, true, false};
    rig.bubbler_line = 0;
    const auto with_more = [&](const std::string& words) {
        program::Program q = table();
        q.parts[0].segments[1].instruction = words;
        return joined(replay::compare_said(q, rig));
    };
    for (const char* words :
         {"start pump", "regulate pressure to 100 mbar", "end pressure regulation", "move the sample to cold",
          "lead argon through the bath at 25 °C", "lead argon through the bath at 25 ?C"})
        CHECK_MESSAGE(with_more(words) == "", words);
    CHECK(says(with_more("regulate pressure to 100 sccm"), "it says 100 sccm for the pressure"));
    CHECK(says(with_more("lead argon through the bath at 25 mbar"), "it says 25 mbar for the bath"));
    CHECK(says(with_more("lead hydrogen through the bath at 25 °C"), "which is in the line of argon"));
}

TEST_CASE("a flow that is said before other words of the same line is compared with its channel") {
    program::Program p = table();
    p.channels = {"argon"};
    for (program::Segment& s : p.parts[0].segments) s.channels = {1'000'000};
    p.parts[0].segments[1].instruction = "open argon at 900 sccm; lead argon through the bath at 25 °C";
    CHECK(says(joined(replay::compare_said(p, recipe())), "argon flows at 900 sccm, its channel sets"));
}
