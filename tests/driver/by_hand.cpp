// What a person does, and what a table says of itself, by the real program: nothing of it may differ unseen.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <filesystem>
#include <functional>

namespace {

using Json = nlohmann::ordered_json;

std::string replaced(std::string text, const std::string& old, const std::string& fresh) {
    const std::size_t at = text.find(old);
    REQUIRE_MESSAGE(at != std::string::npos, old);
    return text.replace(at, old.size(), fresh);
}

/// A recipe of ours and its tables.
struct Shop : Scratch {
    std::string recipe, name;
    explicit Shop(const std::string& path) : recipe(project + "/" + path) {
        name = path.substr(path.rfind('/') + 1);
        name = name.substr(0, name.size() - 4);
        const Result result = athanor({"build", recipe, "--to", "csv,json", "-o", "."}, Scratch::path());
        REQUIRE_MESSAGE(result.status == 0, result.err);
    }
    Result against_recipe(const std::string& ending, const std::string& table) const {
        write("edited/" + name + ending, table);
        return athanor({"replay", "edited/" + name + ending, recipe}, path());
    }
    Result alone(const std::string& table) const {
        write("edited.json", table);
        return athanor({"replay", "edited.json", "--message-format", "short"}, path());
    }
    std::string csv() const { return read(name + ".csv"); }
    std::string json() const { return read(name + ".json"); }
    std::string json_with(const std::function<void(Json&)>& edit) const {
        Json table = Json::parse(json());
        edit(table);
        return table.dump(1) + "\n";
    }
};

/// The bench's rig and controller, to be imported.
void bench(const Scratch& scratch) {
    for (const char* folder : {"rigs", "controllers"})
        std::filesystem::copy(project + "/tests/examples/" + folder, scratch.path() + "/" + folder);
}

Json& segment(Json& table, std::size_t number) {
    return table["programs"][0]["segments"][number - 1];
}

void finds(const Result& result, const std::string& words) {
    CAPTURE(words);
    CHECK(result.status == 1);
    CHECK_MESSAGE(result.err.find(words) != std::string::npos, result.err);
    CHECK(result.err.find("[table_mismatch]") != std::string::npos);
}

} // namespace

TEST_CASE("an edited instruction of a CSV table is found at its row and column") {
    const Shop shop("tests/examples/accepted/copper_sinter.ath");
    const std::string table = shop.csv();
    REQUIRE(shop.against_recipe(".csv", table).status == 0);
    const auto edited = [&](const char* old, const char* fresh) {
        return shop.against_recipe(".csv", replaced(table, old, fresh));
    };
    finds(edited("open argon at 1.5 L/min", "open argon at 0.3 L/min"),
          "edited/copper_sinter.csv:3:30: error: programme 1, segment 2: the table has `open argon at 0.3 "
          "L/min`, "
          "the recipe needs `open argon at 1.5 L/min`");
    finds(edited("open hydrogen at 500 sccm", "open hydrogen at 900 sccm"),
          "segment 7: the table has `open hydrogen at 900 sccm`, the recipe needs `open hydrogen at 500 sccm`");
    finds(edited(",0,open argon at 1.5 L/min,", ",0,,"),
          "csv:3:30: error: programme 1, segment 2: the table has no instruction");
    finds(edited("tube may be opened; ", ""),
          "csv:2:29: error: programme 1, segment 1: the recipe needs `tube may be opened`");
    finds(edited("Load the boat", "Load two boats"), "the table has `Load two boats");
    finds(edited("shut burner", ""),
          "segment 12: the table has no instruction, the recipe needs `shut burner`");
    // What the controller does has its row as well.
    finds(edited(",3600,5,", ",1800,5,"), "copper_sinter.csv:5:1: error: programme 1, segment 4: it takes");
    CHECK(edited("open argon at 1.5 L/min", "open argon at 90 L/h").status == 0);
    CHECK(edited("open argon at 1.5 L/min", "open argon at 1500 mL/min").status == 0);
    CHECK(edited("open hydrogen at 500 sccm", "open hydrogen at 0.5 slm").status == 0);
}

TEST_CASE("an edited instruction of a JSON table is found at its place") {
    const Shop shop("tests/examples/accepted/copper_sinter.ath");
    REQUIRE(shop.against_recipe(".json", shop.json()).status == 0);
    const Json table = Json::parse(shop.json());
    std::size_t removed = 0;
    for (std::size_t i = 1; i <= table["programs"][0]["segments"].size(); ++i) {
        if (table["programs"][0]["segments"][i - 1]["instruction"].is_null()) continue;
        const std::string where = "segment " + std::to_string(i) + ": the table has no instruction";
        finds(shop.against_recipe(".json",
                                  shop.json_with([&](Json& t) { segment(t, i)["instruction"] = nullptr; })),
              where);
        ++removed;
    }
    CHECK(removed >= 6);
    finds(shop.against_recipe(
              ".json", shop.json_with([](Json& t) { segment(t, 4)["instruction"] = "open argon at 9 L/min"; })),
          "segment 4: the table has `open argon at 9 L/min`, the recipe has nothing there");
}

TEST_CASE("the bath of a bubbler") {
    Scratch scratch;
    bench(scratch);
    scratch.write("wet.ath", R"(use "rigs/bench_two.ath"
use "controllers/bench_controller.ath"

rig wet from bench_two {
    ambient 26 degC to 28 degC, 980 mbar to 1030 mbar
    without line carbon_dioxide
    bubbler { line argon ; output 3 ; at 10 degC to 60 degC }
}

recipe wet on wet for bench_controller {
    purge argon at 1.5 L/min until oxygen < 10 ppm
    humidify argon at 15 degC
    dwell 10 min
    close argon
    open argon at 1.5 L/min
    ramp to 400 degC at 5 K/min
    cool to 70 degC
    close argon
}
)");
    Result result = athanor({"build", "wet.ath", "--to", "csv,json,markdown", "-o", "."}, scratch.path());
    REQUIRE_MESSAGE(result.status == 0, result.err);
    REQUIRE(athanor({"replay", "wet.csv", "wet.ath"}, scratch.path()).status == 0);
    REQUIRE(athanor({"replay", "wet.md", "wet.ath"}, scratch.path()).status == 0);
    // No row says that the bath is warm when gas is led through it.
    CHECK(scratch.read("wet.md").find("- beforehand: fill the bubbler's bath and bring it to 15 °C") !=
          std::string::npos);
    for (const char* name : {"wet.json", "wet.csv-metadata.json"})
        CHECK(scratch.read(name).find("fill the bubbler's bath and bring it to 15 °C") != std::string::npos);
    for (const char* name : {"wet.csv", "wet.json"}) {
        scratch.write(name,
                      replaced(scratch.read(name), "through the bath at 15 °C", "through the bath at 55 °C"));
        result = athanor({"replay", name, "wet.ath"}, scratch.path());
        finds(result, "the table has `lead argon through the bath at 55 °C`, the recipe needs `lead argon "
                      "through the bath at 15 °C`");
    }
}

TEST_CASE("what is done and undone at one instant is no order") {
    Scratch scratch;
    for (const char* folder : {"rigs", "controllers"})
        std::filesystem::copy(project + "/recipes/" + folder, scratch.path() + "/" + folder);
    const auto instructions = [&](const std::string& steps) {
        scratch.write("puffs.ath", "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                                   "recipe puffs on quartz_bench_inert for bench_twenty_five {\n" +
                                       steps + "dwell 10 min\nclose all\n}\n");
        const Result result = athanor({"build", "puffs.ath", "--to", "csv,json", "-o", "."}, scratch.path());
        REQUIRE_MESSAGE(result.status == 0, result.err);
        REQUIRE(athanor({"replay", "puffs.csv", "puffs.ath"}, scratch.path()).status == 0);
        std::string text;
        const Json table = Json::parse(scratch.read("puffs.json"));
        for (const Json& row : table["programs"][0]["segments"])
            if (row["instruction"].is_string()) text += row["instruction"].get<std::string>() + "\n";
        return text;
    };
    const std::string opened = "open argon at 2 L/min\n";
    const std::string puffs =
        opened + "repeat 2 times {\ndwell 10 min\nclose argon\ndwell 10 min\nopen argon at 2 L/min\n}\n";
    const std::string last = "close argon; at the end argon falls open and flows until it is shut by hand\n";
    const std::string each = opened + "close argon\n"; // a loop is keyed once
    CHECK(instructions(puffs) == each + opened + last);
    // The last pass opens what is closed behind it, a wait of no length between them or none.
    const std::string end = "at the end argon falls open and flows until it is shut by hand\n";
    CHECK(instructions(puffs + "close argon\n") == each + end);
    CHECK(instructions(puffs + "dwell until elapsed > 1 s\nclose argon\n") == each + end);
    CHECK(instructions(opened + "dwell 5 min\nclose argon\nopen argon at 2 L/min\n") == opened + last);
}

TEST_CASE("gas is led past a bath by hand where its line opens anew") {
    Scratch scratch;
    for (const char* folder : {"rigs", "controllers"})
        std::filesystem::copy(project + "/recipes/" + folder, scratch.path() + "/" + folder);
    for (const char* anew : {"open argon at 1.5 L/min", "close argon\nopen argon at 1.5 L/min"}) {
        scratch.write("wet.ath", std::string(R"(use "rigs/quartz_bench.ath"
use "controllers/bench_twenty_five.ath"
rig moist from quartz_bench_inert { bubbler { line argon ; at 10 degC to 60 degC } ; heated_lines 70 degC }
recipe wet on moist for bench_twenty_five {
    purge argon at 1.5 L/min until oxygen < 100 ppm
    ramp to 300 degC at 5 K/min
    wait for operator "past the bath no more"
    humidify argon at 12 degC
    dwell 10 min
    )") + anew +
                                     "\n    wait for operator \"past it again\"\n    dwell 10 min\n    cool to "
                                     "70 degC\n    close all\n}\n");
        const Result result = athanor({"build", "wet.ath", "--to", "csv", "-o", "."}, scratch.path());
        REQUIRE_MESSAGE(result.status == 0, result.err);
        CHECK(scratch.read("wet.csv").find("open argon at 1.5 L/min; past it again") != std::string::npos);
        CHECK(athanor({"replay", "wet.csv", "wet.ath"}, scratch.path()).status == 0);
    }
}

TEST_CASE("a pressure that is held ends with the pump, in the words too") {
    Scratch scratch;
    for (const char* folder : {"rigs", "controllers"})
        std::filesystem::copy(project + "/recipes/" + folder, scratch.path() + "/" + folder);
    scratch.write("held.ath", R"(use "rigs/vacuum_retort.ath"
use "controllers/bench_twenty_five.ath"

recipe held "Cloth under a held pressure" on vacuum_retort for bench_twenty_five {
    evacuate to 1 mbar
    regulate pressure to 20 mbar
    open argon at 1 slm
    dwell 30 min
    close argon
    stop pump
    dwell 10 min
    evacuate to 1 mbar
    dwell 10 min
    backfill argon at 1 slm to ambient + 20 mbar
}
)");
    Result result = athanor({"build", "held.ath", "--to", "csv,json,markdown", "-o", "."}, scratch.path());
    REQUIRE_MESSAGE(result.status == 0, result.err);
    CHECK(scratch.read("held.csv").find("stop pump; end pressure regulation") != std::string::npos);
    for (const char* name : {"held.csv", "held.json", "held.md"}) {
        CHECK(athanor({"replay", name, "held.ath"}, scratch.path()).status == 0);
        const std::string table = scratch.read(name);
        scratch.write(name, replaced(table, "; end pressure regulation", ""));
        finds(athanor({"replay", name, "held.ath"}, scratch.path()), "end pressure regulation");
        scratch.write(name, table);
    }
    REQUIRE(athanor({"lift", "held.json", "-o", "lifted.ath"}, scratch.path()).status == 0);
    CHECK(athanor({"build", "lifted.ath", "--to", "csv", "-o", "lifted"}, scratch.path()).status == 0);
    CHECK(scratch.read("lifted/held.csv").find("stop pump; end pressure regulation") != std::string::npos);
}

TEST_CASE("taps without an output are asked for in every pass of a loop") {
    Scratch scratch;
    bench(scratch);
    scratch.write("hand.ath", R"(use "rigs/bench_two.ath"
use "controllers/bench_controller.ath"

rig tapped from bench_two_vacuum {
    without line argon
    line argon {
        gas argon_n50
        meter hand ; flow 0.2 L/min to 2 L/min at 20 degC, 1 bar ; accuracy 5 % of reading
        supply 150 mbar gauge ; cylinder 50 L at 200 bar
    }
}

recipe hand on tapped for bench_controller {
    repeat 4 times {
        evacuate to 1 mbar
        backfill argon at 1.5 L/min to ambient + 20 mbar
    }
    evacuate to 0.1 mbar
    dwell 10 min
    backfill argon at 1.5 L/min to ambient + 20 mbar
}
)");
    Result result = athanor({"build", "hand.ath", "-o", "."}, scratch.path());
    REQUIRE_MESSAGE(result.status == 0, result.err);
    const std::string table = scratch.read("hand.csv");
    // The first pass has nothing to close; the loop begins behind it.
    CHECK_MESSAGE(table.find("close argon by hand; start pump") != std::string::npos, table);
    CHECK(athanor({"replay", "hand.csv", "hand.ath"}, scratch.path()).status == 0);
    scratch.write("hand.csv", replaced(table, "close argon by hand; start pump", "start pump"));
    result = athanor({"replay", "hand.csv", "hand.ath"}, scratch.path());
    finds(result, "the recipe needs `close argon`, the table does not have it");
}

TEST_CASE("a flow behind a threshold") {
    const Shop shop("tests/examples/accepted/threshold_gas.ath");
    finds(
        shop.against_recipe(".csv", replaced(shop.csv(), "0.4 L/min", "0.8 L/min")),
        "csv:2:25: error: before programme 1: the table has `open carbon_dioxide above 650 °C, at 0.8 L/min`");
    finds(shop.against_recipe(".json", replaced(shop.json(), "°C, at 0.4 L/min", "°C, at 0.8 L/min")),
          "before programme 1: the table has");
}

TEST_CASE("a form without instructions says that none were compared") {
    Scratch scratch;
    for (const char* folder : {"rigs", "controllers"})
        std::filesystem::copy(project + "/recipes/" + folder, scratch.path() + "/" + folder);
    const std::string recipe = "bright_anneal.ath";
    scratch.write(recipe, read_text(project + "/recipes/" + recipe));
    REQUIRE(athanor({"build", recipe, "--to", "structured_text,markdown", "-o", "."}, scratch.path()).status ==
            0);
    const std::string plain = "instructions and hand-set flows are not in this table and were not compared";
    Result result = athanor({"replay", "bright_anneal.st", recipe}, scratch.path());
    CHECK_MESSAGE(result.status == 0, result.err);
    CHECK_MESSAGE(result.out.find(plain) != std::string::npos, result.out);
    result = athanor({"replay", "bright_anneal.md", recipe}, scratch.path());
    CHECK_MESSAGE(result.status == 0, result.err);
    CHECK(result.out.find(plain) == std::string::npos);
    scratch.write("bright_anneal.md",
                  replaced(scratch.read("bright_anneal.md"), "open argon at 2.5", "open argon at 0.5"));
    result = athanor({"replay", "bright_anneal.md", recipe}, scratch.path());
    finds(result, "the table has `open argon at 0.5 L/min`");
}

TEST_CASE("what is no table is told before the rig that it lacks") {
    const Shop shop("tests/examples/accepted/copper_sinter.ath");
    const std::string rig = project + "/tests/examples/rigs/bench_two.ath:bench_two";
    const std::string controller = project + "/tests/examples/controllers/bench_controller.ath";
    const std::string cut = shop.json().substr(0, 3000);
    for (const std::string& wrong :
         {cut, std::string("[]"), std::string(100000, '['), std::string("oops"), std::string()}) {
        const Result result = shop.alone(wrong);
        const Result named =
            athanor({"replay", "edited.json", "--rig", rig, "--controller", controller}, shop.path());
        CHECK(result.status == 1);
        CHECK_MESSAGE(result.err.find(wrong == "[]" ? "1:1: error: an object is expected"
                                                    : "this is no JSON (RFC 8259)") != std::string::npos,
                      result.err);
        CHECK(result.err == named.err);
        CHECK(result.status == named.status);
        CHECK(result.err.find("--rig") == std::string::npos);
    }
    // A CSV table that was cut off: the place is that of its last row.
    const std::string table = shop.csv();
    const Result result = shop.against_recipe(".csv", table.substr(0, table.find("1,9,ramp")));
    finds(result, "csv:9:1: error: programme 1 has no row of kind end");
}

TEST_CASE("a JSON table brings a site's own gases, those that a mixture is made of, too") {
    Workshop shop;
    shop.write(
        "trace.ath",
        "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
        "gas krypton_own { formula \"Kr\" ; molar_mass 83.8 g/mol ; hazard inert }\n"
        "gas traced = 500 ppm krypton_own + rest argon\n"
        "rig traced_bench from quartz_bench_inert { line argon { gas traced } }\n"
        "recipe trace on traced_bench for bench_twenty_five {\npurge argon at 2.4 slm for 1 h\nclose all\n}\n");
    const Result built = athanor({"build", "trace.ath", "--to", "json", "-o", "out"}, shop.path());
    REQUIRE_MESSAGE(built.status == 0, built.err);
    const Result alone = athanor({"replay", "out/trace.json"}, shop.path());
    CHECK_MESSAGE(alone.status == 0, alone.err);
}

TEST_CASE("a JSON table may not contradict itself") {
    const Shop shop("tests/examples/accepted/copper_sinter.ath");
    CHECK_MESSAGE(shop.alone(shop.json()).status == 0, shop.alone(shop.json()).err);
    struct Edit {
        const char* says;
        std::function<void(Json&)> edit;
    };
    const std::vector<Edit> edits{
        {"segment 2: duration_s: the table says that it takes 60 s, it takes 3240 s",
         [](Json& t) { segment(t, 2)["duration_s"] = 60; }},
        {"segment 5: start_degC: the table says that it starts from 20 °C, it starts from 300 °C",
         [](Json& t) { segment(t, 5)["start_degC"] = 20; }},
        {"segment 2: duration_s_range: the table says that it takes 1 to 2 s, it takes 3240 s",
         [](Json& t) {
             segment(t, 2)["duration_s_range"] = {1, 2};
         }},
        {"segment 4: duration_s_range: the table says that it takes 1 to 2 s, it takes 3600 s or more",
         [](Json& t) {
             segment(t, 4)["duration_s_range"] = {1, 2};
         }},
        {"totals: `duration_s` is missing", [](Json& t) { t["totals"] = Json::object(); }},
        {"gas_NL", [](Json& t) { t["totals"].erase("gas_NL"); }},
        {"the totals say 1 to 2 s",
         [](Json& t) {
             t["totals"]["duration_s"] = {1, 2};
         }},
        {"assurance: the table does not say which rules were judged",
         [](Json& t) { t["assurance"] = Json::array(); }},
        {"does not hold: violated", [](Json& t) { t["assurance"][0]["verdict"] = "violated"; }},
        {"`source` is missing", [](Json& t) { t["rig"].erase("source"); }},
        {"`defaulted` is missing", [](Json& t) { segment(t, 3).erase("defaulted"); }},
        {"cautions: ", [](Json& t) { t["cautions"] = Json::array(); }},
        {"`margin` is missing", [](Json& t) { t["assurance"][0].erase("margin"); }},
    };
    for (const Edit& edit : edits) {
        const std::string table = shop.json_with(edit.edit);
        finds(shop.against_recipe(".json", table), edit.says);
        // Without a rig's text there is nothing to run it on.
        if (std::string(edit.says) != "`source` is missing") finds(shop.alone(table), edit.says);
    }
    // What only the recipe's own rig tells.
    finds(shop.against_recipe(".json",
                              shop.json_with([](Json& t) { segment(t, 4)["duration_s_range"][1] = 3700; })),
          "segment 4: duration_s_range");
    finds(shop.against_recipe(".json", shop.json_with([](Json& t) {
        t["totals"]["gas_NL"]["hydrogen"] = {1, 2};
    })),
          "the totals say 1 to 2 NL of hydrogen");
    finds(shop.against_recipe(".json", shop.json_with([](Json& t) {
        t["totals"]["energy_kWh"] = {1, 2};
    })),
          "the totals say 1 to 2 kWh");
    finds(shop.against_recipe(".json", shop.json_with([](Json& t) { t["assurance"].erase(0); })),
          "the assurance has");
    finds(shop.against_recipe(".json", shop.json_with([](Json& t) {
        t["assurance"][0]["margin"] = "temperature at least 10 °C";
    })),
          "the assurance has");
}

TEST_CASE("zones, channels and outputs of a JSON table are the rig's") {
    const Shop shop("tests/examples/accepted/copper_sinter.ath");
    struct Edit {
        const char* says;
        std::function<void(Json&)> edit;
    };
    const std::vector<Edit> edits{
        {"zones: the zones are ", [](Json& t) { t["zones"][0] = "left"; }},
        {"zones: the zones are ", [](Json& t) { t["zones"].push_back("left"); }},
        {"channels: ", [](Json& t) { t["channels"].push_back("argon"); }},
        {"line: only an output that works a line has one",
         [](Json& t) {
             for (Json& output : t["outputs"])
                 if (output["use"] == "burner") output["line"] = "x";
         }},
    };
    for (const Edit& edit : edits) {
        const std::string table = shop.json_with(edit.edit);
        finds(shop.against_recipe(".json", table), edit.says);
        finds(shop.alone(table), edit.says);
    }
}

TEST_CASE("what a JSON table copies of its recipe is the recipe's") {
    const Shop shop("tests/examples/accepted/copper_sinter.ath");
    const std::pair<const char*, std::function<void(Json&)>> edits[] = {
        {"`recipe.title` is `x`, the recipe's is `", [](Json& t) { t["recipe"]["title"] = "x"; }},
        {"`recipe.parameters.hours` is nothing that the recipe has",
         [](Json& t) { t["recipe"]["parameters"]["hours"] = "2 h"; }},
        {"`rig.source` is empty, the recipe's is `", [](Json& t) { t["rig"]["source"] = ""; }},
        {"`controller.source` is `",
         [](Json& t) { t["controller"]["source"] = "# old\n" + t["controller"]["source"].get<std::string>(); }},
        {"`provenance.sources[0].path` is ",
         [](Json& t) { t["provenance"]["sources"][0]["path"] = "other.ath"; }},
        {"`assumptions[0]` is `nothing`", [](Json& t) { t["assumptions"][0] = "nothing"; }},
        {"`concessions` has 1 entries, the recipe's has 0", [](Json& t) { t["concessions"].push_back("all"); }},
        {"`cautions` has 1 entries", [](Json& t) { t["cautions"] = Json::array({t["cautions"][0]}); }},
        {"`programs[0].segments[1].defaulted` is ",
         [](Json& t) { segment(t, 2)["defaulted"] = !segment(t, 2)["defaulted"].get<bool>(); }},
        {"`programs[0].segments[1].source.line` is 99", [](Json& t) { segment(t, 2)["source"]["line"] = 99; }},
    };
    for (const auto& [says, edit] : edits) finds(shop.against_recipe(".json", shop.json_with(edit)), says);
    // What a table lacks is told, whatever else would have been compared with it.
    for (const auto& lacks : std::initializer_list<std::function<void(Json&)>>{
             [](Json& t) { t.erase("provenance"); }, [](Json& t) { t["provenance"].erase("sources"); },
             [](Json& t) { t["provenance"]["sources"][0].erase("sha256"); },
             [](Json& t) { t["provenance"] = "by hand"; }, [](Json& t) { t["provenance"].erase("compiler"); },
             [](Json& t) { t["provenance"]["sources"] = Json::object(); }, [](Json& t) { t.erase("rig"); },
             [](Json& t) { t.erase("assurance"); }, [](Json& t) { segment(t, 2).erase("source"); }})
        CHECK(shop.against_recipe(".json", shop.json_with(lacks)).status == 1);
    // A table of an older text of the same process does what the recipe says.
    const std::string older =
        shop.json_with([](Json& t) { t["provenance"]["sources"][0]["sha256"] = std::string(64, '0'); });
    const Result noted = shop.against_recipe(".json", older);
    CHECK(noted.status == 0);
    CHECK_MESSAGE(noted.out.find("built of another text of the recipe") != std::string::npos, noted.out);
    // Where the command is started is no difference.
    const std::string elsewhere = shop.path() + "/elsewhere";
    std::filesystem::create_directory(elsewhere);
    const std::string recipe = std::filesystem::relative(shop.recipe, elsewhere).string();
    const Result from = athanor({"replay", "../copper_sinter.json", recipe}, elsewhere);
    CHECK_MESSAGE(from.status == 0, from.err);
}

TEST_CASE("a place in the rig that a table brings along is told in words") {
    const Shop shop("tests/examples/accepted/copper_sinter.ath");
    const Result result = athanor({"replay", "copper_sinter.json"}, shop.path());
    CHECK(result.status == 0);
    CHECK_MESSAGE(result.err.find("`de_energised open` (the rig and controller of the table)") !=
                      std::string::npos,
                  result.err);
    CHECK(result.err.find("programme 0") == std::string::npos);
}
