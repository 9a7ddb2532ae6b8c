// Fuel that the load gives off.
#include "tests/prove/rules.hpp"

using namespace athanor;
using namespace athanor::prove::test;

namespace {

/// A load that gives off carbon monoxide above 400 degC, from line 3; argon sweeps, and a burner with a pilot
/// burns. Lower limit 10.9 % (IEC 60079-20-1:2010).
std::unique_ptr<Case>
firing(const std::string& sccm, const std::string& before, const std::string& after,
       const std::string& properties = "exhaust afterburner { output 4 ; pilot yes ; into extraction_hood { "
                                       "backup_power yes } }") {
    return on(properties, "load { evolves carbon_monoxide 0 sccm to " + sccm +
                              " sccm above 400 degC }\nopen argon at 2 slm\n" + before +
                              "ramp to 800 degC at 5 K/min\ndwell 30 min\n" + after);
}

const std::string swept = "dwell until oxygen < 0.2 %\nlight burner\ndwell 1 min\n";
const std::string cleared = "cool to 300 degC\ndwell until carbon_monoxide < 1 %\nshut burner\ndwell 1 min\n";

bool refused_by(const Case& c, std::string_view code) {
    return c.errors().find(std::string(code) + ":") != std::string::npos;
}

} // namespace

TEST_CASE("fuel of the load: swept, burnt and cleared it passes") {
    auto c = firing("100", swept, cleared);
    CHECK_MESSAGE(c->errors() == "", c->all());
}

TEST_CASE("fuel of the load: each rule of a flammable line that it can break") {
    CHECK(refused_by(*firing("100", "dwell until oxygen < 0.2 %\n",
                             "cool to 300 degC\ndwell until carbon_monoxide < 1 %\ndwell 1 min\n"),
                     "burner_off"));
    CHECK(refused_by(*firing("100", swept, ""), "flammable_left_at_end"));
    CHECK(refused_by(*firing("100", swept, "wait for operator \"Look\" with tube open\n" + cleared),
                     "opening_tube"));
    // Air is still in the tube when the load is hot enough: nothing sweeps it first, and little flows.
    CHECK(refused_by(*on("", "load { evolves carbon_monoxide 0 sccm to 500 sccm above 100 degC }\nlight "
                             "burner\nramp to 800 degC at 5 K/min\ndwell 30 min\n"),
                     "flammable_mixture"));
    CHECK(refused_by(*firing("100", swept, cleared,
                             "line argon { de_energised closed } ; exhaust afterburner { output 4 ; pilot "
                             "yes ; into extraction_hood { backup_power yes } }"),
                     "no_inert_on_abort"));
    CHECK(refused_by(*firing("100", swept, cleared, "exhaust afterburner { output 4 }"),
                     "abort_outflow_unburnt"));
}

TEST_CASE("fuel of the load: under a quarter of its lower limit it needs no burner") {
    // 2.725 % of 0.7 * 1.96 slm that certainly mix: 37.4 sccm, a little more with the gas itself.
    const std::string bare = "dwell until oxygen < 0.2 %\n", end = "cool to 300 degC\n";
    CHECK_MESSAGE(firing("35", bare, end)->errors() == "", firing("35", bare, end)->all());
    CHECK(refused_by(*firing("41", bare, end), "burner_off"));
}

TEST_CASE("fuel of the load: an inert line that falls open at a flow that nobody set is none") {
    const std::string nitrogen =
        "line argon { de_energised closed } ; line nitrogen { gas nitrogen ; output 6 ; de_energised open ; "
        "meter hand ; flow 0.01 slm to 3 slm ; supply 120 mbar gauge } ; exhaust afterburner { output 4 ; "
        "pilot yes ; into extraction_hood { backup_power yes } }";
    CHECK(refused_by(*firing("100", swept, cleared, nitrogen), "no_inert_on_abort"));
    CHECK_FALSE(
        refused_by(*firing("100", swept + "open nitrogen at 1 slm\n", cleared, nitrogen), "no_inert_on_abort"));
}
