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
const std::string cleared =
    "cool to 300 degC\ndwell until carbon_monoxide < 1 %\nshut burner\ndwell until carbon_monoxide < 10 ppm\n";

bool refused_by(const Case& c, std::string_view code) {
    return c.errors().find(std::string(code) + ":") != std::string::npos;
}

} // namespace

TEST_CASE("fuel of the load: swept, burnt and cleared it passes") {
    auto c = firing("100", swept, cleared);
    CHECK_MESSAGE(c->errors() == "", c->all());
}

TEST_CASE("fuel of the load: one long cooling clears it behind the temperature at which it ceases") {
    auto c = firing("100", swept,
                    "cool to 60 degC\nshut burner\nclose argon\nwait for operator \"Look\" with tube open\n");
    CHECK_MESSAGE(c->errors() == "", c->all());
    // Cooled to above it, the load goes on.
    CHECK(refused_by(*firing("100", swept, "cool to 420 degC\nshut burner\n"), "flammable_left_at_end"));
}

TEST_CASE("fuel of the load: a warning of an earlier opening does not stand for its error") {
    const auto opened = [&](const std::string& when) {
        return on("", "load { evolves methane 0 sccm to 100 sccm above 400 degC }\nopen oxygen at 500 sccm\n"
                      "dwell 2 h\nclose oxygen\nwait for operator \"Look\" with tube open\n"
                      "open argon at 2 slm\n" +
                          swept + "ramp to 800 degC at 5 K/min\n" + when);
    };
    const std::string told = "the tube is opened with it inside",
                      look = "wait for operator \"x\" with tube open\n";
    const auto hot = opened(look), cold = opened("cool to 60 degC\ndwell until methane < 10 ppm\n" + look);
    CHECK_MESSAGE(found(*hot, Code::opening_tube, Severity::warning) == "7", hot->all());
    CHECK_MESSAGE(hot->all().find(told) != std::string::npos, hot->all());
    CHECK_MESSAGE(cold->all().find(told) == std::string::npos, cold->all());
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

TEST_CASE("fuel of the load: what a flow keeps thin stays in the tube without power, or when a run ends hot") {
    const std::string bare = "dwell until oxygen < 0.2 %\n";
    auto ends = [&](const std::string& argon, const std::string& end, const std::string& controller = {}) {
        return on("line argon { de_energised " + argon + " } ; exhaust open",
                  "load { evolves carbon_monoxide 0 sccm to 30 sccm above 400 degC }\nopen argon at 2 slm\n" +
                      bare + "ramp to 800 degC at 5 K/min\ndwell 30 min\n" + end,
                  controller.empty() ? ""
                                     : "controller " + controller +
                                           " { programs 4 ; segments 40 ; linking no ; loops none ; zones 1 ; "
                                           "setpoint 0 degC to 1200 degC "
                                           "by 1 K ; ramps by rate 0.1 K/min to 99.9 K/min by 0.1 K/min ; "
                                           "dwells 0 s to 99 h by 1 s ; outputs "
                                           "8 ; channels 4 ; operator_wait yes ; at_end " +
                                           controller + " }",
                  controller);
    };
    // While 2 slm flow it is under a quarter of its limit; without them it is not.
    CHECK(refused_by(*ends("closed", "cool to 300 degC\n"), "no_inert_on_abort"));
    CHECK(refused_by(*ends("closed", "close all\n"), "flammable_left_at_end"));

    CHECK(refused_by(*ends("open, 1 slm to 4 slm", "close all\n", "hold"), "flammable_left_at_end"));
}

TEST_CASE("oxygen of the load meets no fuel") {
    // 4 % of hydrogen in nitrogen cannot burn in air; in more oxygen than air holds it can.
    auto meets = [](const std::string& gas, const std::string& sccm) {
        return on(
            "line extra { gas lean ; output 6 ; de_energised closed ; meter controlled ; flow 0.1 slm to 2 "
            "slm ; supply 100 mbar gauge }",
            "load { evolves oxygen 0 sccm to " + sccm + " sccm above 450 degC }\nopen " + gas +
                " at 1 slm\nramp to 550 degC at 5 K/min\ndwell 30 min\ncool to 60 degC\nclose all\n",
            "gas lean = 4 % hydrogen + rest nitrogen");
    };
    const auto c = meets("extra", "300");
    CHECK(refused_by(*c, "flammable_mixture"));
    CHECK(c->first(Code::flammable_mixture).message.find("the load gives off oxygen") == 0);
    CHECK_MESSAGE(meets("argon", "300")->errors() == "", meets("argon", "300")->all());
}

TEST_CASE("fuel of the load: under a quarter of its lower limit it needs no burner") {
    // 2.725 % of 0.7 * 1.96 slm that certainly mix: 37.4 sccm, a little more with the gas itself.
    const std::string bare = "dwell until oxygen < 0.2 %\n",
                      end = "cool to 300 degC\ndwell until carbon_monoxide < 10 ppm\n";
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

TEST_CASE("fuel of the load: out of open ends by diffusion, or with the draught that is declared") {
    // 45 mm by 0.9 m: 4 * 4.85e-4 mol/(m s) * sqrt(18.015/44.1) * pi/4 * (45 mm)^2 / 0.9 m = 2.19e-6
    // mol/s, 2.95 sccm. A quarter of propane's 1.7 % of that: 0.01252 sccm.
    auto burnt_out = [](const std::string& sccm, const std::string& ends = "open_ends",
                        const std::string& more = "", const std::string& above = "200") {
        return run(
            "rig bare { ambient 18 degC to 28 degC, 960 mbar to 1040 mbar ; furnace { range 30 degC to 1100 "
            "degC\n"
            "heated_length 400 mm ; power 2.5 kW ; heat_up 40 min to 1000 degC ; holding_power 0.9 kW ± 10 % "
            "at "
            "1000 degC ; cool_down 1000 degC to 200 degC in 4 h ± 15 % }\n"
            "tube { material fused_quartz ; inner_diameter 45 mm ; wall 2.5 mm ; length 900 mm } ; ends " +
            ends +
            " ; sensor type_n class 2 ; exhaust open ; room 40 m3 ventilated 4 1/h }\n"
            "recipe r on bare {\nload { evolves propane 0 sccm to " +
            sccm + " sccm above " + above + " degC }\nramp to 500 degC at 1 K/min\n" + more +
            "cool to 50 degC\n}\n");
    };
    CHECK_MESSAGE(burnt_out("0.0122")->errors() == "", burnt_out("0.0122")->all());
    CHECK(burnt_out("0.0122", "open_ends", "wait for operator \"Look\"\n")->errors() == "");
    // One finding, with a remedy that works.
    auto much = burnt_out("1.8");
    CHECK_MESSAGE(much->errors() == "flammable_mixture:6", much->all());
    CHECK(burnt_out("0.0128")->errors() == "flammable_mixture:6");
    CHECK(much->only().causes.at(0).find("what draught passes through is not declared") != std::string::npos);
    const std::string& remedy = much->only().remedies.at(0);
    const std::string declared = "open_ends { draught 0.87 slm }";
    CHECK_MESSAGE(remedy.find(declared) != std::string::npos, remedy);
    CHECK_MESSAGE(burnt_out("1.8", declared)->errors() == "", burnt_out("1.8", declared)->all());
    CHECK(burnt_out("1.8", "open_ends { draught 0.83 slm }")->errors() == "flammable_mixture:6");
    // A cold tube draws none: what is given off below 100 degC has only diffusion.
    CHECK(burnt_out("1.8", declared, "", "101")->errors() == "");
    CHECK(burnt_out("1.8", declared, "", "30")->errors() == "flammable_mixture:6");
}
