// `require` and `expect`: proven, not provable, violated; their places and margins.
#include "tests/prove/support.hpp"

#include <doctest/doctest.h>

using namespace athanor;
using namespace athanor::prove::test;
using plant::Verdict;

namespace {

void gives(const std::string& text, std::string_view errors, std::string_view rig = "small") {
    auto c = steps(text, {}, rig);
    CAPTURE(text);
    REQUIRE_MESSAGE(c->done.complete, c->all());
    CHECK_MESSAGE(c->errors() == errors, c->all());
    CHECK(c->assurance.proven == errors.empty());
}

const std::string violated = "requirement_violated:", unsure = "requirement_not_provable:";

} // namespace

TEST_CASE("proven") {
    auto c = steps("require oxygen < 100 ppm while temperature > 200 degC\n"
                   "purge argon at 2 slm until oxygen < 50 ppm\nramp to 400 degC at 5 K/min");
    CHECK_MESSAGE(c->errors().empty(), c->all());
    CHECK(c->assurance.proven);
    const prove::Row& row = c->row("require");
    CHECK(row.verdict == Verdict::proven);
    CHECK(row.applied);
    CHECK(row.title == "require oxygen < 100 ppm while temperature > 200 °C");
}

TEST_CASE("a guard that is never met: the requirement did not apply") {
    auto c = steps("require oxygen < 100 ppm while temperature > 500 degC\nramp to 400 degC at 5 K/min");
    CHECK_MESSAGE(c->errors().empty(), c->all());
    CHECK_FALSE(c->row("require").applied);
    CHECK(c->row("require").margin.empty());
    const Diagnostic& d = c->first(Code::never_reached);
    CHECK(d.severity == Severity::warning);
    CHECK(c->files.text(d.span) == "temperature > 500 degC");
    CHECK_FALSE(steps("require oxygen < 30 % while temperature > 300 degC\nramp to 400 degC at 5 K/min")
                    ->out.has(Code::never_reached));
}

TEST_CASE("violated: it fails for every rig") {
    gives("require oxygen < 15 %\nopen argon at 2 slm\ndwell 10 min", violated + "3");
    gives("require burner\ndwell 10 min", violated + "3");
    // In an hour the walls give off far too little to take the place of air that nothing renews.
    gives("require oxygen < 100 ppm while temperature > 200 degC\nramp to 400 degC at 5 K/min", violated + "3");
    gives("require temperature < 300 degC\nramp to 500 degC at 5 K/min\ndwell 1 h", violated + "3");
    auto c = steps("require oxygen < 15 %\nopen argon at 2 slm\ndwell 10 min");
    const Diagnostic& d = c->only();
    CHECK(d.message.find("for every rig") != std::string::npos);
    CHECK(d.message.find("oxygen is 20.") != std::string::npos);
    REQUIRE(d.related.size() == 1);
    CHECK(c->files.text(d.related[0].span) == "dwell 10 min");
    CHECK(c->row("require").verdict == Verdict::violated);
}

TEST_CASE("not provable: it fails for some rig") {
    // A set-point of 300 degC leaves some 18.5 K to each side on a ramp.
    gives("require temperature < 305 degC\nramp to 300 degC at 5 K/min", unsure + "3");
    gives("require temperature < 320 degC\nramp to 300 degC at 5 K/min", "");
    auto c = steps("require temperature < 305 degC\nramp to 300 degC at 5 K/min");
    CHECK(c->only().message.find("for some rig") != std::string::npos);
    CHECK(c->row("require").verdict == Verdict::not_provable);
}

TEST_CASE("a requirement holds from where it stands to the end of its block") {
    gives("dwell 1 min\nopen argon at 1 slm\nrequire argon is open\ndwell 1 min\n", "");
    gives("dwell 1 min\nopen argon at 1 slm\nrequire argon is open\ndwell 1 min\nclose argon\ndwell 1 min\n",
          violated + "5");
    gives("repeat 2 times {\nopen argon at 1 slm\nrequire argon is open\ndwell 1 min\n}\nclose argon\ndwell 1 "
          "min\n",
          "");
    gives("repeat 3 times {\nrequire argon is open\nopen argon at 1 slm\ndwell 1 min\nclose argon\ndwell 1 "
          "min\n}\n",
          violated + "4");
}

TEST_CASE("a failure in the middle of a step is found") {
    // The guard opens on the way, and the limit is passed after it.
    gives("require temperature < 400 degC while elapsed > 10 min\nramp to 600 degC at 20 K/min\n"
          "cool to 100 degC\n",
          violated + "3");
    gives("require temperature < 650 degC while elapsed > 10 min\nramp to 600 degC at 20 K/min\n"
          "cool to 100 degC\n",
          "");
}

TEST_CASE("several requirements, each its own row and its own verdict") {
    auto c = steps("require oxygen < 15 %\nrequire temperature < 900 degC\nrequire burner\ndwell 10 min");
    CHECK_MESSAGE(c->errors() == violated + "3 " + violated + "5", c->all());
    CHECK(c->row("require", 0).verdict == Verdict::violated);
    CHECK(c->row("require", 1).verdict == Verdict::proven);
    CHECK(c->row("require", 2).verdict == Verdict::violated);
}

TEST_CASE("expect is asked at its instant") {
    gives("purge argon at 2 slm until oxygen < 0.9 %\nexpect oxygen < 1 %\n", "");
    gives("purge argon at 2 slm until oxygen < 1.1 %\nexpect oxygen < 1 %\n", "expectation_violated:4");
    // Between actions of one instant.
    gives("expect argon is closed\nopen argon at 1 slm\nexpect argon is open\ndwell 1 min\nclose argon\n"
          "expect argon is closed\n",
          "");
    gives("open argon at 1 slm\nexpect argon is closed\ndwell 1 min\n", "expectation_violated:4");
    gives("open argon at 1 slm\ndwell 1 min\nclose argon\nexpect argon is open\n", "expectation_violated:6");
    // Opening the tube may let air in at once, and need not.
    const std::string opened =
        "purge argon at 2 slm until oxygen < 1 %\nclose argon\nwait for operator \"Load\" with tube open\n";
    gives(opened + "expect oxygen > 15 %\n", "expectation_violated:6");
    gives(opened + "expect oxygen < 15 %\n", "expectation_violated:6");
}

TEST_CASE("both answers to one question may be refused") {
    std::string head = "purge argon at 2 slm until oxygen < 1.1 %\nexpect oxygen ";
    gives(head + "< 1 %\n", "expectation_violated:4");
    gives(head + ">= 1 %\n", "expectation_violated:4");
}

TEST_CASE("margins name the signal, its worst bound and the limit") {
    auto c = steps("require oxygen < 100 ppm while temperature > 200 degC\nrequire temperature < 500 degC\n"
                   "require temperature > 10 degC\nrequire pump or oxygen < 50 %\n"
                   "purge argon at 2 slm until oxygen < 50 ppm\nramp to 400 degC at 5 K/min");
    REQUIRE_MESSAGE(c->errors().empty(), c->all());
    const std::string oxygen = c->row("require", 0).margin, hottest = c->row("require", 1).margin,
                      coldest = c->row("require", 2).margin;
    CHECK(oxygen.starts_with("oxygen at most "));
    CHECK(oxygen.ends_with(" ppm, limit 100 ppm"));
    CHECK(hottest.starts_with("temperature at most 4"));
    CHECK(hottest.ends_with(" °C, limit 500 °C"));
    CHECK(coldest == "temperature at least 18 °C, limit 10 °C"); // the rig's lowest ambient
    // The nearest instant of the upper bound is the end of the ramp; of the lower one, the start.
    CHECK(c->row("require", 1).at_s > 3600);
    CHECK(c->row("require", 2).at_s == doctest::Approx(0));
    CHECK(c->files.position(c->row("require", 1).source).line == 4); // a row stands for its requirement
}

TEST_CASE("the margin of a rule is the smallest over the run") {
    auto margin = [](const std::string& second) {
        auto c = steps("require temperature < 500 degC\nramp to 300 degC at 5 K/min\ndwell 1 h\n" + second +
                       "\ndwell 1 h");
        REQUIRE_MESSAGE(c->errors().empty(), c->all());
        return c->row("require").margin;
    };
    CHECK(margin("ramp to 400 degC at 5 K/min") != margin("ramp to 420 degC at 5 K/min"));
    CHECK(margin("cool to 200 degC") == margin("cool to 250 degC")); // the peak was before
}

TEST_CASE("what was refused before the proof gives no rows") {
    auto c = steps("ramp to 1300 degC at 5 K/min\nrequire burner");
    CHECK_FALSE(c->done.complete);
    CHECK(c->assurance.rows.empty());
}

TEST_CASE("a cause is the one that decides, and names its zone") {
    const auto cause = [](const std::string& text, const std::string& rig) {
        auto c = steps(text, {}, rig);
        REQUIRE_MESSAGE(c->out.has(Code::expectation_violated), c->all());
        return c->first(Code::expectation_violated).causes.at(0);
    };
    const std::string off =
        cause("evacuate to 0.1 mbar\nstop pump\ndwell 10 h\nexpect pressure < 0.2 mbar", "small");
    CHECK_MESSAGE(off.find("the pump is off: a leak of up to 1e-4 mbar*L/s and ") == 0, off);
    const std::string air = cause(
        "wait for operator \"Load\" with tube open\nopen argon at 1 slm\ndwell 1 min\nexpect oxygen < 1 ppm",
        "small");
    CHECK_MESSAGE(air.find("the room's air") != std::string::npos, air);
    CHECK(air.find("what was there before") == std::string::npos);
    // Oxygen out of a line is what was there before.
    const std::string line =
        cause("open oxygen at 1 slm\ndwell 1 h\nswitch to argon at 1 slm\ndwell 1 min\nexpect oxygen < 1 ppm",
              "small");
    CHECK_MESSAGE(line.find("what was there before") != std::string::npos, line);
    const std::string zones = cause(
        "ramp left to 400 degC, centre to 300 degC, right to 300 degC over 4 h\nexpect temperature > 350 degC",
        "three");
    CHECK_MESSAGE(zones.find("in left the load may lie") != std::string::npos, zones);
    CHECK_MESSAGE(zones.find("; in centre the load may lie") != std::string::npos, zones);
    const std::string alike = cause("ramp to 400 degC at 4 K/min\nexpect temperature > 400 degC", "three");
    CHECK_MESSAGE(alike.find("in left") == std::string::npos, alike);
}
