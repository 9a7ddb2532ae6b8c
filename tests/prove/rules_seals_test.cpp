// End seals: a coolant that stops, and hot gas.
#include "tests/prove/rules.hpp"

using namespace athanor;
using namespace athanor::prove::test;

namespace {

/// Alumina of 22 mm brings 92 K at 272 mm of cold end (`rules_vacuum_test`): 850 mm of tube stand it, 800 do
/// not.
std::string rig(const std::string& seals, const std::string& length = "800", const std::string& more = "") {
    return "tube { material alumina ; inner_diameter 22 mm ; wall 3 mm ; length " + length +
           " mm } ; seals gas_tight { rated 200 mbar gauge ; cooled yes " + seals +
           " } ; exhaust afterburner { output 4 "
           "; pilot yes ; into extraction_hood { backup_power yes } } ; interlock hydrogen is open and "
           "temperature < "
           "775 degC closes hydrogen, opens argon" +
           more;
}

const std::string argon = "open argon at 2 slm\nramp to 850 degC at 4 K/min\ncool to 100 degC\n";
const std::string hydrogen =
    "purge argon at 2 slm until oxygen < 0.5 % and swept > 6 volumes\nramp to 850 degC at 4 K/min\nlight "
    "burner\n"
    "dwell 20 min within 3 K\nswitch to hydrogen at 0.5 slm\ndwell 30 min\nswitch to argon at 2 slm\n"
    "dwell until flammability < 20 %\nshut burner\ncool to 100 degC\n";

/// The second row of the rule: without power and coolant.
std::string coolant_fault(const Case& c) {
    for (const prove::Row& row : c.assurance.rows)
        if (row.rule == "fault" && row.title.find("coolant") != std::string::npos) return row.margin;
    return "";
}

} // namespace

TEST_CASE("seals_too_hot: a coolant that stops with the mains, while the tube is hot") {
    const auto fuel = on(rig(""), hydrogen);
    CHECK_MESSAGE(fuel->errors() == "seals_too_hot:4", fuel->all());
    CHECK_FALSE(fuel->assurance.proven);
    CHECK(fuel->row("seals_too_hot", 1).outcome() == prove::Outcome::not_provable);
    // Nothing burns: the load is at stake.
    const auto inert = on(rig(""), argon);
    CHECK_MESSAGE(inert->errors() == "", inert->all());
    CHECK(found(*inert, Code::seals_too_hot, Severity::warning) == "4");
    CHECK(inert->row("seals_too_hot", 1).outcome() == prove::Outcome::warned);
    // What the remedies say.
    CHECK_MESSAGE(on(rig("; cooled_without_power yes"), hydrogen)->errors() == "",
                  on(rig("; cooled_without_power yes"), hydrogen)->all());
    CHECK(on(rig("; limit 200 degC"), hydrogen)->errors() == "");
    const std::string& longer = fuel->only().remedies.at(1);
    const std::string length = longer.substr(longer.find("length ") + 7);
    CHECK_MESSAGE(on(rig("", length.substr(0, length.find(' '))), hydrogen)->errors() == "", longer);
    CHECK(on(rig("", "900"), hydrogen)->errors() == "");
    // A rise that was measured with the coolant says nothing of seals without it.
    CHECK(on(rig("; rise 5 K to 20 K"), hydrogen)->errors() == "seals_too_hot:4");
    // Quartz brings nothing along its wall.
    const auto quartz = on("seals gas_tight { rated 200 mbar gauge ; cooled yes }", argon);
    CHECK(found(*quartz, Code::seals_too_hot, Severity::warning) == "");
    // Down a bore without plugs or shields it shines on them.
    const auto bare = on("ends open_ends ; seals gas_tight { rated 200 mbar gauge ; cooled yes }", argon);
    CHECK(found(*bare, Code::seals_too_hot, Severity::warning) == "4");
}

TEST_CASE("needs_interlock: the coolant alone fails") {
    const auto open = on(rig("; cooled_without_power yes"), hydrogen);
    CHECK(coolant_fault(*open) == "needs an interlock");
    CHECK(open->out.has(Code::needs_interlock));
    const auto answered = on(rig("; cooled_without_power yes ; coolant_loss trips"), hydrogen);
    CHECK(coolant_fault(*answered).find("answered by `coolant_loss trips`") == 0);
    // Seals that stand it uncooled need nothing.
    CHECK(coolant_fault(*on(rig("", "900"), hydrogen)) == "");
    CHECK(coolant_fault(*on("", argon)) == "");
}

TEST_CASE("seals_too_hot: hot gas at the outlet") {
    // 30 slm of argon at 1000 degC carry 450 W: 0.0223 mol/s, 20.8 J/(mol K), 970 K.
    const auto flows = [](const std::string& flow, const std::string& more = "") {
        return on(
            "tube { material fused_quartz ; inner_diameter 60 mm ; wall 3 mm ; length 1300 mm } ; room 200 m3 "
            "ventilated 6 1/h ; outlet 16 mm by 1 m ; line argon { flow 0.1 slm to 40 slm ; de_energised "
            "closed } " +
                more,
            "open argon at " + flow + " slm\nramp to 1000 degC at 4 K/min\ndwell 1 h\ncool to 100 degC\n");
    };
    const auto hot = flows("30");
    CHECK_MESSAGE(hot->errors() == "", hot->all());
    CHECK(found(*hot, Code::seals_too_hot, Severity::warning) == "4");
    CHECK(hot->row("seals_too_hot", 1).outcome() == prove::Outcome::warned);
    // Ordinary flows through shields or plugs warm nobody's seals.
    for (const char* flow : {"1", "2", "5"}) {
        CHECK_FALSE(flows(flow)->out.has(Code::seals_too_hot));
        CHECK_FALSE(flows(flow, "; ends insulation_plugs { length 150 mm ; porosity 85 % }; without pump")
                        ->out.has(Code::seals_too_hot));
    }
    // Who cools them or measured them is not told.
    CHECK_FALSE(
        flows("30", "; seals gas_tight { rated 200 mbar gauge ; cooled yes }")->out.has(Code::seals_too_hot));
    CHECK_FALSE(flows("30", "; seals gas_tight { rated 200 mbar gauge ; rise 20 K to 60 K }")
                    ->out.has(Code::seals_too_hot));
}
