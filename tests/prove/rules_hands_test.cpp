// Things worked by hand, and lines that no recipe names. Common practice, no source.
#include "tests/prove/rules.hpp"

#include <algorithm>

using namespace athanor;
using namespace athanor::prove::test;

namespace {

const std::string purge = "purge argon at 2 slm until oxygen < 0.5 % and swept > 6 volumes\n"; // line 3
const std::string heat = "ramp to 850 degC at 5 K/min\ndwell 20 min within 3 K\n";             // 4, 5
const std::string light = "light burner\ndwell 2 min\n";
const std::string leave = "switch to hydrogen at 0.5 slm\ndwell 30 min within 3 K\n"
                          "switch to argon at 2 slm\ndwell until flammability < 20 %\nshut burner\n"
                          "cool to 100 degC\nclose all\n";
const std::string wait = "wait for operator \"Light the burner\"\n";
const std::string by_hand = "exhaust afterburner { pilot yes ; into extraction_hood { backup_power yes } }";

bool judged(const Case& c) {
    return std::any_of(c.assurance.rows.begin(), c.assurance.rows.end(),
                       [](const prove::Row& row) { return row.rule == "hand_not_waited_for"; });
}

} // namespace

TEST_CASE("hand_not_waited_for: a burner that is lit by hand") {
    refused(on(by_hand, purge + heat + light + leave), "hand_not_waited_for", "hand_not_waited_for:6");
    passes(on(by_hand, purge + heat + wait + light + leave), "hand_not_waited_for");
    // Directly before the wait says the same; a dwell between does not.
    passes(on(by_hand, purge + heat + "light burner\n" + wait + "dwell 2 min\n" + leave),
           "hand_not_waited_for");
    refused(on(by_hand, purge + heat + wait + "dwell 1 min\n" + light + leave), "hand_not_waited_for",
            "hand_not_waited_for:8");
    // Before the start nothing runs on.
    passes(on(by_hand, "light burner\n" + purge + heat + leave), "hand_not_waited_for");
    // An output needs nobody.
    CHECK_FALSE(judged(*on("", purge + heat + light + leave)));
}

TEST_CASE("hand_not_waited_for: gas lines without an output") {
    const std::string fuel =
        "without line hydrogen ; line hydrogen { gas hydrogen ; meter hand ; flow 0.1 slm to 1 slm "
        "; accuracy 2 % of reading ; supply 150 mbar gauge }";
    // Nobody can be waited for while fuel is open, so its closing always lacks a wait.
    auto c = on(fuel, purge + heat + light + "wait for operator \"Open\"\n" + leave);
    CHECK_MESSAGE(c->errors().find("hand_not_waited_for:11") != std::string::npos, c->all());
    CHECK_MESSAGE(c->errors().find("hand_not_waited_for:9") == std::string::npos, c->all());
    // An inert line may be closed late, not opened.
    const std::string inert =
        "without line argon ; line argon { gas argon ; meter hand ; flow 0.1 slm to 4 slm ; "
        "accuracy 2 % of reading ; supply 150 mbar gauge } ; line guard { gas nitrogen ; output 1 ; "
        "de_energised open, 1.5 slm to 4 slm ; meter controlled ; flow 0.1 slm to 4 slm ; accuracy "
        "2 % of reading ; supply 150 mbar gauge }";
    const std::string clear =
        "switch to guard at 2 slm\ndwell until flammability < 20 %\nshut burner\ncool to 100 degC\nclose all\n";
    const std::string soak = "switch to hydrogen at 0.5 slm\ndwell 30 min within 3 K\n";
    passes(on(inert, purge + heat + light + soak + clear), "hand_not_waited_for");
    c = on(inert, "switch to guard at 2 slm\ndwell 1 h\nswitch to argon at 2 slm\n" + purge + heat + light +
                      soak + clear);
    CHECK_MESSAGE(c->errors().find("hand_not_waited_for:5") != std::string::npos, c->all());
    // Without a gas that can hurt somebody it is nobody's business.
    const std::string cold = "dwell 1 h\nopen argon at 2 slm\ndwell 1 h\nclose all\n";
    CHECK_FALSE(judged(*on(inert, cold)));
}

TEST_CASE("hand_not_waited_for: a wait behind waits for nothing that must flow from its first second") {
    const std::string inert =
        "line vent { gas nitrogen ; de_energised closed ; meter hand ; flow 0.1 slm to 4 slm ; accuracy 2 % of "
        "reading ; supply 150 mbar gauge }";
    const std::string soak = "switch to hydrogen at 0.5 slm\ndwell 30 min within 3 K\n"; // 8, 9
    const std::string clear = "dwell until flammability < 20 %\nshut burner\ncool to 100 degC\nclose all\n";
    auto c = on(inert, purge + heat + light + soak + "switch to vent at 2 slm\n" + wait + clear);
    CHECK_MESSAGE(c->errors().find("hand_not_waited_for:10") != std::string::npos, c->all());
    CHECK(c->first(Code::hand_not_waited_for).message.find("the wait stands behind it") != std::string::npos);
    // Fuel, closed by hand before the wait, flows on until somebody comes.
    const std::string fuel =
        "without line hydrogen ; line hydrogen { gas hydrogen ; meter hand ; flow 0.1 slm to 1 slm "
        "; accuracy 2 % of reading ; supply 150 mbar gauge }";
    c = on(fuel, purge + heat + light + wait + soak + "switch to argon at 2 slm\n" + wait + clear);
    CHECK_MESSAGE(c->errors().find("hand_not_waited_for:11") != std::string::npos, c->all());
}

TEST_CASE("hand_not_waited_for: oxygen that nobody shut, and a pump") {
    auto pumped = [](const std::string& before, const std::string& behind) {
        return on(
            "without line oxygen ; line oxygen { gas oxygen ; de_energised closed ; meter hand ; flow 0.1 "
            "slm to 1 slm ; supply 150 mbar gauge }",
            "open oxygen at 0.5 slm\ndwell 30 min\n" + before + "switch to argon at 2 slm\n" + behind +
                "dwell until oxygen < 15 %\nclose all\nevacuate to 1 mbar\ndwell 10 min\n"
                "backfill argon at 2 slm to ambient + 20 mbar\nclose all\n");
    };
    refused(pumped("", ""), "hand_not_waited_for", "hand_not_waited_for:5");
    passes(pumped(wait, ""), "hand_not_waited_for");
    passes(pumped("", wait), "hand_not_waited_for");
}

TEST_CASE("a line that falls open is judged whether the recipe names it or not") {
    const std::string open = "line hydrogen { de_energised open, 0.2 slm to 0.5 slm }";
    auto c = on(
        open, "open oxygen at 0.5 slm\nramp to 500 degC at 5 K/min\ndwell 1 h\ncool to 100 degC\nclose all\n");
    REQUIRE_MESSAGE(c->done.complete, c->all());
    CHECK_FALSE(c->assurance.proven);
    CHECK_MESSAGE(c->errors().find("flammable_mixture") != std::string::npos, c->all());
    CHECK(found(*c, Code::gas_flows_after_end, Severity::warning) != "");
    // A line that falls closed and is not named does nothing.
    c = on("", "open oxygen at 0.5 slm\ndwell 1 h\nclose all\n");
    CHECK_MESSAGE(c->errors().empty(), c->all());
}

TEST_CASE("flammable_mixture: a gas that cannot burn in air meets more oxygen than air holds") {
    // 8.5 % of methane in nitrogen is not flammable in air (ISO 10156:2017: Tci 8.7 %); with a sixth of oxygen
    // it is 7.3 % of methane in 14.7 % of oxygen, over the lower limit of 4.4 % and the least oxygen of about
    // 12 % (IEC 60079-20-1:2010; from memory).
    const std::string gases = "gas lean_methane = 8.5 % methane + rest nitrogen ;";
    const std::string lean =
        "line lean { gas lean_methane ; output 6 ; de_energised closed ; meter controlled ; flow 0.1 "
        "slm to 2 slm ; accuracy 2 % of reading ; supply 150 mbar gauge }";
    // Where fuel stands in the tube when oxygen opens, elaboration sees it; opened together, only the rule
    // does.
    auto c =
        on(lean, "open lean at 1 slm\ndwell 10 min\nopen oxygen at 0.17 slm\ndwell 1 h\nclose all\n", gases);
    CHECK_MESSAGE(c->errors() == "opposing_valves:5", c->all());
    refused(on(lean, "open lean at 1 slm\nopen oxygen at 0.17 slm\ndwell 1 h\nclose all\n", gases),
            "flammable_mixture", "flammable_mixture:5");
    // The other way round, with the oxygen shut long before.
    refused(on(lean,
               "open oxygen at 0.5 slm\ndwell 1 h\nclose all\ndwell 1 h\nopen lean at 1 slm\ndwell 1 h\nclose "
               "all\n",
               gases),
            "flammable_mixture", "flammable_mixture:8");
    // With an inert purge between, and where there is only air, nothing can burn.
    passes(on(lean,
              "open oxygen at 0.5 slm\ndwell 1 h\nswitch to argon at 4 slm\ndwell until oxygen < 0.5 %\nswitch "
              "to lean at 1 "
              "slm\ndwell 1 h\nclose all\n",
              gases),
           "flammable_mixture");
    c = on(lean, "open lean at 1 slm\ndwell 1 h\nclose all\n", gases);
    CHECK_MESSAGE(c->errors().empty(), c->all());
}

TEST_CASE("what is advised before fuel keeps to a hand meter, and holds") {
    const std::string hand = "without line argon ; line argon { gas argon ; output 1 ; de_energised open ; "
                             "meter hand ; flow 0.1 slm to 4 "
                             "slm ; accuracy 2 % of reading ; supply 150 mbar gauge }";
    auto c = on(hand, heat + light + leave);
    const std::string& remedy = c->first(Code::no_inert_purge_first).remedies.at(0);
    CHECK(remedy.ends_with("purge argon at 2 slm until oxygen < 0.5 % and swept > 5.5 volumes"));
    c = on(hand, remedy.substr(remedy.find("purge argon")) + "\n" + heat + light + leave);
    CHECK_MESSAGE(c->errors().empty(), c->all());
    c = on("", purge + heat + leave);
    const std::string& lit = c->first(Code::burner_off).remedies.at(0);
    CHECK_MESSAGE(lit.find("light burner  and  dwell 2 min") != std::string::npos, lit);
}

TEST_CASE("what is advised before fuel is what the site's own policy asks") {
    const std::string site =
        "policy site { rule cleaner \"Cleaner than the standard asks\" {\nrequire oxygen < 500 "
        "ppm and swept > 10 volumes before opening flammable\n} }\n";
    const auto c = on("", heat + light + leave, site);
    const std::string& remedy = c->first(Code::no_inert_purge_first).remedies.at(0);
    CHECK_MESSAGE(remedy.ends_with("until oxygen < 0.025 % and swept > 11 volumes"), remedy);
    // A guard is no limit, and what is asked of something else is not asked of fuel.
    const auto other =
        on("", heat + light + leave,
           "policy site { rule elsewhere \"Elsewhere\" {\nrequire temperature < 1100 degC while oxygen < 1 "
           "ppm\nrequire swept > 50 volumes before heating above 1100 degC\n} }\n");
    const std::string& usual = other->first(Code::no_inert_purge_first).remedies.at(0);
    CHECK_MESSAGE(usual.ends_with("until oxygen < 0.5 % and swept > 5.5 volumes"), usual);
}

TEST_CASE("hand_not_waited_for: fuel too lean to burn cold, in a tube that lights it") {
    const std::string rig = "without line argon ; line argon { gas argon ; meter hand ; flow 0.1 slm to 4 slm "
                            "; accuracy 2 % of reading ; "
                            "supply 150 mbar gauge } ; without line hydrogen ; line forming { gas lean ; "
                            "output 7 ; de_energised closed ; "
                            "meter controlled, channel 4 ; flow 0.1 slm to 4 slm ; accuracy 2 % of reading ; "
                            "supply 150 mbar gauge }";
    const auto exchanged = [&](const std::string& degC, const std::string& waits, const std::string& share) {
        return on(
            rig,
            "open argon at 2 slm\ndwell until oxygen < 0.1 %\nramp to " + degC +
                " degC at 5 K/min\nwait for operator \"Change of gas\"\nswitch to forming at 1 slm\ndwell 10 "
                "min\n" +
                waits + "switch to argon at 2 slm\ndwell 2 h\ncool to 60 degC\n",
            "gas lean = " + share + " hydrogen + rest nitrogen");
    };
    const std::string wait = "wait for operator \"Back\"\n";
    const auto late = exchanged("800", "", "5 %");
    CHECK_MESSAGE(late->errors() == "hand_not_waited_for:9", late->all());
    for (const auto& c :
         {exchanged("800", wait, "5 %"), exchanged("300", "", "5 %"), exchanged("800", "", "3 %")})
        CHECK_MESSAGE(c->errors() == "", c->all());
}

TEST_CASE("hand_not_waited_for: air beside a pump is no danger, more oxygen is") {
    const auto pumped = [&](const std::string& gas) {
        return on(
            "without line oxygen ; line oxidiser { gas " + gas +
                " ; meter hand ; flow 0.1 slm to 4 slm ; accuracy 2 % of reading ; supply 150 mbar gauge }",
            "open oxidiser at 1 slm\ndwell 1 h\nclose oxidiser\nevacuate to 1 mbar\ndwell 1 h\nbackfill argon "
            "at "
            "1 slm to ambient\nclose all\n",
            "gas rich = 24 % oxygen + rest nitrogen");
    };
    CHECK_MESSAGE(pumped("air")->errors() == "", pumped("air")->all());
    CHECK_MESSAGE(pumped("rich")->errors().find("hand_not_waited_for:5") == 0, pumped("rich")->all());
}
