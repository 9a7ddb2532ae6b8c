#include "tests/check/equipment_rig_support.hpp"
#include "tests/check/equipment_support.hpp"

#include <algorithm>
#include <numbers>

using namespace athanor;
using namespace athanor::check;

namespace {

constexpr double zero_celsius = 273.15;

bool defaulted(const Rig& rig, const std::string& name) {
    return std::find(rig.defaulted.begin(), rig.defaulted.end(), name) != rig.defaulted.end();
}

} // namespace

TEST_CASE("a rig is read with every figure in SI") {
    Equipment e(R"(
gas grade = 2 ppm oxygen + rest argon
rig bench "A bench" {
    ambient 18 degC to 28 degC, 980 mbar to 1030 mbar
    furnace {
        range 30 degC to 1200 degC ; heated_length 600 mm ; power 3.0 kW
        heat_up 50 min to 1100 degC ; heat_up 20 min to 600 degC
        holding_power 1.2 kW ± 10 % at 1100 degC
        cool_down 1100 degC to 200 degC in 5 h ± 15 %
        zones left, centre, right
        zone_opening 80 mm ; mains ± 5 % ; overshoot 0 K to 3 K ; tracking 10 s to 20 s ; control_error 0 K to 1 K
    }
    tube { material fused_quartz ; inner_diameter 60 mm ; wall 3 mm ; length 1200 mm }
    ends insulation_plugs { length 150 mm ; porosity 85 % ; air_release 1 min to 3 min }
    seals gas_tight { rated 200 mbar gauge ; cooled yes ; cooled_without_power yes ; coolant_loss trips ; rise 10 K to 40 K ; limit 150 degC }
    mixing 0.7 to 1 ; leak_rate 1e-4 mbar*L/s ; load_lag 0 min to 4 min ; load_offset -5 K to 2 K
    outgassing 1e-5 mbar*L/s to 1e-4 mbar*L/s ; outlet 8 mm by 2 m ; uniform_length 150 mm ; room 40 m3 ventilated 4 1/h ; ventilated_without_power 0.3 1/h
    sensor type_k class 2 in tube
    line argon {
        gas grade ; output 1 ; de_energised open ; meter hand ; flow 0.2 L/min to 2 L/min at 20 degC, 1 bar
        accuracy 5 % of reading ; supply 150 mbar gauge ; cylinder 50 L at 200 bar ; low_pressure trips ; shut_off two
    }
    line hydrogen {
        gas hydrogen ; output 2 ; meter controlled, channel 2 ; flow 10 sccm to 500 sccm
        accuracy 1 % of reading, 0.2 % of full_scale ; de_energised open, 20 sccm to 30 sccm ; supply 0.1 bar gauge
    }
    line nitrogen { gas nitrogen ; meter hand ; flow 1 slm to 2 slm ; supply 100 mbar gauge ; accuracy 3 % of full_scale }
    pump { output 4 ; speed 3.6 m3/h ; accuracy 10 % ; ultimate 1e-2 mbar ; pipe 25 mm by 1 m ; de_energised open }
    throttle 1 mbar to 100 mbar { accuracy 3 % }
    bubbler { line nitrogen ; output 5 ; at 20 degC to 60 degC ; bath_error 0 K to 1 K ; saturation 90 % to 100 % }
    slide { output 6 ; out 0 mm ; hot 450 mm }
    exhaust afterburner { output 3 ; pilot yes ; into extraction_hood { backup_power yes } }
    relief 180 mbar gauge
    interlock hydrogen is open and temperature < 770 degC closes hydrogen, opens argon
    defaults { heating 5 K/min ; cooling natural ; purge argon at 1 L/min ; flow hydrogen 100 sccm ; dwell 1 h }
}
)");
    REQUIRE(e.findings() == "");
    const Rig& r = e.rig("bench");
    CHECK(r.title == "A bench");
    CHECK_FALSE(r.broken);
    CHECK(r.ambient_temperature.value == Interval(18 + zero_celsius, 28 + zero_celsius));
    CHECK(r.ambient_pressure.hi() == doctest::Approx(103000).scale(0));
    const Furnace& f = r.furnace;
    CHECK(f.range.hi() == doctest::Approx(1473.15).scale(0));
    CHECK(f.heated_length.lo() == doctest::Approx(0.6).scale(0));
    CHECK(f.power.lo() == doctest::Approx(3000).scale(0));
    REQUIRE(f.heat_up.size() == 2);
    CHECK(f.heat_up[0].duration.lo() == doctest::Approx(3000).scale(0));
    CHECK(f.heat_up[1].to == doctest::Approx(873.15).scale(0));
    REQUIRE(f.holding_power.size() == 1);
    CHECK(f.holding_power[0].power.lo() == doctest::Approx(1080).scale(0));
    CHECK(f.holding_power[0].power.hi() == doctest::Approx(1320).scale(0));
    REQUIRE(f.cool_down.size() == 1);
    CHECK(f.cool_down[0].from == doctest::Approx(1373.15).scale(0));
    CHECK(f.cool_down[0].to == doctest::Approx(473.15).scale(0));
    CHECK(f.cool_down[0].duration.hi() == doctest::Approx(5 * 3600 * 1.15).scale(0));
    CHECK(f.zones == std::vector<std::string>{"left", "centre", "right"});
    CHECK(f.mains.lo() == doctest::Approx(0.95).scale(0));
    CHECK(f.mains.hi() == doctest::Approx(1.05).scale(0));
    CHECK(f.overshoot.hi() == doctest::Approx(3).scale(0));
    CHECK(f.tracking.lo() == doctest::Approx(10).scale(0));
    CHECK(f.control_error.hi() == doctest::Approx(1).scale(0));
    CHECK(e.model.materials.at(r.tube.material).name == "fused_quartz");
    CHECK(r.tube.wall.lo() == doctest::Approx(0.003).scale(0));
    CHECK(r.ends.kind == EndsKind::insulation_plugs);
    CHECK(r.ends.porosity.lo() == doctest::Approx(0.85).scale(0));
    CHECK(r.ends.air_release.hi() == doctest::Approx(180).scale(0));
    CHECK(r.seals.gas_tight);
    CHECK(r.seals.cooled);
    CHECK(r.seals.cooled_without_power);
    CHECK(r.seals.coolant_loss_trips);
    CHECK(r.seals.rated.lo() == doctest::Approx(20000).scale(0));
    CHECK(r.seals.rise.value == Interval(10, 40));
    CHECK(r.mixing.value == Interval(0.7, 1));
    CHECK(r.leak_rate.lo() == 0); // every smaller leak is allowed for
    CHECK(r.leak_rate.hi() == doctest::Approx(1e-5).scale(0));
    CHECK(r.load_lag.hi() == doctest::Approx(240).scale(0));
    CHECK(r.load_offset.value == Interval(-5, 2));
    CHECK(r.outgassing.hi() == doctest::Approx(1e-5).scale(0));
    CHECK(r.outlet_diameter.lo() == doctest::Approx(0.008).scale(0));
    CHECK(r.outlet_length.lo() == doctest::Approx(2).scale(0));
    CHECK(r.uniform_length.lo() == doctest::Approx(0.15).scale(0));
    CHECK(r.room_volume.lo() == doctest::Approx(40).scale(0));
    CHECK(r.room_air_changes.lo() == doctest::Approx(4.0 / 3600).scale(0));
    CHECK(r.room_air_without_power.lo() == doctest::Approx(0.3 / 3600).scale(0));
    CHECK(e.model.thermocouples.at(r.sensor.type).name == "type_k");
    CHECK(r.sensor.tolerance_class == 2);
    CHECK(r.sensor.in_tube);
    CHECK(r.relief.lo() == doctest::Approx(18000).scale(0));
    CHECK(r.defaulted.empty());

    REQUIRE(r.lines.size() == 3);
    const Line& argon = r.lines[0];
    CHECK(e.model.gases.at(argon.gas).name == "grade");
    CHECK(argon.output == 1);
    CHECK(argon.open_without_power);
    CHECK_FALSE(argon.meter.controlled);
    CHECK(argon.meter.has_reference);
    // Ideal gas: 1 L/min at 20 degC and 1 bar is 1e5 * (1e-3/60) / (8.314462618 * 293.15) mol/s.
    CHECK(argon.meter.molar(1e-3 / 60) == doctest::Approx(6.83793e-4).scale(0).epsilon(1e-5));
    CHECK(argon.meter.range.hi() == doctest::Approx(2 * 6.83793e-4).scale(0).epsilon(1e-5));
    CHECK(argon.meter.accuracy.lo() == doctest::Approx(0.05).scale(0));
    CHECK_FALSE(argon.meter.accuracy_full.given);
    CHECK(argon.cylinder_volume.lo() == doctest::Approx(0.05).scale(0));
    CHECK(argon.cylinder_pressure.lo() == doctest::Approx(2e7).scale(0));
    CHECK(argon.low_pressure_trips);
    CHECK(argon.double_shut_off);
    const Line& hydrogen = r.lines[1];
    CHECK(hydrogen.meter.controlled);
    CHECK(hydrogen.meter.channel == 2);
    CHECK_FALSE(hydrogen.meter.has_reference);
    // SEMI E12: 1 sccm = 7.43584e-7 mol/s.
    CHECK(hydrogen.meter.range.hi() == doctest::Approx(500 * 7.43584e-7).scale(0).epsilon(1e-5));
    CHECK(hydrogen.flow_without_power.hi == doctest::Approx(30 * 7.43584e-7).scale(0).epsilon(1e-5));
    CHECK(hydrogen.meter.accuracy.lo() == doctest::Approx(0.01).scale(0));
    CHECK(hydrogen.meter.accuracy_full.lo() == doctest::Approx(0.002).scale(0));
    CHECK_FALSE(hydrogen.double_shut_off);
    CHECK(r.lines[2].output == 0);
    CHECK(r.lines[2].meter.accuracy_full.lo() == doctest::Approx(0.03).scale(0));

    CHECK(r.pump.present);
    CHECK(r.pump.output == 4);
    CHECK(r.pump.speed.lo() == doctest::Approx(0.9e-3).scale(0));
    CHECK(r.pump.speed.hi() == doctest::Approx(1.1e-3).scale(0));
    CHECK(r.pump.ultimate.lo() == doctest::Approx(1).scale(0));
    CHECK(r.pump.pipe_diameter.lo() == doctest::Approx(0.025).scale(0));
    CHECK(r.pump.pipe_length.lo() == doctest::Approx(1).scale(0));
    CHECK(r.pump.open_without_power);
    CHECK(r.has_throttle);
    CHECK(r.throttle.hi() == doctest::Approx(10000).scale(0));
    CHECK(r.bubbler.line == "nitrogen");
    CHECK(r.bubbler.range.hi() == doctest::Approx(333.15).scale(0));
    REQUIRE(r.slide.places.size() == 2);
    CHECK(r.slide.places[1].first == "hot");
    CHECK(r.slide.places[1].second.lo() == doctest::Approx(0.45).scale(0));
    CHECK(r.exhaust.kind == ExhaustKind::afterburner);
    CHECK(r.exhaust.output == 3);
    CHECK(r.exhaust.pilot);
    CHECK_FALSE(r.exhaust.feed_open_without_power); // fuel valves are: common practice, no source
    CHECK(r.exhaust.extraction);
    CHECK(r.exhaust.extraction_backup);
    REQUIRE(r.interlocks.size() == 1);
    CHECK(r.interlocks[0].closes == std::vector<std::string>{"hydrogen"});
    CHECK(r.interlocks[0].opens == std::vector<std::string>{"argon"});
    const Tree& tree = e.units.at(r.interlocks[0].unit).tree;
    CHECK(tree.text(tree[r.interlocks[0].node].first, e.files) ==
          "hydrogen is open and temperature < 770 degC");

    const Defaults& d = e.model.rig_defaults.at(0);
    CHECK(e.model.exprs.at(d.heating).value.lo == doctest::Approx(5.0 / 60).scale(0));
    CHECK(d.natural_cooling);
    CHECK(e.model.names[d.purge_line.name] == "argon");
    CHECK(e.model.exprs.at(d.purge_flow).type.kind == Kind::volume_flow);
    REQUIRE(d.flows.size() == 1);
    CHECK(e.model.names[d.flows[0].first.name] == "hydrogen");
    CHECK(e.model.exprs.at(d.flows[0].second).value.lo ==
          doctest::Approx(100 * 7.43584e-7).scale(0).epsilon(1e-5));
    CHECK(e.model.exprs.at(d.soak).value.lo == doctest::Approx(3600).scale(0));
}

TEST_CASE("what a rig leaves out is filled with careful figures that are marked") {
    RigText text;
    text.argon = "line argon { gas argon ; output 1 ; de_energised open ; meter controlled ; flow 0.1 slm to 2 "
                 "slm ; supply 100 mbar gauge }";
    text.seals = "seals gas_tight { rated 200 mbar gauge } ; leak_rate 1e-4 mbar*L/s ; ends insulation_plugs { "
                 "length 100 mm }";
    Equipment e(text.text());
    REQUIRE(e.findings() == "");
    const Rig& r = e.rig("r");
    CHECK(r.ambient_temperature.value == Interval(15 + zero_celsius, 30 + zero_celsius));
    CHECK(r.load_offset.value == Interval(-20, 5));
    CHECK(r.load_offset.defaulted);
    CHECK(r.furnace.overshoot.value == Interval(0, 10));
    CHECK(r.furnace.mains.lo() == doctest::Approx(0.9).scale(0));
    CHECK(r.furnace.mains.hi() == doctest::Approx(1.1).scale(0));
    CHECK(r.furnace.tracking.value == Interval(0, 60));
    CHECK(r.furnace.control_error.value == Interval(0, 2));
    CHECK(r.furnace.zones == std::vector<std::string>{"centre"});
    CHECK(r.seals.rise.value == Interval(20, 80));
    CHECK(r.mixing.value == Interval(0.5, 1));
    CHECK(r.load_lag.hi() == doctest::Approx(600).scale(0));
    CHECK(r.outlet_diameter.lo() == doctest::Approx(0.006).scale(0));
    CHECK(r.uniform_length.lo() == doctest::Approx(0.5 / 3).scale(0));
    // 1e-7 mbar L/s for each cm2 of the bore: 1e-4 Pa m3/s for each m2.
    CHECK(r.outgassing.hi() == doctest::Approx(1e-4 * std::numbers::pi * 0.06 * 1.2).scale(0));
    CHECK(r.outgassing.lo() == 0);
    CHECK(r.ends.porosity.defaulted);
    CHECK(r.lines[0].meter.accuracy_full.lo() == doctest::Approx(0.05).scale(0));
    // A controlled meter without a stated flow counts as zero to full scale when power fails.
    CHECK(r.lines[0].flow_without_power.lo == 0);
    CHECK(r.lines[0].flow_without_power.hi == r.lines[0].meter.range.hi());
    for (const char* name : {"ambient", "load_offset", "overshoot", "mains", "tracking", "control_error",
                             "seal_rise", "mixing", "load_lag", "outlet", "uniform_length", "outgassing",
                             "room", "ends porosity", "ends air_release", "line argon accuracy"}) {
        CAPTURE(name);
        CHECK(defaulted(r, name));
    }
    CHECK_FALSE(defaulted(r, "exhaust"));
    CHECK_FALSE(defaulted(r, "leak_rate"));
    CHECK(r.load_offset.reference == "common practice, no source");
}

TEST_CASE("a pump's speed is a range, or one figure that its maker states to so many per cent") {
    const auto speed = [](const std::string& text, bool assumed) {
        RigText rig;
        rig.more = "pump { output 9 ; " + text + " ; ultimate 1e-2 mbar ; pipe 25 mm by 1 m }";
        Equipment e(rig.text());
        REQUIRE(e.findings() == "");
        CHECK(defaulted(e.rig("r"), "pump accuracy") == assumed);
        return e.rig("r").pump.speed.value * Interval(3600);
    };
    const auto is = [](Interval x, double lo, double hi) {
        CHECK(x.lo == doctest::Approx(lo).scale(0));
        CHECK(x.hi == doctest::Approx(hi).scale(0));
    };
    is(speed("speed 4 m3/h", true), 3.6, 4.4); // common practice, no source: ± 10 %
    is(speed("speed 4 m3/h ; accuracy 5 %", false), 3.8, 4.2);
    is(speed("speed 4 m3/h ± 20 %", false), 3.2, 4.8);
    is(speed("speed 3.5 m3/h to 4 m3/h", false), 3.5, 4);
}

TEST_CASE("the other forms of seals, ends and exhaust") {
    RigText text;
    text.seals = "seals none ; ends radiation_shields { count 4 }";
    text.exhaust = "exhaust into extraction_hood";
    Equipment a(text.text());
    REQUIRE(a.findings() == "");
    CHECK_FALSE(a.rig("r").seals.gas_tight);
    CHECK(a.rig("r").ends.kind == EndsKind::radiation_shields);
    CHECK(a.rig("r").ends.count.lo() == 4);
    CHECK(a.rig("r").exhaust.kind == ExhaustKind::extraction_hood);
    CHECK(a.rig("r").exhaust.extraction);
    CHECK_FALSE(a.rig("r").exhaust.extraction_backup);
    CHECK_FALSE(defaulted(a.rig("r"), "seal_rise"));

    text.seals = "ends open_ends ; relief 10 mbar gauge ; slide hand { out 0 mm ; hot 300 mm }";
    text.exhaust = "exhaust shut";
    Equipment b(text.text());
    REQUIRE(b.findings() == "t.ath:6:101: warning: the supply of line `argon`, 100 mbar gauge, lies above the "
                            "relief, 10 mbar gauge: "
                            "a blocked outlet blows gas through it [rig_inconsistent]\n");
    CHECK(b.rig("r").exhaust.kind == ExhaustKind::shut);
    CHECK(b.rig("r").ends.kind == EndsKind::open_ends);
    CHECK(b.rig("r").slide.hand);
}

TEST_CASE(
    "a misspelt property of a line is told once, and nothing that it leaves unsaid, in variants neither") {
    RigText text;
    text.argon.replace(text.argon.find("de_energised"), 12, "de_energized");
    const Equipment e(text.text("base") + "rig two from base { sensor type_n class 1 }\n");
    CHECK(e.findings().find("has no property `de_energized`") != std::string::npos);
    CHECK(e.findings().find("where its valve falls") == std::string::npos);
}

TEST_CASE("variants replace, merge lines and leave lines out") {
    RigText text = rig_with("line hydrogen { gas hydrogen ; output 2 ; de_energised closed ; meter hand ; flow "
                            "0.1 slm to 1 slm ; supply 100 mbar gauge }\n"
                            "interlock temperature > 1000 degC closes hydrogen");
    Equipment e(text.text("base") + R"(
rig one from base {
    line argon { output 3 ; accuracy 2 % of reading }
    line helium { gas helium ; meter hand ; flow 0.1 slm to 1 slm ; supply 50 mbar gauge }
    without line hydrogen
    interlock temperature > 900 degC opens argon
    sensor type_n class 1
}
rig two from one { line argon { gas air } ; tube { material alumina ; inner_diameter 40 mm ; wall 4 mm ; length 900 mm } }
)");
    REQUIRE(e.findings() == "");
    const Rig& one = e.rig("one");
    REQUIRE(one.lines.size() == 2);
    CHECK(one.lines[0].output == 3);
    CHECK(one.lines[0].meter.accuracy.lo() == doctest::Approx(0.02).scale(0));
    CHECK(one.lines[0].supply.lo() == doctest::Approx(10000).scale(0)); // inherited
    CHECK(one.lines[1].name == "helium");
    REQUIRE(one.interlocks.size() == 1);
    CHECK(one.interlocks[0].opens == std::vector<std::string>{"argon"});
    CHECK(e.model.thermocouples.at(one.sensor.type).name == "type_n");
    const Rig& two = e.rig("two");
    CHECK(e.model.gases.at(two.lines[0].gas).name == "air");
    CHECK(two.lines[0].output == 3);
    CHECK(two.tube.inner_diameter.lo() == doctest::Approx(0.04).scale(0));
    CHECK(e.rig("base").lines.size() == 2);
}

TEST_CASE("what an interlock does to a line goes with the line that a variant leaves out") {
    const std::string fuel =
        "gas hydrogen ; output 2 ; de_energised closed ; meter hand ; flow 0.1 slm to 1 slm ; supply "
        "100 mbar gauge }\n";
    RigText text = rig_with("line h2 { " + fuel +
                            "interlock h2 is open and temperature < 770 degC closes h2, opens argon\n"
                            "interlock temperature > 1000 degC closes hydrogen");
    Equipment e(text.text("base") + R"(
rig inert from base { without line h2 }
rig bare from inert { without line argon }
rig back from inert { line h2 { gas hydrogen ; output 2 ; de_energised closed ; meter hand ; flow 0.1 slm to 1 slm ; supply 100 mbar gauge } }
)");
    REQUIRE(e.findings() == "");
    CHECK(e.rig("base").interlocks.size() == 2);
    // The second did nothing else; the first still opens argon.
    REQUIRE(e.rig("inert").interlocks.size() == 1);
    CHECK(e.rig("inert").interlocks[0].closes.empty());
    CHECK(e.rig("inert").interlocks[0].opens == std::vector<std::string>{"argon"});
    CHECK(e.rig("bare").interlocks.empty());
    CHECK(e.rig("back").interlocks.size() == 2);
    // One that the variant itself declares must name what it has.
    Equipment own(text.text("base") +
                  "rig v from base { without line h2 ; interlock temperature > 900 degC closes h2 }\n");
    CHECK(own.findings().find("rig `v` has no line `h2` [unknown_name]") != std::string::npos);
}

TEST_CASE("a variant keeps the names that its base sees") {
    // The third file sees the base's file, but not the gas that the base imports.
    RigText text;
    text.argon = "line argon { gas grade ; output 1 ; de_energised open ; meter hand ; flow 0.1 slm to 2 slm ; "
                 "supply 100 mbar gauge }";
    Equipment e(std::vector<std::string>{"gas grade = 2 ppm oxygen + rest argon", text.text("base"),
                                         "rig child from base { mixing 0.8 to 1 }"});
    // Without imports each file is alone.
    CHECK(e.findings() == "t2.ath:6:18: error: no gas is called `grade` [unknown_name]\n"
                          "t3.ath:1:16: error: no rig is called `base` [unknown_name]\n");
    const auto library = e.units.size() - 3;
    e.units[library + 1].visible.push_back(static_cast<Index>(library));
    e.units[library + 2].visible.push_back(static_cast<Index>(library + 1));
    Model model;
    Diagnostics out;
    read_equipment(e.units, e.files, model, out);
    CHECK(out.empty());
    CHECK(Equipment::named(model.rigs, "child").lines[0].gas ==
          Equipment::named(model.rigs, "base").lines[0].gas);
}

TEST_CASE("every rig and controller of the project reads without a finding") {
    std::vector<std::string> texts;
    for (const char* folder : {"rigs", "controllers"})
        for (const auto& entry :
             std::filesystem::directory_iterator(std::filesystem::path(ATHANOR_ROOT) / "recipes" / folder))
            texts.push_back(Equipment::read(entry.path()));
    REQUIRE(texts.size() >= 9);
    Equipment e(texts);
    CHECK(e.findings() == "");
    CHECK(e.model.rigs.size() >= 7);
    CHECK(e.model.controllers.size() >= 4);
}
