// Fuel in a gas that ISO 10156 counts as not flammable: cold it is harmless, in a hot tube with air it is not.
#include "tests/prove/rules.hpp"

using namespace athanor;
using namespace athanor::prove::test;

namespace {

/// Steps on a bench without a pump, from line 12; `lean` carries 5 % of hydrogen, `leaner` less than its limit,
/// `lean_methane` 8 % of methane. Air comes in by the outlet.
std::unique_ptr<Case> bench(const std::string& text, const std::string& argon = "closed",
                            const std::string& tube = "fused_quartz", const std::string& lean = "closed") {
    return run(
        R"(gas lean_methane = 8 % methane + rest nitrogen ; gas lean_hydrogen = 3 % hydrogen + rest nitrogen
material bare { limit 1200 degC source "test" } rig bench { ambient 18 degC to 28 degC, 980 mbar to 1030 mbar
  furnace { range 30 degC to 1100 degC ; heated_length 300 mm ; power 2.0 kW ; heat_up 40 min to 1000 degC
    holding_power 0.8 kW ± 10 % at 1000 degC ; cool_down 1000 degC to 200 degC in 3 h ± 10 % }
  tube { material )" +
        tube + R"( ; inner_diameter 50 mm ; wall 2.5 mm ; length 900 mm } ; ends radiation_shields { count 4 }
  seals gas_tight { rated 200 mbar gauge ; cooled yes } ; mixing 0.7 to 1 ; leak_rate 1e-4 mbar*L/s ; sensor type_k class 1
  line argon { gas argon ; output 1 ; de_energised )" +
        argon + R"( ; meter controlled ; flow 0.1 slm to 4 slm ; supply 150 mbar gauge }
  line lean { gas forming_gas_5 ; output 2 ; de_energised )" +
        lean + R"( ; meter controlled ; flow 0.02 slm to 1 slm ; supply 150 mbar gauge }
  line leaner { gas lean_hydrogen ; output 3 ; de_energised closed ; meter controlled ; flow 0.02 slm to 1 slm ; supply 150 mbar gauge }
  line fuel { gas lean_methane ; output 4 ; de_energised closed ; meter controlled ; flow 0.02 slm to 1 slm ; supply 150 mbar gauge }
  exhaust into extraction_hood ; relief 180 mbar gauge ; room 60 m3 ventilated 4 1/h } ; recipe r on bench {
)" + text +
        "}\n");
}

const std::string purged = "purge argon at 2 slm until oxygen < 100 ppm\n",
                  heat = "ramp to 800 degC at 4 K/min\n",
                  unload = "wait for operator \"Unload\" with tube open\n";

} // namespace

TEST_CASE("lean fuel: into a hot tube full of room air") {
    auto c = bench(heat + "open lean at 0.5 slm\ndwell 1 h\nclose lean\ncool to 50 degC\n");
    CHECK_MESSAGE(c->errors() == "flammable_mixture:13", c->all());
    CHECK(c->only().message.find("fuel at up to 125 % of its lower limit may meet air") == 0);
    CHECK(c->row("flammable_mixture", 1).verdict != plant::Verdict::proven);
    // As the remedy says.
    REQUIRE_FALSE(c->only().remedies.empty());
    CHECK(c->only().remedies[0].find("switch to argon at 4 slm ; dwell until oxygen < 0.5 %") !=
          std::string::npos);
    CHECK(bench(heat +
                "switch to argon at 4 slm ; dwell until oxygen < 0.5 %\nopen lean at 0.5 slm\ndwell 1 h\n"
                "cool to 50 degC\nclose all\n")
              ->errors() == "");
    // Let in cold it has driven out the air before it lights; so has one that was purged.
    for (const std::string& before : {std::string(), purged}) {
        auto cold = bench(before + "switch to lean at 0.5 slm\n" + heat +
                          "dwell 1 h\ncool to 50 degC\nclose all\n" + unload);
        CHECK_MESSAGE(cold->errors() == "", cold->all());
        CHECK(cold->row("flammable_mixture", 1).verdict == plant::Verdict::proven);
    }
    // Methane lights later, and 3 % of hydrogen are below the lower limit with any air.
    CHECK(bench("ramp to 450 degC at 4 K/min\nopen fuel at 0.5 slm\ndwell 1 h\ncool to 50 degC\nclose all\n")
              ->errors() == "");
    CHECK(bench(heat + "open fuel at 0.5 slm\ndwell 1 h\ncool to 50 degC\nclose all\n")->errors() ==
          "flammable_mixture:13");
    CHECK(bench(heat + "open leaner at 0.5 slm\ndwell 1 h\ncool to 50 degC\nclose all\n")->errors() == "");
}

TEST_CASE("lean fuel: a hot tube is not opened to it") {
    const std::string hot = purged + "switch to lean at 0.5 slm\n" + heat + "dwell 1 h\n",
                      end = "cool to 50 degC\nclose all\n";
    auto c = bench(hot + unload + "dwell 10 min\n" + end);
    CHECK_MESSAGE(c->errors() == "opening_tube:16", c->all());
    CHECK(c->only().message.find("with fuel at up to 125 % of its lower limit in it") != std::string::npos);
    CHECK(
        bench(hot + "switch to argon at 4 slm ; dwell until flammability < 25 %\n" + unload + end)->errors() ==
        "");
    CHECK(bench(hot + "cool to 50 degC\n" + unload + end)->errors() == "");
    // It heats up while the person is waited for.
    CHECK(bench(purged + "switch to lean at 0.5 slm\ndwell 30 min\nstep to 800 degC\n" + unload + end, "closed",
                "bare")
              ->errors()
              .starts_with("opening_tube:16"));
    // A quarter of the limit is what the rules let pass, hot as cold.
    CHECK(bench(purged + "switch to leaner at 0.5 slm\n" + heat + unload + end)->errors() == "opening_tube:15");
    CHECK(bench(purged + "switch to leaner at 0.5 slm\n" + heat + "switch to argon at 4 slm\ndwell 1 h\n" +
                unload + end)
              ->errors() == "");
    // Two faults: into air, and opened.
    CHECK(bench(heat + "open fuel at 0.5 slm\ndwell 1 h\n" + unload + end)->errors() ==
          "flammable_mixture:13 opening_tube:15");
}

TEST_CASE("lean fuel: shut off hot, the cooling tube draws air in") {
    const std::string hot = purged + "switch to lean at 0.5 slm\n" + heat + "dwell 1 h\n";
    auto c = bench(hot + "close all\ncool to 50 degC\n");
    CHECK_MESSAGE(c->errors() == "flammable_mixture:17", c->all());
    REQUIRE(c->only().remedies.size() == 2);
    CHECK(c->only().remedies[1].find("cool to 350 °C") != std::string::npos);
    CHECK(
        bench(hot + "switch to argon at 4 slm ; dwell until flammability < 25 %\nclose all\ncool to 50 degC\n")
            ->errors() == "");
    CHECK(bench(hot + "cool to 350 degC\nclose all\ncool to 50 degC\n")->errors() == "");
    // The end shuts it as well.
    auto end = bench(hot);
    CHECK_MESSAGE(end->errors() == "flammable_left_at_end:15", end->all());
    CHECK(bench(hot, "open, 2 slm to 4 slm")->errors() == "");
    // What has met air before is not told once more at the end.
    CHECK(bench(heat + "open lean at 0.5 slm\ndwell 1 h\n")->errors() == "flammable_mixture:13");
    CHECK(bench(hot + "cool to 60 degC\n")->errors() == "");
}

TEST_CASE("lean fuel: a failure of power that lets air in is warned of") {
    const std::string whole =
        purged + "switch to lean at 0.5 slm\n" + heat + "dwell 1 h\ncool to 50 degC\nclose all\n";
    auto c = bench(whole);
    CHECK_MESSAGE(found(*c, Code::no_inert_on_abort, Severity::warning) == "14", c->all());
    CHECK(c->row("no_inert_on_abort", 1).outcome() == prove::Outcome::warned);
    CHECK(c->first(Code::no_inert_on_abort).remedies[0].find("de_energised open, 2 slm to 4 slm") !=
          std::string::npos);
    CHECK(found(*bench(whole, "open, 2 slm to 4 slm"), Code::no_inert_on_abort, Severity::warning) == "");
    CHECK(found(*bench(purged + "switch to leaner at 0.5 slm\n" + heat + "cool to 50 degC\nclose all\n"),
                Code::no_inert_on_abort, Severity::warning) == "");
}

TEST_CASE("lean fuel: a line that falls open into a hot tube full of air") {
    const std::string falls = "open, 0.5 slm to 1 slm", whole = heat + "dwell 1 h\ncool to 60 degC\n";
    const auto fails = bench(whole, "closed", "fused_quartz", falls);
    CHECK_MESSAGE(fails->errors() == "flammable_mixture:12", fails->all());
    CHECK(fails->only().message.find("when power fails here `lean` falls open") == 0);
    CHECK(fails->row("flammable_mixture", 1).verdict == plant::Verdict::proven); // without a failure
    CHECK(bench(whole)->errors() == "");
    // The end of the run does the same.
    const auto ends = bench(heat + "dwell 1 h\n", "closed", "fused_quartz", falls);
    CHECK_MESSAGE(ends->errors() == "flammable_left_at_end:13", ends->all());
    CHECK(bench(heat + "dwell 1 h\n")->errors() == "");
    // It never lights in a tube that stays cold, and in one that it flows through all the time it meets no air.
    CHECK(bench("ramp to 300 degC at 4 K/min\ndwell 1 h\ncool to 60 degC\n", "closed", "fused_quartz", falls)
              ->errors() == "");
    const auto flows = bench(purged + "switch to lean at 1 slm\n" + heat + "dwell 1 h\ncool to 60 degC\n",
                             "closed", "fused_quartz", falls);
    CHECK_MESSAGE(flows->errors() == "", flows->all());
}
