// A limit that depends on a parameter is proven over the parameter's range.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

TEST_CASE("a limit that is too short between two ends that keep it is found") {
    const auto check = [](const std::string& least) {
        return athanor(
            {"check", "-", "--message-format", "short"}, project + "/recipes",
            "use \"rigs/quartz_bench.ath\"\nrecipe limits(share : fraction in " + least +
                " to 10 % = 10 %) on quartz_bench {\n    purge argon at 2.4 slm until oxygen < share at "
                "most 0.0001 h / share + 0.25 h\n    close all\n}\n");
    };
    // 0.01 % takes 54 min of 75, 10 % 7 of 15; 0.5 % takes 27 of 16.
    const Result refused = check("0.01 %");
    CHECK(refused.status == 1);
    CHECK_MESSAGE(refused.err.find("[condition_unreachable]") != std::string::npos, refused.err);
    const Result held = check("5 %");
    CHECK_MESSAGE(held.status == 0, held.err);
}

TEST_CASE("a parameter that nothing reads takes no part in the proof over ranges") {
    const auto check = [](const std::string& steps) {
        std::string names;
        for (const char* name : {"aa", "ab", "ac", "ad", "ae", "af"})
            names += (names.empty() ? "" : ", ") + std::string(name) + " in 5 min to 10 min = 5 min";
        return athanor({"check", "-", "--message-format", "short"}, project + "/recipes",
                       "use \"rigs/muffle_tube.ath\"\nrecipe six(" + names + ") on muffle_tube {\n" + steps +
                           "}\n");
    };
    const std::string five = "dwell aa\ndwell ab\ndwell ac\ndwell ad\ndwell ae\n";
    const Result held = check(five);
    CHECK_MESSAGE(held.status == 0, held.err);
    CHECK(held.err.find("parameter `af` is never used") != std::string::npos);
    const Result all = check(five + "dwell af\n");
    CHECK(all.status == 1);
    CHECK_MESSAGE(all.err.find("[too_large]") != std::string::npos, all.err);
}

TEST_CASE("over a range a dwell may last from nothing on; a ramp that vanishes is told with what to do") {
    const std::string bench = "use \"rigs/muffle_tube.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n";
    const Result dwell =
        athanor({"check", "-"}, project + "/recipes",
                bench + "recipe a(soak : time in 0 min to 2 h = 1 h) on muffle_tube for "
                        "bench_twenty_five {\nramp to 500 degC at 3 K/min\ndwell soak\ncool to 60 "
                        "degC\n}\n");
    CHECK_MESSAGE(dwell.status == 0, dwell.err);
    const Result ramp =
        athanor({"check", "-"}, project + "/recipes",
                bench + "recipe b(peak : temperature in 500 degC to 900 degC = 700 degC) on "
                        "muffle_tube for bench_twenty_five {\nramp to 500 degC at 3 K/min\nramp to "
                        "peak at 2 K/min\ncool to 60 degC\n}\n");
    CHECK(ramp.status == 1);
    CHECK_MESSAGE(ramp.err.find("begin the range beside it") != std::string::npos, ramp.err);
}
