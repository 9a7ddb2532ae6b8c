// Every rule has a limit, and every limit is asked from both sides: one number in the mended example of the
// rule's page, with which it just fails and with which it just passes. A rule without a number stands in a list
// of its own, with the reason.
#include "tests/driver/page.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <map>
#include <utility>
#include <vector>

namespace {

struct Change {
    std::string from, to; // `@` in `to` is the number
};

struct Pair {
    std::string code;
    std::vector<Change> changes; // to the mended example
    std::string fails, passes;   // the number
    std::string limit;           // what lies between, and whose figure it is
    std::string beside{};        // other errors that either text may give
};

const std::string cleared = "    clear_flammable(feed = 2.4 slm)\n",
                  cleared_until = "    switch to argon at 2.4 slm\n    dwell until flammability < @ %\n",
                  a_quarter = "25 % of the lower limit (common practice, no source)",
                  purged = "    inert_purge(feed = 2.4 slm)\n", hydrogen = "    switch to hydrogen",
                  controllers = "use \"controllers/bench_twenty_five.ath\"";

/// A line in front of the `use` of the controllers, and the recipe on what it declares.
std::vector<Change> on(const std::string& declared, const std::string& what, const std::string& name) {
    return {{controllers, declared + "\n" + controllers}, {what, name}};
}

const std::vector<Pair>& pairs() {
    static const std::vector<Pair> list{
        // --- flammable gas ---
        {"no_inert_purge_first",
         {{purged, ""}, {hydrogen, "    purge argon at 2.4 slm until oxygen < @ %\n" + hydrogen}},
         "1.01",
         "0.99",
         "1 % of oxygen (common practice; trade literature on NFPA 86)",
         "flammable_mixture cold_ends_open_to_air"},
        {"flammable_below_ignition",
         {{"820", "@"}},
         "785",
         "786",
         "760 degC (NFPA 86, 1400 degF), and what load, band and sensor may lie under the set-point"},
        {"burner_off",
         {{"    light burner\n    dwell 30 min within 4 K\n",
           "    dwell 30 min within 4 K\n    light burner\n    dwell @ s\n"}},
         "59",
         "60",
         "a minute of flame (common practice, no source)"},
        {"flammable_mixture",
         {{"on quartz_bench for", "on seeping for"},
          {controllers, "rig seeping from quartz_bench { leak_rate 0.05 mbar*L/s }\n" + controllers},
          {purged, "    purge argon at 2.4 slm until oxygen < 0.5 % and swept > 5 volumes\n"},
          {"300 sccm", "@ sccm"}},
         "100",
         "110",
         "what the leak brings against the limiting oxygen of hydrogen (docs/model/derived.md)",
         "cold_ends_open_to_air"},
        {"cold_ends_open_to_air",
         {{"300 sccm", "@ sccm"}},
         "105",
         "110",
         "an outflow of five times contraction and leak (common practice, no source)"},
        {"opposing_valves", {{cleared, cleared_until}}, "26", "25", a_quarter},
        {"opening_tube",
         {{cleared, cleared_until + "    wait for operator \"Look\" with tube open\n"}},
         "26",
         "25",
         a_quarter,
         "flammable_mixture cold_ends_open_to_air burner_off"},
        {"flammable_to_pump",
         {{cleared, cleared_until}},
         "26",
         "25",
         a_quarter,
         "flammable_mixture cold_ends_open_to_air flammable_below_ignition burner_off"},
        {"flammable_left_at_end", {{cleared, cleared_until}}, "26", "25", a_quarter},
        // --- any fault ---
        {"no_inert_on_abort",
         on("rig x from quartz_bench { line argon { meter controlled, channel 2 ; flow 0.3 slm to 3 slm ; "
            "de_energised open, @ slm to 3 slm } }",
            "on quartz_bench", "on x"),
         "0", "0.01", "any inert flow at all", "abort_cools_into_flammable"},
        {"abort_cools_into_flammable",
         {{"2 slm to 3 slm }", "@ slm to 3 slm }"}},
         "0.14",
         "0.16",
         "cleared, or kept inert at five times contraction and leak, when it is 760 degC (NFPA 86)"},
        {"abort_seals_hot_tube",
         {{"exhaust open", "exhaust shut"},
          {"    ramp to 120 degC at 2 K/min\n", ""},
          {"    cool to 70 degC\n", ""},
          {"relief 90", "relief @"}},
         "91",
         "90.9",
         "rated 100 mbar, and a relief passes 1.1 times its setting (common practice, no source)",
         "closed_tube_heated"},
        {"wait_without_end",
         {{"    wait for operator \"Look whether the burner is lit, then go on\"\n", ""},
          {"dwell 45 min within 4 K", "dwell 45 min"},
          {cleared, cleared_until + "    dwell 10 min within 4 K\n    dwell until flammability < 20 %\n"},
          {controllers,
           "controller c { programs 9 ; segments 40 ; linking yes ; setpoint 0 degC to 1200 degC by 1 K ; "
           "ramps by "
           "rate 0.1 K/min to 99 K/min by 0.1 K/min ; dwells 0 s to 99 h by 1 s ; outputs 6 ; channels 1 ; "
           "soak_band 1 K to 99 K by 1 K ; operator_wait yes ; after_power_failure stop }"},
          {"for bench_twenty_five", "for c"}},
         "26",
         "24",
         a_quarter},
        {"interlock_acts",
         {{"775", "@"}},
         "891",
         "890",
         "900 degC of the run, how far its control may stray, and the tolerances of two sensors"},
        {"no_low_temperature_cutoff",
         {{"775 degC", "@ degC"}},
         "763",
         "763.1",
         "760 degC (NFPA 86), and 0.4 % of it for class 1 of type K (IEC 60584-1:2013)"},
        // --- gas and pressure ---
        {"supply_pressure",
         {{"150 mbar", "@ mbar"}},
         "201",
         "200",
         "200 mbar gauge (common practice, no source)"},
        {"air_drawn_in",
         {{"    cool to 70 degC\n    close argon", "    cool to @ degC\n    close argon\n    cool to 70 degC"}},
         "139",
         "138",
         "150 degC of the recipe's own demand, and how far some point may lie above the set-point"},
        {"hand_meter_changed",
         {{"    ramp to 600", "    set argon to @ slm\n    ramp to 600"}},
         "2.41",
         "2.4",
         "the flow that is set already"},
        {"bath_changed",
         {{"    open argon at 2.4 slm\n    wait for operator \"Another bath\"\n    humidify argon at 20 degC",
           "    humidify argon at @ degC"},
          {"    cool to", "    open argon at 2.4 slm\n    cool to"}},
         "49.9",
         "50",
         "the temperature that the bath has already"},
        {"flow_out_of_range", {{"2.5 L", "@ L"}}, "3.01", "3", "the meter's range, 3 L/min"},
        {"closed_tube_heated",
         {{"relief    60", "relief    @"}},
         "136.4",
         "136.3",
         "rated 150 mbar, and a relief passes 1.1 times its setting (common practice, no source)",
         "abort_seals_hot_tube"},
        {"outlet_too_narrow",
         {{"outlet 4 mm", "outlet @ mm"}},
         "2",
         "2.1",
         "120 mbar of the supply against Hagen-Poiseuille and Blasius"},
        {"toxic_not_vented",
         {{"200 ppm hyd", "@ ppm hyd"}, {"exhaust into extraction_hood { backup_power yes }", "exhaust open"}},
         "5.1",
         "5",
         "5 ppm of hydrogen sulfide (Directive 2009/161/EU, from memory)"},
        {"toxic_not_vented",
         {{"200 ppm hyd", "@ ppm hyd"}, {" { backup_power yes }", ""}},
         "5.1",
         "5",
         "the same, when power fails"},
        {"cylinder_too_small", {{"20 L at 200", "@ L at 200"}}, "17", "17.5", "run, clearing, and 20 %"},
        {"condensation",
         {{"0.8 %", "@ %"}},
         "1.56",
         "1.54",
         "5 K under a room of 19 degC: 14 degC, 1599 Pa (Sonntag 1994) in 1035 mbar"},
        {"material_attacked",
         {{"980", "@"}},
         "990.5",
         "990",
         "1000 degC (declared, common practice), less overshoot, control and sensor"},
        {"asphyxiation", {{"2 1/h", "@ 1/h"}}, "0.19", "0.195", "19.5 % of oxygen (OSHA 29 CFR 1910.134)"},
        {"room_exposure",
         {{"0.6 slm", "@ slm"}},
         "0.71",
         "0.69",
         "0.5 % of carbon dioxide (ACGIH), in 20 m3 changed every two hours: 0.70 slm"},
        {"oxygen_enrichment",
         {{"2 1/h", "@ 1/h"}},
         "0.7",
         "0.75",
         "23.5 % of oxygen (OSHA 29 CFR 1910.146, from memory)"},
        // --- vacuum ---
        {"condition_unreachable", {{"20 ppm", "@ ppm"}}, "4", "5", "3 ppm of the grade, and the leak"},
        {"pressure_unreachable",
         {{"0.2 mbar", "@ mbar"}},
         "0.0065",
         "0.007",
         "5e-3 mbar of the pump, and leak and walls"},
        {"tube_vacuum_limit",
         {{"980", "@"}},
         "1001",
         "1000",
         "1000 degC evacuated (common practice, no source)"},
        {"oxygen_to_pump", {{"20 %", "@ %"}}, "25.1", "25", "25 % (common practice, no source)"},
        {"ends_evacuated",
         {{"4 slm to ambient", "4 slm to @ mbar"}},
         "850",
         "855",
         "100 mbar below the lowest room, 960 mbar (common practice, no source); filled by whole seconds"},
        // --- heat ---
        {"opened_hot",
         {{"cool to 50", "cool to @"}},
         "52",
         "51",
         "60 degC (ISO 13732-1, from memory), less the 8.5 K that the load may be above the set-point"},
        {"ends_hot",
         {{"cool to 60", "cool to @"}},
         "92",
         "91",
         "100 degC (common practice, no source), less the 8.5 K that the load may be above the set-point"},
        {"beyond_furnace", {{"1500", "@"}}, "1601", "1600", "the furnace's range"},
        {"beyond_tube",
         {{"1050", "@"}},
         "1101",
         "1100",
         "fused quartz, 1100 degC (common practice, no source)"},
        {"beyond_sensor",
         {{controllers, "rig k from alumina_hot { sensor type_k class 1 }\n" + controllers},
          {"on alumina_hot_s", "on k"},
          {"1450", "@"}},
         "1301",
         "1300",
         "the range of a type K wire (common practice, no source)"},
        {"tube_shock",
         {{"2.5 K", "@ K"}},
         "3.1",
         "3",
         "mullite of this bore, 3 K/min (common practice, no source)"},
        {"seals_too_hot",
         {{"count 4 }", "count 4 }\n    seals gas_tight { rated 200 mbar gauge ; cooled no ; limit @ degC }"}},
         "106",
         "107",
         "a room of 27 degC and a rise of 80 K (common practice, no source)"},
        {"rate_beyond_furnace",
         {{"4 K/min", "@ K/min"}},
         "19",
         "18",
         "what the quickest furnace inside the data can do; from 5.7 K/min it is a warning"},
        {"cooling_beyond_furnace",
         {{"cool to 90 degC", "cool to 90 degC at @ K/min"}},
         "0.18",
         "0.16",
         "what every furnace inside the data loses at 90 degC"},
        // --- the recipe's own ---
        {"requirement_violated",
         {{"until oxygen < 30 ppm", "for 30 min"}, {"15 %", "@ %"}},
         "0.0002",
         "0.001",
         "3 ppm that every cylinder of the grade brings",
         "requirement_not_provable"},
        {"requirement_not_provable",
         {{"< 200 ppm", "< @ ppm"}},
         "30",
         "50",
         "what the purge leaves at 200 degC"},
        {"expectation_violated",
         {{"3 times", "@ times"}},
         "1",
         "2",
         "one pump-down to 1 mbar dilutes air a thousandfold"},
        {"policy_rule",
         {{"120 degC\n", "@ degC\n"}},
         "142",
         "141",
         "150 degC of the site's rule, and how far some point may lie above the set-point"},
        // --- the controller ---
        {"too_many_segments",
         {{"4 times", "@ times"}, {"180 K", "60 K"}},
         "11",
         "10",
         "the controller's segments"},
        {"value_not_settable", {{"1 K", "@ K"}}, "0.9", "1", "the controller's band by 1 K"},
        {"rounding_too_coarse", {{"1 min", "@ s"}}, "29", "30", "dwells by 1 min"},
        // --- the text, where a number decides ---
        {"parameter_out_of_range", {{"= 2 h", "= @ min"}}, "121", "120", "2 h"},
        // Not to the last step: that would take the time of the whole test.
        {"too_large", {{"100 times", "@ times"}}, "199999", "100000", "200000 steps"},
        {"outside_validity", {{"180 kJ", "@ kJ"}}, "29", "30", "the function's range"},
        {"never_reached", {{"300 degC", "@ degC"}}, "601", "600", "the step's own target"},
        {"rig_inconsistent", {{"length 700", "length @"}}, "449", "450", "the heated length"},
        {"implausible_value", {{"200 mTorr", "@ Torr"}}, "10", "9", "10 mbar for a pump of this kind"},
    };
    return list;
}

/// Rules that are decided by a yes or no.
const std::map<std::string, std::string> without_number{
    {"abort_outflow_unburnt", "pilot flame or backup power, or neither"},
    {"needs_interlock", "an interlock acts on the fault or none does"},
    {"power_return", "the controller stops or resumes"},
    {"seals_missing", "seals are gas-tight or not"},
    {"gas_flows_after_end", "a line falls open or closed"},
    {"hand_not_waited_for", "a wait stands beside the hand or none does"},
    {"words_unproven", "words that open or shut, or others"},
    {"no_relief", "a relief device is declared or not"},
    {"plugs_in_vacuum", "plugs or none"},
    {"evacuate_with_gas_open", "a line is open or closed"},
    {"pump_vents_back", "the pump's valve falls open or closed"},
    {"too_many_outputs", "each use takes an output"},
    {"no_soak_band", "the controller has one or not"},
    {"no_operator_wait", "the controller has one or not"},
    {"table_mismatch", "equal or not"},
    {"layout_loses", "a column is there or not"},
};

bool warns(const std::string& name) {
    return std::any_of(all_codes().begin(), all_codes().end(),
                       [&](const Code& code) { return code.name == name && code.severity == "warning"; });
}

} // namespace

TEST_CASE("every rule fails on one side of its limit and passes on the other") {
    const Bench bench;
    for (const Pair& pair : pairs()) {
        CAPTURE(pair.code);
        const std::string mended = blocks(read_text(pages + "/" + pair.code + ".md"), "ath").at(1);
        const Codes beside = listed(pair.beside);
        for (const std::string& number : {pair.fails, pair.passes}) {
            CAPTURE(number);
            std::string text = mended;
            for (const Change& change : pair.changes) {
                const std::size_t at = text.find(change.from);
                REQUIRE_MESSAGE(at != std::string::npos, change.from);
                std::string to = change.to;
                if (const std::size_t mark = to.find('@'); mark != std::string::npos)
                    to.replace(mark, 1, number);
                text.replace(at, change.from.size(), to);
            }
            const Verdict v = bench.run("check", "boundary.ath", text);
            CAPTURE(text);
            CAPTURE(v.said);
            const Codes wanted = reported_as(pair.code, text);
            const Codes& found = warns(pair.code) ? v.warnings : v.errors;
            for (const std::string& code : wanted) CHECK(found.count(code) == (number == pair.fails ? 1 : 0));
            for (const std::string& code : v.errors)
                CHECK_MESSAGE(wanted.count(code) + beside.count(code) == 1, code);
        }
    }
}

TEST_CASE("no rule is left without its pair") {
    for (const Code& code : all_codes()) {
        if (code.group == "text") continue;
        const bool paired = std::any_of(pairs().begin(), pairs().end(),
                                        [&](const Pair& pair) { return pair.code == code.name; });
        CHECK_MESSAGE(paired != (without_number.count(code.name) == 1), code.name);
    }
}
