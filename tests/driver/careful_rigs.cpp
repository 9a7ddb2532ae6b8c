// What a rig or a recipe says that a rule might pass over.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

namespace {

Result check(const std::string& text, const std::string& folder = "/recipes") {
    return athanor({"check", "-"}, project + folder, text);
}

bool tells(const Result& result, const std::string& words) {
    return result.err.find(words) != std::string::npos;
}

const std::string quartz = "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n";
const std::string retort = "use \"rigs/vacuum_retort.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n";

} // namespace

TEST_CASE("a figure that stands in the rig and in its furnace or seals is refused") {
    const std::string run =
        "recipe a on w for bench_twenty_five {\nramp to 500 degC at 4 K/min\ncool to 60 degC\n}\n";
    const Result twice = check(quartz + "rig w from quartz_bench_inert { overshoot 0 K to 200 K }\n" + run);
    CHECK(twice.status == 1);
    CHECK_MESSAGE(tells(twice, "[rig_inconsistent]"), twice.err);
    const Result once = check(quartz + "rig w from quartz_bench_inert { mains ± 8 % }\n" + run);
    CHECK_MESSAGE(once.status == 0, once.err);
}

TEST_CASE("an evacuated tube of a material that does not say how stiff it is") {
    const Result result = check(
        retort +
        "material site_steel \"Steel\" { limit 1035 degC ; limit_vacuum 1000 degC ; rate 10 K/min }\nrig foil "
        "from vacuum_retort { tube { material site_steel ; inner_diameter 100 mm ; wall 4 mm ; length 1500 mm "
        "} "
        "}\nrecipe a on foil for bench_twenty_five {\nevacuate to 1 mbar\nbackfill argon at 4 slm to "
        "ambient\n}\n");
    CHECK(result.status == 0);
    CHECK_MESSAGE(tells(result, "is not judged"), result.err);
}

TEST_CASE("deuterium takes oxygen from silica as hydrogen does") {
    const Result result = check(
        quartz +
        "gas d2 { formula \"D2\" ; hazard flammable, asphyxiant ; molar_mass 4.03 g/mol ; lower_limit 4 % ; "
        "upper_limit 77 % ; safety_temperature 760 degC ; autoignition 400 degC ; limiting_oxygen 4.25 % ; "
        "fuel_threshold 5.5 % }\ngas d_lean = 3 % d2 + rest argon\nrig w from quartz_bench_inert { line x { "
        "gas "
        "d_lean ; output 2 ; de_energised closed ; meter hand ; flow 0.2 slm to 2 slm ; supply 120 mbar gauge "
        "} "
        "}\nrecipe d on w for bench_twenty_five {\npurge argon at 2.4 slm until oxygen < 100 ppm\nramp to 1070 "
        "degC at 5 K/min\nswitch to x at 0.4 slm\ndwell 1 h\nswitch to argon at 2.4 slm\ncool to 60 "
        "degC\nclose "
        "all\n}\n");
    CHECK(result.status == 1);
    CHECK_MESSAGE(tells(result, "d2 attacks a tube of fused_quartz"), result.err);
}

TEST_CASE("a line that falls open already is not advised to; its hand meter is") {
    const std::string rig =
        quartz + "rig w from quartz_bench_inert { line forming { gas forming_gas_5 ; output 2 ; "
                 "de_energised closed ; meter hand ; flow 0.2 slm to 2 slm ; supply 120 mbar gauge } "
                 "}\nrecipe a on w for bench_twenty_five {\n";
    const std::string run =
        "open forming at 1 slm\ndwell 1 h\nramp to 450 degC at 5 K/min\ncool to 60 degC\nclose "
        "forming\n}\n";
    const Result never = check(rig + run);
    CHECK_MESSAGE(tells(never, "its hand meter may stand at nothing"), never.err);
    const Result set = check(rig + "open argon at 1 slm\ndwell 1 min\nclose argon\n" + run);
    CHECK_MESSAGE(!tells(set, "[no_inert_on_abort]"), set.err);
}

TEST_CASE("water that comes off hot does not condense in the cold of the same step") {
    const Result result = check(
        "use \"../rigs/bench_two.ath\"\nuse \"../controllers/bench_controller.ath\"\nrig w from bench_two { "
        "heated_lines 64 degC }\nrecipe one on w for bench_controller {\nload { evolves water 0 sccm to 200 "
        "sccm "
        "above 300 degC }\npurge argon at 1.5 slm for 1 h\nramp to 500 degC at 5 K/min\ncool to 60 degC\nclose "
        "argon\n}\n",
        "/tests/examples/accepted");
    CHECK_MESSAGE(!tells(result, "[condensation]"), result.err);
}
