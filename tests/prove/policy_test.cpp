// Rules of a site: every form and every event, broken and kept.
#include "tests/prove/support.hpp"

#include <doctest/doctest.h>

using namespace athanor;
using namespace athanor::prove::test;

namespace {

/// The steps under one rule named `site_rule` on line 1 give exactly these errors.
void gives(std::string_view require, const std::string& text, std::string_view errors,
           std::string_view rig = "small") {
    auto c =
        steps(text, "rule site_rule \"A rule\" { require " + std::string(require) + " ; because \"so\" }", rig);
    CAPTURE(std::string(require));
    CAPTURE(text);
    REQUIRE_MESSAGE(c->done.complete, c->all());
    CHECK_MESSAGE(c->errors() == errors, c->all());
    CHECK(c->assurance.proven == errors.empty());
    CHECK((c->row("site_rule").verdict == plant::Verdict::proven) == errors.empty());
}

const std::string hot = "ramp to 300 degC at 5 K/min\ndwell 30 min within 3 K\n";

} // namespace

TEST_CASE("a site's rule is named in the finding, with its reason and its place") {
    auto c = steps("dwell 1 h", "rule lit { require burner ; because \"it is cold here\" }");
    const Diagnostic& d = c->only();
    CHECK(d.code == Code::policy_rule);
    CHECK(d.rule == "lit");
    CHECK(d.message.find("burner is off") != std::string::npos);
    CHECK(c->files.text(d.span) == "dwell 1 h");
    REQUIRE(d.causes.size() >= 2);
    CHECK(d.causes.front().find("it is cold here") != std::string::npos);
    CHECK(d.causes.back().find("recipe.ath:1") != std::string::npos);
}

TEST_CASE("always") {
    gives("burner", "dwell 1 h\n", "site_rule:3");
    gives("burner", "light burner\ndwell 1 h\n", "");
    gives("burner", "light burner\ndwell 1 h\nshut burner\ndwell 1 s\nlight burner\ndwell 1 h\n",
          "site_rule:6");
    gives("not burner", "light burner\ndwell 1 h\n", "site_rule:4");
}

TEST_CASE("while") {
    std::string_view rule = "oxygen < 1 % while temperature > 300 degC";
    gives(rule, "purge argon at 2 slm until oxygen < 1 %\nramp to 400 degC at 5 K/min\n", "");
    gives(rule, "ramp to 400 degC at 5 K/min\n", "site_rule:3");
    // On a moving ramp the hottest point may stand 18.5 K above the set-point.
    gives(rule, "ramp to 280 degC at 5 K/min\n", "");
    gives(rule, "ramp to 290 degC at 5 K/min\n", "site_rule:3");
}

TEST_CASE("before opening a line") {
    std::string_view rule = "temperature < 200 degC before opening argon";
    gives(rule, "open argon at 2 slm\n" + hot, "");
    gives(rule, hot + "open argon at 2 slm\ndwell 1 min\n", "site_rule:5");
    gives(rule, hot + "switch to argon at 2 slm\ndwell 1 min\n", "site_rule:5");
    gives(rule, hot + "open oxygen at 0.5 slm\ndwell 1 min\n", ""); // another line
    // A line that is open already does not open again.
    gives(rule, "open argon at 2 slm\n" + hot + "set argon to 1 slm\nswitch to argon at 1 slm\ndwell 1 min\n",
          "");
    // It judges the state that earlier actions of the same instant left.
    gives("burner before opening argon", "light burner\nopen argon at 2 slm\ndwell 1 min\n", "");
    gives("burner before opening argon", "open argon at 2 slm\nlight burner\ndwell 1 min\n", "site_rule:3");
}

TEST_CASE("before opening any line that carries a hazard") {
    gives("burner before opening oxidiser", "open oxygen at 0.5 slm\ndwell 1 min\n", "site_rule:3");
    gives("burner before opening oxidiser", "open argon at 0.5 slm\ndwell 1 min\n", "");
    gives("burner before opening inert", "open argon at 0.5 slm\ndwell 1 min\n", "site_rule:3");
}

TEST_CASE("each hazard that a clause names stands for its own lines") {
    const std::string both = "open argon at 2 slm\ndwell 1 min\nopen oxygen at 0.5 slm\ndwell 1 min\n";
    const std::string one = "open oxygen at 0.5 slm\ndwell 1 min\n";
    for (const char* rule :
         {"inert is closed before opening oxidiser", "inert is closed before opening oxygen",
          "inert is closed while oxidiser is open", "oxidiser is closed while inert is open"}) {
        gives(rule, one, "");
        CHECK(
            steps(both, "rule site_rule { require " + std::string(rule) + " ; because \"so\" }")->errors() ==
            (std::string_view(rule).find("before") != std::string_view::npos ? "site_rule:5" : "site_rule:6"));
    }
    gives("inert is open before opening oxidiser", both, "");
    gives("inert is open before opening oxidiser", one, "site_rule:3");
    // Of the event's own hazard it is the line that opens.
    gives("oxidiser is closed before opening oxidiser", both, "");
    // A word without an event asks for one of its lines, or for none, also where the recipe opens none.
    gives("inert is open while temperature > 100 degC", hot, "site_rule:3");
    gives("inert is closed while temperature > 100 degC", hot, "");
    auto c = steps(both, "rule site_rule { require inert is closed before opening oxidiser ; because \"so\" }");
    CHECK(c->only().message == "oxygen opens while argon is open; needed: argon is closed");
}

TEST_CASE("of several lines of a hazard any is open, and all are closed") {
    const auto on_two = [](const std::string& rule, const std::string& text) {
        return run("use \"rigs.ath\" ; rig two from small { line spare { gas nitrogen ; output 6 ; "
                   "de_energised "
                   "closed ; meter controlled ; flow 0.1 slm to 4 slm ; supply 150 mbar gauge } } ; policy "
                   "site "
                   "{ rule site_rule { require " +
                   rule + " ; because \"so\" } }\nrecipe r on two {\n" + text + "}\n")
            ->errors();
    };
    const std::string fed = "open spare at 2 slm\ndwell 1 min\nopen oxygen at 0.5 slm\ndwell 1 min\n";
    CHECK(on_two("inert is open before opening oxidiser", fed) == "");
    CHECK(on_two("inert is closed before opening oxidiser", fed) == "site_rule:5");
    CHECK(on_two("inert is open while oxidiser is open", fed) == "");
    CHECK(on_two("oxidiser is closed while inert is open", fed) == "site_rule:6");
}

TEST_CASE("before an event, only while something holds") {
    const std::string_view rule = "burner while temperature > 200 degC before opening argon";
    gives(rule, "open argon at 2 slm\ndwell 1 min\n", "");
    gives(rule, hot + "open argon at 2 slm\ndwell 1 min\n", "site_rule:5");
    const std::string_view heats = "argon is open while oxygen > 1 % before heating above 250 degC";
    gives(heats, hot, "site_rule:3");
    gives(heats, "purge argon at 2 slm until oxygen < 0.9 %\nclose argon\n" + hot, "");
    const std::string kept = "keep oxygen open at 0.5 slm above 250 degC\n" + hot;
    gives("burner while temperature > 200 degC before opening oxygen", kept, "site_rule:4");
    gives("burner while temperature < 100 degC before opening oxygen", kept, "");
}

TEST_CASE("before closing a line") {
    std::string_view rule = "oxygen < 1 % before closing argon";
    gives(rule, "purge argon at 2 slm until oxygen < 0.9 %\nclose argon\ndwell 1 min\n", "");
    gives(rule, "purge argon at 2 slm until oxygen < 1.1 %\nclose argon\ndwell 1 min\n", "site_rule:4");
    gives(rule, "purge argon at 2 slm until oxygen < 1.1 %\nclose all\ndwell 1 min\n", "site_rule:4");
    gives(rule, "purge argon at 2 slm until oxygen < 1.1 %\nswitch to oxygen at 0.5 slm\ndwell 1 min\n",
          "site_rule:4");
    gives(rule, "purge argon at 2 slm until oxygen < 1.1 %\nclose argon\n", "site_rule:4"); // the last action
}

TEST_CASE("before evacuating") {
    std::string_view rule = "temperature < 200 degC before evacuating";
    gives(rule, "evacuate to 1 mbar\n", "");
    gives(rule, hot + "evacuate to 1 mbar\n", "site_rule:5");
    gives(rule, "evacuate to 1 mbar\n" + hot, "");
}

TEST_CASE("before opening the tube") {
    std::string_view rule = "temperature < 60 degC before opening tube";
    gives(rule, "wait for operator \"Load\" with tube open\n" + hot, "");
    gives(rule, hot + "wait for operator \"Look\" with tube open\n", "site_rule:5");
    gives(rule, hot + "wait for operator \"Look\"\n", "");
}

TEST_CASE("before heating above a temperature") {
    std::string_view rule = "oxygen < 1 % before heating above 300 degC";
    gives(rule, "purge argon at 2 slm until oxygen < 1 %\nramp to 400 degC at 5 K/min\n", "");
    gives(rule, "ramp to 400 degC at 5 K/min\n", "site_rule:3");
    gives(rule, "ramp to 280 degC at 5 K/min\n", "");
    gives(rule, "ramp to 290 degC at 5 K/min\n", "site_rule:3");
    // Coming down through it is no heating.
    gives(rule,
          "purge argon at 2 slm until oxygen < 1 %\nramp to 400 degC at 5 K/min\ndwell 1 h within 3 K\n"
          "switch to oxygen at 0.5 slm\ndwell 1 h within 3 K\ncool to 100 degC\n",
          "");
}

TEST_CASE("heating above a temperature in any zone") {
    std::string_view rule = "oxygen < 1 % before heating above 300 degC";
    for (const char* zone : {"left", "centre", "right"}) {
        CAPTURE(std::string(zone));
        gives(rule, "ramp " + std::string(zone) + " to 400 degC at 5 K/min\n", "site_rule:3", "three");
    }
}

TEST_CASE("heating above a temperature after a jump of the set-point") {
    std::string_view rule = "oxygen < 1 % before heating above 300 degC";
    gives(rule, "step to 400 degC\ndwell 5 h\n", "site_rule:4", "slow");
    gives(rule, "step to 200 degC\ndwell 5 h\n", "", "slow");
}

TEST_CASE("at the start and at the end") {
    gives("temperature < 60 degC before start", hot, "");
    gives("temperature < 20 degC before start", hot,
          "site_rule:1"); // nothing in the recipe: the rule's own place
    // The end has a place of its own in the recipe: its last step or action.
    gives("temperature < 60 degC before end", hot, "site_rule:4");
    gives("temperature < 60 degC before end", hot + "cool to 50 degC\n", "");
    gives("argon is closed before end", "open argon at 2 slm\ndwell 1 min\nclose all\n", "");
    gives("argon is closed before end", "open argon at 2 slm\ndwell 1 min\n", "site_rule:4");
}

TEST_CASE("from an event until a condition") {
    std::string_view rule = "oxygen < 2 % from opening argon until temperature > 250 degC";
    gives(rule, "open argon at 2 slm\ndwell 1 h\n", "site_rule:4");
    gives(rule, hot + "open argon at 2 slm\ndwell 1 h\n", ""); // over as soon as it begins
    std::string_view burning = "burner from opening argon until argon is closed";
    gives(
        burning,
        "dwell 1 min\nlight burner\nopen argon at 2 slm\ndwell 1 min\nclose argon\nshut burner\ndwell 1 min\n",
        "");
    gives(burning, "light burner\nopen argon at 2 slm\ndwell 1 min\nshut burner\ndwell 1 min\nclose argon\n",
          "site_rule:7");
    // The second opening starts it again.
    gives(burning,
          "light burner\nopen argon at 2 slm\ndwell 1 min\nclose argon\nshut burner\ndwell 1 min\n"
          "open argon at 2 slm\ndwell 1 min\nclose argon\n",
          "site_rule:10");
    gives("argon is open from evacuating until pressure < 500 mbar", "evacuate to 1 mbar\n", "site_rule:3");
    gives("burner from start until temperature > 250 degC", hot, "site_rule:3");
    gives("burner from start until temperature > 250 degC",
          "light burner\n" + hot + "shut burner\ndwell 1 min\n", "");
}

TEST_CASE("a standing threshold is judged where it may open its line") {
    std::string text = "keep oxygen open at 0.5 slm above 400 degC\nramp to 600 degC at 5 K/min\n";
    gives("temperature > 500 degC before opening oxygen", text, "site_rule:4");
    gives("temperature > 300 degC before opening oxygen", text, ""); // it never opens below 300 degC
    gives("burner before opening oxygen", text, "site_rule:4");
    gives("burner before opening oxygen", "light burner\n" + text, "");
    // It never opens at all when the step stays far below.
    gives("burner before opening oxygen",
          "keep oxygen open at 0.5 slm above 400 degC\nramp to 200 degC at 5 K/min\n", "");
}

TEST_CASE("a standing threshold that is armed on its open side opens its line at once") {
    const std::string text =
        hot + "repeat 1 times {\nkeep oxygen open at 0.5 slm above 200 degC\ndwell 10 min within 3 "
              "K\n}\n";
    gives("burner before opening oxygen", text, "site_rule:6");
    gives("burner before opening oxygen", "light burner\n" + text, "");
    gives("burner before opening oxidiser", text, "site_rule:6");
    // It closes where it is taken back.
    gives("burner before closing oxygen", text, "site_rule:6");
    // In a tube that is still cold it does neither.
    const std::string cold = "repeat 1 times {\nkeep oxygen open at 0.5 slm above 200 degC\ndwell 10 min\n}\n";
    gives("burner before opening oxygen", cold + "dwell 1 min\n", "");
    gives("burner before closing oxygen", cold + "dwell 1 min\n", "");
}

TEST_CASE("a site's rule about failures is asked of a tube that a person has open, too") {
    const std::string open = "wait for operator \"Load\" with tube open\n",
                      cold = "wait for operator \"Load\"\n";
    gives("burner after abort", open, "site_rule:3");
    gives("burner after abort", cold, "site_rule:3");
    gives("flow of inert > 0 sccm after abort", open + hot, ""); // argon falls open
    gives("burner while temperature > 100 degC after abort", open, "");
    gives("oxygen < 1 % while temperature < 60 degC after abort", open, "site_rule:3");
    // It runs until its condition holds there as well.
    gives("burner after abort until oxygen > 1 %", open, "");
}

TEST_CASE("a standing threshold is judged where it may close its line") {
    const std::string text = "keep oxygen open at 0.5 slm below 400 degC\nramp to 600 degC at 5 K/min\n";
    for (const char* event : {"oxygen", "oxidiser"}) {
        const std::string rule = std::string("burner before closing ") + event;
        gives(rule, text, "site_rule:4");
        gives(rule, "light burner\n" + text, "");
        // Where the step stays far below, it closes at the end of the run.
        gives(rule, "keep oxygen open at 0.5 slm below 400 degC\nramp to 200 degC at 5 K/min\n", "site_rule:3");
    }
}

TEST_CASE("after a failure of power no pump runs") {
    gives("not pump after abort", "evacuate to 1 mbar\n", "");
    gives("pump after abort", "evacuate to 1 mbar\n", "site_rule:3");
}

TEST_CASE("a concession relaxes a standard rule outside the protected groups, and shows") {
    std::string_view standard = "policy house { rule plugs_in_vacuum \"Evacuate cold\" { require temperature < "
                                "200 degC before evacuating } }";
    // A rule of the standard policy bears a diagnostic's name; this one's group may be conceded.
    std::string text = hot + "evacuate to 1 mbar";
    auto strict = steps(text, {}, "small", standard);
    CHECK_MESSAGE(strict->errors() == "plugs_in_vacuum:5", strict->all());
    CHECK_FALSE(strict->assurance.proven);
    CHECK(strict->assurance.concessions.empty());
    auto relaxed = steps(text, "concession plugs_in_vacuum because \"short tube\" approved \"safety office\"",
                         "small", standard);
    CHECK_MESSAGE(relaxed->errors().empty(), relaxed->all());
    CHECK(relaxed->assurance.proven);
    REQUIRE(relaxed->assurance.concessions.size() == 1);
    const std::string& line = relaxed->assurance.concessions[0];
    for (const char* part : {"plugs_in_vacuum", "short tube", "safety office"})
        CHECK(line.find(part) != std::string::npos);
    // The row still tells the truth.
    CHECK(relaxed->row("plugs_in_vacuum").verdict != plant::Verdict::proven);
    CHECK(relaxed->row("plugs_in_vacuum").outcome() == prove::Outcome::conceded);
    // It relaxes no other rule.
    auto other = steps(hot + "evacuate to 1 mbar",
                       "concession plugs_in_vacuum because \"a\" approved \"b\" ; "
                       "rule lit { require burner before evacuating }",
                       "small", standard);
    CHECK_MESSAGE(other->errors() == "lit:5", other->all());
}

TEST_CASE("rules about flammable gas are never conceded") {
    auto c = steps("dwell 1 h", "concession burner_off because \"a\" approved \"b\"");
    CHECK(c->errors() == "misplaced:1");
    CHECK_FALSE(c->done.complete);
}

TEST_CASE("a rule about a gas that the rig has not is silent") {
    auto c = run("use \"rigs.ath\" ; policy site { rule a { require burner before opening toxic } }\n"
                 "recipe r on small { open argon at 1 slm ; dwell 1 h }\n");
    CHECK_MESSAGE(c->errors().empty(), c->all());
    CHECK_FALSE(c->row("a").applied);
}

TEST_CASE("what a rig does not have is not in its tube: a site's clause that names it still holds") {
    const std::string fed = "open argon at 2 slm\n" + hot;
    for (const char* rule :
         {"argon is open or nitrogen is open while temperature > 100 degC",
          "flow of argon > 1 slm or flow of nitrogen > 1 slm while temperature > 100 degC"}) {
        gives(rule, hot, "site_rule:3");
        gives(rule, fed, "");
    }
    gives("nitrogen is open while temperature > 100 degC", fed, "site_rule:4");
    gives("1 slm < flow of nitrogen while temperature > 100 degC", fed, "site_rule:4");
    gives("flow of argon > flow of nitrogen while temperature > 100 degC", fed, "");
    gives("oxygen < 1 % or carbon_monoxide > 20 ppm", hot, "site_rule:3");
    gives("carbon_monoxide < 20 ppm", hot, "");
    gives("oxygen < 1 % while nitrogen is closed", hot, "site_rule:3");
    gives("oxygen < 1 % while nitrogen is open", hot, "");
    auto c = steps(hot, "rule fed { require nitrogen is open while temperature > 100 degC ; because \"so\" }");
    CHECK(c->only().message == "this rig has no `nitrogen`; needed: nitrogen is open");
}

TEST_CASE("a site's clause names a line by its gas, as a recipe does") {
    auto on_cover = [](const std::string& gas, const std::string& require, const std::string& text,
                       const std::string& more = "") {
        return run("use \"rigs.ath\" ; gas argon_grade_48 = 3 ppm oxygen + 5 ppm water + rest argon ; gas "
                   "oxygen_grade = 0.5 % nitrogen + rest oxygen ; rig cover "
                   "from small { without line argon ; line shield { gas " +
                   gas +
                   " ; output 1 ; de_energised closed ; meter controlled ; flow 0.1 slm to 4 slm ; supply 150 "
                   "mbar gauge } " +
                   more + " } ; policy site { rule site_rule { require " + require +
                   " ; because \"so\" } }\nrecipe r on cover {\n" + text + "}\n");
    };
    const std::string fed = "open shield at 2 slm\n" + hot;
    for (const char* gas : {"argon", "argon_grade_48"})
        for (const char* rule : {"argon is open while temperature > 100 degC",
                                 "flow of argon > 1 slm while temperature > 100 degC"}) {
            CAPTURE(std::string(gas));
            CHECK_MESSAGE(on_cover(gas, rule, hot)->errors() == "site_rule:3", on_cover(gas, rule, hot)->all());
            CHECK_MESSAGE(on_cover(gas, rule, fed)->errors() == "", on_cover(gas, rule, fed)->all());
        }
    CHECK(on_cover("argon_grade_48", "burner before opening argon", fed)->errors() == "site_rule:3");
    // A grade of oxygen is oxygen.
    CHECK(on_cover("oxygen_grade", "oxygen is closed while temperature > 100 degC", fed, "without line oxygen")
              ->errors()
              .find("site_rule:") != std::string::npos);
    // Air is mostly nitrogen and no nitrogen.
    CHECK(on_cover("air", "nitrogen is open while temperature > 100 degC", fed)->errors() == "site_rule:4");
    // Of two that carry the gas none is meant by it, in an event either.
    auto event = on_cover("argon", "burner before opening argon", fed,
                          "line spare { gas argon ; output 6 ; de_energised closed ; meter controlled ; flow "
                          "0.1 slm to 4 slm ; supply 150 mbar gauge }");
    CHECK_MESSAGE(event->only().message ==
                      "`argon` could be any of the lines `shield`, `spare` of rig `cover`: name the line",
                  event->all());
    auto two = on_cover("argon", "argon is open while temperature > 100 degC", fed,
                        "line spare { gas argon ; output 6 ; de_energised closed ; meter controlled ; flow 0.1 "
                        "slm to 4 slm ; supply 150 mbar gauge }");
    CHECK_MESSAGE(two->only().message ==
                      "`argon` could be any of the lines `shield`, `spare` of rig `cover`: name the line",
                  two->all());
}
