// `check --fix`: what it changes is proven afterwards, and it leaves alone what is the author's or the
// workshop's.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <filesystem>
#include <map>
#include <sstream>

namespace fs = std::filesystem;

namespace {

/// Codes whose breaking example has no repair, and why: one word each.
const std::map<std::string, std::string> unrepaired{
    {"ambiguous_volume_flow", "ambiguous"},
    {"asphyxiation", "room"},
    {"bath_changed", "purpose"},   // how moist the gas is to be
    {"beyond_furnace", "purpose"}, // a peak is what the recipe is for
    {"beyond_sensor", "purpose"},
    {"beyond_tube", "purpose"},
    {"condition_unreachable", "purpose"},
    {"cylinder_too_small", "supply"},
    {"duplicate_name", "ambiguous"},
    {"import_cycle", "structure"},
    {"import_escapes", "structure"},
    {"interlock_acts", "hardware"},
    {"hand_not_waited_for", "purpose"}, // for whom and for what is waited
    {"layout_loses", "layout"},
    {"material_attacked", "purpose"},
    {"misplaced", "ambiguous"},
    {"missing_unit", "ambiguous"},
    {"never_reached", "purpose"},
    {"no_operator_wait", "controller"},
    {"no_soak_band", "weakens"},
    {"outside_validity", "purpose"},
    {"oxygen_enrichment", "room"},
    {"parameter_out_of_range", "purpose"},
    {"policy_rule", "site"},
    {"pressure_unreachable", "purpose"},
    {"room_exposure", "room"},
    {"recursion", "structure"},
    {"rig_inconsistent", "measured"},
    {"seals_missing", "measured"}, // gas-tight means a measured leak
    {"test_failed", "test"},
    {"too_large", "structure"},
    {"too_many_outputs", "controller"},
    {"too_many_segments", "controller"},
    {"tube_vacuum_limit", "purpose"},
    {"unit_mismatch", "ambiguous"},
    {"unknown_name", "ambiguous"},
    {"value_missing", "ambiguous"},
    {"value_not_settable", "weakens"},
};

using Bench = Workshop;

/// The first example of a page; empty when it has none.
std::string breaking_example(const std::string& page) {
    const std::size_t begin = page.find("```ath\n");
    if (begin == std::string::npos) return {};
    const std::size_t end = page.find("```", begin + 7);
    return page.substr(begin + 7, end - begin - 7);
}

/// Lines that hold a word, sorted: what a repair may not touch.
std::vector<std::string> lines_with(const std::string& text, std::initializer_list<std::string> words) {
    std::vector<std::string> found;
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);)
        for (const std::string& word : words)
            if (line.find(word) != std::string::npos) found.push_back(line);
    std::sort(found.begin(), found.end());
    return found;
}

std::ptrdiff_t line_count(const std::string& text) {
    return std::count(text.begin(), text.end(), '\n');
}

const std::string unpurged =
    "use \"rigs/quartz_bench.ath\"\n"
    "use \"controllers/bench_twenty_five.ath\"\n"
    "\n"
    "recipe oxide_powder \"Copper oxide powder\" on quartz_bench for bench_twenty_five {\n"
    "    # slowly: the binder leaves\n"
    "    ramp to 850 degC at 5 K/min   # as measured\n"
    "    light burner\n"
    "    dwell 20 min within 4 K\n"
    "    switch to hydrogen at 300 sccm\n"
    "    dwell 30 min within 4 K\n"
    "    clear_flammable(feed = 2.4 slm)\n"
    "    shut burner\n"
    "    cool to 70 degC\n"
    "    close all\n"
    "}\n";

} // namespace

TEST_CASE("every page's breaking example is repaired and proven, or stands in the list of those that are not") {
    Bench bench;
    std::size_t repaired = 0;
    for (const auto& entry : fs::directory_iterator(project + "/docs/diagnostics")) {
        const std::string name = entry.path().stem().string(), file = name + ".ath";
        const std::string text = breaking_example(read_text(entry.path().string()));
        if (text.empty()) continue;
        CAPTURE(name);
        bench.write(file, text);
        if (athanor({"check", file}, bench.path()).status == 0)
            continue; // a warning, or another command finds it
        const Result fixed = athanor({"check", file, "--fix", "--fit"}, bench.path());
        const std::string after = bench.read(file);
        CAPTURE(fixed.err);
        CAPTURE(after);
        const auto none = unrepaired.find(name);
        if (none != unrepaired.end()) {
            CHECK(fixed.status == 1);
            continue;
        }
        ++repaired;
        CHECK(fixed.status == 0);
        CHECK(after != text);
        CHECK(fixed.out.find("--- " + file) != std::string::npos);
        CHECK(athanor({"check", file}, bench.path()).status == 0);
        CHECK(line_count(after) >= line_count(text));
        const auto kept = {std::string("require "), std::string("expect "), std::string("concession"),
                           std::string("rule ")};
        CHECK(lines_with(after, kept) == lines_with(text, kept));
        // Once is enough: nothing is left to do.
        const Result again = athanor({"check", file, "--fix", "--fit"}, bench.path());
        CHECK(again.status == 0);
        CHECK(bench.read(file) == after);
    }
    CHECK(repaired > 30);
}

TEST_CASE("the edit of a JSON message, applied, answers the finding") {
    Bench bench;
    bench.write("powder.ath", unpurged);
    const Result found = athanor({"check", "powder.ath", "--message-format", "json"}, bench.path());
    CHECK(found.status == 1);
    std::istringstream lines(found.out);
    bool tried = false;
    for (std::string line; std::getline(lines, line);) {
        const nlohmann::json message = nlohmann::json::parse(line);
        if (message["code"] != "no_inert_purge_first") continue;
        REQUIRE(message["edit"].is_object());
        const auto& place = message["edit"]["place"];
        std::string text = unpurged;
        const auto begin = place["begin"].get<std::size_t>(), end = place["end"].get<std::size_t>();
        text.replace(begin, end - begin, message["edit"]["text"].get<std::string>());
        bench.write("powder.ath", text);
        tried = true;
    }
    REQUIRE(tried);
    CHECK(athanor({"check", "powder.ath"}, bench.path()).status == 0);
}

TEST_CASE("--fix keeps comments and layout and prints what it changed") {
    Bench bench;
    bench.write("powder.ath", unpurged);
    const Result fixed = athanor({"check", "powder.ath", "--fix"}, bench.path());
    CHECK_MESSAGE(fixed.status == 0, fixed.err);
    const std::string wanted = [] {
        std::string text = unpurged;
        const std::string first = "    # slowly";
        return text.insert(text.find(first), "    inert_purge(feed = 2.4 slm)\n");
    }();
    CHECK(bench.read("powder.ath") == wanted);
    CHECK(fixed.out.find("@@ -2,6 +2,7 @@\n") != std::string::npos);
    CHECK(fixed.out.find("\n+    inert_purge(feed = 2.4 slm)\n") != std::string::npos);
    // patch(1) takes it.
    bench.write("old.ath", unpurged);
    bench.write("change.diff", fixed.out.substr(0, fixed.out.find("oxide_powder: ")));
    if (shell("command -v patch", bench.path()).status == 0) {
        CHECK(shell("patch old.ath change.diff", bench.path()).status == 0);
        CHECK(bench.read("old.ath") == wanted);
    }
}

TEST_CASE("a proven file is left as it stands, and so is one without a repair") {
    Bench bench;
    const std::string proven = read_text(project + "/recipes/nickel_reduction.ath");
    bench.write("nickel.ath", proven);
    const Result kept = athanor({"check", "nickel.ath", "--fix"}, bench.path());
    CHECK(kept.status == 0);
    CHECK(kept.out.find("---") == std::string::npos);
    CHECK(bench.read("nickel.ath") == proven);

    const std::string beyond = "use \"rigs/alumina_hot.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                               "recipe hot \"Too hot\" on alumina_hot for bench_twenty_five {\n"
                               "    ramp to 1650 degC at 1 K/min\n    cool to 90 degC\n}\n";
    bench.write("hot.ath", beyond);
    CHECK(athanor({"check", "hot.ath", "--fix", "--fit"}, bench.path()).status == 1);
    CHECK(bench.read("hot.ath") == beyond);
}

TEST_CASE("what only a guess could answer is left as it stands") {
    Bench bench;
    for (const std::string line : {"dwell 30",
                                   "ramp to 300 degC at 2",
                                   "pump to 1 mbar",
                                   "vent with argon",
                                   "evacuate to 10-3 mbar",
                                   "evacuate to 0.2 mbar gauge",
                                   "evacuate to 20 psi gauge",
                                   "ramp to 300 K + 20 degC at 1 K/min",
                                   "open argon at 3 scfm",
                                   "rmpa to 300 degC at 2 K/min",
                                   "beep",
                                   "foo 3 h",
                                   "cool to RT",
                                   "ramp zone 1 to 300 degC",
                                   "ramp to 300 degC at 2 K/min in argon",
                                   "dwell 30 min ; soak",
                                   "dwell 1 h 30",
                                   "ramp to 300 degC for 2 h",
                                   "ramp to 300 degC, 2 h",
                                   "ramp to 300 degC at 2 K/min, 2 h",
                                   "heat to 300 degC 2 h",
                                   "ramp(300 degC, 2 h)",
                                   "dwell 6000 h / 2 * 10^3",
                                   "dwell seven and a half hour",
                                   "ramp to 300 degC at 2 K/min — slow",
                                   "purge argon at 24 slm for 5 min",
                                   "turn off argon",
                                   "set temperature 300 degC"}) {
        CAPTURE(line);
        const std::string text = "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                                 "recipe guessed on quartz_bench_inert for bench_twenty_five {\n    " +
                                 line + "\n    cool to 70 degC\n}\n";
        bench.write("guessed.ath", text);
        CHECK(athanor({"check", "guessed.ath", "--fix", "--fit"}, bench.path()).status == 1);
        CHECK(bench.read("guessed.ath") == text);
        const Result json = athanor({"check", "guessed.ath", "--message-format", "json"}, bench.path());
        CHECK_MESSAGE(json.out.find("\"edit\":{") == std::string::npos, json.out);
    }
}

TEST_CASE("what is written for a slip of the language reads well and is proven") {
    Bench bench;
    const auto text = [](const std::string& line) {
        return "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
               "recipe meant on quartz_bench_inert for bench_twenty_five {\n    purge argon at 2.4 slm for 30 "
               "min\n"
               "    " +
               line + "\n    cool to 70 degC\n    close all\n}\n";
    };
    for (const auto& [slip, right] :
         {std::pair<std::string, std::string>{"ramp to 300 deg C at 5 deg. C/min",
                                              "ramp to 300 degC at 5 degC/min"},
          {"ramp(300 degC, 5 K/min)", "ramp to 300 degC at 5 K/min"},
          {"ramp to 300 degC, 5 K/min", "ramp to 300 degC at 5 K/min"},
          {"ramp to 300 degC as fast as possible", "heat to 300 degC"},
          {"step 3: ramp to 300 degC at 5 K/min", "ramp to 300 degC at 5 K/min"},
          {"ramp to 300 degC at 5 K / min", "ramp to 300 degC at 5 K/min"},
          {"require oxygen below 60 ppm when temperature above 400 C\n    ramp to 300 degC at 5 K/min",
           "require oxygen < 60 ppm while temperature > 400 degC\n    ramp to 300 degC at 5 K/min"},
          {"ramp to 300 degC at 5 K/min, dwell 30 min", "ramp to 300 degC at 5 K/min ; dwell 30 min"}}) {
        CAPTURE(slip);
        bench.write("meant.ath", text(slip));
        const Result fixed = athanor({"check", "meant.ath", "--fix"}, bench.path());
        CHECK_MESSAGE(fixed.status == 0, fixed.err);
        CHECK(bench.read("meant.ath") == text(right));
    }
}

TEST_CASE("a name in a requirement is the author's, whatever it looks like") {
    Bench bench;
    const std::string text = "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                             "recipe named on quartz_bench_inert for bench_twenty_five {\n"
                             "    require oxigen < 60 ppm\n    purge argon at 2.4 slm for 30 min\n}\n";
    bench.write("named.ath", text);
    CHECK(athanor({"check", "named.ath", "--fix"}, bench.path()).status == 1);
    CHECK(bench.read("named.ath") == text);
}

TEST_CASE("names of equipment, and what is absolute, are not guessed either") {
    Bench bench;
    for (const std::string rig :
         {"line argon { gas ar }", "line argon { gas argon_grade_47 }",
          "tube { material quartz ; inner_diameter 70 mm ; wall 3 mm ; length 1300 mm }",
          "sensor type_e class 1", "seals gas_tight { rated 1.2 bar ; cooled no }"}) {
        CAPTURE(rig);
        const std::string text = "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                                 "rig mine from quartz_bench_inert { " +
                                 rig +
                                 " }\nrecipe guessed on mine for bench_twenty_five {\n"
                                 "    purge argon at 2.4 slm for 10 min\n    dwell 10 min\n}\n";
        bench.write("guessed.ath", text);
        CHECK(athanor({"check", "guessed.ath", "--fix"}, bench.path()).status == 1);
        CHECK(bench.read("guessed.ath") == text);
    }
    for (const std::string line :
         {"dwell 00:30", "wait for user \"look\"", "dwell soak_3", "evacuate to 1 Mbar"}) {
        CAPTURE(line);
        const std::string text =
            "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
            "recipe guessed(soak_2 : time = 5 min) on quartz_bench_inert for bench_twenty_five "
            "{\n    " +
            line + "\n    dwell soak_2\n}\n";
        bench.write("guessed.ath", text);
        CHECK(athanor({"check", "guessed.ath", "--fix"}, bench.path()).status == 1);
        CHECK(bench.read("guessed.ath") == text);
    }
}

TEST_CASE("a gas that the file declares by a formula stays that gas") {
    Bench bench;
    const auto text = [](const std::string& gas) {
        return "use \"rigs/quartz_bench.ath\"\ngas " + gas + " = 1 % oxygen + rest nitrogen\n" +
               "rig mine from quartz_bench_inert { line argon { gas " + gas + " } }\n" +
               "recipe own on mine {\n    purge argon at 2.4 slm for 10 volumes\n}\n";
    };
    bench.write("own.ath", text("N2"));
    CHECK(athanor({"check", "own.ath", "--fix"}, bench.path()).status == 0);
    CHECK(bench.read("own.ath") == text("n2"));
    // Half renamed, the rig has no gas: told, and nothing is run.
    std::string half = text("Ar");
    half.replace(half.find("gas Ar"), 6, "gas ag");
    half.replace(half.find("Ar"), 2, "H2");
    bench.write("half.ath", half);
    CHECK(athanor({"check", "half.ath"}, bench.path()).status == 1);
}

TEST_CASE("a repair holds for every value of the parameters, or there is none") {
    Bench bench;
    const auto text = [](const std::string& parameter, const std::string& peak, const std::string& pace) {
        return "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\nrecipe tips "
               "\"Tips\"(" +
               parameter + ") on quartz_bench for bench_twenty_five {\n    inert_purge(feed = 2.4 slm)\n" +
               "    light burner\n    ramp to " + peak + " at " + pace +
               "\n    switch to hydrogen at 300 sccm\n" +
               "    dwell 30 min within 4 K\n    clear_flammable(feed = 2.4 slm)\n    shut burner\n" +
               "    cool to 70 degC\n    close all\n}\n";
    };
    // At 1 K/min the load lags little, at 8 K/min it is too cold when the hydrogen comes.
    bench.write("pace.ath", text("pace : rate in 0.5 K/min to 8 K/min = 1 K/min", "820 degC", "pace"));
    CHECK(athanor({"check", "pace.ath", "--set", "pace=1 K/min"}, bench.path()).status == 0);
    CHECK(athanor({"check", "pace.ath"}, bench.path()).status == 1);
    const Result fixed = athanor({"check", "pace.ath", "--fix"}, bench.path());
    CHECK_MESSAGE(fixed.status == 0, fixed.err);
    CHECK(bench.read("pace.ath").find("in 0.5 K/min to 8 K/min = 1 K/min") != std::string::npos);
    CHECK(fixed.out.find("\n+    dwell ") != std::string::npos);
    CHECK(athanor({"check", "pace.ath"}, bench.path()).status == 0);
    // The same edit comes with the JSON message.
    bench.write("pace.ath", text("pace : rate in 0.5 K/min to 8 K/min = 1 K/min", "820 degC", "pace"));
    const Result found = athanor({"check", "pace.ath", "--message-format", "json"}, bench.path());
    CHECK(found.out.find("\"text\":\"dwell ") != std::string::npos);

    // No hold makes 770 degC hot enough, and the range is the author's.
    const std::string cold = text("peak : temperature in 770 degC to 900 degC = 850 degC", "peak", "1 K/min");
    bench.write("peak.ath", cold);
    const Result left = athanor({"check", "peak.ath", "--fix", "--fit"}, bench.path());
    CHECK(left.status == 1);
    CHECK(bench.read("peak.ath") == cold);
    CHECK(left.err.find("no repair is known that holds for every value of its parameters") !=
          std::string::npos);
}

TEST_CASE("hardware is declared only when asked for, and never in an imported file") {
    Bench bench;
    const std::string rig = "use \"rigs/quartz_bench.ath\"\n"
                            "rig springs from quartz_bench {\n    line argon { de_energised closed }\n}\n";
    const std::string recipe = unpurged.substr(unpurged.find("recipe"));
    std::string safe = recipe;
    safe.insert(safe.find("    # slowly"), "    inert_purge(feed = 2.4 slm)\n");
    safe.replace(safe.find("on quartz_bench"), 15, "on springs");
    const std::string controller = "use \"controllers/bench_twenty_five.ath\"\n";

    bench.write("one.ath", rig + controller + safe);
    const Result held = athanor({"check", "one.ath", "--fix"}, bench.path());
    CHECK(held.status == 1);
    CHECK(bench.read("one.ath") == rig + controller + safe);
    CHECK(held.err.find("not changed: declare `line argon de_energised open`") != std::string::npos);
    const Result fitted = athanor({"check", "one.ath", "--fix", "--fit"}, bench.path());
    CHECK_MESSAGE(fitted.status == 0, fitted.err);
    CHECK(bench.read("one.ath").find("line argon { de_energised open }") != std::string::npos);
    CHECK(fitted.err.find("BEFORE THE RUN") != std::string::npos);

    bench.write("rigs/springs.ath", "use \"quartz_bench.ath\"\n" + rig.substr(rig.find("rig springs")));
    const std::string before = bench.read("rigs/springs.ath");
    bench.write("two.ath", "use \"rigs/springs.ath\"\n" + controller + safe);
    CHECK(athanor({"check", "two.ath", "--fix", "--fit"}, bench.path()).status == 1);
    CHECK(bench.read("rigs/springs.ath") == before);
}

TEST_CASE("a coolant that flows on is declared in the seals") {
    Bench bench;
    const std::string seals = "seals gas_tight { rated 200 mbar gauge ; cooled yes ; coolant_loss trips";
    std::string text =
        "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
        "rig cooled_short from quartz_bench {\n    tube { material alumina ; inner_diameter 60 mm ; "
        "wall 5 mm ; length 750 mm }\n    ends radiation_shields { count 4 }\n    " +
        seals +
        " }\n    sensor type_n class 2\n}\n"
        "recipe cooled on cooled_short for bench_twenty_five {\n    inert_purge(feed = 2.4 slm)\n"
        "    ramp to 1000 degC at 2 K/min\n    light burner\n    dwell 30 min within 4 K\n"
        "    switch to hydrogen at 400 sccm\n    dwell 2 h within 4 K\n"
        "    clear_flammable(feed = 2.4 slm)\n    dwell until hydrogen < 0.5 %\n    shut burner\n"
        "    cool to 60 degC\n    close all\n}\n";
    bench.write("cooled.ath", text);
    CHECK(athanor({"check", "cooled.ath", "--fix"}, bench.path()).status == 1);
    CHECK(bench.read("cooled.ath") == text);
    const Result fitted = athanor({"check", "cooled.ath", "--fix", "--fit"}, bench.path());
    CHECK_MESSAGE(fitted.status == 0, fitted.err);
    CHECK(bench.read("cooled.ath").find(seals + " ; cooled_without_power yes }") != std::string::npos);
}

TEST_CASE("--fix takes files only") {
    CHECK(athanor({"check", "-", "--fix"}, project, unpurged).status == 2);
    CHECK(athanor({"check", "recipes/nickel_reduction.ath", "--fit"}, project).status == 2);
    CHECK(athanor({"check", "not_there.ath", "--fix"}, project).status == 2);
}

TEST_CASE("a tube is swept with a gas that brings no fuel itself") {
    // 0.8 % of propane in nitrogen counts as inert, and is half of its lower limit.
    std::string text = unpurged;
    text.replace(
        text.find("\n\n"), 1,
        "\ngas lean = 0.8 % propane + rest nitrogen\nrig two_inert from quartz_bench {\n"
        "    without line argon\n"
        "    line weak { gas lean ; output 1 ; de_energised closed ; meter hand ; flow 0.3 slm to 3 slm ; "
        "supply 120 mbar gauge }\n"
        "    line nitrogen { gas nitrogen ; output 5 ; de_energised open ; meter hand ; flow 0.3 slm to "
        "3 slm ; supply 120 mbar gauge }\n"
        "    interlock hydrogen is open and temperature < 775 degC closes hydrogen, opens nitrogen\n}\n");
    text.replace(text.find("on quartz_bench for"), 15, "on two_inert");
    const std::string clearing = "    clear_flammable(feed = 2.4 slm)\n    shut burner\n";
    text.erase(text.find(clearing), clearing.size());
    Bench bench;
    bench.write("weak.ath", text);
    const Result result = athanor({"check", "--fix", "weak.ath"}, bench.path());
    CHECK_MESSAGE(result.status == 0, result.err);
    CHECK(bench.read("weak.ath")
              .find("    purge nitrogen at 2.8 slm until oxygen < 0.5 % and swept > 5.5 volumes\n") !=
          std::string::npos);
    CHECK(bench.read("weak.ath").find("    dwell until flammability < 20 %\n") != std::string::npos);
}

TEST_CASE("a repair asks as much as the strictest rule, also of a site") {
    std::string text = unpurged;
    text.replace(text.find("\n\n"), 1,
                 "\npolicy house \"House\" {\n    rule many_volumes \"Many volumes\" {\n"
                 "        require swept > 300 volumes before opening flammable\n"
                 "        because \"this load holds air\"\n        source \"the house\"\n    }\n}\n");
    Bench bench;
    bench.write("strict.ath", text);
    const Result result = athanor({"check", "--fix", "strict.ath"}, bench.path());
    CHECK_MESSAGE(result.status == 0, result.err);
    CHECK(bench.read("strict.ath").find(" until oxygen < 0.5 % and swept > 330 volumes\n") !=
          std::string::npos);
}

TEST_CASE("no repair shuts a line at the instant at which the recipe opened it") {
    Bench bench;
    // At room temperature this gas may not flow at all: what would "mend" it is a run without it.
    const auto recipe = [](const std::string& steps) {
        return "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
               "recipe cold \"Cold\" on quartz_bench for bench_twenty_five {\n" +
               steps + "}\n";
    };
    for (const std::string steps : {"    open hydrogen at 300 sccm\n    dwell 1 min\n",
                                    "    inert_purge(feed = 2.4 slm)\n    light burner\n    dwell 2 min\n    "
                                    "open hydrogen at 300 sccm\n    "
                                    "dwell 1 min\n",
                                    "    open hydrogen at 300 sccm\n"}) {
        CAPTURE(steps);
        bench.write("cold.ath", recipe(steps));
        const Result fixed = athanor({"check", "cold.ath", "--fix", "--fit"}, bench.path());
        const std::string after = bench.read("cold.ath");
        CAPTURE(after);
        CHECK(fixed.status == 1);
        CHECK(after.find("300 sccm\n    clear_flammable") == std::string::npos);
        CHECK(after.find("300 sccm\n    switch to") == std::string::npos);
    }
}

TEST_CASE("what is wrong with the gas is told beside what the outlet or the tube does not stand") {
    Bench bench;
    const auto found = [&](const std::string& last) {
        bench.write("k.ath", "use \"rigs/quartz_bench.ath\"\nrecipe k \"K\" on quartz_bench {\n"
                             "    keep hydrogen open at 300 sccm above 790 degC\n"
                             "    ramp to 850 degC at 6 K/min\n    dwell 10 min\n" +
                                 last + "}\n");
        return athanor({"check", "k.ath", "--message-format", "short"}, bench.path()).err;
    };
    const std::string hot = found(""), cooled = found("    cool to 90 degC\n");
    CHECK_MESSAGE(cooled.find("[air_drawn_in]") != std::string::npos, cooled);
    for (const char* code : {"no_inert_purge_first", "flammable_below_ignition", "burner_off",
                             "flammable_mixture", "flammable_left_at_end"}) {
        CAPTURE(code);
        CHECK_MESSAGE(hot.find(std::string("[") + code) != std::string::npos, hot);
        CHECK_MESSAGE(cooled.find(std::string("[") + code) != std::string::npos, cooled);
    }
    // Too fast for the tube, and no purge: both at once.
    bench.write("s.ath",
                "use \"rigs/muffle_tube.ath\"\nrecipe s \"S\" on muffle_tube {\n    require temperature < 500 "
                "degC\n    ramp to 600 degC at 40 K/min\n    cool to 60 degC\n}\n");
    const std::string shock = athanor({"check", "s.ath", "--message-format", "short"}, bench.path()).err;
    for (const char* code : {"tube_shock", "requirement_not_provable"})
        CHECK_MESSAGE(shock.find(std::string("[") + code) != std::string::npos, shock);
}
