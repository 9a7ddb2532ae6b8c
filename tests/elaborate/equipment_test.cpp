// Gas led through water, a moved sample, a held pressure, gas from the load, zones beside each other.
#include "tests/elaborate/support.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

using namespace athanor;
using namespace athanor::elaborate::test;

namespace {

std::unique_ptr<Case> on(const std::string& properties, const std::string& steps,
                         const std::string& from = "bench", const std::string& head = "") {
    return run("use \"rigs.ath\"\nrig special from " + from + " { " + properties +
               " }\nrecipe r on special {\n" + head + "\n" + steps + "\n}");
}

const timeline::State& state_of(const Case& c, std::size_t span) {
    return c.done.timeline->states[c.done.timeline->spans[span].state];
}

const std::string bubbler = "bubbler { line argon ; output 6 ; at 15 degC to 60 degC }";
const std::string slide = "slide { output 6 ; out 50 mm ; hot 600 mm }";
const std::string throttle = "throttle 0.5 mbar to 50 mbar";

} // namespace

TEST_CASE("gas is led through its bath until its line closes or opens anew") {
    auto c =
        on(bubbler, "open argon at 1 L/min\nhumidify argon at 40 degC\ndwell 10 min\nclose argon\ndwell 1 min\n"
                    "open argon at 1 L/min\ndwell 10 min");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    CHECK(state_of(*c, 0).bubbler);
    CHECK(state_of(*c, 0).bath == doctest::Approx(313.15).scale(0));
    CHECK_FALSE(state_of(*c, 1).bubbler);
    CHECK_FALSE(state_of(*c, 2).bubbler);
    const auto& species = c->done.timeline->species;
    CHECK(std::find(species.begin(), species.end(), "water") != species.end());
    // A `keep` shuts it, and opens it anew.
    auto kept =
        on(bubbler, "open argon at 1 L/min\nhumidify argon at 40 degC\ndwell 10 min\nrepeat 1 times {\n"
                    "keep argon open at 1 L/min above 200 degC\nramp to 300 degC at 5 K/min\n}\ndwell 5 min");
    REQUIRE_MESSAGE(kept->done.complete, kept->all());
    CHECK(state_of(*kept, 0).bubbler);
    CHECK_FALSE(state_of(*kept, 1).bubbler);
    CHECK_FALSE(state_of(*kept, 2).bubbler);
}

TEST_CASE("what a bubbler cannot do is told") {
    const std::string open = "open argon at 1 L/min\n";
    CHECK(on("", open + "humidify argon at 40 degC\ndwell 5 min")->errors() == "rig_inconsistent");
    CHECK(on(bubbler, open + "humidify hydrogen at 40 degC\ndwell 5 min")->errors() == "rig_inconsistent");
    CHECK(on(bubbler, open + "humidify argon at 80 degC\ndwell 5 min")->errors() == "rig_inconsistent");
    CHECK(on(bubbler, open + "humidify argon\ndwell 5 min")->errors() == "value_missing");
    CHECK(on(bubbler, "humidify argon at 40 degC\ndwell 5 min")->errors() == "misplaced");
    CHECK(on("bubbler { line argon ; output 6 ; at 15 degC to 99 degC }",
             open + "humidify argon at 98 degC\ndwell 5 min")
              ->errors() == "rig_inconsistent"); // 94.4 kPa: it boils
    const auto filled_to = [&](const std::string& pressure) {
        return on(bubbler,
                  "evacuate to 1 mbar\nbackfill argon at 1 L/min to " + pressure + "\n" + open +
                      "humidify argon at 40 degC\ndwell 5 min",
                  "shields")
            ->errors();
    };
    CHECK(filled_to("500 mbar") == "misplaced");
    // The room has 980 mbar at least: below it more water comes over than is reckoned with.
    CHECK(filled_to("970 mbar") == "misplaced");
    CHECK(filled_to("ambient") == "");
}

TEST_CASE("a bath has one temperature until a person is waited for, and is told the other") {
    const std::string wet = "open argon at 1 L/min\nhumidify argon at 55 degC\ndwell 10 min\n";
    const std::string again = "humidify argon at 20 degC\ndwell 10 min";
    auto at_once = on(bubbler, wet + again);
    CHECK_MESSAGE(at_once->errors() == "bath_changed", at_once->all());
    CHECK(at_once->first(Code::bath_changed)->remedies.front() == "humidify argon at 55 °C");
    // An hour without it is no person.
    CHECK(on(bubbler, wet + "close argon\ndwell 2 h\nopen argon at 1 L/min\n" + again)->errors() ==
          "bath_changed");
    // Nor is one who is waited for while gas goes through the bath.
    CHECK(on(bubbler, wet + "wait for operator \"look\"\n" + again)->errors() == "bath_changed");
    CHECK(on(bubbler, "wait for operator \"load\"\n" + wet + again)->errors() == "bath_changed");
    auto waited = on(bubbler, wet + "open argon at 1 L/min\nwait for operator \"look\"\ndwell 5 min\n" + again);
    REQUIRE_MESSAGE(waited->done.complete, waited->all());
    const timeline::Timeline& t = waited->timeline();
    REQUIRE(t.spans[1].ending.kind == timeline::EndingKind::person);
    CHECK(t.texts[t.spans[1].ending.text] ==
          "look; bring the bubbler's bath to 20 °C and wait until it is there");
    CHECK(on(bubbler, wet + "close argon\ndwell 5 min\n" + wet)->done.complete);
}

TEST_CASE("a moved sample: the output, its place, and what is told") {
    auto c =
        on(slide,
           "ramp to 300 degC at 5 K/min\nmove sample to hot\ndwell 30 min\nmove sample to out\ndwell 5 min");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    CHECK(c->done.timeline->places.size() == 2);
    CHECK_FALSE(c->done.timeline->places[0].hot);
    CHECK(c->done.timeline->places[1].hot);
    CHECK(state_of(*c, 0).place == 0); // it has not been moved yet
    CHECK(state_of(*c, 1).slide);
    CHECK(state_of(*c, 1).place == 1);
    CHECK_FALSE(state_of(*c, 2).slide);
    // Outside, the load may have the room's temperature; inside it comes up.
    CHECK(
        on(slide, "ramp to 300 degC at 5 K/min\nmove sample to hot\ndwell until temperature of load > 270 degC")
            ->done.complete);
    CHECK_FALSE(on(slide, "ramp to 300 degC at 5 K/min\nmove sample to hot\nmove sample to out\ndwell until "
                          "temperature of load > 270 degC")
                    ->done.complete);
    // Moved inside a step only, it stands where it was before, too.
    auto inside = on(slide, "ramp to 300 degC at 5 K/min\ndwell 11 min {\n after 10 min move sample to hot\n}");
    REQUIRE_MESSAGE(inside->timeline().spans.size() == 3, inside->all());
    CHECK(state_of(*inside, 0).place == 0);
    CHECK(state_of(*inside, 1).place == 0);
    CHECK(state_of(*inside, 2).place == 1);
    // A recipe that never moves it leaves it in the hot zone.
    auto still = on(slide, "ramp to 300 degC at 5 K/min");
    CHECK(state_of(*still, 0).place == timeline::none);
    CHECK(on("", "move sample to hot\ndwell 5 min")->errors() == "rig_inconsistent");
    CHECK(on(slide, "move sample to cold\ndwell 5 min")->errors() == "unknown_name");
    CHECK(on("slide { output 6 ; out 50 mm ; warm 300 mm ; hot 600 mm }", "move sample to hot\ndwell 5 min")
              ->errors() == "rig_inconsistent");
    CHECK(on("slide hand { out 50 mm ; warm 300 mm ; hot 600 mm }", "move sample to hot\ndwell 5 min")
              ->done.complete);
}

TEST_CASE("a held pressure: with flow, without pump, beyond throttle and pump") {
    auto c = on(throttle,
                "evacuate to 0.5 mbar\nregulate pressure to 20 mbar\nopen argon at 0.3 L/min\ndwell until "
                "pressure > 18 mbar\nexpect pressure < 22 mbar",
                "shields");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    CHECK(state_of(*c, 1).regulated == doctest::Approx(2000).scale(0));
    CHECK(on("", "evacuate to 0.5 mbar\nregulate pressure to 5 mbar\ndwell 5 min", "shields")->errors() ==
          "rig_inconsistent");
    CHECK(on(throttle, "regulate pressure to 5 mbar\ndwell 5 min", "shields")->errors() == "misplaced");
    // While the throttle holds a pressure none below it is reached, and the remedy is to let it go.
    const std::string held = "evacuate to 0.5 mbar\nregulate pressure to 20 mbar\ndwell 5 min\n";
    const auto lower = on(throttle, held + "evacuate to 0.5 mbar", "shields");
    CHECK(lower->errors() == "pressure_unreachable");
    CHECK(lower->out.all().front().remedies.at(0).find("stop pump") != std::string::npos);
    CHECK(on(throttle, held + "stop pump\nevacuate to 0.5 mbar", "shields")->errors() == "");
    CHECK(
        on(throttle, "evacuate to 0.5 mbar\nregulate pressure to 100 mbar\ndwell 5 min", "shields")->errors() ==
        "pressure_unreachable");
    CHECK(on(throttle, "evacuate to 0.5 mbar\nregulate pressure to 1 mbar\nopen argon at 2 L/min\ndwell 5 min",
             "shields")
              ->errors() == "pressure_unreachable");
}

TEST_CASE("what a line that follows the temperature may let in counts against a held pressure") {
    const auto kept = [](const std::string& flow) {
        return on(throttle,
                  "evacuate to 0.5 mbar\nregulate pressure to 1 mbar\nkeep oxygen open at " + flow +
                      " above 200 degC\nramp to 300 degC at 3 K/min",
                  "shields");
    };
    auto much = kept("1 slm");
    CHECK_MESSAGE(much->errors() == "pressure_unreachable", much->all());
    auto little = kept("10 sccm");
    CHECK_MESSAGE(little->done.complete, little->all());
}

TEST_CASE("gas from the load is part of what the tube holds") {
    const std::string load =
        "load { evolves carbon_monoxide 0 sccm to 50 sccm while argon is open above 400 degC }";
    const std::string warm = "open argon at 1 L/min\nramp to 300 degC at 5 K/min\n";
    CHECK(on("", warm + "dwell until carbon_monoxide < 1 ppm", "bench", load)->done.complete);
    CHECK(on("", warm + "ramp to 500 degC at 5 K/min\ndwell until carbon_monoxide < 1 ppm", "bench", load)
              ->errors() == "condition_unreachable");
    CHECK(on("", warm + "ramp to 500 degC at 5 K/min\ndwell until carbon_monoxide < 20 %", "bench", load)
              ->done.complete);
}

TEST_CASE("a zone that cools beside hot ones is not promised to get cold") {
    auto c = steps("ramp to 700 degC at 5 K/min\ncool left to 150 degC", "three_zones");
    CHECK_MESSAGE(c->errors() == "cooling_beyond_furnace", c->all());
    CHECK(c->all().find("beside it") != std::string::npos);
    auto all = steps("ramp to 700 degC at 5 K/min\ncool to 150 degC", "three_zones");
    CHECK_MESSAGE(all->done.complete, all->all());
}
