// Pressure that a flow needs to leave: supply, rating, relief. 1 slm of argon with 2 % of error at 28 degC and
// 980 mbar is 7.5845e-4 mol/s of 0.025550 m3/mol. Through 2 mm by 3 m it takes, laminar (Re 1100), 128 * 2.4e-5
// * 3 / (pi * 1.6e-11) * 0.025550 * 7.5845e-4 = 3553 Pa, and 1.5 rho v^2 / 2 = 45 Pa for the ends: 36.0 mbar.
#include "tests/prove/rules.hpp"

#include <string>

using namespace athanor;
using namespace athanor::prove::test;

namespace {

const std::string closed = "line argon { de_energised closed } ; ", narrow = "outlet 2 mm by 3 m ; ",
                  one_slm = "open argon at 1 slm\ndwell 30 min\nclose all\n";

/// The small rig without its pump, and so without a non-return valve; without a relief where it is told so.
std::unique_ptr<Case> open_ended(const std::string& properties, const std::string& text,
                                 const std::string& more = {}, bool relieved = true) {
    std::string rig(rigs);
    rig = rig.substr(0, rig.find("rig three"));
    const auto without = [&](const std::string& line) {
        const std::size_t at = rig.find(line);
        REQUIRE(at != std::string::npos);
        rig.erase(at, rig.find('\n', at) - at);
    };
    without("pump {");
    if (!relieved) without("relief ");
    rig.replace(rig.find("rig small"), 9, "rig unpumped");
    return run(rig + more + "\nrig special from unpumped { " + properties + " }\nrecipe r on special {\n" +
               text + "}\n");
}

bool told(const Case& c) {
    return c.out.has(Code::outlet_too_narrow);
}

} // namespace

TEST_CASE("outlet_too_narrow: more pressure than the supply gives") {
    auto fed = [](const std::string& mbar) {
        return open_ended(narrow + "line argon { de_energised closed ; supply " + mbar + " mbar gauge }",
                          one_slm);
    };
    const auto low = fed("35.8"), high = fed("60");
    CHECK_MESSAGE(told(*low), low->all());
    CHECK_FALSE(low->assurance.proven);
    CHECK(low->row("outlet_too_narrow").verdict != plant::Verdict::proven);
    CHECK_MESSAGE(high->errors() == "", high->all());
    CHECK(high->row("outlet_too_narrow").verdict == plant::Verdict::proven);
    // On top comes what 1.77 L drive out while the controller regulates: at 50 K/min, twice the mean of a
    // full-power run, 0.3 L/min.
    const double needs = number_behind(high->row("outlet_too_narrow").margin, "needs ");
    CHECK(needs > 36.0);
    CHECK(needs < 1.3 * 36.0);
    CHECK(told(*fed(std::to_string(needs - 0.2))));
    CHECK_FALSE(told(*fed(std::to_string(needs + 0.2))));
    CHECK(told(*fed("0")));
    // What is told holds: the wider bore and the smaller flow pass.
    const Diagnostic& d = low->first(Code::outlet_too_narrow);
    REQUIRE(d.remedies.size() == 3);
    CHECK(d.remedies[0].find("outlet 2.5 mm by 3 m") != std::string::npos);
    CHECK_FALSE(told(*open_ended(
        "outlet 2.5 mm by 3 m ; line argon { de_energised closed ; supply 35.8 mbar gauge }", one_slm)));
    CHECK(d.remedies[2].find("supply 50 mbar gauge") != std::string::npos);
    const double most = number_behind(d.remedies[1], "at most "); // with the meter's 2 %
    auto flows = [](double sccm) {
        return open_ended(narrow + "line argon { de_energised closed ; supply 35.8 mbar gauge }",
                          "open argon at " + std::to_string(sccm / 1.02) + " sccm\ndwell 30 min\nclose all\n");
    };
    CHECK_FALSE(told(*flows(most * 0.999)));
    CHECK(told(*flows(most * 1.02)));
    // A step that needs little is not blamed for the flow before it.
    const auto first = open_ended(closed + narrow + "line hydrogen { gas argon ; supply 20 mbar gauge }",
                                  "open argon at 1 slm\ndwell 10 min\nswitch to hydrogen at 0.2 slm\ndwell 10 "
                                  "min\nclose all\n");
    CHECK_MESSAGE(first->errors() == "", first->all());
}

TEST_CASE("outlet_too_narrow: the non-return valve of a rig with a pump") {
    auto fed = [](const std::string& mbar) {
        return on("line argon { de_energised closed ; supply " + mbar + " mbar gauge }", one_slm);
    };
    // 50 mbar of the valve (common practice, no source), and 0.15 mbar of 6 mm by 1 m.
    refused(fed("50"), "outlet_too_narrow", "outlet_too_narrow:3");
    passes(fed("51"), "outlet_too_narrow");
}

TEST_CASE("outlet_too_narrow: what falls open when power fails") {
    // 0.2 slm of a run, and at least 1.5 slm that fall open: 5225 Pa, and 97 Pa for the ends.
    auto fed = [](const std::string& mbar) {
        return open_ended(narrow + "line argon { supply " + mbar + " mbar gauge }",
                          "open argon at 0.2 slm\ndwell 30 min\nclose all\n");
    };
    const auto low = fed("52.9");
    CHECK_MESSAGE(told(*low), low->all());
    CHECK(low->first(Code::outlet_too_narrow).label.find("after a power failure") != std::string::npos);
    const auto high = fed("53.5");
    CHECK_MESSAGE(high->errors() == "", high->all());
}

TEST_CASE("outlet_too_narrow: a relief that blows toxic or flammable gas") {
    // 1 slm with 1 % of error: 35.6 mbar, and what the tube drives out.
    const std::string
        mix = "gas lean = 200 ppm carbon_monoxide + rest nitrogen",
        line = "line extra { gas lean ; output 6 ; de_energised closed ; meter controlled ; flow 0.1 "
               "slm to 2 slm ; accuracy 1 % of reading ; supply 100 mbar gauge } ; ";
    const std::string leads = "exhaust into extraction_hood { backup_power yes } ; ";
    auto set = [&](const std::string& relief, const std::string& flows) {
        return open_ended(closed + narrow + line + leads + "relief " + relief + " mbar gauge",
                          "open " + flows +
                              " at 1 slm\ndwell 20 min\nswitch to argon at 1 slm\ndwell until carbon_monoxide "
                              "< 10 ppm\nclose all\n",
                          mix);
    };
    const auto low = set("35", "extra"), high = set("48", "extra"), harmless = set("35", "argon");
    CHECK_MESSAGE(told(*low), low->all());
    CHECK(low->first(Code::outlet_too_narrow).message.find("the relief opens at 35 mbar") != std::string::npos);
    CHECK_MESSAGE(high->errors() == "", high->all());
    CHECK_MESSAGE(harmless->errors() == "", harmless->all());
}

TEST_CASE("outlet_too_narrow: a relief that blows toxic gas when more falls open without power") {
    // 2 slm: 7106 Pa and 180 Pa for the ends; the run's own 0.5 slm need a quarter of it.
    auto set = [](const std::string& relief) {
        return open_ended(
            narrow +
                "line argon { de_energised open, 1.5 slm to 2 slm ; supply 150 mbar gauge } ; line extra { "
                "gas lean ; output 6 ; de_energised closed ; meter controlled ; flow 0.1 slm to 2 slm ; "
                "accuracy 1 % of reading ; supply 100 mbar gauge } ; exhaust into extraction_hood { "
                "backup_power yes } ; relief " +
                relief + " mbar gauge",
            "open argon at 0.5 slm\ndwell 10 min\nswitch to extra at 0.5 slm\ndwell 20 min\nswitch to argon at "
            "0.5 slm\ndwell until carbon_monoxide < 10 ppm\nclose all\n",
            "gas lean = 200 ppm carbon_monoxide + rest nitrogen");
    };
    const auto low = set("60"), high = set("90");
    REQUIRE_MESSAGE(told(*low), low->all());
    const Diagnostic& d = low->first(Code::outlet_too_narrow);
    CHECK(d.message.find("the relief opens at 60 mbar") != std::string::npos);
    CHECK(d.label.find("after a power failure") != std::string::npos);
    // Where argon flows and toxic gas is left, not where the same argon flowed before.
    CHECK(low->files.text(d.span).starts_with("dwell until"));
    CHECK_MESSAGE(high->errors() == "", high->all());
}

TEST_CASE("outlet_too_narrow: a tube that is not tight does not hold its gas to the outlet") {
    const std::string thin = "outlet 1 mm by 3 m ; ";
    CHECK(told(*open_ended(closed + thin, one_slm)));
    const auto loose =
        open_ended("line argon { gas air ; de_energised closed } ; " + thin + "seals none", one_slm);
    REQUIRE_MESSAGE(loose->done.complete, loose->all());
    CHECK_MESSAGE(!told(*loose), loose->all());
}

TEST_CASE("outlet_too_narrow: what the load gives off against the rating") {
    // No supply bounds it. 1 slm of carbon dioxide without error: 7.436e-4 mol/s, 34.8 mbar, and what the tube
    // drives out as it warms.
    auto rated = [](const std::string& mbar, bool relieved) {
        return open_ended(
            closed + narrow + "seals gas_tight { rated " + mbar + " mbar gauge ; cooled yes }",
            "load { evolves carbon_dioxide 0 slm to 1 slm above 400 degC }\nramp to 500 degC at 5 "
            "K/min\ndwell 30 min\ncool to 60 degC\n",
            {}, relieved);
    };
    const auto low = rated("34", false), high = rated("50", false);
    CHECK_MESSAGE(told(*low), low->all());
    CHECK_MESSAGE(!told(*high), high->all());
}
