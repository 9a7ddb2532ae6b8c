// A recipe is proven for every value of its parameters, or `check` says for which it is not.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

namespace {

/// A recipe on the hydrogen bench of recipes/rigs; `parameters` and `steps` as they would be written.
std::string bench(const std::string& parameters, const std::string& steps) {
    return "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\nrecipe tips \"Carbide "
           "tips\"(" +
           parameters + ") on quartz_bench for bench_twenty_five {\n" + steps + "}\n";
}

std::string soaked(const std::string& peak, const std::string& soak, const std::string& flow = "300 sccm") {
    return "require oxygen < 30 ppm while temperature > 250 degC\n"
           "inert_purge(feed = 2.4 slm)\nramp to " +
           peak + " at 5 K/min\nlight burner\ndwell 30 min within 4 K\nswitch to hydrogen at " + flow +
           "\ndwell " + soak +
           " within 4 K\nclear_flammable(feed = 2.4 slm)\nshut burner\ncool to 70 degC\nclose all\n";
}

Result check(const std::string& text, const std::string& format = "short") {
    return athanor({"check", "-", "--message-format", format}, project + "/recipes", text);
}

} // namespace

TEST_CASE("a temperature, a time and a flow are proven over their ranges together") {
    const Result result = check(bench("peak : temperature in 880 degC to 980 degC = 900 degC,"
                                      "soak : time in 30 min to 2 h = 45 min,"
                                      "feed : flow in 250 sccm to 400 sccm = 300 sccm",
                                      soaked("peak", "soak", "feed")));
    CHECK_MESSAGE(result.status == 0, result.err);
}

TEST_CASE("an end that breaks a rule is told with its value") {
    const Result result =
        check(bench("peak : temperature in 770 degC to 980 degC = 900 degC", soaked("peak", "45 min")));
    CHECK(result.status == 1);
    CHECK(result.err.find("[flammable_below_ignition]") != std::string::npos);
    const Result pretty = check(
        bench("peak : temperature in 770 degC to 980 degC = 900 degC", soaked("peak", "45 min")), "pretty");
    CHECK(pretty.err.find("with peak = 770 degC") != std::string::npos);
}

TEST_CASE("values inside a range that break a rule are found though both ends are good") {
    // Between 40 and 50 min the burner is shut before the hydrogen is.
    std::string steps = soaked("900 degC", "soak");
    steps.replace(steps.find("clear_flammable"), 0,
                  "if soak > 40 min {\nif soak < 50 min {\nshut burner\n}\n}\n");
    const Result result = check(bench("soak : time in 30 min to 2 h = 35 min", steps), "pretty");
    CHECK(result.status == 1);
    CHECK(result.err.find("[burner_off]") != std::string::npos);
    CHECK_MESSAGE(result.err.find("not proven for soak from 40 min to 50 min") != std::string::npos,
                  result.err);
}

TEST_CASE("what runs may change at a value that an `if` compares with") {
    std::string steps = soaked("peak", "45 min");
    steps.replace(steps.find("clear_flammable"), 0, "if peak > 930 degC {\ndwell 10 min within 4 K\n}\n");
    const Result result = check(bench("peak : temperature in 880 degC to 980 degC = 900 degC", steps));
    CHECK_MESSAGE(result.status == 0, result.err);
}

TEST_CASE("lists and counts are tried one by one") {
    const std::string cycles =
        "repeat n times {\n ramp to 400 degC at 5 K/min\n cool to 300 degC at 0.8 K/min\n}\n"
        "cool to 60 degC\n";
    Result result = check(bench("n : count in 1 to 4 = 2", cycles));
    CHECK_MESSAGE(result.status == 0, result.err);
    result =
        check(bench("n : count in 1 to 30 = 2", "repeat n times {\n ramp to 400 degC at 5 K/min\n dwell 1 min\n"
                                                " cool to 300 degC at 0.8 K/min\n dwell 2 min\n light burner\n"
                                                " dwell 1 min\n shut burner\n}\ncool to 60 degC\n"));
    CHECK_MESSAGE(result.status == 0, result.err); // loops hold it
    result = check(bench("hot : temperature in [500 degC, 1300 degC] = 500 degC",
                         "ramp to hot at 5 K/min\ncool to 60 degC\n"));
    CHECK(result.status == 1);
    CHECK(result.err.find("[beyond_furnace]") != std::string::npos);
}

TEST_CASE("a value that turns inside the range is no proof from its ends") {
    const Result result =
        check(bench("x : time in 10 min to 20 min = 15 min",
                    "ramp to 500 degC at 5 K/min\ndwell x * (x / 10 min)\ncool to 60 degC\n"));
    CHECK(result.status == 1);
    CHECK(result.err.find("may turn inside the range") != std::string::npos);
    // Each alone is fine.
    CHECK(check(bench("x : time in [10 min, 20 min] = 10 min",
                      "ramp to 500 degC at 5 K/min\ndwell x * (x / 10 min)\ncool to 60 degC\n"))
              .status == 0);
}
