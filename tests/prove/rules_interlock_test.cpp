// An interlock that acts in the run as planned: what breaks the rule, the nearest recipe that passes, and the
// two values between which the limit lies.
#include "tests/prove/rules.hpp"

using namespace athanor;
using namespace athanor::prove::test;

namespace {

const std::string bare = "purge argon at 2 slm until oxygen < 0.5 %\nramp to 850 degC at 5 K/min\ndwell 20 min "
                         "within 3 K\ncool to 100 degC\nclose all\n";
const std::string burnt =
    "purge argon at 2 slm until oxygen < 0.5 % and swept > 6 volumes\n"
    "ramp to 850 degC at 5 K/min\nlight burner\ndwell 20 min within 3 K\n"
    "switch to hydrogen at 0.5 slm\ndwell 30 min\n"
    "switch to argon at 2 slm\ndwell until flammability < 20 %\nshut burner\ncool to 100 degC\nclose all\n";

/// "interlock_acts" and nothing else, or nothing.
std::string acts(const std::string& interlock, const std::string& text) {
    auto c = on("line argon { de_energised open, 1.5 slm to 2 slm }\n"
                "exhaust afterburner { output 4 ; pilot yes ; into extraction_hood { backup_power yes } }\n" +
                    interlock,
                text);
    REQUIRE_MESSAGE(c->done.complete, c->all());
    CHECK(c->row("interlock_acts").applied);
    CHECK((c->row("interlock_acts").verdict == plant::Verdict::proven) == c->errors().empty());
    return c->errors().empty() ? "" : std::string(c->only().rule) + ": " + c->only().message;
}

} // namespace

TEST_CASE("an interlock that shuts the inert gas of the recipe, or lets in what the recipe has shut") {
    CHECK(
        acts("interlock temperature > 500 degC closes argon", bare) ==
        "interlock_acts: this interlock may act in the run as planned: it closes `argon`, which the recipe has "
        "open");
    CHECK(acts("interlock temperature > 500 degC closes hydrogen", bare) == "");
    CHECK(acts("interlock temperature > 500 degC opens argon", bare) == "");
    CHECK(
        acts("interlock temperature > 50 degC opens argon", "open argon at 1.8 slm\ndwell 1 h\nclose all\n"
                                                            "ramp to 80 degC at 1 K/min\ncool to 60 degC\n") ==
        "interlock_acts: this interlock may act in the run as planned: it opens `argon`, which the recipe has "
        "closed");
    // At the temperature that it follows a line may be shut.
    CHECK(acts("interlock elapsed > 2 h opens argon",
               "keep argon open at 1 slm above 400 degC\nramp to 400 degC at 5 K/min\ndwell 3 h\n") != "");
    auto c = on("interlock temperature > 500 degC closes argon", bare);
    CHECK(c->only().related.size() == 1);
    CHECK(c->files.position(c->only().related[0].span).line == 4); // the ramp that reaches it
    CHECK_FALSE(c->assurance.proven);
}

TEST_CASE("the fuel that never flows: an interlock that trips at the temperature of the run") {
    const auto below = [](const std::string& limit) {
        return acts("interlock hydrogen is open and temperature < " + limit +
                        " degC closes hydrogen, opens argon",
                    burnt);
    };
    CHECK(below("900").find("closes `hydrogen`") != std::string::npos);
    CHECK(below("775") == "");
    // 850 degC, 3 K of the band and 3.4 K of each sensor (class 1, type K: IEC 60584-1:2013).
    CHECK(below("838") == "");
    CHECK(below("842") != "");
    CHECK(below("848") != "");
    // The same limits the other way round: what surely holds, turned.
    const auto not_above = [](const std::string& limit) {
        return acts("interlock hydrogen is open and not (temperature > " + limit +
                        " degC) closes hydrogen, opens argon",
                    burnt);
    };
    CHECK(not_above("838") == "");
    CHECK(not_above("842") != "");
}

TEST_CASE("an interlock that uncertain values decide is refused") {
    CHECK(acts("interlock ambient > 1000 mbar and temperature > 500 degC closes argon", bare)
              .find("uncertain values decide this") != std::string::npos);
    CHECK(acts("interlock ambient > 900 mbar and temperature > 500 degC closes argon", bare)
              .find("interlock_acts") != std::string::npos);
}

TEST_CASE("a condition beside which nothing changes, and one about a fault") {
    CHECK(acts("interlock hydrogen is open and not burner closes hydrogen, opens argon", burnt) == "");
    // It would trip while the tube is cold and stay so.
    CHECK(acts("interlock not burner closes hydrogen, opens argon", burnt) != "");
    CHECK(acts("interlock temperature < 775 degC closes hydrogen, opens argon", burnt) != "");
    CHECK(acts("interlock not burner closes argon", burnt) != "");
    // 0.5 slm less 2 % flow while it is open; argon does not.
    CHECK(acts("interlock hydrogen is open and flow of hydrogen < 0.48 slm closes hydrogen, opens argon",
               burnt) == "");
    CHECK(acts("interlock hydrogen is open and flow of hydrogen < 0.5 slm closes hydrogen, opens argon",
               burnt) != "");
    CHECK(acts("interlock hydrogen is open and flow of argon < 0.1 slm closes hydrogen, opens argon", burnt) !=
          "");
    CHECK(acts("interlock pressure > ambient + 400 mbar closes hydrogen, opens argon", burnt) == "");
    CHECK(acts("interlock hydrogen is open and elapsed > 24 h closes hydrogen, opens argon", burnt) == "");
    CHECK(acts("interlock hydrogen is open and elapsed > 1 h closes hydrogen, opens argon", burnt) != "");
    CHECK(acts("interlock hydrogen > 50 % or temperature > 1100 degC closes hydrogen, opens argon", burnt) !=
          "");
}

TEST_CASE("an interlock of a flammable run shuts no gas that clears the tube, unless it opens another") {
    const std::string fault = "interlock not burner and temperature > 1000 degC closes hydrogen";
    CHECK(acts(fault, burnt) == "");
    CHECK(acts(fault + ", opens argon", burnt) == "");
    CHECK(acts(fault + ", closes argon", burnt) == "interlock_acts: this interlock shuts `argon`, whose gas "
                                                   "clears the tube, and opens no other inert gas");
    // Without fuel nothing has to be cleared.
    CHECK(acts("interlock temperature > 1000 degC closes argon", bare) == "");
}

TEST_CASE("a line of an interlock is the one of that name, whatever else carries its gas") {
    const std::string
        first = "without line argon ; ",
        aux = "line aux { gas argon ; output 6 ; de_energised closed ; "
              "meter controlled ; flow 0.1 slm to 4 slm ; supply "
              "150 mbar gauge } ; ",
        argon = "line argon { gas argon ; output 1 ; de_energised closed ; meter controlled ; flow 0.1 "
                "slm to 4 slm ; supply 150 mbar gauge } ; ";
    const std::string text = "open argon at 2 slm\ndwell 1 h\nclose all\n";
    const auto errors = [&](const std::string& lines, const std::string& condition) {
        return on(first + lines + "interlock " + condition + " and elapsed > 10 min closes argon", text)
            ->errors();
    };
    CHECK(errors(aux + argon, "argon is open") == "interlock_acts:1");
    CHECK(errors(argon + aux, "argon is open") == "interlock_acts:1");
    CHECK(errors(aux + argon, "aux is open") == "");
    CHECK(errors(argon + aux, "flow of argon > 1 slm") == "interlock_acts:1");
    CHECK(errors(aux + argon, "flow of argon > 1 slm") == "interlock_acts:1");
}

TEST_CASE("an interlock that names by its gas what several lines carry is told to name the line") {
    auto c = on(
        "line extra { gas oxygen ; output 6 ; de_energised closed ; meter controlled ; flow 0.1 slm to 1 slm "
        "; supply 150 mbar gauge } ; without line oxygen ; line other { gas oxygen ; output 7 ; "
        "de_energised closed ; meter controlled ; flow 0.1 slm to 1 slm ; supply 150 mbar gauge } ; "
        "interlock oxygen is open and temperature > 900 degC closes extra",
        "dwell 1 h\n");
    CHECK_MESSAGE(c->only().message ==
                      "`oxygen` could be any of the lines `extra`, `other` of rig `special`: name the line",
                  c->all());
}
