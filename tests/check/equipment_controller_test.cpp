#include "tests/check/equipment_support.hpp"

using namespace athanor;

namespace {

const std::string head =
    "segments 16 ; setpoint 0 degC to 1200 degC by 1 K ; dwells 0 s to 99 h 59 min by 1 min ; ";
const std::string rates = "ramps by rate 0.1 K/min to 99.9 K/min by 0.1 K/min ; ";

void says(const std::string& body, const std::string& expected) {
    CHECK(Equipment("controller c { " + body + " }").findings() == expected);
}

} // namespace

TEST_CASE("a controller is read exactly") {
    Equipment e(R"(
controller c "Full" {
    programs 4 ; segments 16 ; linking yes
    loops 2 levels, 2 to 999 passes
    zones 3
    setpoint 0 degC to 1200 degC by 0.1 K
    ramps by rate 0.1 K/min to 99.9 K/min by 0.1 K/min
    ramps by time 1 min to 99 h 59 min by 0.5 min
    dwells 0 s to 99 h 59 min by 1 min
    outputs 4 ; thresholds 1 ; channels 2
    soak_band 0.5 K to 99 K by 0.5 K
    operator_wait yes ; starts_from setpoint 20 degC ; segment_form ramp_and_dwell ; band_on ramps_and_dwells
    at_end hold ; after_power_failure resume ; longest_wait 2 h
})");
    REQUIRE(e.findings() == "");
    const program::Controller& c = e.controller("c");
    CHECK(c.title == "Full");
    CHECK(c.programs == 4);
    CHECK(c.segments == 16);
    CHECK(c.linking);
    CHECK(c.loop_levels == 2);
    CHECK(c.passes_lo == 2);
    CHECK(c.passes_hi == 999);
    CHECK(c.zones == 3);
    CHECK(c.setpoint.step.text() == "0.1");
    CHECK(c.setpoint.count() == 12000);
    CHECK(c.setpoint.text(8505) == "850.5");
    REQUIRE(c.rate);
    CHECK(c.rate->count() == 998);
    CHECK(c.rate->text(998) == "99.9");
    REQUIRE(c.ramp_time);
    CHECK(c.ramp_time->text(0) == "60");
    CHECK(c.ramp_time->step.text() == "30");
    CHECK(c.dwell.hi.text() == "359940");
    CHECK(c.outputs == 4);
    CHECK(c.thresholds == 1);
    CHECK(c.channels == 2);
    REQUIRE(c.soak_band);
    CHECK(c.soak_band->text(0) == "0.5");
    CHECK(c.operator_wait);
    CHECK_FALSE(c.starts_from_measured);
    CHECK(c.start_setpoint == doctest::Approx(20).scale(0));
    CHECK(c.ramp_and_dwell);
    CHECK(c.band_on_ramps);
    CHECK(c.holds_at_end);
    CHECK(c.after_power_failure == program::Controller::Power::resume);
    REQUIRE(c.longest_wait);
    CHECK(*c.longest_wait == doctest::Approx(7200).scale(0));
}

TEST_CASE("what a controller leaves out, it cannot do") {
    Equipment e("controller c { " + head +
                "ramps by rate 0.1 K/min to 9 K/min by 0.1 K/min, by time 0 s to 10 h by 1 s }");
    REQUIRE(e.findings() == "");
    const program::Controller& c = e.controller("c");
    CHECK(c.programs == 1);
    CHECK_FALSE(c.linking);
    CHECK(c.loop_levels == 0);
    CHECK(c.zones == 1);
    CHECK(c.rate);
    CHECK(c.ramp_time);
    CHECK(c.outputs == 0);
    CHECK_FALSE(c.soak_band);
    CHECK_FALSE(c.operator_wait);
    CHECK(c.starts_from_measured);
    CHECK_FALSE(c.ramp_and_dwell);
    CHECK_FALSE(c.band_on_ramps);
    CHECK_FALSE(c.holds_at_end);
    CHECK(c.after_power_failure == program::Controller::Power::undeclared);
    CHECK_FALSE(c.longest_wait);
}

TEST_CASE("units of the display are taken exactly or refused") {
    Equipment e(
        "controller c { segments 9 ; setpoint 273.15 K to 1473.15 K by 1 K ; dwells 0 min to 2 h by 500 ms ; "
        "ramps by rate 6 K/h to 600 K/h by 6 K/h }");
    REQUIRE(e.findings() == "");
    CHECK(e.controller("c").setpoint.lo.text() == "0");
    CHECK(e.controller("c").setpoint.hi.text() == "1200");
    CHECK(e.controller("c").dwell.step.text() == "0.5");
    CHECK(e.controller("c").rate->step.text() == "0.1");
    CHECK(e.controller("c").rate->hi.text() == "10");
    says(head + "ramps by rate 1 K/h to 600 K/h by 1 K/h",
         "t.ath:1:119: error: 1 K/h is no finite decimal number of K/min [rig_inconsistent]\n");
    says("segments 9 ; setpoint 32 degF to 2000 degF by 1 K ; dwells 0 s to 1 h by 1 s ; " + rates,
         "t.ath:1:38: error: 32 degF is no finite decimal number of degC [rig_inconsistent]\n");
}

TEST_CASE("controllers that cannot be") {
    says(rates + "segments 16 ; setpoint 0 degC to 1200 degC by 1 K",
         "t.ath:1:12: error: controller `c` says nothing about `dwells` [rig_inconsistent]\n");
    says(head, "t.ath:1:12: error: controller `c` says nothing about `ramps` [rig_inconsistent]\n");
    says(head + rates + "loops 1 level", "t.ath:1:158: error: `loops` takes `none` or a plain number, `level` "
                                         "or `levels`, a comma, a plain number, `to`, "
                                         "a plain number, `passes`: loops none [unknown_property]\n");
    says(head + rates + "loops 1 level, 9 to 2 passes",
         "t.ath:1:158: error: loops run from 9 down to 2 passes [rig_inconsistent]\n");
    says(head + rates + "zones 1.5",
         "t.ath:1:164: error: `zones` is a whole number from 1 to 4, not 1.5 [rig_inconsistent]\n");
    says(head + rates + "outputs 40",
         "t.ath:1:166: error: `outputs` is a whole number from 0 to 32, not 40 [rig_inconsistent]\n");
    says(head + rates + "thresholds 1",
         "t.ath:1:158: error: 1 thresholds work outputs, and there are 0 [rig_inconsistent]\n");
    says(head + rates + "linking yes",
         "t.ath:1:158: error: a controller with one program has none to go on in [rig_inconsistent]\n");
    says(head + rates + "longest_wait 2 h", "t.ath:1:158: error: `longest_wait` is about a soak band, and this "
                                            "controller has none [rig_inconsistent]\n");
    says(head + rates + "soak_band 5 K to 1 K by 1 K",
         "t.ath:1:168: error: `soak_band` of controller `c` runs from 5 K down to 1 K [rig_inconsistent]\n");
    says(head + rates + "soak_band 1 K to 5 K by 9 K",
         "t.ath:1:168: error: `soak_band` holds no step of 9 K between its ends [rig_inconsistent]\n");
    // More digits than can be counted, at the number that has them.
    says(rates +
             "dwells 0 s to 1 h by 1 s ; segments 9 ; setpoint 0 degC to 1800 degC by 0.11000000000000001 K",
         "t.ath:1:141: error: 0.11000000000000001 K has 17 places behind the point: too many to count the "
         "steps of "
         "`setpoint` exactly [rig_inconsistent]\n");
    says(head + rates + "soak_band 0.00000000000000001 K to 5 K by 1 K",
         "t.ath:1:168: error: 0.00000000000000001 K has 17 places behind the point: too many to count the "
         "steps of "
         "`soak_band` exactly [rig_inconsistent]\n");
    says(head + rates + "soak_band 1 degC to 5 degC by 1 K",
         "t.ath:1:168: error: `soak_band` takes a difference of temperature, `to`, a difference of "
         "temperature, `by`, a difference of temperature or "
         "`none`: soak_band none [unit_mismatch]\n");
    says(head + rates + "starts_from setpoint 2000 degC",
         "t.ath:1:179: error: the first set-point, 2000 °C, lies outside 0 to 1200 degC [rig_inconsistent]\n");
    says(head + rates + rates, "t.ath:1:158: error: ramps by rate are given twice [duplicate_name]\n");
    says(head + rates + "at_end of",
         "t.ath:1:165: error: `at_end` takes `off` or `hold`: at_end off [unknown_property]\n");
    says(head + rates + "memory 3",
         "t.ath:1:158: error: controller `c` has no property `memory` [unknown_property]\n");
}

TEST_CASE("a controller may be a variant of another") {
    Equipment e("controller a { " + head + rates + "outputs 4 }\ncontroller b from a { segments 40 }");
    REQUIRE(e.findings() == "");
    CHECK(e.controller("b").segments == 40);
    CHECK(e.controller("b").outputs == 4);
    CHECK(e.controller("b").setpoint.count() == 1200);
}
