// What a rig, a load and a step may have at most.
#include "tests/elaborate/support.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>

using namespace athanor;
using namespace athanor::elaborate::test;

TEST_CASE("`at most` no time is refused, and not taken for no limit") {
    for (const char* step :
         {"dwell until oxygen < 1 % at most 0 s", "purge argon at 1 L/min until oxygen < 1 % at most 0 min",
          "open argon at 1 L/min\ndwell until oxygen < 1 % at most 1 h - 60 min"}) {
        auto c = steps(step);
        CHECK_MESSAGE(c->errors() == "misplaced", step, "\n", c->all());
        const std::string_view text(step);
        if (const Diagnostic* d = c->first(Code::misplaced))
            CHECK(c->files.text(d->span) == text.substr(text.find("at most") + 8));
    }
    auto evacuated = steps("evacuate to 1 mbar at most 0 s", "shields");
    CHECK_MESSAGE(evacuated->errors() == "misplaced", evacuated->all());
    CHECK(steps("dwell until oxygen < 1 % at most -1 s")->errors() == "misplaced");
    auto fine = steps("purge argon at 1 L/min until oxygen < 1 % at most 3 h");
    CHECK_MESSAGE(fine->done.complete, fine->all());
}

TEST_CASE("more gas lines than the model of a rig has") {
    const auto with = [](int more) { // the rig has three
        std::string lines;
        for (int i = 0; i < more; ++i)
            lines += fmt::format("line spare{} {{ gas argon ; meter hand ; flow 0.1 slm to 1 slm ; supply 150 "
                                 "mbar gauge }}\n",
                                 i);
        return run("use \"rigs.ath\"\nrig many from bench {\n" + lines +
                   "}\nrecipe r on many {\ndwell 1 min\n}\n");
    };
    auto most = with(29);
    CHECK_MESSAGE(most->done.complete, most->all());
    auto more = with(30);
    CHECK_MESSAGE(more->errors() == "too_large", more->all());
    const Diagnostic* d = more->first(Code::too_large);
    REQUIRE(d != nullptr);
    CHECK_MESSAGE(d->message.find("33 gas lines") != std::string::npos, d->message);
}

TEST_CASE("more gases that a load gives off than the model follows are told once") {
    const auto with = [](int gases) {
        std::string load;
        for (int i = 0; i < gases; ++i) load += fmt::format("evolves water 0 sccm to {} sccm\n", i + 1);
        return steps("load {\n" + load + "}\nopen argon at 1 L/min\ndwell 1 min");
    };
    auto most = with(8);
    CHECK_MESSAGE(most->done.complete, most->all());
    auto more = with(11);
    CHECK_MESSAGE(more->errors() == "too_large", more->all());
    CHECK(std::count_if(more->out.all().begin(), more->out.all().end(),
                        [](const Diagnostic& d) { return d.code == Code::too_large; }) == 1);
}

TEST_CASE("only what can apply to a recipe adds a gas to its tube") {
    const auto has = [](const Case& c, std::string_view gas) {
        const auto& list = c.timeline().species;
        return std::find(list.begin(), list.end(), gas) != list.end();
    };
    const std::string_view mine = "use \"rigs.ath\"\n"
                                  "recipe r on bench {\nopen argon at 1 L/min\nsettled()\n"
                                  "dwell until oxygen < 1 % and carbon_dioxide < 1 %\n}\n"
                                  "operation settled() {\ndwell until helium < 1 %\n}\n";
    auto alone = run(mine);
    REQUIRE_MESSAGE(alone->done.complete, alone->all());
    CHECK(has(*alone, "helium"));
    CHECK(has(*alone, "carbon_dioxide"));
    // Another recipe asks for other gases, in a condition of its own.
    auto beside = run(std::string(mine) +
                      "recipe other on bench {\nopen argon at 1 L/min\ndwell until ammonia < 1 %\n}\n");
    REQUIRE_MESSAGE(beside->done.complete, beside->all());
    CHECK_FALSE(has(*beside, "ammonia"));
    CHECK(beside->timeline().species == alone->timeline().species);
    // A rule and the rig's own interlocks do apply.
    auto rule =
        run(std::string(mine) + "policy site { rule no_ammonia { require ammonia < 1 % ; because \"so\" } }\n");
    REQUIRE_MESSAGE(rule->done.complete, rule->all());
    CHECK(has(*rule, "ammonia"));
    auto locked = run("use \"rigs.ath\"\nrig locked from bench { interlock ammonia > 1 % closes hydrogen }\n"
                      "rig elsewhere from bench { interlock methane > 1 % closes hydrogen }\n"
                      "recipe r on locked {\ndwell 1 min\n}\n");
    REQUIRE_MESSAGE(locked->done.complete, locked->all());
    CHECK(has(*locked, "ammonia"));
    CHECK_FALSE(has(*locked, "methane"));
}
