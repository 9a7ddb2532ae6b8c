// A programme that starts from what is measured: nobody knows where in the room's interval that is.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

namespace {

Result check(const std::string& files, const std::string& body) {
    return athanor({"check", "-", "--message-format", "short"}, project + files, body);
}

const std::string zones = "use \"rigs/gradient_three.ath\"\nuse \"controllers/three_zone.ath\"\n";
const std::string bench = "use \"../rigs/bench_two.ath\"\nuse \"../controllers/bench_controller.ath\"\n";

} // namespace

TEST_CASE("a first ramp takes as long as the zone that arrives last") {
    // The zone that is named first stays where it is.
    const Result hot = check(
        "/recipes", zones + "recipe r on gradient_three for three_zone {\nrequire temperature < 200 degC\n"
                            "ramp middle to 1000 degC at 1.3 K/min\ncool middle to 80 degC\n}\n");
    CHECK(hot.status == 1);
    CHECK_MESSAGE(hot.err.find("[requirement_not_provable]") != std::string::npos, hot.err);
    const Result fuel =
        check("/recipes",
              zones + "gas fg5 = 5 % hydrogen + rest nitrogen\nrig w from gradient_three { line argon { gas "
                      "fg5 ; de_energised closed } }\nrecipe r on w for three_zone {\nramp middle to 700 "
                      "degC at 1.3 K/min\nopen argon at 400 sccm\ncool middle to 80 degC\n}\n");
    CHECK(fuel.status == 1);
    CHECK_MESSAGE(fuel.err.find("[flammable_mixture]") != std::string::npos, fuel.err);
}

TEST_CASE("of two ramps in one row the first is the one that the start makes longer or shorter") {
    const Result purged = check(
        "/tests/examples/accepted",
        bench + "recipe r on bench_two for bench_controller {\nrequire oxygen < 100 ppm while setpoint > 30 "
                "degC\nopen argon at 1.5 slm\nramp to 30 degC at 0.1 K/min\nramp to 100 degC at 0.1 "
                "K/min\ncool to 60 degC\n}\n");
    CHECK(purged.status == 1);
    CHECK_MESSAGE(purged.err.find("[requirement_not_provable]") != std::string::npos, purged.err);
}

TEST_CASE("a wait for a person keeps what was measured") {
    for (const std::string wait : {"", "wait for operator \"load\"\n"}) {
        const Result ramp =
            check("/tests/examples/accepted", bench + "recipe r on bench_two for bench_controller {\n" + wait +
                                                  "open argon at 1.5 slm\nramp to 30 degC at 0.1 K/min\nexpect "
                                                  "elapsed > 69 min and elapsed < 71 min\ndwell 1 min\n}\n");
        CHECK(ramp.status == 1);
        CHECK_MESSAGE(ramp.err.find("elapsed is 20 min to 2 h") != std::string::npos, ramp.err);
    }
}

TEST_CASE("a table whose first ramp moves one zone of three is written") {
    Scratch scratch;
    const Result built = athanor(
        {"build", "-", "--to", "json,csv", "-o", scratch.path()}, project + "/recipes",
        zones + "recipe r on gradient_three for three_zone {\nramp middle to 700 degC at 1.3 K/min\ndwell "
                "10 min\ncool middle to 80 degC\n}\n");
    CHECK_MESSAGE(built.status == 0, built.err);
}

TEST_CASE("a first ramp that waits for a band takes as long as from where it really began") {
    const std::string begin = "use \"../rigs/bench_two.ath\"\nuse "
                              "\"../../../recipes/controllers/bench_twenty_five.ath\"\nrecipe r on "
                              "bench_two for bench_twenty_five {\n";
    const Result ramp = check("/tests/examples/accepted",
                              begin + "open argon at 1.5 slm\nramp to 30 degC at 0.1 K/min within 5 K\nexpect "
                                      "elapsed > 69 min and elapsed < 71 min\ndwell 1 min\n}\n");
    CHECK(ramp.status == 1);
    CHECK_MESSAGE(ramp.err.find("[expectation_violated]") != std::string::npos, ramp.err);
    const Result purged = check(
        "/tests/examples/accepted",
        begin + "require oxygen < 100 ppm while setpoint > 30 degC\nopen argon at 1.5 slm\nramp to 30 degC at "
                "0.1 K/min within 5 K\nramp to 100 degC at 0.2 K/min\ncool to 60 degC\n}\n");
    CHECK(purged.status == 1);
    CHECK_MESSAGE(purged.err.find("[requirement_not_provable]") != std::string::npos, purged.err);
    // Held, it is where it was led, from wherever it began.
    const Result held =
        check("/tests/examples/accepted",
              begin + "open argon at 1.5 slm\nramp to 300 degC at 5 K/min within 5 K\ndwell 30 min\nexpect "
                      "temperature > 270 degC and temperature < 310 degC\ncool to 60 degC\n}\n");
    CHECK_MESSAGE(held.status == 0, held.err);
}
