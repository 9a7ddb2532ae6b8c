// What is taken for granted of the burner and of the pump.
#include "tests/prove/rules.hpp"

using namespace athanor;
using namespace athanor::prove::test;

namespace {

std::string granted(const std::unique_ptr<Case>& c, const std::string& part) {
    REQUIRE_MESSAGE(c->done.complete, c->all());
    for (const std::string& text : c->assurance.assumptions)
        if (text.find(part) != std::string::npos) return text;
    return {};
}

std::unique_ptr<Case> reduced(const std::string& flow, const std::string& steps = {}) {
    return on("",
              "purge argon at 2 slm for 9 volumes\nramp to 900 degC at 5 K/min\nlight burner\ndwell 10 min\n"
              "switch to hydrogen at " +
                  flow + "\ndwell 1 h\n" + steps +
                  "switch to argon at 2 slm\ndwell until hydrogen < 0.5 %\nshut burner\ncool to 60 degC\n"
                  "close all\n");
}

} // namespace

TEST_CASE(
    "the burner's load is said: the most fuel that is pushed out, its heat, and the least gas that brings it") {
    const std::string load = granted(reduced("0.5 slm"), "the burner burns");
    // Hydrogen fills the tube, and argon at 2 slm, 2 % of reading, pushes it out: 2040 sccm of it. 10.79 MJ/Nm3
    // (from 241.826 kJ/mol, NIST-JANAF, and 22.414 L/mol) make 0.1798 kW of each slm: 0.367 kW.
    CHECK_MESSAGE(load.find("up to 2040 sccm of fuel (0.37 kW, lower heating value)") != std::string::npos,
                  load);
    // 490 sccm flow in at least; leak and contraction of a tube that is held take little of it.
    const double least = number_behind(load, "in as little as ");
    CHECK_MESSAGE((least > 450 && least <= 490), load);
    CHECK(number_behind(granted(reduced("0.2 slm"), "the burner burns"), "in as little as ") < 196.1);
}

TEST_CASE("of a burner that is not lit, or that sees no fuel, nothing is said") {
    const char* plain =
        "purge argon at 2 slm for 9 volumes\nramp to 900 degC at 5 K/min\ncool to 60 degC\nclose all\n";
    CHECK(granted(on("", plain), "the burner burns") == "");
    CHECK(granted(on("exhaust into extraction_hood { backup_power yes }", plain), "the burner burns") == "");
    CHECK(
        granted(
            on("", "purge argon at 2 slm for 9 volumes\nlight burner\ndwell 10 min\nshut burner\nclose all\n"),
            "the burner burns") == "");
}

TEST_CASE("what the pump takes out leaves where the exhaust leads, where a pump runs") {
    const std::string word = "what the pump takes out of the tube leaves where the exhaust leads";
    CHECK(granted(on("", "evacuate to 1 mbar\nbackfill argon at 2 slm to ambient + 20 mbar\n"), word) == word);
    CHECK(granted(on("", "purge argon at 2 slm for 9 volumes\nclose all\n"), word) == "");
}
