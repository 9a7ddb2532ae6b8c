#include "tests/check/equipment_rig_support.hpp"
#include "tests/check/equipment_support.hpp"

using namespace athanor;

namespace {

void says(const RigText& rig, const std::string& expected) {
    CHECK(Equipment(rig.text()).findings() == expected);
}

void more(const std::string& text, const std::string& expected) {
    says(rig_with(text), expected);
}

void furnace(const std::string& from, const std::string& to, const std::string& expected) {
    RigText rig;
    const auto at = rig.furnace.find(from);
    REQUIRE(at != std::string::npos);
    rig.furnace.replace(at, from.size(), to);
    says(rig, expected);
}

void argon(const std::string& from, const std::string& to, const std::string& expected) {
    RigText rig;
    const auto at = rig.argon.find(from);
    REQUIRE(at != std::string::npos);
    rig.argon.replace(at, from.size(), to);
    says(rig, expected);
}

} // namespace

TEST_CASE("properties that no schema lists") {
    more("mixng 0.5 to 1", "t.ath:8:1: error: rig `r` has no property `mixng` [unknown_property]\n");
    CHECK(Equipment(rig_with("mixng 0.5 to 1").text()).remedies() == "did you mean `mixing`?\n");
    more("heat_up 5 min to 900 degC",
         "t.ath:8:1: error: rig `r` has no property `heat_up` [unknown_property]\n");
    CHECK(Equipment(rig_with("heat_up 5 min to 900 degC").text()).remedies() ==
          "`heat_up` belongs in `furnace { … }` of a rig\n");
    // Everything that a block lacks is told at once.
    {
        RigText rig;
        rig.tube = "tube { inner_diameter 60 mm }";
        says(rig, "t.ath:3:1: error: `tube` of rig `r` says nothing about `material`, `wall` and `length` "
                  "[rig_inconsistent]\n");
    }
    CHECK(Equipment(rig_with("ambient 20 ± 5 degC, 970 mbar to 1035 mbar").text()).out.all().front().remedies ==
          std::vector<std::string>{"write the two ends, `15 degC to 25 degC`"});
    // One slip, one finding, however often a variant reads the block; what is under another name is not
    // missing.
    {
        RigText rig;
        const auto at = rig.tube.find("inner_diameter");
        REQUIRE(at != std::string::npos);
        rig.tube.erase(at, 6);
        const Equipment read(rig.text() + "\nrig other from r { }\n");
        CHECK(read.findings() ==
              "t.ath:3:32: error: `tube` of rig `r` has no property `diameter` [unknown_property]\n");
    }
    argon("output", "outptu", "t.ath:6:26: error: line `argon` has no property `outptu` [unknown_property]\n");
    more("mixing 0.5 to 1 { share 3 }",
         "t.ath:8:17: error: `mixing` of rig `r` takes no block [unknown_property]\n");
}

TEST_CASE("elements that a property does not take") {
    furnace("heat_up 50 min to 1000 degC", "heat_up 50 min at 1000 degC",
            "t.ath:2:91: error: `heat_up` takes a time, `to`, a temperature: heat_up 50 min to 1100 degC "
            "[unknown_property]\n");
    furnace("heat_up 50 min to 1000 degC", "heat_up 50 K to 1000 degC",
            "t.ath:2:84: error: `heat_up` takes a time, `to`, a temperature: heat_up 50 min to 1100 degC "
            "[unit_mismatch]\n");
    furnace("heat_up 50 min to 1000 degC", "heat_up 50 to 1000 degC",
            "t.ath:2:84: error: `heat_up` takes a time, `to`, a temperature: heat_up 50 min to 1100 degC "
            "[missing_unit]\n");
    furnace("heat_up 50 min to 1000 degC", "heat_up 50 min",
            "t.ath:2:76: error: `heat_up` takes a time, `to`, a temperature: heat_up 50 min to 1100 degC "
            "[unknown_property]\n");
    furnace("heat_up 50 min to 1000 degC", "heat_up ? to 1000 degC",
            "t.ath:2:84: error: `heat_up` of `furnace` of rig `r` has no value yet [value_missing]\n");
    more("load_offset -5 degC to 2 K", "t.ath:8:13: error: `load_offset` takes a difference of temperature: "
                                       "load_offset -20 K to 5 K [unit_mismatch]\n");
    CHECK(Equipment(rig_with("load_offset -5 degC to 2 K").text()).remedies() ==
          "a difference is written `-5 K`\n");
    more("relief 180 mbar",
         "t.ath:8:8: error: `relief` takes an overpressure (gauge): relief 180 mbar gauge [unit_mismatch]\n");
    CHECK(Equipment(rig_with("relief 180 mbar").text()).remedies() ==
          "a pressure above ambient is written `180 mbar gauge`; from an absolute one take the room's off\n");
    more("load_lag 4 min ± 1 K",
         "t.ath:8:18: error: `load_lag` takes a time: load_lag 0 min to 10 min [unit_mismatch]\n");
    more("ends insulation_plug",
         "t.ath:8:6: error: `ends` takes `insulation_plugs` or `radiation_shields` or `open_ends`: "
         "ends insulation_plugs { length 150 mm ; porosity 85 % ; air_release 1 min to 3 min } "
         "[unknown_property]\n");
    CHECK(Equipment(rig_with("ends insulation_plug").text()).remedies() ==
          "did you mean `insulation_plugs`?\n");
    argon("meter hand", "meter by_hand",
          "t.ath:6:63: error: `meter` takes `hand` or `controlled`, [a comma, `channel`, a plain number]: "
          "meter hand [unknown_property]\n");
    more("mixing \"good\"",
         "t.ath:8:8: error: `mixing` takes a fraction: mixing 0.5 to 1 [unknown_property]\n");
}

TEST_CASE("values outside what a property means") {
    more("load_lag 4 min to 2 min",
         "t.ath:8:10: error: `load_lag` of rig `r` runs from 4 min down to 2 min [rig_inconsistent]\n");
    more("mixing 50 % to 120 %",
         "t.ath:8:8: error: `mixing` of rig `r` must be between 0 and 1, not 120 % [rig_inconsistent]\n");
    more("load_lag -1 min to 2 min",
         "t.ath:8:10: error: `load_lag` of rig `r` must be zero or more, not -1 min [rig_inconsistent]\n");
    RigText rig;
    rig.tube = "tube { material fused_quartz ; inner_diameter 60 mm ; wall 0 mm ; length 1200 mm }";
    says(rig,
         "t.ath:3:60: error: `wall` of `tube` of rig `r` must be above zero, not 0 mm [rig_inconsistent]\n");
    furnace("range 30 degC to 1100 degC", "range 1100 degC to 30 degC",
            "t.ath:2:17: error: `range` of `furnace` of rig `r` runs from 1100 °C down to 30 °C "
            "[rig_inconsistent]\n");
    more("ambient -300 degC to 20 degC, 1 bar",
         "t.ath:8:9: error: -300 °C lies below absolute zero [rig_inconsistent]\n");
}

TEST_CASE("missing properties name themselves and show a line") {
    RigText rig;
    rig.sensor = "";
    says(rig, "t.ath:1:5: error: rig `r` says nothing about `sensor` [rig_inconsistent]\n");
    CHECK(Equipment(rig.text()).remedies() == "for example sensor type_k class 1\n");
    furnace(" ; power 3 kW", "",
            "t.ath:2:1: error: `furnace` of rig `r` says nothing about `power` [rig_inconsistent]\n");
    furnace(" ; heat_up 50 min to 1000 degC", "",
            "t.ath:2:1: error: `furnace` of rig `r` says nothing about `heat_up` [rig_inconsistent]\n");
    argon(" ; supply 100 mbar gauge", "",
          "t.ath:6:1: error: line `argon` says nothing about `supply` [rig_inconsistent]\n");
    argon(" ; de_energised open", "",
          "t.ath:6:1: error: line `argon` is worked by output 1 and does not say where its valve falls without "
          "power [rig_inconsistent]\n");
    rig = {};
    rig.seals = "seals gas_tight { rated 200 mbar gauge }";
    says(rig, "t.ath:4:1: error: the seals of rig `r` are gas-tight, and its leak is not stated "
              "[rig_inconsistent]\n");
}

TEST_CASE("properties given twice") {
    more("relief 1 bar gauge ; relief 2 bar gauge",
         "t.ath:8:22: error: `relief` is given twice in rig `r` [duplicate_name]\n");
    argon("output 1", "output 1 ; output 2",
          "t.ath:6:37: error: `output` is given twice in line `argon` [duplicate_name]\n");
    more("line argon { gas argon ; meter hand ; flow 1 slm to 2 slm ; supply 1 mbar gauge }",
         "t.ath:8:1: error: line `argon` is declared twice [duplicate_name]\n");
    furnace("power 3 kW", "power 3 kW ; zones a, b, a",
            "t.ath:2:88: error: zone `a` is named twice [duplicate_name]\n");
}

TEST_CASE("names that nothing declares") {
    RigText rig;
    rig.tube = "tube { material fused_quarz ; inner_diameter 60 mm ; wall 3 mm ; length 1200 mm }";
    says(rig, "t.ath:3:17: error: no material is called `fused_quarz` [unknown_name]\n");
    rig.tube = "tube { material quartz ; inner_diameter 60 mm ; wall 3 mm ; length 1200 mm }";
    CHECK(Equipment(rig.text()).remedies() == "`fused_quartz` is declared\n");
    rig.tube = "tube { material sintered_alumina ; inner_diameter 60 mm ; wall 3 mm ; length 1200 mm }";
    CHECK(Equipment(rig.text()).remedies() == "`alumina` is declared\n");
    rig.tube = "tube { material quartz ; inner_diameter 60 mm ; wall 3 mm ; length 1200 mm }";
    // Told once, by the grammar.
    argon("gas argon", "gas N2",
          "t.ath:6:18: error: `N2` is a formula; a gas is called by its name [syntax]\n");
    CHECK(Equipment(rig.text()).remedies() == "`fused_quartz` is declared\n");
    rig = {};
    rig.sensor = "sensor type_x class 1";
    says(rig, "t.ath:5:8: error: no thermocouple is called `type_x` [unknown_name]\n");
    rig.sensor = "sensor type_b class 1";
    says(rig, "t.ath:5:21: error: thermocouple `type_b` has no tolerance class 1 [rig_inconsistent]\n");
    CHECK(Equipment(rig.text()).remedies() == "it has 2, 3\n");
    argon("gas argon", "gas argonn", "t.ath:6:18: error: no gas is called `argonn` [unknown_name]\n");
    more("interlock temperature > 900 degC closes argn",
         "t.ath:8:41: error: rig `r` has no line `argn` [unknown_name]\n");
    more("bubbler { line steam ; at 20 degC to 60 degC }",
         "t.ath:8:16: error: rig `r` has no line `steam` [unknown_name]\n");
    CHECK(Equipment(RigText().text() + "rig v from r { without line argn }").findings() ==
          "t.ath:10:29: error: there is no line `argn` to leave out [unknown_name]\n");
    CHECK(Equipment("rig v from nothing { }").findings() ==
          "t.ath:1:12: error: no rig is called `nothing` [unknown_name]\n");
    CHECK(Equipment("rig v from v { }").findings() ==
          "t.ath:1:12: error: rig `v` is a variant of itself: `v` from `v` [recursion]\n");
}

TEST_CASE("a line is named by its gas where one line alone carries it") {
    const std::string second =
        "line other { gas argon ; meter hand ; flow 1 slm to 2 slm ; supply 50 mbar gauge }\n";
    RigText rig = rig_with("interlock temperature > 900 degC closes argon");
    rig.argon.replace(rig.argon.find("line argon"), 10, "line inert");
    Equipment one(rig.text());
    CHECK(one.findings() == "");
    CHECK(one.rig("r").interlocks.at(0).closes == std::vector<std::string>{"inert"});
    rig.more = second + rig.more;
    Equipment two(rig.text());
    CHECK(two.findings() == "t.ath:9:41: error: several lines of rig `r` carry `argon` [unknown_name]\n");
    CHECK(two.remedies() == "its lines are `inert`, `other`\n");
}

TEST_CASE("parts of a rig that contradict each other") {
    RigText rig;
    rig.tube = "tube { material fused_quartz ; inner_diameter 60 mm ; wall 3 mm ; length 400 mm }";
    says(rig,
         "t.ath:2:54: error: the heated length, 500 mm, is longer than the tube, 400 mm [rig_inconsistent]\n");
    more("uniform_length 600 mm", "t.ath:8:16: error: the uniform length, 600 mm, is longer than the heated "
                                  "length, 500 mm [rig_inconsistent]\n");
    more("ends insulation_plugs { length 600 mm }",
         "t.ath:8:32: error: two plugs of 600 mm fill the tube of 1200 mm [rig_inconsistent]\n");
    more("ends insulation_plugs { length 590 mm }", "t.ath:8:32: error: a plug of 590 mm reaches into the "
                                                    "heated length: 350 mm of the tube are left beside "
                                                    "it at each end [rig_inconsistent]\n");
    more("ends insulation_plugs { length 350.1 mm }",
         "t.ath:8:32: error: a plug of 350.1 mm reaches into the heated length: 350 mm of the tube are left "
         "beside it at each end [rig_inconsistent]\n");
    more("ends insulation_plugs { length 350 mm }", "");
    furnace("to 1000 degC ;", "to 1200 degC ;",
            "t.ath:2:84: error: heat_up reaches 1200 °C, and the furnace's range ends at 1100 °C "
            "[rig_inconsistent]\n");
    furnace(
        "cool_down 1000 degC to 200 degC", "cool_down 200 degC to 1000 degC",
        "t.ath:2:175: error: cool_down runs from 200 °C to 1000 °C, which is no cooling [rig_inconsistent]\n");
    furnace("to 200 degC in", "to 10 degC in",
            "t.ath:2:174: error: cool_down ends at 10 °C, and the room may have 30 °C [rig_inconsistent]\n");
    furnace(
        "holding_power 1 kW", "holding_power 4 kW",
        "t.ath:2:120: error: 4 kW to hold 1000 °C are not less than the furnace's 3 kW [rig_inconsistent]\n");
    more("pump { output 1 ; speed 4 m3/h ; ultimate 1 Pa ; pipe 25 mm by 1 m }",
         "t.ath:8:1: error: output 1 works both line `argon` and the pump [rig_inconsistent]\n");
    rig = {};
    rig.exhaust = "exhaust afterburner { output 1 }";
    says(rig, "t.ath:7:1: error: output 1 works both line `argon` and the burner [rig_inconsistent]\n");
    more("line helium { gas helium ; output 2 ; de_energised closed ; meter controlled, channel 1 ; flow 1 "
         "sccm to 9 sccm ; supply 1 mbar gauge }\n"
         "line neon { gas helium ; output 3 ; de_energised closed ; meter controlled, channel 1 ; flow 1 sccm "
         "to 9 sccm ; supply 1 mbar gauge }",
         "t.ath:9:1: error: channel 1 works both line `helium` and line `neon` [rig_inconsistent]\n");
    more("pump { speed 4 m3/h ; ultimate 1 Pa ; pipe 25 mm by 1 m }",
         "t.ath:8:1: error: `pump` of rig `r` says nothing about `output` [rig_inconsistent]\n");
    more("throttle 1 mbar to 10 mbar", "t.ath:1:5: error: rig `r` has a throttle and no pump to hold a low "
                                       "pressure against [rig_inconsistent]\n");
    more("relief 300 mbar gauge", "t.ath:8:8: error: the relief opens at 300 mbar gauge, above the 200 mbar "
                                  "gauge that the seals are rated for [rig_inconsistent]\n");
    more("slide { output 4 ; out 0 mm }",
         "t.ath:8:1: error: a slide has two places at least [rig_inconsistent]\n");
    more("slide { output 4 ; out 0 mm ; hot 2 m }", "t.ath:8:35: error: place `hot` of the slide, 2 m, lies "
                                                    "beyond the tube of 1200 mm [rig_inconsistent]\n");
    more("slide hand { output 4 ; out 0 mm ; hot 1 m }",
         "t.ath:8:1: error: a slide that is moved by hand has no output [rig_inconsistent]\n");
    rig = {};
    rig.exhaust = "exhaust shut";
    says(rig, "t.ath:7:1: error: gas flows into rig `r` and nothing lets it out [rig_inconsistent]\n");
    more("interlock temperature > 900 degC closes argon, opens argon",
         "t.ath:8:1: error: this interlock closes and opens line `argon` [rig_inconsistent]\n");
    const auto second = [](const std::string& gas) {
        return "line other { gas " + gas +
               " ; output 2 ; de_energised closed ; meter hand ; flow 0.1 slm to 1 slm ; supply 100 mbar gauge "
               "}\n"
               "interlock temperature > 900 degC opens other";
    };
    more(second("hydrogen"), "t.ath:9:1: error: this interlock opens line `other`, which carries flammable gas "
                             "[rig_inconsistent]\n");
    more(second("oxygen"), "t.ath:9:1: error: this interlock opens line `other`, which carries oxidising gas "
                           "[rig_inconsistent]\n");
    more(second("ammonia"), "t.ath:9:1: error: this interlock opens line `other`, which carries flammable gas "
                            "[rig_inconsistent]\n");
    const Equipment toxic(rig_with(second("lean")).text() +
                          "\ngas lean = 1 % carbon_monoxide + rest nitrogen\n"); // too little to burn
    CHECK(toxic.findings() ==
          "t.ath:9:1: error: this interlock opens line `other`, which carries toxic gas [rig_inconsistent]\n");
    more(second("helium"), "");
    more(second("air"), ""); // nothing here burns in it
}

TEST_CASE("a room, a leak and a tube that cannot be") {
    const auto first = [](const RigText& rig) {
        const Equipment read(rig.text());
        return read.findings() + read.remedies();
    };
    const std::string slip = first(rig_with("ambient 19 degC to 27 degC, 970 Pa to 1035 Pa"));
    CHECK_MESSAGE(slip.find("lies nowhere that furnaces stand: 500 mbar to 1100 mbar [implausible_value]") !=
                      std::string::npos,
                  slip);
    CHECK_MESSAGE(slip.find("perhaps `970 mbar to 1035 mbar`") != std::string::npos, slip);
    for (const char* refused : {"490 mbar to 600 mbar", "960 mbar to 1110 mbar", "1 bar to 2 bar"})
        CHECK_MESSAGE(first(rig_with(std::string("ambient 19 degC to 27 degC, ") + refused))
                              .find("[implausible_value]") != std::string::npos,
                      refused);
    for (const char* real :
         {"500 mbar to 560 mbar", "950 mbar to 1100 mbar"}) // a mine in the Andes, a low valley
        CHECK(first(rig_with(std::string("ambient 19 degC to 27 degC, ") + real)) == "");

    RigText tight;
    tight.seals = "seals gas_tight { rated 200 mbar gauge } ; leak_rate 0 mbar*L/s";
    CHECK(first(tight).find("t.ath:4:54: error: no tube is without a leak") == 0);

    // 200 mbar on a bore of 60 mm: p d / 2 w puts the 48 MPa of quartz on a wall of 0.0125 mm.
    RigText thin;
    const auto wall = [&](const char* mm) {
        thin.tube = std::string("tube { material fused_quartz ; inner_diameter 60 mm ; wall ") + mm +
                    " mm ; length 1200 mm }";
        return first(thin);
    };
    CHECK(wall("0.013") == "");
    CHECK_MESSAGE(wall("0.012").find("t.ath:3:60: error: 200 mbar of overpressure put 50.") == 0,
                  wall("0.012"));
    thin.more = "relief 100 mbar gauge"; // opens first
    CHECK(wall("0.012") == "");
    CHECK(wall("0.006").find("110 mbar of overpressure") != std::string::npos);
}

TEST_CASE("what a material keeps silent about is not harmless") {
    const auto on = [](const std::string& properties, const std::string& more = "") {
        RigText rig = rig_with(more);
        rig.tube = "tube { material glass ; inner_diameter 60 mm ; wall 3 mm ; length 1200 mm }";
        return Equipment(rig.text() + "material glass { limit 500 degC ; " + properties + " }\n").findings();
    };
    const std::string pump = "pump { output 5 ; speed 4 m3/h ; ultimate 1e-2 mbar ; pipe 25 mm by 1 m }";
    CHECK(on("rate 5 K/min") == "");
    CHECK(on("rate 5 K/min ; limit_vacuum 450 degC", pump) == "");
    CHECK(on("rate 5 K/min", pump) ==
          "t.ath:3:1: error: the tube of rig `r` is evacuated, and `glass` does not say how hot it may then be "
          "[rig_inconsistent]\n");
    CHECK(on("limit_vacuum 450 degC") ==
          "t.ath:3:1: warning: material `glass` gives no `rate`, so that no ramp is "
          "judged for thermal shock [rig_inconsistent]\n");
}

TEST_CASE("a burner whose feed opens unlit") {
    const auto burner = [](const char* block) {
        RigText rig;
        rig.exhaust = std::string("exhaust afterburner { ") + block + " }";
        return Equipment(rig.text()).findings();
    };
    CHECK(burner("output 4 ; pilot no ; de_energised open") ==
          "t.ath:7:1: error: the burner's feed opens without power, and no pilot flame lights it: its gas "
          "flows out "
          "unburnt [rig_inconsistent]\n");
    CHECK(burner("output 4 ; de_energised open") != "");
    CHECK(burner("output 4 ; pilot yes ; de_energised open") == "");
    CHECK(burner("output 4 ; pilot no ; de_energised closed") == "");
}

TEST_CASE("meters and valves that cannot be") {
    argon("flow 0.1 slm to 2 slm", "flow 0.1 L/min to 2 L/min",
          "t.ath:6:75: error: line `argon` states volumes and not at which temperature and pressure they are "
          "read [ambiguous_volume_flow]\n");
    argon("flow 0.1 slm to 2 slm", "flow 0 slm to 0 slm",
          "t.ath:6:70: error: line `argon` can set no flow above zero [rig_inconsistent]\n");
    argon("output 1", "output 0",
          "t.ath:6:33: error: `output` of line `argon` must be above zero, not 0 [rig_inconsistent]\n");
    argon("output 1", "output 1.5",
          "t.ath:6:33: error: an output is a whole number from 1 to 32, not 1.5 [rig_inconsistent]\n");
    argon("meter hand", "meter controlled, channel 40",
          "t.ath:6:83: error: a channel is a whole number from 1 to 32, not 40 [rig_inconsistent]\n");
    argon("de_energised open", "de_energised open, 1 slm to 2 slm",
          "t.ath:6:56: error: line `argon` has a hand meter, which keeps its set flow without power "
          "[rig_inconsistent]\n");
}

TEST_CASE("defaults of a rig") {
    more("defaults { heating 5 K }",
         "t.ath:8:20: error: `heating` takes a rate (temperature per time): heating 5 K/min [unit_mismatch]\n");
    more("defaults { heeting 5 K/min }",
         "t.ath:8:12: error: `defaults` of rig `r` has no property `heeting` [unknown_property]\n");
    more("defaults { flow argon 1 slm ; flow argon 2 slm }",
         "t.ath:8:36: error: default `flow argon` of rig `r` is given twice [duplicate_name]\n");
    more("defaults { heating 1 K/min ; heating 2 K/min }",
         "t.ath:8:30: error: `heating` is given twice in `defaults` of rig `r` [duplicate_name]\n");
}

TEST_CASE("a broken rig still has its name, and one slip gives one message") {
    Equipment e(rig_with("mixing 0.5 to 3 kW").text());
    CHECK(e.out.errors() == 1);
    CHECK(e.rig("r").broken);
    Equipment parsed(rig_with("mixing 0.5 to 3 furlong").text());
    CHECK(parsed.out.errors() == 1); // told by the parser or by the schema, not by both
}

TEST_CASE("a number in a rig with a unit that is none, or with none") {
    furnace("power 3 kW", "power 3500 w", "t.ath:2:74: error: unknown unit `w` [unknown_unit]\n");
    RigText rig;
    rig.tube = "tube { material fused_quartz ; inner_diameter 60 mm ; wall 3 inch ; length 1200 mm }";
    says(rig, "t.ath:3:62: error: unknown unit `inch` [unknown_unit]\n");
    CHECK(Equipment(rig.text()).remedies().find("for example") == std::string::npos);
    // The other end of a range says what is meant.
    RigText flow;
    const std::string from = "flow 0.1 slm to 2 slm";
    flow.argon.replace(flow.argon.find(from), from.size(), "flow 0.1 to 2 L/min");
    CHECK(Equipment(flow.text()).remedies() == "write its unit, for example 0.1 L/min\n");
}
