#include "recipes_support.hpp"

#include <cmath>

using namespace athanor;

namespace {

/// `let x : TYPE = TEXT`, evaluated; the findings of the evaluation beside it.
struct Evaluated {
    Checked c;
    check::Value value;
    explicit Evaluated(const std::string& text, const check::Frame& frame = {})
        : c(recipe_with("let x = " + text + "\nif x is x { dwell 1 h }")) {
        c.out = Diagnostics{};
        value = c.value(c.steps().at(0).value, frame);
    }
};

} // namespace

TEST_CASE("short sums and products stay points") {
    CHECK(Evaluated("2 * 45 min").value.number == Interval(5400));
    CHECK(Evaluated("1 h + 30 min").value.number == Interval(5400));
    CHECK(Evaluated("1 h - 15 min").value.number == Interval(2700));
    CHECK(Evaluated("7 / 2").value.number == Interval(3.5));
}

TEST_CASE("rounding goes outward") {
    // A third has no double: the interval holds it and is a few units wide.
    const Interval third = Evaluated("1 / 3 * 3").value.number;
    CHECK(third.contains(1.0));
    CHECK(third.width() > 0);
    CHECK(third.width() < 1e-15);
    const Interval tenth = Evaluated("0.1 * 3").value.number;
    CHECK(static_cast<long double>(tenth.lo) <= 3 * static_cast<long double>(0.1));
    CHECK(static_cast<long double>(tenth.hi) >= 3 * static_cast<long double>(0.1));
}

TEST_CASE("a hole is missing when it is built, and says what is due") {
    Checked c(recipe_with("dwell ?\nramp to ? at 5 K/min\nramp to peak + ? at 5 K/min",
                          "peak : temperature = 600 degC"));
    REQUIRE(c.findings() == "");
    CHECK_FALSE(c.recipe().broken);
    CHECK(c.value(c.steps()[0].value).poison());
    CHECK(c.findings() == "t.ath:2:7: error: a value is left open here [value_missing]\n");
    CHECK(c.remedies() == "write a time in place of `?`\n");
    const check::Expr& sum = c.model.exprs[c.model.targets[c.steps()[2].first_target].target];
    CHECK(c.model.exprs[sum.b].type == type_of(Kind::difference));
}

TEST_CASE("a division by zero, or by what may be zero, is told with its place") {
    Evaluated zero("1 / (2 - 2)");
    CHECK(zero.value.poison());
    CHECK(zero.c.findings() == "t.ath:2:9: error: a division by zero [misplaced]\n");
    Evaluated may("1 / (0.1 ± 0.2)");
    CHECK(may.value.poison());
    CHECK(may.c.findings() == "t.ath:2:9: error: a division by -0.1 to 0.3, which may be zero [misplaced]\n");
    CHECK(Evaluated("1 / (0.3 ± 0.2)").value.number.contains(Interval(2.0001, 9.9999)));
}

TEST_CASE("a result beyond every number is told") {
    Evaluated e("1e300 * 1e300");
    CHECK(e.value.poison());
    CHECK(e.c.findings() == "t.ath:2:9: error: the result is beyond what a number can be [too_large]\n");
    CHECK(findings_of("dwell 1e999 s") ==
          "t.ath:2:7: error: `1e999` is beyond what a number can be [too_large]\n");
}

TEST_CASE("the room's pressure comes from the rig") {
    check::Frame frame;
    frame.has_ambient = true;
    frame.ambient_pressure = {98000, 103000};
    Checked c(recipe_with("evacuate to ambient + 20 mbar"));
    CHECK(c.value(c.steps()[0].value, frame).number.contains(Interval(100000, 105000)));
    CHECK(c.value(c.steps()[0].value).poison());
    CHECK(c.out.has(Code::misplaced));
}

TEST_CASE("comparisons of uncertain values have three answers") {
    CHECK(Evaluated("5 K ± 1 K < 7 K").value.number == Interval(1));
    CHECK(Evaluated("5 K ± 1 K < 6 K").value.number == Interval(0, 1));
    CHECK(Evaluated("5 K ± 1 K < 3 K").value.number == Interval(0));
    CHECK(Evaluated("not (5 K ± 1 K < 6 K)").value.number == Interval(0, 1));
    CHECK(Evaluated("5 K < 6 K and 5 K ± 1 K < 6 K").value.number == Interval(0, 1));
    CHECK(Evaluated("5 K < 6 K or 5 K ± 1 K < 6 K").value.number == Interval(1));
    CHECK(Evaluated("argon is argon").value.number == Interval(1));
    CHECK(Evaluated("argon is hydrogen").value.number == Interval(0));
    CHECK(Evaluated("\"a\" is \"a\"").value.number == Interval(1));
    CHECK(Evaluated("3 is 4").value.number == Interval(0));
}

TEST_CASE("boundaries of comparisons") {
    CHECK(Evaluated("5 K < 5 K").value.number == Interval(0));
    CHECK(Evaluated("5 K <= 5 K").value.number == Interval(1));
    CHECK(Evaluated("5 K > 5 K").value.number == Interval(0));
    CHECK(Evaluated("5 K >= 5 K").value.number == Interval(1));
}
