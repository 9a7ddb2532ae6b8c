#include "tests/elaborate/support.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

using namespace athanor;
using namespace athanor::elaborate::test;
using timeline::EndingKind;
using timeline::LawKind;

TEST_CASE("placed actions split a line where the set-point passes exactly") {
    auto c = steps(R"(ramp to 600 degC at 5 K/min {
        at 400 degC open oxygen at 100 sccm
        after 10 min note "ten minutes"
        at 400 degC note "second"
    })");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    const timeline::Timeline& t = c->timeline();
    REQUIRE(t.spans.size() == 3);
    CHECK(t.spans[0].ending.duration == doctest::Approx(600).scale(0));
    CHECK(t.laws_of(1)[0].to == 400 + 273.15);
    CHECK(t.laws_of(2)[0].from == 400 + 273.15);
    CHECK(t.spans[1].actions == 1);
    CHECK(t.paths[t.spans[0].path] == "ramp");
    CHECK(t.paths[t.spans[2].path] == "ramp/3");
    REQUIRE(t.spans[2].actions == 2); // source order at one instant
    CHECK(t.actions[t.spans[2].first_action].kind == timeline::ActionKind::open);
    CHECK(t.actions[t.spans[2].first_action + 1].kind == timeline::ActionKind::note);
}

TEST_CASE("instants half an instant apart: those that are one keep the order of the text, no other does") {
    auto c = steps(R"(dwell 20 min {
        after 600.0000012 s note "late"
        after 600.0000006 s note "middle"
        after 600 s note "early"
    })");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    const timeline::Timeline& t = c->timeline();
    REQUIRE(t.spans.size() == 2);
    REQUIRE(t.spans[1].actions == 3);
    std::vector<std::string> said;
    for (timeline::Index i = 0; i < 3; ++i)
        said.push_back(t.texts[t.actions[t.spans[1].first_action + i].text]);
    CHECK(said == std::vector<std::string>{"middle", "early", "late"});
}

TEST_CASE("actions placed in a dwell until a condition cut fixed times off before it") {
    auto c = steps("open argon at 1 L/min\ndwell until oxygen < 1 % {\n after 1 min note \"one\"\n after 3 min "
                   "note \"three\"\n}");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    const timeline::Timeline& t = c->timeline();
    REQUIRE(t.spans.size() == 3);
    CHECK(t.spans[0].ending.kind == EndingKind::fixed);
    CHECK(t.spans[0].ending.duration == 60);
    CHECK(t.spans[1].ending.duration == 120);
    CHECK(t.spans[2].ending.kind == EndingKind::certain);
    REQUIRE(t.spans[2].actions == 1);
    CHECK(t.actions[t.spans[2].first_action].kind == timeline::ActionKind::note);
}

TEST_CASE("a condition in a loop is one of its own for each value that it asks for") {
    auto c = steps("open argon at 1 L/min\nfor x in [5 %, 1 %, 1 %] {\n dwell until oxygen < x\n}");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    const timeline::Timeline& t = c->timeline();
    REQUIRE(t.spans.size() == 3);
    const auto asked = [&](std::size_t span) {
        return t.conditions[t.spans[span].ending.condition].terms[0].value;
    };
    CHECK(asked(0) == Interval{0.05});
    CHECK(asked(1) == Interval{0.01});
    CHECK(t.spans[1].ending.condition == t.spans[2].ending.condition);
}

TEST_CASE("each time placed in natural cooling is counted from its begin") {
    auto c = steps("ramp to 600 degC at 5 K/min\ncool to 80 degC {\n after 1 min note \"one\"\n after 3 min "
                   "note \"three\"\n}");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    const timeline::Timeline& t = c->timeline();
    REQUIRE(t.spans.size() == 4);
    CHECK(t.spans[1].ending.duration == 60);
    CHECK(t.spans[2].ending.duration == 120);
}

TEST_CASE("natural cooling is split where the measured temperature passes") {
    auto c = steps("ramp to 600 degC at 5 K/min\ncool to 80 degC {\n at 300 degC note \"below\"\n after 1 min "
                   "note \"soon\"\n}");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    const timeline::Timeline& t = c->timeline();
    REQUIRE(t.spans.size() == 4);
    CHECK(t.spans[1].ending.kind == EndingKind::fixed);
    CHECK(t.spans[2].ending.kind == EndingKind::passes);
    CHECK(t.spans[2].ending.temperature == 300 + 273.15);
    CHECK(t.spans[3].ending.temperature == 80 + 273.15);
    CHECK(t.laws_of(3)[0].kind == LawKind::off);
}

TEST_CASE("what a step never passes is said") {
    CHECK(steps("ramp to 600 degC at 5 K/min { at 700 degC note \"x\" }")->errors() == "never_reached");
    CHECK(steps("ramp to 600 degC at 5 K/min { at 600 degC note \"x\" }")->errors().empty());
    CHECK(steps("dwell 10 min { after 11 min note \"x\" }")->errors() == "never_reached");
    CHECK(steps("dwell 10 min { after 10 min note \"x\" }")->errors().empty());
    CHECK(steps("ramp to 600 degC at 5 K/min\ncool to 80 degC { after 40 h note \"x\" }")->errors() ==
          "never_reached");
}

TEST_CASE("a recipe without a step says that it does nothing") {
    CHECK(steps("")->warnings() == "misplaced");
    CHECK(steps("note \"x\"")->warnings().empty());
    CHECK(steps("dwell 10 min")->warnings().empty());
}

TEST_CASE("a plain repeat is recorded, a counting one is not") {
    auto c = steps("ramp to 400 degC at 8 K/min\nrepeat 40 times {\n ramp to 800 degC at 8 K/min\n dwell 20 "
                   "min within 5 K\n"
                   " cool to 400 degC at 1 K/min\n dwell 10 min\n}");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    CHECK(c->timeline().spans.size() == 161);
    REQUIRE(c->timeline().repeats.size() == 1);
    CHECK(c->timeline().repeats[0].first == 1);
    CHECK(c->timeline().repeats[0].spans == 4);
    CHECK(c->timeline().repeats[0].passes == 40);
    auto counting = steps("repeat 5 times as i {\n ramp to 300 degC + i * 50 K at 5 K/min\n dwell 10 min\n}");
    REQUIRE_MESSAGE(counting->done.complete, counting->all());
    CHECK(counting->timeline().repeats.empty());
    CHECK(counting->timeline().laws_of(8)[0].to == doctest::Approx(550 + 273.15).scale(0));
    // Only the first pass starts elsewhere: the others are a repeat of their own.
    auto late = steps("repeat 4 times {\n ramp to 400 degC at 5 K/min\n cool to 300 degC at 1 K/min\n}");
    REQUIRE(late->timeline().repeats.size() == 1);
    CHECK(late->timeline().repeats[0].first == 2);
    CHECK(late->timeline().repeats[0].passes == 3);
}

TEST_CASE("of nested repeats the outermost plain one is recorded") {
    auto c = steps("ramp to 300 degC at 5 K/min\nrepeat 3 times {\n repeat 2 times {\n dwell 1 min\n dwell 2 "
                   "min\n }\n dwell 3 min\n}");
    REQUIRE(c->done.complete);
    REQUIRE(c->timeline().repeats.size() == 1);
    CHECK(c->timeline().repeats[0].spans == 5);
    auto counting = steps("ramp to 300 degC at 5 K/min\nrepeat 3 times as i {\n repeat 2 times {\n dwell 1 "
                          "min\n }\n dwell i * 3 min\n}");
    CHECK(counting->timeline().repeats.size() == 3);
}

TEST_CASE("branches, lists, lets and operations") {
    auto c = run(R"(use "rigs.ath"
operation hold(top : temperature, long : time = 10 min) {
    let half = long / 2
    ramp to top at 5 K/min
    dwell half
}
recipe r(deep : boolean = no) on bench {
    for t in [300 degC, 400 degC] { hold(top = t) }
    if deep { hold(top = 800 degC) } else { hold(top = 500 degC, long = 1 h) }
})");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    const timeline::Timeline& t = c->timeline();
    REQUIRE(t.spans.size() == 6);
    CHECK(t.spans[1].ending.duration == doctest::Approx(300).scale(0));
    CHECK(t.spans[5].ending.duration == doctest::Approx(1800).scale(0));
    CHECK(t.paths[t.spans[0].path] == "for[1]/hold/ramp");
    CHECK(t.paths[t.spans[5].path] == "else/hold/dwell");
}

TEST_CASE("parameters: range, default, given, missing") {
    std::string_view text = "use \"rigs.ath\"\nrecipe r(peak : temperature in 500 degC to 750 degC = 650 degC) "
                            "on bench { ramp to peak at 5 K/min }";
    auto standard = run(text);
    REQUIRE_MESSAGE(standard->done.complete, standard->all());
    CHECK(standard->timeline().parameters[0].value == "650 °C");
    CHECK_FALSE(standard->timeline().parameters[0].given);
    CHECK(run(text, {{"peak", temperature(750)}})->done.complete);
    CHECK(run(text, {{"peak", temperature(751)}})->errors() == "parameter_out_of_range");
    CHECK(run(text, {{"peek", temperature(700)}})->errors() == "unknown_name");
    std::string_view open =
        "use \"rigs.ath\"\nrecipe r(peak : temperature) on bench { ramp to peak at 5 K/min }";
    CHECK(run(open)->errors() == "value_missing");
    CHECK(run(open, {{"peak", temperature(700)}})->done.complete);
    CHECK(run("recipe r { dwell 5 min }")->errors() == "value_missing");
}

TEST_CASE("a requirement holds to the end of its block, and once for all passes of a repeat") {
    auto c = steps("require oxygen < 50 %\ndwell 1 min\nrepeat 3 times {\n require pressure < 2 bar\n dwell 2 "
                   "min\n}\ndwell 3 min");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    const auto& list = c->timeline().requirements;
    REQUIRE(list.size() == 2);
    CHECK(list[0].first_span == 0);
    CHECK(list[0].last_span == 5);
    CHECK(list[1].first_span == 1);
    CHECK(list[1].last_span == 4);
}

TEST_CASE("an expectation stands between the actions around it") {
    auto c = steps("dwell 1 min\nopen oxygen at 100 sccm\nexpect oxygen > 1 %\nnote \"x\"\ndwell 1 min");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    REQUIRE(c->timeline().expectations.size() == 1);
    CHECK(c->timeline().expectations[0].boundary == 1);
    CHECK(c->timeline().expectations[0].after_actions == 1);
}

TEST_CASE("states: the first is open to the room, equal ones are shared") {
    auto c = steps("wait for operator \"load\" with tube open\ndwell 1 min\nopen oxygen at 100 sccm\ndwell 1 "
                   "min\nclose oxygen\ndwell 1 min");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    const timeline::Timeline& t = c->timeline();
    CHECK(t.states[0].tube_open);
    CHECK(t.states[t.spans[0].state].tube_open);
    CHECK_FALSE(t.states[t.spans[1].state].tube_open);
    CHECK(t.spans[1].state == t.spans[3].state);
    CHECK(t.spans[0].ending.kind == EndingKind::person);
    CHECK(t.actions[t.spans[0].first_action].kind == timeline::ActionKind::open_tube);
}

TEST_CASE("a standing threshold is armed to the end of its block") {
    auto c = steps(
        "if yes {\n keep oxygen open at 100 sccm above 600 degC\n ramp to 800 degC at 5 K/min\n}\ndwell 5 min");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    const timeline::Timeline& t = c->timeline();
    REQUIRE(t.thresholds.size() == 1);
    CHECK(t.states[t.spans[0].state].armed == 1);
    CHECK_FALSE(t.states[t.spans[0].state].open[2]);
    CHECK(t.states[t.spans[1].state].armed == 0);
    CHECK(t.actions[t.spans[1].first_action].kind == timeline::ActionKind::disarm);
    CHECK(t.lines[2].used);
    CHECK(steps("keep oxygen open at 100 sccm above 600 degC\nopen oxygen at 50 sccm\ndwell 1 min")->errors() ==
          "misplaced");
    // What follows the temperature is not shut either: it would open again, or stay open.
    CHECK(steps("keep oxygen open at 100 sccm above 600 degC\ndwell 1 min\nclose oxygen\ndwell 1 min")
              ->errors() == "misplaced");
    for (const char* all : {"close all", "switch to argon at 1 L/min"}) {
        const auto left = [&](const char* degrees) {
            return steps(std::string("keep oxygen open at 100 sccm below ") + degrees + " degC\ndwell 1 min\n" +
                         all + "\ndwell 1 min");
        };
        CHECK(left("600")->errors() == "misplaced");
        CHECK(left("600")->all().find("this leaves `oxygen` open") != std::string::npos);
        CHECK(left("23")->errors() == "misplaced"); // the room may be colder, or warmer
        const auto above = steps(std::string("keep oxygen open at 100 sccm above 600 degC\ndwell 1 min\n") +
                                 all + "\ndwell 1 min");
        CHECK_MESSAGE(above->errors() == "", above->all());
        const auto behind = steps(std::string("repeat 1 times {\nkeep oxygen open at 100 sccm below 600 degC\n"
                                              "dwell 1 min\n}\n") +
                                  all + "\ndwell 1 min");
        CHECK_MESSAGE(behind->errors() == "", behind->all());
    }
}

TEST_CASE("a requirement or a standing threshold behind which no step follows is told") {
    for (const char* text : {"require temperature < 100 degC", "keep oxygen open at 100 sccm below 600 degC"}) {
        CAPTURE(text);
        CHECK(steps(std::string("dwell 1 min\n") + text)->errors() == "misplaced");
        CHECK(steps(std::string("if yes {\n") + text + "\n}\ndwell 1 min")->errors() == "misplaced");
        CHECK(steps(std::string("if yes {\n") + text + "\ndwell 1 min\n}\ndwell 1 min")->errors() == "");
        CHECK(steps(std::string("if yes {\n") + text + "\ndwell 0 min\n}\ndwell 1 min")->errors() == "");
    }
}

TEST_CASE("repeat until an operator accepts: every pass is there, each ends with the person") {
    auto c = steps("repeat until operator accepts \"single phase\" at most 3 times {\n dwell 1 h\n}");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    REQUIRE(c->timeline().spans.size() == 6);
    for (std::size_t i : {1U, 3U, 5U}) CHECK(c->timeline().spans[i].ending.kind == EndingKind::person);
}

TEST_CASE("repeat until an operator accepts: what follows starts from every pass") {
    const std::string once = "purge argon at 2 L/min for 2 min\n";
    const auto behind = [](const std::unique_ptr<Case>& c) {
        REQUIRE_MESSAGE(c->done.complete, c->all());
        const Interval took = c->timeline().spans.back().duration;
        return took.hi;
    };
    const std::string wait = "dwell until oxygen < 0.5 %\n";
    auto many = steps("repeat until operator accepts \"steady\" at most 20 times {\n" + once + "}\n" + wait);
    auto one = steps(once + "wait for operator \"steady\"\n" + wait);
    CHECK(behind(many) == doctest::Approx(behind(one)).epsilon(1e-9));
    REQUIRE(many->timeline().exits.size() == 19);
    CHECK(many->timeline().exits[0].from == 2);
    CHECK(many->timeline().exits[0].to == 40);
    CHECK(steps("repeat 20 times {\n" + once + "}\n" + wait)->timeline().exits.empty());
}

TEST_CASE("runs: what stands between belongs to the next, a pause nobody described is a stop of any length") {
    auto c = steps("run \"a\" { dwell 1 h }\nwait for operator \"regrind\" with tube open\nrun \"b\" { dwell 2 "
                   "h }\nrun \"c\" { dwell 3 h }");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    const timeline::Timeline& t = c->timeline();
    REQUIRE(t.runs.size() == 3);
    CHECK(t.runs[1].first == 1);
    CHECK(t.runs[1].last == 3);
    CHECK(t.runs[2].first == 3);
    CHECK(t.spans[3].ending.kind == EndingKind::person); // added
    CHECK(t.texts[t.spans[3].ending.text] == "start \"c\"");
    CHECK(steps("dwell 1 h")->timeline().runs.size() == 1);
}

TEST_CASE("a quench ends the run") {
    CHECK(steps("ramp to 900 degC at 5 K/min\nquench in water")->done.complete);
    CHECK(steps("ramp to 900 degC at 5 K/min\nquench in water\ndwell 1 h")->errors() == "misplaced");
    CHECK(steps("run \"a\" {\n ramp to 700 degC at 3 K/min\n quench in air\n dwell 1 h\n}")->errors() ==
          "misplaced");
    CHECK(steps("run \"a\" {\n quench in air\n wait for operator \"x\"\n}")->errors() == "misplaced");
    // A person stands between two runs, and at a wait outside of any.
    for (const char* between :
         {"", "wait for operator \"load\"\n", "wait for operator \"load\"\nnote \"x\"\n", "note \"x\"\n"}) {
        auto c = steps(std::string("run \"first\" {\n ramp to 700 degC at 3 K/min\n quench in air\n}\n") +
                       between + "run \"second\" {\n dwell 1 h\n}");
        CHECK_MESSAGE(c->done.complete, between, "\n", c->all());
        if (std::string(between).find("wait") == 0)
            CHECK(std::none_of(c->timeline().texts.begin(), c->timeline().texts.end(),
                               [](const std::string& text) { return text.find("start") == 0; }));
    }
    // Who took the load out has not put the next one in: the second run waits for its start.
    auto two =
        steps("run \"first\" {\n ramp to 700 degC at 3 K/min\n quench in air\n}\nrun \"second\" {\n dwell "
              "1 h\n}");
    const timeline::Timeline& t = two->timeline();
    REQUIRE(t.spans.size() == 4);
    CHECK(t.spans[2].ending.kind == EndingKind::person);
    CHECK(t.texts[t.spans[2].ending.text] == "start \"second\"");
    auto plain = steps("ramp to 700 degC at 3 K/min\nquench in air\nwait for operator \"load\"\ndwell 1 h");
    CHECK_MESSAGE(plain->done.complete, plain->all());
}

TEST_CASE("an expansion beyond the limit is refused before anything is computed") {
    CHECK(steps("repeat 2000 times { repeat 2000 times { dwell 1 s } }")->errors() == "too_large");
    CHECK(steps("repeat 100000000 times { dwell 1 s }")->errors() == "too_large");
    CHECK(steps("repeat 2000000 times { repeat 2000000 times { } }")->errors() == "too_large");
    CHECK(steps("repeat 20 times { repeat 20 times { dwell 1 s } }")->done.complete);
    // A pump-down is followed in small parts, and counts as more.
    CHECK(steps("repeat 6000 times {\n evacuate to 1 mbar\n backfill argon at 4 slm to ambient + 20 mbar\n}")
              ->errors() == "too_large");
    CHECK(steps("repeat 2.5 times { dwell 1 s }")->errors() != "");
}

TEST_CASE("a run beyond ten years is refused before anything is keyed") {
    CHECK(steps("repeat 60 times { dwell 4294967296 min\n dwell 5 min }")->errors() == "too_large");
    CHECK(steps("repeat 4000 times { dwell 1 d }")->errors() == "too_large");
    CHECK(steps("repeat 40 times { dwell 80 d }")->done.complete);
}

TEST_CASE("what stands behind a repeat without a count is judged no further") {
    auto c = steps("repeat 1.5 times {\n ramp to 500 degC at 2 K/min\n}\ncool to 60 degC");
    CHECK_MESSAGE(c->out.errors() == 1, c->all());
}

TEST_CASE("cooling without a rate is natural, whatever rate the defaults have for ramps") {
    auto c =
        steps("defaults { cooling 1 K/min }\nramp to 500 degC at 2 K/min\nramp to 400 degC\ncool to 80 degC");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    CHECK(c->timeline().spans[1].duration.hi == doctest::Approx(6000).scale(0));
    CHECK(c->timeline().spans.back().ending.kind == EndingKind::passes);
}

TEST_CASE("one message per place, however often a loop comes by, and none that follows from another") {
    auto c = steps("repeat 20 times { open argon at 3 L/min\ndwell 1 min }");
    CHECK(c->out.errors() == 1);
    CHECK(steps("ramp to 1250 degC at 5 K/min\ndwell 1 h\ncool to 80 degC")->out.errors() == 1);
    CHECK(steps("open hydrogen at 0.5 L/min\npurge argon at 1 L/min until oxygen < 1 ppm\ncool to 10 degC")
              ->out.errors() == 1);
}

TEST_CASE("the set-point starts at the middle of ambient and follows the laws") {
    auto c = steps("ramp to 300 degC at 5 K/min\nstep to 315 degC\ndwell 1 h\ncool to 100 degC\ndwell 5 min");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    const timeline::Timeline& t = c->timeline();
    CHECK(t.laws_of(0)[0].from == doctest::Approx(23 + 273.15).scale(0));
    CHECK(t.laws_of(1)[0].kind == LawKind::jump);
    CHECK(t.laws_of(2)[0].to == 315 + 273.15);
    CHECK(t.laws_of(4)[0].to == 100 + 273.15);
    for (std::size_t i = 1; i < t.spans.size(); ++i) CHECK(t.laws_of(i)[0].from == t.laws_of(i - 1)[0].to);
}

TEST_CASE("a repeat until somebody accepts asks at least once") {
    const auto passes = [](const std::string& n) {
        return steps("repeat until operator accepts \"bright\" at most " + n +
                     " times { dwell 1 h }\ndwell 5 min");
    };
    CHECK_MESSAGE(passes("0")->errors() == "misplaced", passes("0")->all());
    CHECK(passes("1")->errors() == "");
    CHECK(steps("repeat 0 times { dwell 1 h }\ndwell 5 min")->errors() == "");
}

TEST_CASE("a wait for what nothing can change is told as it was written") {
    auto c = steps("dwell until 1 > 2");
    REQUIRE(c->first(Code::condition_unreachable) != nullptr);
    CHECK_MESSAGE(c->first(Code::condition_unreachable)->message.starts_with("`1 > 2` can never be certain"),
                  c->all());
}

TEST_CASE("an error that leaves the timeline as it is written leaves the rules to be judged") {
    auto shock = steps("ramp to 700 degC at 30 K/min", "ceramic");
    CHECK_MESSAGE(shock->errors().find("tube_shock") != std::string::npos, shock->all());
    CHECK_FALSE(shock->done.complete);
    CHECK(shock->done.whole);
    auto wide = steps("open argon at 50 L/min\ndwell 5 min");
    CHECK_MESSAGE(wide->errors() == "flow_out_of_range", wide->all());
    CHECK(wide->done.whole);
    CHECK_FALSE(steps("open argon at 0 L/min\ndwell 5 min")->done.whole); // open, and nothing flows
    // A target that was cut, or a wait without an end, is another process.
    for (const char* text :
         {"ramp to 1500 degC at 3 K/min", "dwell until oxygen < 1 ppb", "dwell 5 min\nopen nitrogen"})
        CHECK_FALSE_MESSAGE(steps(text)->done.whole, text);
}

TEST_CASE("what uncertain values decide is no condition of a run") {
    // The room has 980 to 1030 mbar.
    const std::string heats = "\nramp to 500 degC at 5 K/min";
    for (const char* asked :
         {"require temperature < 100 degC while ambient > 1000 mbar", "require not (ambient > 1000 mbar)",
          "require not (ambient > 1000 mbar and argon is open)",
          "require temperature < 100 degC while 500 degC ± 20 K > 490 degC",
          "let high = ambient > 1000 mbar\nrequire temperature < 100 degC while high"}) {
        auto c = steps(asked + heats);
        CHECK_MESSAGE(c->errors() == "misplaced", asked, "\n", c->all());
        CHECK(c->all().find("uncertain values decide this") != std::string::npos);
    }
    CHECK(steps("dwell until not (ambient > 1000 mbar)")->errors() == "misplaced");
    // Beside a signal an uncertain value is asked of every rig; what is certain is worked out.
    for (const char* asked : {"require pressure < ambient + 200 mbar", "require pressure > ambient - 100 mbar",
                              "require temperature < 600 degC while ambient > 900 mbar",
                              "require not (ambient > 1100 mbar and argon is open)"}) {
        auto c = steps(asked + heats);
        CHECK_MESSAGE(c->errors().empty(), asked, "\n", c->all());
    }
}

TEST_CASE("a warning of one pass does not silence the error of another") {
    const auto both = [](const std::string& text) {
        return run(R"(use "rigs.ath"
thermocouple short_one { range 0 degC to 700 degC ; class 1 { range 0 degC to 500 degC ; tolerance 1.5 K } }
rig other from bench { sensor short_one class 1 }
recipe r on other { )" +
                   text + " }");
    };
    auto c = both("for t in [600 degC, 750 degC] { ramp to t at 2 K/min }");
    CHECK_MESSAGE(c->errors() == "beyond_sensor", c->all());
    CHECK(c->warnings() == "beyond_sensor");
    auto inside = both("for t in [600 degC, 700 degC] { ramp to t at 2 K/min }");
    CHECK_MESSAGE(inside->errors().empty(), inside->all());
    CHECK(inside->warnings() == "beyond_sensor");
}

TEST_CASE("what is placed inside a step is counted") {
    const auto with = [](const std::string& action) {
        return run(
            "use \"rigs.ath\"\noperation many() { repeat 3000 times { repeat 3000 times { note \"x\" } } "
            "}\nrecipe r on bench { dwell 1 h { after 5 min " +
            action + " } }");
    };
    CHECK(with("many()")->errors() == "too_large");
    CHECK(with("many()")->done.plant == nullptr); // before anything is computed
    CHECK(with("note \"x\"")->done.complete);
}

TEST_CASE("several set-points on their way: an action comes where the first of them passes") {
    auto c =
        steps("ramp left to 200 degC, centre to 900 degC over 5 h { at 150 degC note \"x\" }", "three_zones");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    const timeline::Timeline& t = c->timeline();
    REQUIRE(t.spans.size() == 2);
    CHECK(t.laws_of(0)[1].to == 150 + 273.15);
    CHECK(t.laws_of(0)[0].to < 60 + 273.15);
}

TEST_CASE("an instant in natural cooling lifts no colder zone") {
    const std::string apart = "ramp left to 100 degC, centre to 350 degC, right to 600 degC at 2 K/min\n";
    for (const char* placed : {"at 500 degC note \"x\"", "after 1 min note \"y\"\n at 500 degC note \"x\"",
                               "at 500 degC note \"x\"\n at 300 degC note \"y\""}) {
        auto c = steps(apart + "cool to 50 degC {\n " + placed + "\n}", "three_zones");
        REQUIRE_MESSAGE(c->done.complete, c->all());
        const timeline::Timeline& t = c->timeline();
        REQUIRE(t.spans.size() >= 5);
        for (std::size_t i = 3; i < t.spans.size(); ++i)
            for (std::size_t z = 0; z < 3; ++z)
                if (t.laws_of(i)[z].kind == LawKind::off) CHECK(t.laws_of(i)[z].to <= t.laws_of(i)[z].from);
    }
    // Where all are hotter each is held there, and the controller sees it.
    auto hot = steps("ramp left to 550 degC, right to 600 degC at 2 K/min\nramp centre to 600 degC at 2 K/min\n"
                     "cool to 50 degC {\n at 500 degC note \"x\"\n}",
                     "three_zones");
    REQUIRE_MESSAGE(hot->done.complete, hot->all());
    const timeline::Timeline& t = hot->timeline();
    const std::size_t last = t.spans.size() - 2;
    for (std::size_t z = 0; z < 3; ++z) CHECK(t.laws_of(last)[z].to == 500 + 273.15);
}

TEST_CASE("a furnace that lags below its set-point may have cooled sooner") {
    const auto cools = [](const char* dwell) {
        return steps(std::string("step to 900 degC\n") + dwell +
                     "\ncool to 850 degC { after 90 s note \"x\" }");
    };
    CHECK_MESSAGE(cools("dwell 1 min")->all().find("the cooling may be over after") != std::string::npos,
                  cools("dwell 1 min")->all());
    CHECK_MESSAGE(cools("dwell 5 h")->all().find("the cooling may be over after") == std::string::npos,
                  cools("dwell 5 h")->all());
}

TEST_CASE("`at most` counts the whole step, whatever is placed in it") {
    const auto waits = [](const std::string& most, const std::string& after) {
        return steps("open argon at 1 L/min\ndwell until oxygen < 100 ppm at most " + most + " { after " +
                     after + " note \"x\" }");
    };
    auto plain = steps("open argon at 1 L/min\ndwell until oxygen < 100 ppm at most 1 min");
    REQUIRE(plain->first(Code::condition_unreachable) != nullptr);
    auto cut = waits("30 min", "20 min");
    const Diagnostic* d = cut->first(Code::condition_unreachable);
    REQUIRE_MESSAGE(d != nullptr, cut->all());
    CHECK_MESSAGE(d->message.find("more than the 30 min allowed") != std::string::npos, d->message);
    // The same time is told with the action and without it, to the minute.
    REQUIRE(d->remedies.size() == 1);
    CHECK(d->remedies == plain->first(Code::condition_unreachable)->remedies);
    CHECK_MESSAGE(waits("30 h", "20 min")->errors().empty(), waits("30 h", "20 min")->all());
    auto late = waits("30 h", "31 h");
    CHECK_MESSAGE(late->errors() == "never_reached", late->all());
}
