#include "recipes_support.hpp"

using namespace athanor;

namespace {

/// The value of `let x = TEXT`, typed by what is written.
check::Value value_of(const std::string& text) {
    Checked c("let x = " + text + "\nrecipe r { dwell 1 h }\ntest \"x\" { r is proven }\n");
    // The let is lowered although nothing reads it; it is the last constant tree that was made.
    Checked used("let x = " + text + "\nrecipe r(p = x) { if p is p { dwell 1 h } }\n");
    return used.value(used.recipe().parameters.at(0).default_value);
}

} // namespace

TEST_CASE("a kelvin literal is a temperature where one stands alone or first, a difference elsewhere") {
    Checked c(recipe_with(
        "ramp to 1223 K at 5 K/min\nramp to 1000 K + 50 K at 5 K/min\nramp to peak - 50 K at 5 K/min\n"
        "ramp to 300 degC + 2 * 50 K at 5 K/min\nramp to 50 K + peak at 5 K/min",
        "peak : temperature = 950 degC"));
    CHECK(c.findings() == "");
    check::Frame frame;
    frame.slots.push_back({type_of(Kind::temperature), 1223.15, check::none, {}});
    const double expected[] = {1223, 1050, 1173.15, 673.15, 1273.15};
    const auto steps = c.steps();
    REQUIRE(steps.size() == 5);
    for (std::size_t i = 0; i < 5; ++i) {
        const check::Value v = c.value(c.model.targets[steps[i].first_target].target, frame);
        CHECK(v.type == type_of(Kind::temperature));
        CHECK(v.number.middle() == doctest::Approx(expected[i]).scale(0).epsilon(1e-12));
    }
}

TEST_CASE("degrees where a difference is due offer kelvin") {
    Checked c(recipe_with("dwell 1 h within 5 degC"));
    CHECK(c.findings() == "t.ath:2:18: error: `within` takes a difference of temperature; `5 degC` is a "
                          "temperature [unit_mismatch]\n");
    CHECK(c.remedies() == "a difference is written `5 K`\n");
    CHECK(c.mended() == recipe_with("dwell 1 h within 5 K"));
    // 9 degF wide is 5 K wide: the interval, not the point. NIST SP 811 appendix B.8: 1 degF = 5/9 K.
    CHECK(Checked(recipe_with("dwell 1 h within 9 degF")).mended() == recipe_with("dwell 1 h within 5 K"));
    CHECK(Checked(recipe_with("dwell 1 h within 10 degF")).mended() == recipe_with("dwell 1 h within 5.556 K"));
}

TEST_CASE("kelvin before degrees that are written out may be either: refused") {
    for (const char* sum :
         {"300 K + 20 degC", "300 K + (20 degC)", "(300 K) + 68 degF", "300 K + 20 degC + 5 K"}) {
        CAPTURE(sum);
        Checked c(recipe_with(std::string("ramp to ") + sum + " at 5 K/min", "peak : temperature = 600 degC"));
        CHECK(c.findings().find("absolute temperatures, which cannot be added [absolute_added]") !=
              std::string::npos);
        CHECK(c.mended() == "nothing was offered");
    }
    Checked c(recipe_with("ramp to 300 K + 20 degC at 5 K/min"));
    CHECK(c.remedies() == "where `300 K` is a difference, write `20 degC + 300 K`\n"
                          "where `20 degC` is a difference, write it in kelvin\n");
    // The same where no type says that a temperature is due.
    CHECK(findings_of("let hot = 300 K + 20 degC\ndwell 1 h").find("[absolute_added]") != std::string::npos);
    // The nearest that pass.
    for (const char* sum :
         {"20 degC + 300 K", "300 K + 20 K", "300 K", "50 K + peak", "50 K + (peak - 20 degC)"}) {
        CAPTURE(sum);
        CHECK(findings_of(std::string("ramp to ") + sum + " at 5 K/min", "peak : temperature = 600 degC")
                  .find("error") == std::string::npos);
    }
}

TEST_CASE("kelvins in front of a temperature are never mended into another process") {
    for (const char* sum : {"5 K + 5 K + 500 degC", "(5 K + 5 K) + 500 degC", "5 K - 2 K + 500 degC",
                            "min(5 K, 10 K) + 500 degC", "max(5 K, 10 K) + 500 degC", "-(5 K) + 500 degC",
                            "5 K + max(20 degC, 500 degC)", "500 degC + min(20 degC, 5 K)",
                            "(300 K + 5 K) + 20 degC", "68 degF + 500 degC", "500 degC + 68 degF"}) {
        CAPTURE(sum);
        Checked c(recipe_with(std::string("ramp to ") + sum + " at 5 K/min"));
        CHECK(c.findings().find("[absolute_added]") != std::string::npos);
        CHECK(c.mended() == "nothing was offered");
    }
    Checked c(recipe_with("ramp to 5 K + 5 K + 500 degC at 5 K/min"));
    CHECK(c.remedies() == "where `5 K + 5 K` is a difference, write `500 degC + 5 K + 5 K`\n"
                          "where `500 degC` is a difference, write it in kelvin\n");
    // Before a name they are a difference, as one of them alone is.
    Checked named(recipe_with("ramp to 5 K + 5 K + peak at 5 K/min\nramp to max(5 K, 10 K) + peak at 5 K/min",
                              "peak : temperature = 500 degC"));
    CHECK(named.findings() == "");
    check::Frame frame;
    frame.slots.push_back({type_of(Kind::temperature), 773.15, check::none, {}});
    for (const check::Statement& step : named.steps())
        CHECK(named.value(named.model.targets[step.first_target].target, frame).number.middle() ==
              doctest::Approx(783.15).scale(0).epsilon(1e-12));
}

TEST_CASE("a sum of temperatures is mended where each way of meaning it is the same") {
    const auto mended = [](const std::string& sum) {
        return Checked(recipe_with("ramp to " + sum + " at 5 K/min", "peak : temperature = 600 degC")).mended();
    };
    const auto ramp = [](const std::string& sum) {
        return recipe_with("ramp to " + sum + " at 5 K/min", "peak : temperature = 600 degC");
    };
    CHECK(mended("500 degC + 20 degC") == ramp("500 degC + 20 K"));
    CHECK(mended("peak - 50 degC") == ramp("peak - 50 K"));
    CHECK(mended("500 degC - 20 degC") == ramp("500 degC - 20 K"));
    CHECK(mended("500 degC - 68 degF") == "nothing was offered");
    CHECK(mended("20 degC + peak") == ramp("20 K + peak"));
    CHECK(mended("peak + 5 K + 20 degC") == ramp("peak + 5 K + 20 K"));
    CHECK(mended("20 degC + (500 degC + 5 K)") == ramp("(500 degC + 5 K) + 20 K"));
    // 9 degF is a step of 5 K, not of 9 K. NIST SP 811 appendix B.8: 1 degF = 5/9 K.
    CHECK(mended("peak + 9 degF") == ramp("peak + 5 K"));
}

TEST_CASE("absolute temperatures are neither added nor negated") {
    Checked c(recipe_with("ramp to peak + 50 degC at 5 K/min", "peak : temperature = 600 degC"));
    CHECK(c.findings() == "t.ath:2:9: error: `peak` and `50 degC` are absolute temperatures, which cannot be "
                          "added [absolute_added]\n");
    CHECK(c.remedies() == "a step is a difference: `peak + 50 K`\n");
    Checked both(
        recipe_with("ramp to p + q at 5 K/min", "p : temperature = 600 degC, q : temperature = 20 degC"));
    CHECK(both.findings() ==
          "t.ath:2:9: error: `p` and `q` are absolute temperatures, which cannot be added [absolute_added]\n");
    CHECK(both.remedies() == "make one of them a `difference`\n");
    CHECK(findings_of("ramp to -peak at 5 K/min", "peak : temperature = 600 degC") ==
          "t.ath:2:9: error: `peak` is an absolute temperature, which cannot be negated [absolute_added]\n");
    CHECK(findings_of("cool to -40 degC at 1 K/min") == ""); // the sign belongs to the number
}

TEST_CASE("a bare number where a unit is due names the likely unit") {
    Checked c(recipe_with("ramp to 900 at 5\ndwell 30\nopen argon at 500"));
    CHECK(c.findings() ==
          "t.ath:2:9: error: `900` has no unit; a temperature is due here [missing_unit]\n"
          "t.ath:2:16: error: `5` has no unit; a rate (temperature per time) is due here [missing_unit]\n"
          "t.ath:3:7: error: `30` has no unit; a time is due here [missing_unit]\n"
          "t.ath:4:15: error: `500` has no unit; a flow (amount of gas per time) is due here [missing_unit]\n");
    CHECK(c.remedies() == "perhaps `900 degC`\nperhaps `5 K/min`\nperhaps `30 min`\nperhaps `500 sccm`\n");
    CHECK(c.mended() == "nothing was offered"); // 30 may be seconds: a guess writes nothing
    Checked share(recipe_with("require oxygen < 0.05"));
    CHECK(share.findings() == "t.ath:2:18: error: `0.05` has no unit; a fraction is due here [missing_unit]\n");
    CHECK(share.remedies() == "perhaps `5 %`\n");
    // 10 may be meant as either: nothing is changed by itself.
    Checked either(recipe_with("require oxygen < 10"));
    CHECK(either.remedies() == "perhaps `10 ppm`, or `10 %`\n");
    CHECK(either.mended() == "nothing was offered");
    CHECK(findings_of("ramp to peak + 50 at 5 K/min", "peak : temperature = 600 degC") ==
          "t.ath:2:16: error: `50` has no unit; a difference of temperature is due here [missing_unit]\n");
}

TEST_CASE("a power of ten without its e is told as one, and never mended by itself") {
    Checked c(recipe_with("evacuate to 10-3 mbar"));
    CHECK(c.findings() == "t.ath:2:13: error: `10` of `10-3 mbar` has no unit [missing_unit]\n");
    CHECK(c.remedies() == "a power of ten is written `1e-3`: perhaps `1e-3 mbar`\n");
    CHECK(c.mended() == "nothing was offered");
    for (const char* other : {"10 - 3 mbar", "12-3 mbar", "10-0.5 mbar"}) {
        CAPTURE(other);
        Checked plain(recipe_with(std::string("evacuate to ") + other));
        CHECK(plain.remedies().find("power of ten") == std::string::npos);
        CHECK(plain.findings().find("[missing_unit]") != std::string::npos);
    }
}

TEST_CASE("a gauge's reading at a pump is asked about") {
    for (const char* unit : {"mbar", "Torr", "psi"}) {
        Checked c(recipe_with(std::string("evacuate to 0.2 ") + unit + " gauge"));
        CHECK(c.remedies() ==
              std::string("a pump is stopped at an absolute pressure: is `0.2 ") + unit + "` meant?\n");
        CHECK(c.mended() == "nothing was offered");
    }
    CHECK(Checked(recipe_with("backfill argon to 20 mbar gauge")).mended() ==
          recipe_with("backfill argon to ambient + 20 mbar"));
}

TEST_CASE("another quantity than the place takes is told with both") {
    CHECK(findings_of("ramp to 600 degC over 5 K/min\ndwell 30 K\nramp to 50 K/min at 3 min") ==
          "t.ath:2:23: error: `over` takes a time; `5 K/min` is a rate (temperature per time) [unit_mismatch]\n"
          "t.ath:3:7: error: `dwell` takes a time; `30 K` is a difference of temperature [unit_mismatch]\n"
          "t.ath:4:9: error: `ramp to` takes a temperature; `50 K/min` is a rate (temperature per time) "
          "[unit_mismatch]\n"
          "t.ath:4:21: error: `at` takes a rate (temperature per time); `3 min` is a time [unit_mismatch]\n");
    CHECK(findings_of("dwell 1 h + 5 K") == "t.ath:2:7: error: `1 h` is a time and `5 K` is a difference of "
                                            "temperature: they cannot be added [unit_mismatch]\n");
    CHECK(findings_of("dwell peak * 2", "peak : temperature = 600 degC") ==
          "t.ath:2:7: error: `peak` is a temperature, which cannot be multiplied [unit_mismatch]\n");
    CHECK(findings_of("repeat 50 % times { dwell 1 h }") ==
          "t.ath:2:8: error: `repeat` takes a plain number; `50 %` is a fraction [unit_mismatch]\n");
}

TEST_CASE("an overpressure is no absolute pressure") {
    Checked c(recipe_with("backfill argon to 20 mbar gauge"));
    CHECK(c.findings() == "t.ath:2:19: error: `to` takes an absolute pressure; `20 mbar gauge` is an "
                          "overpressure (gauge) [unit_mismatch]\n");
    CHECK(c.mended() == recipe_with("backfill argon to ambient + 20 mbar"));
    CHECK(findings_of("backfill argon to ambient + 20 mbar gauge")
              .find("`ambient` is an absolute pressure and") != std::string::npos);
    CHECK(findings_of("backfill argon to ambient + 20 mbar") == "");
    CHECK(findings_of("dwell 5 min gauge").find("t.ath:2:13: error: ") == 0);
}

TEST_CASE("flows and volume flows stand where a line's flow is due, and are no each other") {
    CHECK(findings_of("open argon at 500 sccm\nset argon to 1.5 L/min\npurge argon at f for 5 min",
                      "f : volume_flow = 1 L/min") == "");
    CHECK(findings_of("open argon at f", "f : flow = 1 L/min")
              .find("parameter `f` takes a flow (amount of gas per time); `1 L/min` is a volume flow") !=
          std::string::npos);
    CHECK(findings_of("open argon at 5 mbar")
              .find("`at` takes a flow (amount of gas per time); `5 mbar` is an absolute pressure") !=
          std::string::npos);
}

TEST_CASE("dimensions are carried through products") {
    Checked c(recipe_with("ramp to peak at (peak - 600 degC) / 40 min\ndwell (peak - 600 degC) / 5 K/min * 2",
                          "peak : temperature = 950 degC"));
    CHECK(c.findings() == "");
    check::Frame frame;
    frame.slots.push_back({type_of(Kind::temperature), 1223.15, check::none, {}});
    const auto steps = c.steps();
    const check::Value rate = c.value(c.model.clause(steps[0], check::ClauseKind::at)->expr, frame);
    CHECK(rate.type == type_of(Kind::rate));
    CHECK(rate.number.middle() == doctest::Approx(350.0 / 2400).scale(0)); // 350 K in 40 min
    const check::Value time = c.value(steps[1].value, frame);
    CHECK(time.type.kind == Kind::time);
    CHECK(time.number.middle() == doctest::Approx(2 * 70 * 60).scale(0)); // 350 K at 5 K/min, twice
}

TEST_CASE("literals: compound times, signs, dew points, uncertainties") {
    CHECK(value_of("1 h 30 min").number == Interval(5400));
    CHECK(value_of("-1 h 30 min").number == Interval(-5400));
    CHECK(value_of("5 K ± 1 K").number.contains(Interval(4, 6)));
    CHECK(value_of("200 mbar ± 10 %").number.contains(Interval(18000, 22000)));
    CHECK(value_of("200 mbar ± 10 %").number.width() == doctest::Approx(4000).scale(0));
    CHECK(value_of("5 % ± 1 %").number.middle() == doctest::Approx(0.05).scale(0)); // absolute on a fraction
    CHECK(value_of("5 % ± 1 %").number.width() == doctest::Approx(0.02).scale(0));
    CHECK(value_of("900 degC ± 5 K").type == type_of(Kind::temperature));
    CHECK(value_of("yes").type == type_of(Kind::boolean));
    CHECK(Checked("let x = 900 degC ± 1 %\nrecipe r { dwell 1 h }\n")
              .findings()
              .find("a share of an absolute temperature has no meaning") != std::string::npos);
    Checked dew(recipe_with("require dew_point < -40 degC"));
    CHECK(dew.findings() == "");
}

TEST_CASE("an uncertainty has no sign") {
    Checked c(recipe_with("dwell p", "p : time = 5 min ± -1 min"));
    (void)c.value(c.recipe().parameters.at(0).default_value);
    CHECK(c.findings() == "t.ath:1:29: error: an uncertainty of -1 min: it is 0 or more [implausible_value]\n");
    CHECK(value_of("5 K ± 0 K").number == Interval(5));
}

TEST_CASE("a flow and a volume flow are compared at a line's meter only") {
    const std::string refused = "they cannot be compared [unit_mismatch]";
    for (const char* line :
         {"if feed > 30 L/min { dwell 1 h }", "if 30 L/min < feed { dwell 1 h }",
          "if 1 slm > 30 L/min { dwell 1 h }", "if feed > volume { dwell 1 h }", "expect 1 slm > 30 L/min"}) {
        CAPTURE(line);
        Checked c(recipe_with(line, "feed : flow = 1 slm, volume : volume_flow = 1 L/min"));
        CHECK(c.findings().find(refused) != std::string::npos);
        CHECK(c.remedies().find("write both as an amount of gas") != std::string::npos);
    }
    CHECK(findings_of("dwell 1 h\nlet least = min(1 slm, 30 L/min)").find("[unit_mismatch]") !=
          std::string::npos);
    // The meter of the line says what its litres are.
    CHECK(findings_of("require flow of argon > 1 L/min\nexpect 2 L/min > flow of argon\ndwell 1 h") == "");
}

TEST_CASE("a share is no number, and a number no share") {
    const auto refused = [](const std::string& body, const std::string& parameters = "") {
        const std::string found = findings_of(body, parameters);
        CAPTURE(body);
        CAPTURE(parameters);
        CAPTURE(found);
        CHECK((found.find("[unit_mismatch]") != std::string::npos ||
               found.find("[missing_unit]") != std::string::npos));
    };
    refused("purge argon at 2 slm until swept > 5 %");
    refused("require swept > 5 %\ndwell 1 h");
    refused("expect oxygen < 3 volumes");
    refused("dwell 1 h", "lim : fraction = 0.003 volumes");
    refused("dwell 1 h", "lim : fraction in 0 % to 1 volumes = 0 %");
    refused("repeat share times { dwell 1 h }", "share : fraction = 5 %");
    refused("if passes > 5 % { dwell 1 h }", "passes : count = 3");
    refused("let x = 5 % + 3\ndwell 1 h");
    refused("let x = passes - 5 %\ndwell 1 h", "passes : count = 3");
    refused("let x = max(passes, 5 %)\ndwell 1 h", "passes : count = 3");
    CHECK(
        Checked(recipe_with("purge argon at 2 slm until swept > 5 %")).remedies().find("such as `5 volumes`") !=
        std::string::npos);
    // The whole less a share, and a ratio, are what they say.
    CHECK(value_of("1 - 5 %").type == type_of(Kind::fraction));
    CHECK(value_of("1 - 5 %").number.middle() == doctest::Approx(0.95).scale(0));
    CHECK(findings_of(
              "let x : fraction = 3 h / 10 h\nlet n : count = 10 h / 5 h\nrepeat n times { dwell x * 1 h }") ==
          "");
    CHECK(findings_of("if 3 h / soak > 5 % { dwell soak }\nrepeat soak / 1 h times { dwell 1 h }",
                      "soak : time = 2 h") == "");
}

TEST_CASE("below absolute zero there is nothing") {
    CHECK(findings_of("cool to -300 degC") ==
          "t.ath:2:9: error: `-300 degC` is below absolute zero [implausible_value]\n");
}

TEST_CASE("an untyped parameter takes the type of its default, range or list") {
    Checked c("operation o(a = 950 degC, b in 1 h to 2 h, c in [argon, hydrogen], e) { dwell b ; ramp to a at "
              "1 K/min ; open c }\n");
    CHECK(c.findings() == "t.ath:1:68: error: parameter `e` has neither type nor default [value_missing]\n");
    const auto& p =
        c.model.operations[0].name == 0 ? c.model.operations[1].parameters : c.model.operations[0].parameters;
    REQUIRE(p.size() == 4);
    CHECK(p[0].type == type_of(Kind::temperature));
    CHECK(p[1].type == type_of(Kind::time));
    CHECK(p[2].type == type_of(Kind::gas));
    CHECK(findings_of("dwell 1 h", "a : temprature = 900 degC")
              .find("t.ath:1:14: error: no type is called `temprature` [unknown_name]\n") == 0);
}

TEST_CASE("minimum, maximum and magnitude keep their quantity") {
    CHECK(value_of("max(900 degC, 1000 K)").number == Interval(1173.15));
    // Kelvins beside a temperature are one, whichever stands first.
    CHECK(value_of("max(1000 K, 900 degC)").number == Interval(1173.15));
    CHECK(value_of("min(5 K, 20 degC)").number == value_of("min(20 degC, 5 K)").number);
    CHECK(value_of("min(2 h, 90 min, 3 h)").number == Interval(5400));
    CHECK(value_of("abs(-5 K)").number == Interval(5));
    CHECK(findings_of("dwell max(1 h, 5 K)") ==
          "t.ath:2:7: error: function `max` takes values of one quantity, not a time, a difference of "
          "temperature [unit_mismatch]\n");
    CHECK(findings_of("dwell abs(1 h, 2 h)") ==
          "t.ath:2:7: error: function `abs` takes 1 value, not 2 [value_missing]\n");
    CHECK(findings_of("ramp to abs(peak) at 1 K/min", "peak : temperature = 600 degC")
              .find("takes a quantity that is no absolute temperature, not a temperature") !=
          std::string::npos);
    CHECK(findings_of("dwell mix(1 h)").find("t.ath:2:7: error: no function is called `mix` [unknown_name]") ==
          0);
    CHECK(findings_of("dwell inert_purge()")
              .find("`inert_purge` is an operation: it has steps, no value [misplaced]") != std::string::npos);
}

TEST_CASE("kelvins beside degrees in a list: no edit, since either may be meant") {
    Checked c(recipe_with("for t in [473.15 K, 400 degC] { ramp to t at 3 K/min }"));
    CHECK(c.findings() ==
          "t.ath:2:21: error: the list begins with `473.15 K`, a difference, and `400 degC` is a "
          "temperature [unit_mismatch]\n");
    CHECK(c.remedies() == "write all of them as temperatures, in degC, or all as differences, in K\n");
    for (const Diagnostic& d : c.out.all()) CHECK_FALSE(d.edit.has_value());
    // Where a temperature is due, or stands first, both are temperatures.
    CHECK(Checked(recipe_with("for t in [400 degC, 473.15 K] { ramp to t at 3 K/min }")).findings() == "");
}

TEST_CASE("a name for kelvins where a temperature is due: its type is what lacks") {
    const auto advice = [](const std::string& steps) { return Checked(recipe_with(steps)).remedies(); };
    CHECK(advice("let top = 773 K\nramp to top at 3 K/min") ==
          "where it is a temperature, say so where it is declared: `let top : temperature = 773 K`\n");
    CHECK(Checked("let top = 773 K\nrecipe r { ramp to top at 3 K/min }\n").remedies() ==
          "where it is a temperature, say so where it is declared: `let top : temperature = 773 K`\n");
    CHECK(Checked("recipe r(top = 773 K) { ramp to top at 3 K/min }\n").remedies() ==
          "where it is a temperature, say so where it is declared: `top : temperature = 773 K`\n");
    // No name is put into an example that nobody declared.
    CHECK(advice("let wide = (800 degC - 750 degC) * 2\nramp to wide at 3 K/min") ==
          "a difference needs a temperature to start from: `500 degC + wide`\n");
    CHECK(advice("let hot = 800 degC\nlet wide = (hot - 750 degC) * 2\nramp to wide at 3 K/min") ==
          "a difference needs a temperature to start from: `hot + wide`\n");
}

TEST_CASE("a truth is yes or no") {
    Checked c("recipe r(wet : boolean = false) { if wet { dwell 1 h } }\n");
    CHECK(c.findings() == "t.ath:1:26: error: nothing is called `false` [unknown_name]\n");
    CHECK(c.remedies() == "a truth is `yes` or `no`: `no`\n");
    REQUIRE(c.out.all().front().edit);
    CHECK(c.out.all().front().edit->text == "no");
    CHECK(Checked("recipe r(wet : boolean = true) { if wet { dwell 1 h } }\n").remedies() ==
          "a truth is `yes` or `no`: `yes`\n");
}
