#include "recipes_support.hpp"

using namespace athanor;
using check::Op;
using timeline::SignalKind;

namespace {

/// The expression of `require TEXT` in a recipe with a parameter of type gas.
struct Required {
    Checked c;
    const check::Expr& root;
    explicit Required(const std::string& text)
        : c(recipe_with("require " + text, "cover : gas in [argon, hydrogen] = argon")),
          root(c.model.exprs[c.steps().at(0).value]) {}
    const check::Expr& at(check::ExprId id) const { return c.model.exprs[id]; }
};

} // namespace

TEST_CASE("signals have the type of what they are compared with") {
    CHECK(
        findings_of(
            "require temperature > 250 degC and setpoint < 1000 K\nrequire pressure < 1 mbar or pump\n"
            "require flow > 100 sccm while swept > 5 volumes\nrequire flammability < 25 % while elapsed > 1 h\n"
            "require not burner while dew_point > -40 degC\nrequire 760 degC < temperature\nrequire flow of "
            "argon > 1 L/min") == "");
    CHECK(findings_of("require temperature > 5 K/min") ==
          "t.ath:2:9: error: `temperature` is a temperature and `5 K/min` is a rate (temperature per time): "
          "they cannot be compared [unit_mismatch]\n");
    CHECK(findings_of("require oxygen < 5 mbar") ==
          "t.ath:2:9: error: `oxygen` is a fraction and `5 mbar` is an absolute pressure: they cannot be "
          "compared [unit_mismatch]\n");
    CHECK(findings_of("require swept > 5 %") ==
          "t.ath:2:9: error: `swept` is a plain number and `5 %` is a fraction: "
          "they cannot be compared [unit_mismatch]\n");
    CHECK(findings_of("require burner > 5 K").find("cannot be compared") != std::string::npos);
}

TEST_CASE("a kelvin literal beside a temperature is one") {
    const Required r("temperature > 500 K");
    CHECK(r.at(r.root.b).type == type_of(Kind::temperature));
    CHECK(r.at(r.root.b).value == Interval(500));
}

TEST_CASE("a gas is its fraction in a condition, and itself where a gas is due") {
    const Required r("oxygen < 10 ppm");
    CHECK(r.root.op == Op::less);
    CHECK(r.at(r.root.a).op == Op::signal);
    CHECK(r.at(r.root.a).signal == SignalKind::fraction);
    CHECK(r.c.model.names[r.at(r.root.a).name] == "oxygen");
    CHECK(r.at(r.root.b).value.middle() == doctest::Approx(1e-5).scale(0));

    const Required own("cover < 1 %");
    CHECK(own.c.findings() == "");
    CHECK(own.at(own.root.a).signal == SignalKind::fraction);
    CHECK(own.at(own.root.a).index == 0); // the slot of the parameter

    const Required same("cover is hydrogen");
    CHECK(same.root.op == Op::equal);
    CHECK(same.at(same.root.a).op == Op::slot);
    CHECK(same.at(same.root.b).op == Op::gas);
}

TEST_CASE("one thing is read with `of`, and lines are open or closed") {
    const Required load("temperature of load > 300 degC");
    CHECK(load.at(load.root.a).signal == SignalKind::load_temperature);
    const Required zone("temperature of left > 300 degC"); // no rig here, so any zone may be meant
    CHECK(zone.at(zone.root.a).signal == SignalKind::zone_temperature);
    CHECK(zone.c.model.names[zone.at(zone.root.a).name] == "left");
    const Required open("argon is open");
    CHECK(open.root.op == Op::signal);
    CHECK(open.root.signal == SignalKind::line_open);
    const Required closed("cover is closed");
    CHECK(closed.root.op == Op::not_);
    CHECK(closed.at(closed.root.a).signal == SignalKind::line_open);
    CHECK(closed.at(closed.root.a).index == 0);
    CHECK(findings_of("require colour of load > 1 h") ==
          "t.ath:2:9: error: nothing has a property `colour` [unknown_name]\n");
    CHECK(findings_of("require burner is open") ==
          "t.ath:2:9: error: `burner` is no line: it is a condition by itself [unit_mismatch]\n");
    CHECK(findings_of("require argon is shut").find("a line is `open` or `closed` [unknown_name]") !=
          std::string::npos);
}

TEST_CASE("a quantity is no condition") {
    Checked c(recipe_with("require oxygen\nexpect 5 min\nrequire burner and 5 K"));
    CHECK(c.findings() ==
          "t.ath:2:9: error: `require` takes a condition; `oxygen` is a fraction [unit_mismatch]\n"
          "t.ath:3:8: error: `expect` takes a condition; `5 min` is a time [unit_mismatch]\n"
          "t.ath:4:20: error: `and` takes a condition; `5 K` is a difference of temperature [unit_mismatch]\n");
    CHECK(c.remedies() == "compare it: `oxygen < 10 ppm`\n");
}

TEST_CASE("what is decided before the run reads no signals") {
    CHECK(findings_of("if oxygen < 5 % { dwell 1 h }\nrepeat swept times { dwell 1 h }\nfor t in [elapsed] { "
                      "dwell t }\nif argon is open { dwell 1 h }\ndwell elapsed") ==
          "t.ath:2:4: error: `oxygen` is known only while the recipe runs; a choice made before the run "
          "depends on parameters only [misplaced]\n"
          "t.ath:3:8: error: `swept` is known only while the recipe runs; this value depends on parameters "
          "only [misplaced]\n"
          "t.ath:4:11: error: `elapsed` is known only while the recipe runs; this value depends on parameters "
          "only [misplaced]\n"
          "t.ath:5:4: error: `argon is open` is known only while the recipe runs; this value depends on "
          "parameters only [misplaced]\n"
          "t.ath:6:7: error: `elapsed` is known only while the recipe runs; this value depends on parameters "
          "only [misplaced]\n");
    CHECK(findings_of("if soak > 1 h and not (cover is argon) { dwell soak } else { dwell 1 h }",
                      "soak : time = 2 h, cover : gas = argon") == "");
}

TEST_CASE("hazard words and safety temperatures belong to policies") {
    CHECK(findings_of("require flammable is closed").find("no line and no gas is called `flammable`") !=
          std::string::npos);
    CHECK(findings_of("require temperature > safety_temperature of flammable")
              .find("belongs to the rules of a policy") != std::string::npos);
}

TEST_CASE("gases are compared with `is`") {
    CHECK(findings_of("if cover < argon { dwell 1 h }", "cover : gas = argon") ==
          "t.ath:2:4: error: gases are compared with `is`, not with `<` [unit_mismatch]\n");
    CHECK(findings_of("if cover is 5 % { dwell 1 h }", "cover : gas = argon")
              .find("`is` compares two gases, texts, counts or yes and no") != std::string::npos);
}

TEST_CASE("what the parser reported is not told again") {
    const std::string text =
        findings_of("require oxygen < 10 ppn\ndwell 5 minuts\nramp to 900 degC at 5 K/mim");
    CHECK(std::count(text.begin(), text.end(), '\n') == 3);
    CHECK(text.find("unit_mismatch") == std::string::npos);
}
