#include "recipes_support.hpp"

using namespace athanor;
using check::ClauseKind;
using check::StatementKind;

TEST_CASE("every kind of statement is lowered with its parts") {
    Checked c(recipe_with(R"(ramp to 900 degC at 5 K/min within 3 K
ramp to 900 degC over 2 h
heat to 900 degC
cool to 80 degC
step to 90 degC
dwell 1 h within 5 K
dwell until oxygen < 10 ppm at most 2 h
purge argon at 1 slm for 5 volumes
purge argon at 1 slm for 5 min
evacuate to 1 mbar at most 1 h
backfill argon at 1 slm to ambient + 20 mbar
repeat 3 times as i { dwell i * 1 min }
repeat until operator accepts "grey" at most 5 times { dwell 1 h }
for t in [600 degC, 550 degC] { ramp to t at 1 K/min }
if soak > 1 h { dwell 1 h } else if soak > 30 min { dwell 2 h } else { dwell 3 h }
wait for operator "load" with tube open
quench in water
let x = 5 min
dwell x
open argon at 1 slm
close argon, hydrogen
close all
set argon to 2 slm
switch to hydrogen at 1 slm
blend 5 % hydrogen + rest argon at 200 sccm
light burner
shut burner
start pump
stop pump
note "hot"
regulate pressure to 5 mbar
humidify argon at 50 degC
move sample to hot
keep carbon_dioxide open at 0.4 slm above 650 degC
require oxygen < 10 ppm while temperature > 200 degC
expect oxygen < 20 ppm
run "second" { dwell 1 h })",
                          "soak : time = 2 h"));
    REQUIRE(c.findings() == "");
    CHECK_FALSE(c.recipe().broken);
    const auto s = c.steps();
    using K = StatementKind;
    const K kinds[] = {K::ramp,         K::ramp,     K::heat,    K::cool,       K::step_to,   K::dwell,
                       K::dwell,        K::purge,    K::purge,   K::evacuate,   K::backfill,  K::repeat,
                       K::repeat_until, K::for_each, K::if_else, K::wait,       K::quench,    K::let,
                       K::dwell,        K::open,     K::close,   K::close_all,  K::set,       K::switch_to,
                       K::blend,        K::light,    K::shut,    K::start_pump, K::stop_pump, K::note,
                       K::regulate,     K::humidify, K::move,    K::keep,       K::require,   K::expect,
                       K::run};
    REQUIRE(s.size() == std::size(kinds));
    for (std::size_t i = 0; i < s.size(); ++i) CHECK(s[i].kind == kinds[i]);

    const auto& m = c.model;
    const auto clause = [&](std::size_t i, ClauseKind kind) -> double {
        const check::Clause* found = m.clause(s[i], kind);
        REQUIRE(found != nullptr);
        return c.number(found->expr);
    };
    CHECK(clause(0, ClauseKind::at) == doctest::Approx(5.0 / 60).scale(0));
    CHECK(clause(0, ClauseKind::within) == 3);
    CHECK(clause(1, ClauseKind::over) == 7200);
    CHECK(m.clause(s[1], ClauseKind::at) == nullptr);
    CHECK(c.number(m.targets[s[2].first_target].target) == doctest::Approx(1173.15).scale(0));
    CHECK(c.number(s[5].value) == 3600);
    CHECK(m.clause(s[6], ClauseKind::until) != nullptr);
    CHECK(clause(6, ClauseKind::at_most) == 7200);
    CHECK(clause(7, ClauseKind::volumes) == 5);
    CHECK(clause(8, ClauseKind::duration) == 300);
    CHECK(m.names[m.names_used[s[8].first_name].name] == "argon");
    CHECK(c.number(s[9].value) == 100);
    CHECK(m.clause(s[10], ClauseKind::to) != nullptr);
    CHECK(c.number(s[11].value) == 3);
    CHECK(s[11].slot == 1); // behind the parameter
    CHECK(c.steps(s[11].body).size() == 1);
    CHECK(m.texts[s[12].text] == "grey");
    CHECK(c.number(s[12].value) == 5);
    CHECK(c.value(s[13].value).list.size() == 2);
    CHECK(s[14].otherwise != 0);
    CHECK(m.statements[s[14].otherwise].kind == K::if_else);
    CHECK(m.texts[s[15].text] == "load");
    CHECK(s[15].flag);
    CHECK(m.texts[s[16].text] == "water");
    CHECK(s[20].names == 2);
    CHECK(c.number(s[22].value) > 0);
    REQUIRE(s[24].targets == 2);
    CHECK(c.number(m.blend_parts[s[24].first_target].share) == doctest::Approx(0.05).scale(0));
    CHECK(m.blend_parts[s[24].first_target + 1].share == 0);
    CHECK(m.texts[s[29].text] == "hot");
    CHECK(s[33].flag);
    CHECK(s[33].above);
    CHECK(c.number(s[33].value) == doctest::Approx(923.15).scale(0));
    CHECK(m.clause(s[34], ClauseKind::guard) != nullptr);
    CHECK(m.texts[s[36].text] == "second");
    // Slots: the parameter, i, t, x.
    CHECK(c.recipe().slots == 4);
}

TEST_CASE("a statement's own text ends before its block") {
    Checked c(recipe_with("ramp to 900 degC at 5 K/min {\n    at 400 degC open argon at 1 slm\n}"));
    CHECK(c.findings() == "");
    CHECK(c.files.text(c.steps()[0].span) == "ramp to 900 degC at 5 K/min");
}

TEST_CASE("actions are placed inside a step") {
    Checked c("operation gas_on() { open argon at 1 slm ; note \"on\" }\n" +
              recipe_with("ramp to 900 degC at 5 K/min {\nat 400 degC open argon at 1 slm\nafter 20 min close "
                          "oxygen\nat 500 degC gas_on()\n}"));
    REQUIRE(c.findings() == "");
    const auto inside = c.steps(c.steps()[0].body);
    REQUIRE(inside.size() == 3);
    CHECK(inside[0].kind == StatementKind::at_action);
    CHECK(c.model.statements[inside[0].body].kind == StatementKind::open);
    CHECK(inside[1].kind == StatementKind::after_action);
    CHECK(c.number(inside[1].value) == 1200);
    CHECK(c.model.statements[inside[2].body].kind == StatementKind::call);
}

TEST_CASE("statements where they have no meaning") {
    CHECK(findings_of("at 400 degC open argon at 1 slm") ==
          "t.ath:2:1: error: `at` places an action inside a step [misplaced]\n");
    CHECK(findings_of(
              "dwell 1 h {\nopen argon at 1 slm\ndwell 1 h\nkeep argon open at 1 slm above 400 degC\n}") ==
          "t.ath:3:1: error: an action inside a step needs its place in it [misplaced]\n"
          "t.ath:4:1: error: a step's block holds only actions with their place [misplaced]\n"
          "t.ath:5:1: error: a step's block holds only actions with their place [misplaced]\n");
    CHECK(
        findings_of("run \"a\" {\nrun \"b\" { dwell 1 h }\n}\nrepeat 2 times {\nrun \"c\" { dwell 1 h }\n}") ==
        "t.ath:3:1: error: a run inside another block [misplaced]\n"
        "t.ath:6:1: error: a run inside another block [misplaced]\n");
    CHECK(Checked("operation o() { run \"a\" { dwell 1 h } }\nrecipe r { o() }\n").findings() ==
          "t.ath:1:17: error: a run inside an operation [misplaced]\n");
    CHECK(findings_of("repeat 2 times {\ndefaults { heating 5 K/min }\nload { evolves carbon_monoxide 0 sccm "
                      "to 800 sccm }\n}") ==
          "t.ath:3:1: error: `defaults` belongs to a whole recipe [misplaced]\n"
          "t.ath:4:1: error: `load` belongs to a whole recipe [misplaced]\n");
    CHECK(Checked("operation o() { dwell 1 h }\n" + recipe_with("dwell 2 h {\nafter 1 h o()\n}")).findings() ==
          "t.ath:4:11: error: `o` has steps, which take time; inside a step only actions are placed "
          "[misplaced]\n");
}

TEST_CASE("clauses that exclude each other") {
    CHECK(findings_of("ramp to 900 degC at 5 K/min over 1 h") ==
          "t.ath:2:29: error: a ramp has a rate or a time, not both [misplaced]\n");
    CHECK(findings_of("purge argon at 1 slm for 5 min until oxygen < 10 ppm") ==
          "t.ath:2:32: error: a purge ends in one way only [misplaced]\n");
    CHECK(findings_of("purge argon at 1 slm for 5 min at most 1 h") ==
          "t.ath:2:32: error: `at most` limits a purge that waits for a condition [misplaced]\n");
    CHECK(findings_of("dwell until oxygen < 1 % within 5 K") ==
          "t.ath:2:26: error: a dwell that waits for a condition counts no time, so it has no soak band "
          "[misplaced]\n");
    CHECK(findings_of("cool to 80 degC within 5 K") ==
          "t.ath:2:17: error: natural cooling follows no set-point, so it has no soak band [misplaced]\n");
    CHECK(findings_of("step to 80 degC within 5 K") ==
          "t.ath:2:17: error: `step to` takes no time, so it has no soak band [misplaced]\n");
    CHECK(findings_of("ramp left to 80 degC, left to 90 degC at 1 K/min") ==
          "t.ath:2:23: error: two set-points for zone `left` in one step [misplaced]\n");
    CHECK(findings_of("ramp left to 80 degC, to 90 degC at 1 K/min").find("[misplaced]") != std::string::npos);
    CHECK(findings_of("blend rest hydrogen + rest argon at 200 sccm") ==
          "t.ath:2:23: error: two parts of one blend are its `rest` [misplaced]\n");
}

TEST_CASE("defaults of a recipe are typed and kept beside its steps") {
    Checked c(recipe_with("ramp to 900 degC\ndefaults {\nheating 5 K/min\ncooling natural\npurge argon at 1 "
                          "L/min\nflow hydrogen 0.5 slm\ndwell 1 h\n}\ndwell within 5 K"));
    REQUIRE(c.findings() == "");
    const check::Defaults& d = c.recipe().defaults;
    CHECK(c.number(d.heating) == doctest::Approx(5.0 / 60).scale(0));
    CHECK(d.natural_cooling);
    CHECK(c.model.names[d.purge_line.name] == "argon");
    CHECK(c.value(d.purge_flow).type.kind == Kind::volume_flow);
    REQUIRE(d.flows.size() == 1);
    CHECK(c.model.names[d.flows[0].first.name] == "hydrogen");
    CHECK(c.number(d.soak) == 3600);
    CHECK(findings_of(
              "defaults {\nheatin 5 K/min\nheating 5 K\ncooling quick\n}\ndefaults { dwell 1 h }\ndwell 1 h") ==
          "t.ath:3:1: error: no default is called `heatin` [unknown_property]\n"
          "t.ath:4:9: error: default `heating` takes a rate (temperature per time); `5 K` is a difference of "
          "temperature [unit_mismatch]\n"
          "t.ath:5:1: error: default `cooling` has another shape [unknown_property]\n"
          "t.ath:7:1: error: a second `defaults` block in one recipe [duplicate_name]\n");
}

TEST_CASE("a default is given once") {
    CHECK(
        findings_of("defaults {\nheating 5 K/min ; heating 2 K/min\ncooling natural ; cooling 1 K/min\ndwell 1 "
                    "h ; dwell 2 h\npurge argon ; purge argon at 1 slm\nflow argon 1 slm ; flow argon 2 slm\n"
                    "}\ndwell") == "t.ath:3:19: error: default `heating` is given twice [duplicate_name]\n"
                                   "t.ath:4:19: error: default `cooling` is given twice [duplicate_name]\n"
                                   "t.ath:5:13: error: default `dwell` is given twice [duplicate_name]\n"
                                   "t.ath:6:15: error: default `purge` is given twice [duplicate_name]\n"
                                   "t.ath:7:20: error: default `flow argon` is given twice [duplicate_name]\n");
    CHECK(findings_of("defaults { flow argon 1 slm ; flow hydrogen 2 slm }\ndwell 1 h").empty());
}

TEST_CASE("what a load gives off") {
    Checked c(recipe_with("load {\nevolves carbon_monoxide 0 sccm to 800 sccm while carbon_dioxide is open "
                          "above 650 degC\nevolves water 10 sccm\n}\ndwell 1 h"));
    REQUIRE(c.findings() == "");
    REQUIRE(c.recipe().evolves.size() == 2);
    const auto& first = c.recipe().evolves[0];
    CHECK(c.model.gases[first.gas].name == "carbon_monoxide");
    CHECK(first.flow.lo == 0);
    // 800 sccm at 0 degC and 101.325 kPa (SEMI E12): 800 * 7.43584e-7 mol/s.
    CHECK(first.flow.hi == doctest::Approx(800 * 7.43584e-7).scale(0).epsilon(1e-5));
    CHECK(c.model.names[first.while_open.name] == "carbon_dioxide");
    CHECK(first.above == doctest::Approx(923.15).scale(0));
    CHECK(c.recipe().evolves[1].while_open.name == 0);
    CHECK(findings_of("load { evolves smoke 5 sccm }\ndwell 1 h") ==
          "t.ath:2:16: error: no gas is called `smoke` [unknown_name]\n");
    CHECK(findings_of("load { evolves water 5 K }\ndwell 1 h").find("`evolves` takes a flow") !=
          std::string::npos);
    CHECK(findings_of("load { evolves water 0 sccm to -5 sccm }\ndwell 1 h")
              .find("t.ath:2:32: error: -5 sccm of gas cannot come off a load") != std::string::npos);
    CHECK(findings_of("load { evolves water 0 sccm to 5 sccm }\ndwell 1 h") == "");
    CHECK(findings_of("load { evolves water above 300 degC }\ndwell 1 h")
              .find("`evolves` has another shape [unknown_property]") != std::string::npos);
}

TEST_CASE("the lines behind a step's block without its brace are no second error") {
    const std::string step = "    ramp to 700 degC at 5 K/min {\n        at 300 degC open argon\n";
    CHECK(findings_of(step + "    dwell 1 h\n    close argon") ==
          "t.ath:2:33: error: this block has no closing `}` [syntax]\n");
    // With the brace in a wrong place they are.
    CHECK(findings_of(step + "dwell 1 h\n}") ==
          "t.ath:4:1: error: a step's block holds only actions with their place [misplaced]\n");
}

TEST_CASE("values that look like slips of the pen are warnings with the likely value") {
    Checked c(recipe_with(
        "ramp to 10500 degC at 473 K/min\ndwell 90 d\nevacuate to 20 Torr\nramp to 900 degC at 20 K/s"));
    CHECK(c.findings() ==
          "t.ath:2:9: warning: `10500 degC` is hotter than any furnace: a digit too many? [implausible_value]\n"
          "t.ath:2:23: warning: `473 K/min` is faster than furnaces heat: per hour? [implausible_value]\n"
          "t.ath:3:7: warning: `90 d` is longer than any run: a smaller unit? [implausible_value]\n"
          "t.ath:4:13: warning: `20 Torr` is hardly a vacuum: mTorr? [implausible_value]\n");
    CHECK(c.remedies() == "perhaps `1050 degC`\nperhaps `473 K/h`\nperhaps `90 h`\nperhaps `20 mTorr`\n");
    CHECK_FALSE(c.recipe().broken);
    // The nearest values that pass.
    CHECK(findings_of(
              "ramp to 2999 degC at 100 K/min\ndwell 60 d\nevacuate to 9.9 Torr\nevacuate to 100 mbar") == "");
}

TEST_CASE("a rate that was put into kelvins like a temperature is a likely slip, and an ordinary one is not") {
    Checked c(recipe_with("ramp to 600 degC at 473 K/h\nramp to 700 degC at 323.15 K/h"));
    CHECK(
        c.findings() ==
        "t.ath:2:21: warning: `473 K/h` is 200 K/h with the 273 of a temperature in kelvins added: a step of 1 "
        "degC is one of 1 K [implausible_value]\n"
        "t.ath:3:21: warning: `323.15 K/h` is 50 K/h with the 273 of a temperature in kelvins added: a step of "
        "1 "
        "degC is one of 1 K [implausible_value]\n");
    CHECK(c.remedies() == "perhaps `200 K/h`\nperhaps `50 K/h`\n");
    CHECK_FALSE(c.recipe().broken);
    for (const char* rate : {"273 K/h", "275 K/h", "280 K/h", "300 K/h", "360 K/h", "450 K/h", "475 K/h",
                             "473 degC/h", "73 K/h", "13 K/h", "600 K/h"})
        CHECK_MESSAGE(findings_of(std::string("ramp to 600 degC at ") + rate) == "", rate);
}

TEST_CASE("a recipe keeps its title and its documentation") {
    Checked c("# not this\n## Sinters discs.\n## Twice.\nrecipe r \"Discs\" { dwell 1 h }\n## of "
              "nothing\n\n\nrecipe s { dwell 1 h }\n");
    CHECK(c.recipe().title == "Discs");
    CHECK(c.recipe().documentation == "Sinters discs.\nTwice.");
    CHECK(c.model.recipes[1].documentation == "");
}

TEST_CASE("a broken statement breaks its recipe and nothing else") {
    Checked c("recipe a {\n    let x = = 5\n    dwell x\n}\nrecipe b { dwell 1 h }\n");
    CHECK(c.out.errors() == 1);
    CHECK(c.model.recipes[0].broken);
    CHECK_FALSE(c.model.recipes[1].broken);
}
