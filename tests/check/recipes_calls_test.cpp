#include "recipes_support.hpp"

using namespace athanor;

namespace {

const std::string soak =
    "operation soak(peak : temperature, hold : time = 1 h) { ramp to peak at 5 K/min ; dwell hold }\n";
std::string with(const std::string& call) {
    return Checked(soak + recipe_with(call)).findings();
}

} // namespace

TEST_CASE("values are given by position or by name, and defaults fill the rest") {
    Checked c(
        soak +
        recipe_with(
            "soak(900 degC)\nsoak(900 degC, 2 h)\nsoak(hold = 2 h, peak = 900 K)\nsoak(900 degC, hold = 3 h)"));
    REQUIRE(c.findings() == "");
    const auto calls = c.steps();
    REQUIRE(calls.size() == 4);
    const auto argument = [&](std::size_t call, std::size_t i) {
        return c.model.arguments[calls[call].first_argument + i];
    };
    CHECK(argument(0, 1) == 0);
    CHECK(c.number(argument(1, 1)) == 7200);
    CHECK(c.number(argument(2, 0)) == 900); // a temperature by its place
    CHECK(c.number(argument(2, 1)) == 7200);
    CHECK(c.number(argument(3, 1)) == 10800);
    const check::Operation& o = c.model.operations[calls[0].operation];
    CHECK(o.used);
    CHECK(o.slots == 2);
    CHECK(c.number(o.parameters[1].default_value) == 3600);
}

TEST_CASE("calls that do not fit the declaration") {
    CHECK(with("soak()") ==
          "t.ath:3:1: error: `soak` needs a value for `peak`, a temperature [value_missing]\n");
    CHECK(with("soak(900 degC, 1 h, 5 K)") == "t.ath:3:21: error: `soak` takes 2 values [misplaced]\n");
    CHECK(with("soak(900 degC, holt = 2 h)") ==
          "t.ath:3:16: error: `soak` has no parameter `holt` [unknown_name]\n");
    CHECK(with("soak(900 degC, peak = 800 degC)") ==
          "t.ath:3:16: error: `peak` is given twice [duplicate_name]\n");
    CHECK(with("soak(peak = 900 degC, 2 h)") ==
          "t.ath:3:23: error: a value by position behind one by name [misplaced]\n");
    CHECK(with("soak(2 h)") ==
          "t.ath:3:6: error: `peak` takes a temperature; `2 h` is a time [unit_mismatch]\n");
    CHECK(with("max(1 h, 2 h)").find("`max` is a function: its value is used by nothing here [misplaced]") !=
          std::string::npos);
    CHECK(Checked("recipe a { dwell 1 h }\nrecipe b { a() }\n").findings() ==
          "t.ath:2:12: error: `a` is a recipe; only operations are called [misplaced]\n");
}

TEST_CASE("a gas is given to an operation") {
    Checked c("operation flush(cover : gas, feed : flow) { purge cover at feed for 5 volumes ; expect oxygen < "
              "1 % and cover > 90 % }\n" +
              recipe_with("flush(argon, 1 slm)\nflush(cover = neon_like, feed = 1 slm)"));
    CHECK(c.findings() == "t.ath:4:15: error: nothing is called `neon_like` [unknown_name]\n");
    CHECK(c.model.arguments.size() >= 2);
}

TEST_CASE("an operation that reaches itself is refused with the whole ring") {
    Checked c("operation a() { b() }\noperation b() { dwell 1 h ; c() }\noperation c() { a() }\nrecipe r { a() "
              "}\nrecipe s { dwell 1 h }\n");
    CHECK(c.findings() == "t.ath:3:17: error: `a` calls itself: a -> b -> c -> a [recursion]\n");
    CHECK(c.model.recipes[0].broken);
    CHECK_FALSE(c.model.recipes[1].broken);
    CHECK(Checked("operation a() { a() }\nrecipe r { a() }\n").findings() ==
          "t.ath:1:17: error: `a` calls itself: a -> a [recursion]\n");
}

TEST_CASE("an error in an operation breaks the recipes that call it, however far") {
    Checked c("operation a() { b() }\noperation b() { dwell 5 K }\nrecipe r { a() }\nrecipe s { dwell 1 h }\n");
    CHECK(c.out.errors() == 1);
    CHECK(c.model.recipes[0].broken);
    CHECK_FALSE(c.model.recipes[1].broken);
    Checked placed(
        "operation a() { dwell 1 h }\noperation b() { dwell 2 h { after 5 min a() } }\noperation c() { "
        "b() }\nrecipe r { c() }\nrecipe s { a() }\n");
    CHECK(placed.out.errors() == 1);
    CHECK(placed.model.recipes[0].broken);
    CHECK_FALSE(placed.model.recipes[1].broken);
}

TEST_CASE("a default lies within its own range") {
    const auto declared = [](const std::string& p) {
        return Checked("recipe r(" + p + ") { ramp to p at 1 K/min }\n").findings();
    };
    CHECK(declared("p : temperature in 500 degC to 750 degC = 650 degC") == "");
    CHECK(declared("p : temperature in 500 degC to 750 degC = 750 degC") == "");
    CHECK(declared("p : temperature in 500 degC to 750 degC = 750.1 degC") ==
          "t.ath:1:52: error: `p` = 750.1 °C is outside 500 °C to 750 °C [parameter_out_of_range]\n");
    CHECK(declared("p : temperature in 750 degC to 500 degC").find("the range of `p` is empty") !=
          std::string::npos);
    CHECK(declared("p : temperature in 500 degC to 750 degC by 25 K = 650 degC") == "");
    CHECK(declared("p : temperature in 500 degC to 750 degC by 25 degC")
              .find("`by` takes a difference of temperature; `25 degC` is a temperature") != std::string::npos);
}

TEST_CASE("a value is judged by its range, its steps or its list") {
    Checked c("recipe r(p : temperature in 500 degC to 750 degC by 25 K, cover : gas in [hydrogen, argon], n "
              "in [1, 2, 4]) "
              "{ ramp to p at 1 K/min ; open cover at 1 slm ; repeat n times { dwell 1 h } }\n");
    REQUIRE(c.findings() == "");
    const auto inside = [&](std::size_t i, check::Value v) {
        c.out = Diagnostics{};
        return check::in_range(c.model, c.recipe().parameters[i], v, {}, {}, c.out);
    };
    const auto temperature = [](double celsius) {
        return check::Value{type_of(Kind::temperature), celsius + 273.15, check::none, {}};
    };
    CHECK(inside(0, temperature(500)));
    CHECK(inside(0, temperature(750)));
    CHECK_FALSE(inside(0, temperature(499.9)));
    CHECK(c.out.all().front().message == "`p` = 499.9 °C is outside 500 °C to 750 °C");
    CHECK_FALSE(inside(0, temperature(510)));
    CHECK(c.out.all().front().message == "`p` = 510 °C is not on the steps of 25 K from 500 °C");
    CHECK(inside(0, temperature(525)));
    CHECK(inside(1, {type_of(Kind::gas), {}, c.model.gas_named("argon"), {}}));
    CHECK_FALSE(inside(1, {type_of(Kind::gas), {}, c.model.gas_named("nitrogen"), {}}));
    CHECK(c.out.all().front().message == "`cover` = nitrogen is none of hydrogen, argon");
    CHECK(inside(2, {type_of(Kind::count), 4, check::none, {}}));
    CHECK_FALSE(inside(2, {type_of(Kind::count), 3, check::none, {}}));
    CHECK(inside(0, {})); // poison was reported before
}
