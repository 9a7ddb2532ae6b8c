// Recipes, rules of a site and interlocks read one grammar of conditions.
#include "tests/prove/rules.hpp"

using namespace athanor;
using namespace athanor::prove::test;

namespace {

/// The same condition as a requirement of the recipe, on line 3, and as a rule of the site.
void alike(const std::string& condition, const std::string& text, bool holds) {
    CAPTURE(condition);
    auto recipe = steps("require " + condition + "\n" + text);
    REQUIRE_MESSAGE(recipe->done.complete, recipe->all());
    CHECK_MESSAGE(recipe->errors().empty() == holds, recipe->all());
    auto rule = steps("dwell 0 s\n" + text, "rule site_rule { require " + condition + " ; because \"so\" }");
    REQUIRE_MESSAGE(rule->done.complete, rule->all());
    CHECK_MESSAGE(rule->errors().empty() == holds, rule->all());
    CHECK((rule->row("site_rule").verdict == plant::Verdict::proven) == holds);
}

const std::string soaked = "ramp to 300 degC at 5 K/min\ndwell 30 min within 3 K\n";
const std::string fed = "open argon at 1 slm\ndwell 1 h\n";

} // namespace

TEST_CASE("what a recipe may ask a site's rule may ask") {
    alike("temperature > setpoint - 100 K", soaked, true);
    alike("temperature > setpoint - 1 K", soaked, false);
    alike("setpoint - 100 K < temperature", soaked, true);
    alike("temperature < setpoint + 100 K", soaked, true);
    alike("temperature + 100 K > setpoint", soaked, true);
    alike("temperature < 200 degC + 200 K", soaked, true);
    alike("400 degC > temperature", soaked, true);
    alike("250 degC > temperature", soaked, false);
    alike("1 s > 0 s", soaked, true);
    alike("1 s > 2 s", soaked, false);
    alike("not (temperature > 400 degC)", soaked, true);
}

TEST_CASE("signals on both sides, and a difference of two") {
    alike("temperature - setpoint > -100 K", soaked, true);
    alike("temperature - setpoint > -1 K", soaked, false);
    alike("setpoint - temperature < 100 K", soaked, true);
    alike("100 K > setpoint - temperature", soaked, true);
}

TEST_CASE("a volume is one at the line's meter, in a rule and in an interlock as in a recipe") {
    const auto read_at = [](const std::string& rig, const std::string& policy, const std::string& require) {
        return run(
            "use \"rigs.ath\" ; rig read from small { line argon { meter controlled ; flow 0.1 L/min to 5 "
            "L/min at 20 degC, 1 bar } " +
            rig + " } ; policy site { " + policy + " }\nrecipe r on read {\nopen argon at 1 L/min\n" + require +
            "\ndwell 1 h\n}\n");
    };
    for (const auto& [limit, holds] : {std::pair{"0.9 L/min", true}, std::pair{"1.1 L/min", false}}) {
        const std::string asked = std::string("flow of argon > ") + limit;
        CAPTURE(asked);
        auto recipe = read_at("", "", "require " + asked);
        REQUIRE_MESSAGE(recipe->done.complete, recipe->all());
        CHECK_MESSAGE(recipe->errors().empty() == holds, recipe->all());
        auto rule =
            read_at("", "rule site_rule { require " + asked + " while argon is open ; because \"so\" }", "");
        CHECK_MESSAGE(rule->errors().empty() == holds, rule->all());
        auto interlock = read_at(std::string("interlock flow of argon < ") + limit + " closes argon", "", "");
        CHECK_MESSAGE(interlock->errors().empty() == holds, interlock->all());
    }
}

TEST_CASE("what is no condition is told in a rule, too, once") {
    for (const char* condition : {"elapsed + elapsed > 10 s", "elapsed > 10 s - elapsed - burning"}) {
        auto rule =
            steps("dwell 1 h", std::string("rule site_rule { require ") + condition + " ; because \"so\" }");
        CHECK_MESSAGE(rule->only().code == Code::misplaced, rule->all());
    }
    auto c = steps("open oxygen at 0.5 slm\ndwell 1 min",
                   "rule site_rule { require 2 * elapsed > 10 s before opening oxidiser ; because \"so\" }");
    CHECK_MESSAGE(c->first(Code::misplaced).message.find("a condition compares") == 0, c->all());
}

TEST_CASE("an interlock that cannot be read is told, whether it would change anything or not") {
    const std::string warm = "open argon at 1 slm\nramp to 300 degC at 5 K/min\ndwell 1 h\n";
    const auto with = [&](const std::string& condition) {
        return on("interlock " + condition + " closes hydrogen", warm);
    };
    auto factor = with("2 * elapsed > 1 h");
    CHECK_MESSAGE(factor->first(Code::misplaced).message.find("a condition compares") == 0, factor->all());
    CHECK_FALSE(factor->assurance.proven);
    auto zone = with("temperature of left > 500 degC"); // of the rig `three`
    CHECK_MESSAGE(zone->first(Code::unknown_name).message == "rig `special` has no zone `left`", zone->all());
    CHECK(with("elapsed > 1 h")->errors() == "");
}

TEST_CASE("an interlock may watch the difference of two signals") {
    const std::string warm = "open argon at 1 slm\nramp to 300 degC at 5 K/min\ndwell 1 h within 5 K\n";
    const auto acts = [&](const std::string& condition) {
        return on("interlock " + condition + " closes argon", warm)->errors().find("interlock_acts") !=
               std::string::npos;
    };
    CHECK_FALSE(acts("temperature - setpoint > 200 K"));
    CHECK_FALSE(acts("temperature > setpoint + 200 K"));
    CHECK(acts("temperature - setpoint > 1 K"));
    CHECK(acts("setpoint - temperature < 200 K"));
}
