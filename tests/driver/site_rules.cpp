// Rules of a site: each form asks what it says, or is refused.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

namespace {

Result check(const std::string& clause, const std::string& steps) {
    return athanor(
        {"check", "-"}, project + "/tests/examples/accepted",
        "use \"../rigs/bench_two.ath\"\nuse \"../controllers/bench_controller.ath\"\npolicy p { rule a "
        "\"A\" { require " +
            clause + " ; because \"x\" ; source \"y\" } }\nrecipe r on bench_two for bench_controller {\n" +
            steps + "}\n");
}

bool tells(const Result& result, const std::string& code) {
    return result.status == 1 && result.err.find("[" + code + "]") != std::string::npos;
}

const std::string heated = "open argon at 1.5 slm\nramp to 300 degC at 5 K/min\ncool to 60 degC\n";

} // namespace

TEST_CASE("a rule before a failure, or behind the end, asks nothing and is refused") {
    CHECK(tells(check("hydrogen is open before abort", heated), "misplaced"));
    CHECK(tells(check("hydrogen is open from end", heated), "misplaced"));
    CHECK(check("argon is open before end", heated).status == 0);
}

TEST_CASE("a rule that is still on at the end asks what the last actions do") {
    const std::string clause = "argon is open from opening argon until oxygen < 0.1 ppm";
    const Result closed = check(clause, heated + "close all\n");
    CHECK_MESSAGE(tells(closed, "a"), closed.err);
    const Result open = check(clause, heated);
    CHECK_MESSAGE(open.status == 0, open.err);
}

TEST_CASE("a rule that asks for an order does not take outputs of one segment for it") {
    const std::string clause = "argon is closed before closing carbon_dioxide",
                      begin = "open carbon_dioxide at 0.5 L/min\nopen argon at 1.5 slm\ndwell 5 min\n";
    const Result together = check(clause, begin + "close argon\nclose carbon_dioxide\ndwell 5 min\n");
    CHECK_MESSAGE(tells(together, "a"), together.err);
    CHECK_MESSAGE(together.err.find("no promised order") != std::string::npos, together.err);
    const Result parted =
        check(clause, begin + "close argon\ndwell 1 min\nclose carbon_dioxide\ndwell 5 min\n");
    CHECK_MESSAGE(parted.status == 0, parted.err);
}

TEST_CASE("a rule that uncertain values decide is refused, and one beside a signal is asked") {
    const Result guard = check("temperature < 100 degC while ambient > 1000 mbar", heated);
    CHECK_MESSAGE(tells(guard, "misplaced"), guard.err);
    const Result certain = check("temperature < 100 degC while ambient > 800 mbar", heated);
    CHECK_MESSAGE(tells(certain, "a"), certain.err);
    const Result signal = check("pressure < ambient + 500 mbar", heated);
    CHECK_MESSAGE(signal.status == 0, signal.err);
}
