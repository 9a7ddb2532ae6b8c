// Words for a person that ask for more than was proven, and words of the trade that do not.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

namespace {

/// What is said of a wait for a person in argon, on the way down and before the last flow of argon ends.
bool warned(const std::string& words, const std::string& temperature = "50 degC") {
    const Result result = athanor({"check", "-", "--message-format", "short"}, project + "/recipes",
                                  "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                                  "recipe words on quartz_bench_inert for bench_twenty_five "
                                  "{\ninert_purge(feed = 2.4 slm, limit = 30 ppm)\n"
                                  "ramp to 550 degC at 6 K/min\ncool to " +
                                      temperature + "\nwait for operator \"" + words +
                                      "\"\ndwell 10 min\ncool to 40 degC\nclose all\n}\n");
    REQUIRE_MESSAGE(result.status == 0, result.err);
    return result.err.find("[words_unproven]") != std::string::npos;
}

} // namespace

TEST_CASE("words that open a tube under inert gas are told where it stays shut") {
    for (const char* words :
         {"Remove the end cap and pull the boat", "open the tube", "Take the crucible out",
          "Loosen both flanges", "unload the samples", "UNCLAMP THE END SEAL", "Put the boat in",
          "Withdraw the boat", "Unload the furnace", "Open the end flange and push the boat into the hot zone",
          "Take the boat out of the hot zone", "Exchange the sample"}) {
        CAPTURE(words);
        CHECK(warned(words));
    }
}

TEST_CASE("words that shut a supply which is still counted on are told") {
    for (const char* words :
         {"Turn off the argon cylinder and go home", "shut argon", "Close the tap of the argon",
          "Stop the argon", "Switch the hood off", "Close the outlet valve", "Turn the gas off",
          "Close all valves", "Shut off the gas supply", "Turn off all gases at the panel"}) {
        CAPTURE(words);
        CHECK(warned(words));
    }
}

TEST_CASE("words that open or shut something else are not") {
    for (const char* words : {"Open the valve at the tube's end",
                              "Open the burner's fuel",
                              "Draw the sample out with the magnet",
                              "Check the flow meter",
                              "Turn on the argon cylinder",
                              "Close the window",
                              "Read the oxygen meter, go on",
                              "Opening hours end at six",
                              "Note the boat's number",
                              "Do not open the tube",
                              "Never open the flange",
                              "Don't close the argon",
                              "Open the door of the room",
                              "Pull the mains plug",
                              "Take a sample of the exhaust gas",
                              "Switch the recorder to argon",
                              "Turn on the hood",
                              "Turn off the cooling water supply",
                              "Close the gas cabinet",
                              "Stop the recorder when the gas runs out",
                              "Close the valve of the pump",
                              "Turn the gas on"}) {
        CAPTURE(words);
        CHECK_FALSE(warned(words));
    }
}

TEST_CASE("what a note says to shut is missing in its own step") {
    const auto noted = [](const std::string& before, const std::string& behind) {
        const Result result =
            athanor({"check", "-", "--message-format", "short"}, project + "/recipes",
                    "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                    "recipe noted on quartz_bench_inert for bench_twenty_five {\ninert_purge(feed = 2.4 slm, "
                    "limit = 30 ppm)\n" +
                        before + "ramp to 550 degC at 6 K/min\ncool to 40 degC\n" + behind + "close all\n}\n");
        CHECK_MESSAGE(result.status == 0, result.err);
        return result.err.find("[words_unproven]") != std::string::npos;
    };
    const std::string note = "note \"Close the argon cylinder\"\n";
    CHECK(noted(note, ""));
    CHECK(noted("", note + "dwell 10 min\n"));
    CHECK_FALSE(noted("", note));
}

TEST_CASE("a supply that is shut once the last gas has flowed is no matter") {
    const Result result = athanor({"check", "-", "--message-format", "short"}, project + "/recipes",
                                  "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                                  "recipe last on quartz_bench_inert for bench_twenty_five {\ninert_purge(feed "
                                  "= 2.4 slm, limit = 30 ppm)\n"
                                  "ramp to 550 degC at 6 K/min\ncool to 40 degC\nwait for operator \"Close the "
                                  "argon cylinder\"\nclose all\n}\n");
    CHECK_MESSAGE(result.status == 0, result.err);
    CHECK_MESSAGE(result.err.find("[words_unproven]") == std::string::npos, result.err);
}

TEST_CASE("nothing is told where opening changes nothing") {
    const Result result =
        athanor({"check", "-", "--message-format", "short"}, project + "/recipes",
                "use \"rigs/muffle_tube.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                "recipe air on muffle_tube for bench_twenty_five {\nwait for operator \"Load the boat\"\n"
                "ramp to 550 degC at 3 K/min\ncool to 60 degC\nwait for operator \"Take the boat out\"\n}\n");
    CHECK(result.status == 0);
    CHECK_MESSAGE(result.err.find("[words_unproven]") == std::string::npos, result.err);
}
