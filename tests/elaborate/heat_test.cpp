#include "tests/elaborate/support.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>

using namespace athanor;
using namespace athanor::elaborate::test;

namespace {

/// The text is refused by this code and by no other; its neighbour passes.
void refused(std::string_view broken, std::string_view code, std::string_view good,
             std::string_view rig = "bench") {
    auto bad = steps(broken, rig);
    CHECK_MESSAGE(bad->errors() == code, broken, "\n", bad->all());
    CHECK_FALSE(bad->done.complete);
    auto fine = steps(good, rig);
    CHECK_MESSAGE(fine->errors().empty(), good, "\n", fine->all());
    CHECK(fine->done.complete);
}

bool says(const Case& c, Code code, std::string_view part) {
    const Diagnostic* d = c.first(code);
    if (d == nullptr) return false;
    auto has = [&](const std::string& text) { return text.find(part) != std::string::npos; };
    if (has(d->message)) return true;
    for (const std::string& text : d->causes)
        if (has(text)) return true;
    for (const std::string& text : d->remedies)
        if (has(text)) return true;
    return false;
}

} // namespace

TEST_CASE("a temperature outside the furnace's range") {
    refused("ramp to 1250 degC at 2 K/min", "beyond_furnace", "ramp to 1100 degC at 2 K/min");
    refused("ramp to 26 degC at 2 K/min", "beyond_furnace", "ramp to 30 degC at 2 K/min");
    refused("step to 26 degC", "beyond_furnace", "step to 30 degC");
    // Down to the room a furnace cools by itself; what no room has ever been is a slip, a difference perhaps.
    refused("ramp to 300 degC at 5 K/min\nramp to 5 K at 5 K/min", "beyond_furnace",
            "ramp to 300 degC at 5 K/min\ncool to 60 degC");
    refused("ramp to 300 degC at 5 K/min\ncool to 5 K", "beyond_furnace",
            "ramp to 300 degC at 5 K/min\ncool to 60 degC");
    auto c = steps("ramp to 1250 degC at 2 K/min");
    CHECK(says(*c, Code::beyond_furnace, "1250 °C"));
    CHECK(says(*c, Code::beyond_furnace, "rigs.ath:"));
    CHECK(says(*c, Code::beyond_furnace, "ramp to 1200 °C at 2 K/min"));
}

TEST_CASE("a temperature above the tube's limit, lower under vacuum") {
    // Fused quartz: 1100 degC, 1000 degC under vacuum (common practice, no source).
    refused("ramp to 1150 degC at 2 K/min", "beyond_tube", "ramp to 1100 degC at 2 K/min");
    refused("evacuate to 1 mbar\nramp to 1050 degC at 2 K/min", "tube_vacuum_limit",
            "evacuate to 1 mbar\nramp to 1000 degC at 2 K/min", "shields");
    refused("evacuate to 1 mbar\nramp to 1001 degC at 2 K/min", "tube_vacuum_limit",
            "ramp to 1001 degC at 2 K/min", "shields");
}

TEST_CASE("the sensor: its class warns, its type refuses") {
    auto c = steps("ramp to 1080 degC at 2 K/min");
    CHECK_MESSAGE(c->errors().empty(), c->all());
    CHECK(c->warnings().find("beyond_sensor") !=
          std::string::npos); // class 1 of type K ends at 1000 degC (IEC 60584-1)
    CHECK(steps("ramp to 1000 degC at 2 K/min")->warnings().empty());
    CHECK(steps("ramp to 1080 degC at 2 K/min", "hot_sensor")->warnings().empty());
    auto beyond = run(R"(use "rigs.ath"
thermocouple short_one { range 0 degC to 700 degC ; class 1 { range 0 degC to 700 degC ; tolerance 1.5 K } }
rig other from bench { sensor short_one class 1 }
recipe r on other { ramp to 750 degC at 2 K/min })");
    CHECK_MESSAGE(beyond->errors() == "beyond_sensor", beyond->all());
}

TEST_CASE("a ramp faster than the tube stands") {
    // Alumina, 66 mm outside: 2 K/min (common practice, no source).
    refused("ramp to 900 degC at 2.5 K/min", "tube_shock", "ramp to 900 degC at 2 K/min", "ceramic");
    refused("ramp to 900 degC over 1 h", "tube_shock", "ramp to 900 degC over 8 h", "ceramic");
    refused("step to 900 degC", "tube_shock", "heat to 900 degC", "ceramic");
    // A small jump is no shock.
    refused("ramp to 300 degC at 2 K/min\nstep to 310 degC", "tube_shock",
            "ramp to 300 degC at 2 K/min\nstep to 302 degC", "ceramic");
    CHECK(says(*steps("ramp to 900 degC at 2.5 K/min", "ceramic"), Code::tube_shock,
               "ramp to 900 degC at 2 K/min"));
}

TEST_CASE("a ramp the furnace cannot follow: no furnace refuses, some furnace warns") {
    auto none = run(R"(use "rigs.ath"
rig weak from bench { furnace { range 30 degC to 1200 degC ; heated_length 600 mm ; power 3.0 kW
  heat_up 5 h to 1100 degC ; holding_power 1.2 kW ± 10 % at 1100 degC ; cool_down 1100 degC to 200 degC in 20 h ± 15 % ; zones centre } }
recipe r on weak { ramp to 1000 degC at 15 K/min })");
    CHECK_MESSAGE(none->errors() == "rate_beyond_furnace", none->all());
    auto some = steps("ramp to 790 degC at 20 K/min");
    CHECK_MESSAGE(some->errors().empty(), some->all());
    CHECK(some->warnings() == "rate_beyond_furnace");
    auto all = steps("ramp to 790 degC at 5 K/min");
    CHECK(all->warnings().empty());
}

TEST_CASE("`heat to` takes the fastest rate that is certain") {
    auto c = steps("heat to 700 degC");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    const timeline::Law& law = c->timeline().laws_of(0)[0];
    CHECK(law.kind == timeline::LawKind::line);
    // Rounded down to 0.1 K/min, never up.
    double certain = std::min(20.0 / 60, c->done.plant->certain_heating_rate(law.from, law.to));
    CHECK(law.rate <= certain);
    CHECK(law.rate > certain - 0.1 / 60);
    CHECK(law.rate * 600 == doctest::Approx(std::round(law.rate * 600)).scale(0).epsilon(1e-9));
    CHECK(c->timeline().spans[0].ending.duration == doctest::Approx((law.to - law.from) / law.rate).scale(0));
    CHECK(c->warnings().empty());
    // Alumina's 2 K/min is on a step already.
    CHECK(steps("heat to 700 degC", "ceramic")->timeline().laws_of(0)[0].rate ==
          doctest::Approx(2.0 / 60).scale(0));
}

TEST_CASE("`heat to` takes a rate below 0.5 K/min as it is, since rounding would lose much of it") {
    auto c = run("use \"rigs.ath\"\n"
                 "material crawling { limit 1100 degC source \"test\" ; rate 0.25 K/min source \"test\" }\n"
                 "rig gentle from bench { tube { material crawling ; inner_diameter 60 mm ; wall 3 mm ; "
                 "length 1200 mm } }\nrecipe r on gentle { heat to 100 degC }");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    CHECK(c->timeline().laws_of(0)[0].rate == doctest::Approx(0.25 / 60).scale(0));
}

TEST_CASE("a furnace that no rows allow is said once, at its place, and nothing else") {
    auto c = run(R"(use "rigs.ath"
rig odd from bench { furnace { range 30 degC to 1200 degC ; heated_length 600 mm ; power 3.0 kW
  heat_up 50 min to 1100 degC ; holding_power 1.2 kW ± 10 % at 1100 degC
  cool_down 1100 degC to 200 degC in 20 min ; zones centre } }
recipe r on odd { ramp to 900 degC at 30 K/min
cool to 10 degC })");
    CHECK_MESSAGE(c->errors() == "rig_inconsistent", c->all());
    CHECK(c->out.errors() == 1);
    CHECK_FALSE(c->done.complete);
    const Diagnostic* d = c->first(Code::rig_inconsistent);
    REQUIRE(d != nullptr);
    CHECK(c->files.text(d->span) == "furnace");
    CHECK(c->all().find("recipe.ath:2:") != std::string::npos);
    CHECK(c->all().find("heat capacity") != std::string::npos);
}

TEST_CASE("cooling faster than the furnace loses heat") {
    refused("ramp to 600 degC at 5 K/min\ncool to 50 degC at 10 K/min", "cooling_beyond_furnace",
            "ramp to 600 degC at 5 K/min\ncool to 400 degC at 1 K/min");
    refused("ramp to 600 degC at 5 K/min\ncool to 20 degC", "cooling_beyond_furnace",
            "ramp to 600 degC at 5 K/min\ncool to 60 degC");
    auto c = steps("ramp to 600 degC at 5 K/min\ncool to 50 degC at 10 K/min");
    CHECK(says(*c, Code::cooling_beyond_furnace, "heater off it takes"));
    CHECK(says(*c, Code::cooling_beyond_furnace, "cool to 50 °C"));
    // What the message offers must pass.
    const Diagnostic* d = c->first(Code::cooling_beyond_furnace);
    REQUIRE(d != nullptr);
    // A line down to 50 degC would crawl: natural cooling is offered first.
    REQUIRE(d->remedies.size() == 2);
    const std::string& natural = d->remedies.front();
    auto repaired = steps("ramp to 600 degC at 5 K/min\n" + natural.substr(natural.find("cool to ")));
    CHECK_MESSAGE(repaired->done.complete, natural, "\n", repaired->all());
    CHECK(says(*c, Code::cooling_beyond_furnace, ", which takes "));
    // Where the line takes little longer, it is what was asked for.
    auto near = steps("ramp to 600 degC at 5 K/min\ncool to 500 degC at 10 K/min");
    d = near->first(Code::cooling_beyond_furnace);
    REQUIRE(d != nullptr);
    REQUIRE(d->remedies.size() == 2);
    repaired = steps("ramp to 600 degC at 5 K/min\n" + d->remedies.front());
    CHECK_MESSAGE(repaired->done.complete, d->remedies.front(), "\n", repaired->all());
    CHECK(d->remedies.front().find("K/") != std::string::npos);
}

TEST_CASE("a remedy speaks the unit that was written") {
    auto far = steps("ramp to 3000 degF at 5 K/min\ncool to 60 degC");
    REQUIRE_MESSAGE(far->first(Code::beyond_furnace) != nullptr, far->all());
    const std::string limit = far->first(Code::beyond_furnace)->remedies.front();
    CHECK_MESSAGE(limit.find(" degF at 5 K/min") != std::string::npos, limit);
    CHECK_MESSAGE(steps(limit + "\ncool to 60 degC")->first(Code::beyond_furnace) == nullptr, limit);
    auto fast = steps("ramp to 500 degC at 3 K/s\ncool to 60 degC");
    REQUIRE_MESSAGE(!fast->done.complete, fast->all());
    bool said = false;
    for (const Code code : {Code::tube_shock, Code::rate_beyond_furnace})
        if (const Diagnostic* d = fast->first(code))
            said = said || d->remedies.front().find(" K/s") != std::string::npos;
    CHECK_MESSAGE(said, fast->all());
}

TEST_CASE("a ramp over a time takes it, also to where the set-point stands already") {
    for (const char* peak : {"500 degC", "932 degF", "501 degC", "500.0001 degC"}) {
        CAPTURE(peak);
        auto c = steps("ramp to 500 degC at 2 K/min\nramp to " + std::string(peak) + " over 4 h");
        REQUIRE_MESSAGE(c->done.complete, c->all());
        REQUIRE(c->timeline().spans.size() == 2);
        CHECK(c->timeline().spans[1].duration.lo == doctest::Approx(4 * 3600));
    }
    auto banded = steps("ramp to 500 degC at 2 K/min\ncool to 500 degC over 4 h within 5 K");
    REQUIRE_MESSAGE(banded->done.complete, banded->all());
    CHECK(banded->timeline().spans.back().ending.duration == doctest::Approx(4 * 3600));
}

TEST_CASE("a missing rate takes a marked default or is refused") {
    refused("ramp to 600 degC", "value_missing", "defaults { heating 5 K/min }\nramp to 600 degC");
    auto c = steps("defaults { heating 5 K/min }\nramp to 600 degC\ndwell 1 h");
    REQUIRE(c->done.complete);
    CHECK(c->timeline().spans[0].defaulted == timeline::defaulted::rate);
    CHECK(c->timeline().spans[1].defaulted == 0);
}

TEST_CASE("a zone that goes down takes the rate of cooling, of whichever defaults, before one of heating") {
    const auto ramps = [](std::string_view of_rig, std::string_view of_recipe, std::string_view steps) {
        return run(
            fmt::format("use \"rigs.ath\"\nrig other from three_zones {{ defaults {{ {} }} }}\nrecipe r on "
                        "other {{\ndefaults {{ {} }}\nramp to 500 degC at 2 K/min\n{}\n}}\n",
                        of_rig, of_recipe, steps));
    };
    const auto rate = [](const Case& c, std::size_t zone) { // K/min, of the second step
        REQUIRE_MESSAGE(c.done.complete, c.all());
        CHECK(c.timeline().spans[1].defaulted == timeline::defaulted::rate);
        return std::round(c.timeline().laws_of(1)[zone].rate * 60 * 1e6) / 1e6;
    };
    CHECK(rate(*ramps("heating 5 K/min ; cooling 1 K/min", "heating 2 K/min", "ramp to 400 degC"), 0) == -1);
    CHECK(rate(*ramps("cooling 1 K/min", "cooling 0.5 K/min", "ramp to 400 degC"), 0) == -0.5);
    CHECK(rate(*ramps("heating 5 K/min", "heating 1 K/min", "ramp to 400 degC"), 0) == -1);
    auto mixed =
        ramps("heating 2 K/min ; cooling 0.5 K/min", "dwell 1 h", "ramp left to 550 degC, right to 450 degC");
    CHECK(rate(*mixed, 0) == 2);
    CHECK(rate(*mixed, 2) == -0.5);
}

TEST_CASE("a ramp down without a rate is by natural cooling where the defaults say so") {
    const auto ramps = [](std::string_view defaults, std::string_view step) {
        return run(fmt::format(
            "use \"rigs.ath\"\nrig other from three_zones {{ defaults {{ heating 2 K/min ; cooling 1 "
            "K/min }} }}\nrecipe r on other {{\n{}\nramp to 500 degC at 2 K/min\n{}\n}}\n",
            defaults, step));
    };
    auto natural = ramps("defaults { cooling natural }", "ramp to 400 degC");
    REQUIRE_MESSAGE(natural->done.complete, natural->all());
    CHECK(natural->timeline().laws_of(1)[0].kind == timeline::LawKind::off);
    CHECK(natural->timeline().spans[1].ending.kind == timeline::EndingKind::passes);
    CHECK(natural->timeline().spans[1].defaulted == timeline::defaulted::rate);
    auto stated = ramps("", "ramp to 400 degC");
    REQUIRE_MESSAGE(stated->done.complete, stated->all());
    CHECK(stated->timeline().laws_of(1)[0].kind == timeline::LawKind::line);
    // It has an end of its own, and no set-point.
    for (const char* step : {"ramp left to 550 degC, right to 450 degC", "ramp to 400 degC within 5 K"}) {
        auto c = ramps("defaults { cooling natural }", step);
        CHECK_MESSAGE(c->errors() == "value_missing", c->all());
        CHECK(says(*c, Code::value_missing, std::string(step) + " at 1 K/min"));
        CHECK(says(*c, Code::value_missing, "in place of `cooling natural`:  cooling 1 K/min"));
        auto with = ramps("defaults { cooling natural }", std::string(step) + " at 1 K/min");
        CHECK_MESSAGE(with->done.complete, with->all());
        auto rate = ramps("defaults { cooling 1 K/min }", step);
        CHECK_MESSAGE(rate->done.complete, rate->all());
    }
    auto up = ramps("defaults { cooling natural }", "ramp to 600 degC");
    REQUIRE_MESSAGE(up->done.complete, up->all());
    CHECK(up->timeline().laws_of(1)[0].kind == timeline::LawKind::line);
}

TEST_CASE("what a default gave is told: time, gas, flow") {
    namespace of = timeline::defaulted;
    auto c = steps("defaults { purge argon at 1 L/min ; dwell 20 min }\npurge argon for 10 min\ndwell\ndwell 5 "
                   "min\nclose argon\nopen argon\ndwell 5 min");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    REQUIRE(c->timeline().spans.size() == 4);
    CHECK(c->timeline().spans[0].defaulted == of::flow);
    CHECK(c->timeline().spans[1].defaulted == of::time);
    CHECK(c->timeline().spans[2].defaulted == 0);
    // Who is waited for behind a step took nothing from them.
    auto asked = steps("defaults { dwell 20 min }\nrepeat until operator accepts \"steady\" at most 2 times {\n"
                       " dwell\n}");
    REQUIRE_MESSAGE(asked->timeline().spans.size() == 4, asked->all());
    CHECK(asked->timeline().spans[0].defaulted == of::time);
    CHECK(asked->timeline().spans[1].defaulted == 0);
    auto opened = steps("defaults { purge argon at 1 L/min }\nopen argon\ndwell 5 min\ndwell 6 min");
    REQUIRE_MESSAGE(opened->done.complete, opened->all());
    CHECK(opened->timeline().spans[0].defaulted == of::flow);
    CHECK(opened->timeline().spans[1].defaulted == 0);
}

TEST_CASE("each zone goes its own way, and the step is cut where one arrives") {
    auto c = steps("ramp left to 200 degC, right to 500 degC at 5 K/min\ndwell 10 min", "three_zones");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    const timeline::Timeline& t = c->timeline();
    REQUIRE(t.spans.size() == 3);
    CHECK(t.laws_of(0)[1].kind == timeline::LawKind::hold);
    CHECK(t.laws_of(0)[0].to == 200 + 273.15);
    CHECK(t.laws_of(1)[0].kind == timeline::LawKind::hold);
    CHECK(t.laws_of(1)[2].to == 500 + 273.15);
    CHECK(t.laws_of(1)[2].from == t.laws_of(0)[2].to);
}

TEST_CASE("a remedy for one zone leaves the others where they are") {
    auto jump = steps("step right to 900 degC", "three_zones");
    CHECK_MESSAGE(says(*jump, Code::tube_shock, "ramp right to 900 °C at "), jump->all());
    auto all = steps("step to 900 degC", "three_zones");
    CHECK_MESSAGE(says(*all, Code::tube_shock, "ramp to 900 °C at "), all->all());
    auto up = steps("cool left to 300 degC", "three_zones");
    CHECK_MESSAGE(says(*up, Code::misplaced, "write `ramp left to 300 °C`"), up->all());
}

TEST_CASE("many small jumps are no way round what the tube stands") {
    // Alumina, 2 K/min: 2 K at once are no shock.
    const auto jumps = [](const std::string& wait) {
        return steps(
            "ramp to 300 degC at 2 K/min\nrepeat 20 times as i {\n step to 300 degC + i * 1.9 K\n dwell " +
                wait + "\n}",
            "ceramic");
    };
    CHECK_MESSAGE(jumps("1 s")->errors() == "tube_shock", jumps("1 s")->all());
    CHECK(says(*jumps("1 s"), Code::tube_shock, "wait between them:  dwell 1 min"));
    CHECK_MESSAGE(jumps("1 min")->errors().empty(), jumps("1 min")->all());
    // Ramps at the tube's own rate between them leave it no time to come after.
    const auto mixed = [](const std::string& rate) {
        return steps(
            "ramp to 300 degC at 2 K/min\nrepeat 20 times as i {\n step to 300 degC + i * 4 K - 2.1 K\n"
            " ramp to 300 degC + i * 4 K at " +
                rate + "\n}",
            "ceramic");
    };
    CHECK_MESSAGE(mixed("2 K/min")->errors() == "tube_shock", mixed("2 K/min")->all());
    CHECK_MESSAGE(mixed("0.9 K/min")->errors().empty(), mixed("0.9 K/min")->all());
    // A trim up and down again is none.
    auto trims =
        steps("ramp to 300 degC at 2 K/min\nrepeat 20 times {\n step to 301.9 degC\n dwell 1 s\n step to "
              "300 degC\n dwell 1 s\n}",
              "ceramic");
    CHECK_MESSAGE(trims->errors().empty(), trims->all());
    // What was told is told once.
    auto once = steps("ramp to 300 degC at 2 K/min\nstep to 400 degC\nstep to 401 degC\ndwell 1 h", "ceramic");
    CHECK_MESSAGE(once->out.errors() == 1, once->all());
}

TEST_CASE("a rate of `defaults` is mended at the ramp that it is too fast for") {
    auto shock = steps("defaults { heating 2.5 K/min }\nramp to 900 degC", "ceramic");
    const Diagnostic* d = shock->first(Code::tube_shock);
    REQUIRE_MESSAGE(d != nullptr, shock->all());
    CHECK(d->remedies.front() == "ramp to 900 degC at 2 K/min");
    REQUIRE(d->edit);
    CHECK(shock->files.text(d->edit->span) == "900 degC");
    CHECK(d->edit->text == "900 degC at 2 K/min");
    auto cold = steps("defaults { heating 5 K/min }\nramp to 600 degC\nramp to 300 degC");
    REQUIRE(cold->first(Code::cooling_beyond_furnace) != nullptr);
    CHECK_MESSAGE(
        cold->first(Code::cooling_beyond_furnace)->remedies.front().starts_with("ramp to 300 degC at "),
        cold->all());
}

TEST_CASE("a tube that is hot when it is pumped is told to cool first") {
    auto c = steps("ramp to 1050 degC at 2 K/min\nevacuate to 1 mbar", "shields");
    CHECK_MESSAGE(c->errors() == "tube_vacuum_limit", c->all());
    CHECK(says(*c, Code::tube_vacuum_limit, "cool before it:  cool to 1000 °C"));
    CHECK(says(*steps("evacuate to 1 mbar\nramp to 1050 degC at 2 K/min", "shields"), Code::tube_vacuum_limit,
               "ramp to 1000 °C at 2 K/min"));
}

TEST_CASE("of several targets of a cooling the lowest is the one that is out of reach") {
    auto c = steps("ramp to 500 degC at 2 K/min\ncool left to 300 degC, centre to 300 degC, right to 25 degC",
                   "three_zones");
    const Diagnostic* d = c->first(Code::cooling_beyond_furnace);
    REQUIRE_MESSAGE(d != nullptr, c->all());
    CHECK(c->files.text(d->span) == "25 degC");
    if (!d->remedies.empty()) CHECK(d->remedies.front().find("left to 300 degC") != std::string::npos);
}

TEST_CASE("an instant that a cooling is not sure to pass is marked itself") {
    const auto cooled = [](const std::string& at) {
        return steps("ramp left to 300 degC, centre to 660 degC, right to 750 degC at 1 K/min\ndwell 2 h\ncool "
                     "left to 200 degC, centre to 400 degC, right to 500 degC { at " +
                         at + " note \"passed\" }",
                     "three_zones");
    };
    auto c = cooled("550 degC");
    const Diagnostic* d = c->first(Code::cooling_beyond_furnace);
    REQUIRE_MESSAGE(d != nullptr, c->all());
    CHECK(d->message.starts_with("550 °C by natural cooling can never be certain"));
    CHECK(c->files.text(d->span) == "550 degC");
}
