// Pump, evacuated tube, and end seals.
#include "tests/prove/rules.hpp"

using namespace athanor;
using namespace athanor::prove::test;

TEST_CASE("oxygen_to_pump: 25 % to an oil-sealed pump") {
    // Common practice, no source: what suppliers of pumps write.
    auto swept = [](const std::string& left, const std::string& sealing = "") {
        return on("pump { output 5 ; speed 4 m3/h ; ultimate 1e-2 mbar ; pipe 25 mm by 1 m " + sealing + " }",
                  "open oxygen at 1 slm\ndwell 1 h\nswitch to argon at 2 slm\ndwell until oxygen < " + left +
                      " %\nclose all\nevacuate to 1 mbar\nbackfill argon at 2 slm to ambient + 20 mbar\n");
    };
    refused(swept("25.5"), "oxygen_to_pump", "oxygen_to_pump:8");
    passes(swept("24.5"), "oxygen_to_pump");
    CHECK(swept("25.5", "; sealing dry")->errors() == "");
    passes(on("", "evacuate to 1 mbar\nbackfill argon at 2 slm to ambient + 20 mbar\n"),
           "oxygen_to_pump"); // air
}

TEST_CASE("oxygen_to_pump: any gas that feeds a fire counts as oxygen") {
    auto swept = [](const std::string& hazard, const std::string& left, const std::string& formula = "N2O") {
        return run("use \"rigs.ath\" ; gas nitrous { formula \"" + formula +
                   "\" ; molar_mass 44.013 g/mol ; hazard " + hazard +
                   " } ; rig special from small { line oxygen { gas nitrous } }\nrecipe r on special {\n"
                   "open oxygen at 1 slm\ndwell 1 h\nswitch to argon at 2 slm\ndwell until nitrous < " +
                   left +
                   " %\nclose all\nevacuate to 1 mbar\nbackfill argon at 2 slm to ambient + 20 mbar\n}\n");
    };
    refused(swept("oxidiser", "26"), "oxygen_to_pump", "oxygen_to_pump:8");
    passes(swept("oxidiser", "20"), "oxygen_to_pump"); // and a trace of the first air
    CHECK(swept("oxidiser", "26")->first(Code::oxygen_to_pump).message.find("nitrous") != std::string::npos);
    passes(swept("asphyxiant", "26", "C3F8"), "oxygen_to_pump"); // the same, were it none
    // Air and it are added: 21 % and 15 % may stand in the tube together.
    auto both =
        run("use \"rigs.ath\" ; gas nitrous { formula \"N2O\" ; molar_mass 44.013 g/mol ; hazard oxidiser } ; "
            "gas lean = 15 % nitrous + 21 % oxygen + rest nitrogen ; rig special from small { line oxygen "
            "{ gas lean } }\nrecipe r on special {\nopen oxygen at 1 slm\ndwell 1 h\nclose all\nevacuate "
            "to 1 mbar\nbackfill argon at 2 slm to ambient + 20 mbar\n}\n");
    CHECK_MESSAGE(both->errors() == "oxygen_to_pump:6", both->all());
}

TEST_CASE("pump_vents_back: a valve that falls open") {
    const std::string text = "evacuate to 1 mbar\nbackfill argon at 2 slm to ambient + 20 mbar\n";
    auto pump = [&](const std::string& fallen, const std::string& steps) {
        return on("pump { output 5 ; speed 4 m3/h ; ultimate 1e-2 mbar ; pipe 25 mm by 1 m " + fallen + " }",
                  steps);
    };
    refused(pump("; de_energised open", text), "pump_vents_back", "pump_vents_back:3");
    passes(pump("; de_energised closed", text), "pump_vents_back");
    passes(pump("", text), "pump_vents_back"); // falls closed unless it says otherwise
    CHECK(pump("; de_energised open", "open argon at 1 slm\ndwell 10 min\n")->errors() == "");
}

TEST_CASE("tube_vacuum_limit: softer under external pressure") {
    // Fused quartz: 1000 degC evacuated, 1100 degC else (common practice, no source).
    auto pumped = [](const std::string& target) {
        return on("", "evacuate to 1 mbar\nramp to " + target +
                          " degC at 4 K/min\ncool to 100 degC\nbackfill argon at 2 slm to ambient + 20 mbar\n");
    };
    CHECK(pumped("1001")->errors() == "tube_vacuum_limit:4");
    const auto at_limit = pumped("1000");
    passes(at_limit, "tube_vacuum_limit");
    // The set-point is judged, and the row says so, and how hot it may be then: 10 K of overshoot, control,
    // class 1 of type K, and a load that lies 5 K above the sensor.
    const std::string& margin = at_limit->row("tube_vacuum_limit").margin;
    CHECK_MESSAGE(margin.find("set to at most 1000 °C, limit 1000 °C of a set-point") != std::string::npos,
                  margin);
    const double reached = number_behind(margin, "the hot zone is at most at ");
    CHECK_MESSAGE((reached > 1015 && reached < 1025), margin);
    // The pump may be off: it is the pressure that counts.
    auto kept = on("", "evacuate to 1 mbar\nstop pump\nramp to 1050 degC at 4 K/min\ncool to 100 degC\n");
    CHECK_MESSAGE(kept->errors() == "tube_vacuum_limit:5", kept->all());
    // A tube that is still hot from before, whatever the set-point says.
    auto hot = [](const std::string& cooled) {
        return on("",
                  "open argon at 2 slm\nramp to 1050 degC at 4 K/min\n" + cooled +
                      "close all\nevacuate to 1 mbar\ndwell 10 min\ncool to 100 degC\nbackfill argon at 2 slm "
                      "to ambient + 20 mbar\n");
    };
    const auto stepped = hot("step to 900 degC\n");
    refused(stepped, "tube_vacuum_limit", "tube_vacuum_limit:7");
    CHECK(stepped->only().message.find("may still be at 10") != std::string::npos);
    passes(hot("step to 900 degC\ndwell until temperature < 995 degC\n"), "tube_vacuum_limit");
    passes(hot("cool to 1000 degC\n"), "tube_vacuum_limit"); // what the remedy says
    // Gas that flows in keeps the pressure up while the tube cools.
    CHECK(
        on("", "open argon at 2 slm\nramp to 1050 degC at 4 K/min\ncool to 100 degC\nclose all\n")->errors() ==
        "");
}

TEST_CASE("seals_too_hot: behind shields they lie a rise above the room") {
    auto seals = [](const std::string& block, const std::string& ends = "radiation_shields { count 4 }",
                    const std::string& target = "900") {
        return on("ends " + ends + " ; seals gas_tight { rated 200 mbar gauge " + block + " }",
                  "ramp to " + target + " degC at 4 K/min\ncool to 100 degC\n");
    };
    // 28 degC of room and 80 K: 108 degC.
    refused(seals("; limit 107 degC"), "seals_too_hot", "seals_too_hot:3");
    passes(seals("; limit 109 degC"), "seals_too_hot");
    passes(seals(""), "seals_too_hot"); // 120 degC where nothing is declared
    CHECK(seals("")->row("seals_too_hot").margin.find("default") != std::string::npos);
    passes(seals("; limit 60 degC ; rise 5 K to 30 K"), "seals_too_hot"); // measured
    refused(seals("; limit 60 degC ; rise 5 K to 33 K"), "seals_too_hot", "seals_too_hot:3");
}

TEST_CASE("seals_too_hot: down an empty bore") {
    auto bare = [](const std::string& target, const std::string& more = "") {
        return on("ends open_ends ; seals gas_tight { rated 200 mbar gauge " + more + " }",
                  "ramp to " + target + " degC at 4 K/min\ncool to 100 degC\n");
    };
    refused(bare("900"), "seals_too_hot", "seals_too_hot:3");
    passes(bare("900", "; cooled yes"), "seals_too_hot");
    // A measured rise says nothing of radiation, and is not advised.
    const auto hot = bare("900");
    for (const std::string& remedy : hot->only().remedies)
        CHECK_MESSAGE(remedy.find("rise") == std::string::npos, remedy);
    // 300 mm of bore of 50 mm let 1 / (1 + 3 * 300 / (4 * 50)) = 0.1818 through; 10 W/(m2 K) carry it off. At
    // the limit of 120 degC, 92 K above a room of 28 degC: sigma (T^4 - 393.15^4) = 5060 W/m2, T = 580 K = 307
    // degC, less 13.5 K of overshoot, control and sensor: 293 degC (quartz brings nothing along the wall).
    refused(bare("298"), "seals_too_hot", "seals_too_hot:3");
    passes(bare("288"), "seals_too_hot");
    // No seal gets hotter than what it sees.
    CHECK(bare("900")->only().message.starts_with("the end seals may come to 7"));
}

TEST_CASE("seals_too_hot: a wall that conducts, and a hot zone too near") {
    // Alumina, 33 W/(m K) at most: l = sqrt(33 * 2.356e-4 / (10 * pi * 0.028)) = 94 mm. 850 degC and 12 K to 16
    // K above it: (866 - 28) / cosh(L/94 mm) = 92 K at L = 272 mm.
    auto alumina = [](const std::string& length) {
        return on("tube { material alumina ; inner_diameter 22 mm ; wall 3 mm ; length " + length + " mm }",
                  "ramp to 850 degC at 4 K/min\ncool to 100 degC\n");
    };
    refused(alumina("830"), "seals_too_hot", "seals_too_hot:3"); // 265 mm
    passes(alumina("860"), "seals_too_hot");                     // 280 mm
}
