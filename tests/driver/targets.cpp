// Every back end through the real program: goldens, the same bytes twice, provenance, refusals that write
// nothing.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <filesystem>
#include <sstream>

namespace fs = std::filesystem;

namespace {

const std::string every = "csv,json,markdown,structured_text,shift_list,plant_blocks,field_bus";

/// Our own recipes with the three forms of recipes/layouts/ in front.
struct Shop : Scratch {
    Shop() {
        for (const char* folder : {"rigs", "controllers", "layouts"})
            fs::copy(project + "/recipes/" + folder, path() + "/" + folder, fs::copy_options::recursive);
        for (const char* recipe : {"bright_anneal", "carbonate_hold"}) {
            std::string text;
            for (const char* layout : {"shift_list", "plant_blocks", "field_bus"})
                text += std::string("use \"layouts/") + layout + ".ath\"\n";
            write(std::string(recipe) + ".ath", text + read_text(project + "/recipes/" + recipe + ".ath"));
        }
    }
    Result build(const std::string& recipe, const std::string& to, const std::string& folder) const {
        return athanor({"build", recipe + ".ath", "--to", to, "-o", folder + "/"}, path());
    }
    std::vector<std::string> files(const std::string& folder) const {
        std::vector<std::string> list;
        if (fs::exists(path() + "/" + folder))
            for (const auto& entry : fs::directory_iterator(path() + "/" + folder))
                list.push_back(entry.path().filename().string());
        std::sort(list.begin(), list.end());
        return list;
    }
};

} // namespace

TEST_CASE("every back end, byte for byte on two recipes, and twice the same") {
    Shop shop;
    for (const std::string recipe : {"bright_anneal", "carbonate_hold"}) {
        Result result = shop.build(recipe, every, "one_" + recipe);
        REQUIRE_MESSAGE(result.status == 0, result.err);
        REQUIRE(shop.build(recipe, every, "two_" + recipe).status == 0);
        std::vector<std::string> files = shop.files("one_" + recipe);
        CHECK(files.size() == 11);
        CHECK(files == shop.files("two_" + recipe));
        for (const std::string& file : files) {
            std::string bytes = shop.read("one_" + recipe + "/" + file);
            CHECK(bytes == shop.read("two_" + recipe + "/" + file));
            // CSV and JSON have goldens for every recipe.
            if (file == recipe + ".csv" || file == recipe + ".json" || file.ends_with("metadata.json"))
                continue;
            std::string difference = golden("../targets/goldens/" + file, bytes);
            CHECK_MESSAGE(difference.empty(), difference);
        }
    }
}

TEST_CASE("every output says where it comes from") {
    Shop shop;
    REQUIRE(shop.build("bright_anneal", every, "t").status == 0);
    std::string hash = shell("sha256sum < bright_anneal.ath | cut -c1-64 | tr -d '\\n'", shop.path()).out;
    REQUIRE(hash.size() == 64);
    // A form that a controller dictates has no place for it; the second file has.
    for (const char* file :
         {"bright_anneal.csv-metadata.json", "bright_anneal.json", "bright_anneal.md", "bright_anneal.st",
          "bright_anneal.shift_list.txt", "bright_anneal.shift_list.provenance.json",
          "bright_anneal.plant_blocks.provenance.json", "bright_anneal.field_bus.json"}) {
        std::string bytes = shop.read(std::string("t/") + file);
        CAPTURE(file);
        CHECK(bytes.find(hash) != std::string::npos);
        CHECK(bytes.find("athanor 0.1.0") != std::string::npos);
    }
    // Defaults and concessions where there are any: the ramps of this recipe that lean on a default.
    Scratch scratch;
    scratch.write(
        "r.ath",
        "use \"muffle_tube.ath\"\nuse \"single_twelve.ath\"\nrecipe r on muffle_tube for single_twelve {\n"
        "    defaults { heating 2 K/min }\n    ramp to 300 degC\n    cool to 60 degC\n}\n");
    for (const char* file : {"rigs/muffle_tube.ath", "controllers/single_twelve.ath"})
        scratch.write(fs::path(file).filename().string(), read_text(project + "/recipes/" + file));
    Result built =
        athanor({"build", "r.ath", "--to", "csv,markdown,structured_text", "-o", "t/"}, scratch.path());
    REQUIRE_MESSAGE(built.status == 0, built.err);
    for (const char* file : {"t/r.csv-metadata.json", "t/r.md", "t/r.st"})
        CHECK(scratch.read(file).find("rate by default") != std::string::npos);
}

TEST_CASE("what came from a default is named") {
    Scratch scratch;
    scratch.write(
        "r.ath",
        "use \"quartz_bench.ath\"\nuse \"bench_twenty_five.ath\"\n"
        "recipe r on quartz_bench for bench_twenty_five {\n    defaults { purge argon at 1 L/min ; heating 2 "
        "K/min ; dwell 20 min }\n    purge argon for 10 min\n    ramp to 300 degC\n    dwell\n    cool to "
        "60 degC\n    close all\n}\n");
    for (const char* file : {"rigs/quartz_bench.ath", "controllers/bench_twenty_five.ath"})
        scratch.write(fs::path(file).filename().string(), read_text(project + "/recipes/" + file));
    const Result built = athanor({"build", "r.ath", "--to", "markdown,csv", "-o", "t/"}, scratch.path());
    REQUIRE_MESSAGE(built.status == 0, built.err);
    for (const char* file : {"t/r.md", "t/r.csv-metadata.json"})
        for (const char* part : {"segment 1: flow by default (r.ath:5)", "segment 2: rate by default (r.ath:6)",
                                 "segment 3: time by default (r.ath:7)"})
            CHECK_MESSAGE(scratch.read(file).find(part) != std::string::npos, scratch.read(file));
}

TEST_CASE("a layout for a controller that nobody declares is told, with the nearest name") {
    Shop shop;
    const auto layout = [](const std::string& controller) {
        return "layout thin for " + controller +
               " {\n    column \"to\" = target in degC by 1\n    column \"kind\" = kind\n}\n";
    };
    shop.write("thin.ath", layout("bench_twenty_fiv") + shop.read("bright_anneal.ath"));
    const Result checked = athanor({"check", "thin.ath"}, shop.path());
    CHECK(checked.status == 1);
    CHECK_MESSAGE(checked.err.find("no controller is called `bench_twenty_fiv` [unknown_name]") !=
                      std::string::npos,
                  checked.err);
    CHECK(checked.err.find("`bench_twenty_five` is declared") != std::string::npos);
    CHECK(shop.build("thin", "csv", "t").status == 1);
    CHECK(shop.files("t").empty());
}

TEST_CASE("a layout that loses something writes nothing, whatever else is asked for") {
    Shop shop;
    std::string layout =
        "layout thin for bench_twenty_five {\n    column \"to\" = target in degC by 1\n    column \"kind\" = "
        "kind\n    column \"s\" = duration\n    column \"v\" = outputs as bits (argon)\n}\n";
    shop.write("thin.ath", layout + shop.read("bright_anneal.ath"));
    Result result = shop.build("thin", "csv,thin", "t");
    CHECK(result.status == 1);
    CHECK(result.err.find("[layout_loses]") != std::string::npos);
    CHECK(result.err.find("rate: ") != std::string::npos);
    CHECK(shop.files("t").empty());
    // `check` says it as well, and `build` of another format is not held up by it.
    CHECK(athanor({"check", "thin.ath"}, shop.path()).status == 1);
    CHECK(shop.build("thin", "csv", "t").status == 0);
}

TEST_CASE("names of forms") {
    Shop shop;
    CHECK(shop.build("bright_anneal", "registers", "t").status == 0);
    CHECK(shop.files("t") ==
          std::vector<std::string>{"bright_anneal.field_bus.csv", "bright_anneal.field_bus.json"});
    Result two = shop.build("bright_anneal", "layout", "u");
    CHECK(two.status == 2);
    CHECK(two.err.find("more than one layout") != std::string::npos);
    Result none = athanor({"build", "bright_anneal.ath", "--to", "registers", "-o", shop.path() + "/u/"},
                          project + "/recipes");
    CHECK(none.status == 2);
    CHECK(none.err.find("declares no registers") != std::string::npos);
    Result unknown = shop.build("bright_anneal", "tabs", "u");
    CHECK(unknown.status == 2);
    CHECK(unknown.err.find("shift_list") != std::string::npos);
    CHECK(shop.files("u").empty());
    Result list = athanor({"targets"}, shop.path());
    for (const char* name : {"csv", "json", "markdown", "structured_text", "layout", "registers"})
        CHECK(list.out.find(std::string(name) + " ") != std::string::npos);
    shop.write("twice.ath", "layout json { column \"a\" = kind }\nlayout x { column \"a\" = kind }\nlayout x { "
                            "column \"a\" = kind }\n");
    Result twice = athanor({"check", "twice.ath", "--message-format", "short"}, shop.path());
    CHECK(twice.status == 1);
    CHECK(twice.err.find("json is the name of a format") != std::string::npos);
    CHECK(twice.err.find("a second layout with the name x") != std::string::npos);
}

TEST_CASE("a table in any form is compared with its recipe again") {
    Shop shop;
    REQUIRE(shop.build("bright_anneal", every, "t").status == 0);
    for (const char* file :
         {"bright_anneal.md", "bright_anneal.st", "bright_anneal.shift_list.txt",
          "bright_anneal.plant_blocks.ini", "bright_anneal.field_bus.json", "bright_anneal.field_bus.csv"}) {
        CAPTURE(file);
        Result same = athanor({"replay", std::string("t/") + file, "bright_anneal.ath"}, shop.path());
        CHECK_MESSAGE(same.status == 0, same.err);
    }
    // A list of writes under another name, and one that is not whole.
    const std::string writes = shop.read("t/bright_anneal.field_bus.csv");
    shop.write("t/writes.csv", writes);
    const auto from = [&](const std::string& name) {
        return athanor({"replay", "t/writes.csv", "bright_anneal.ath", "--from", name}, shop.path());
    };
    CHECK(from("field_bus").status == 0);
    CHECK(from("field_bux").status == 2);
    shop.write("t/writes.csv", writes.substr(0, writes.rfind('\n', writes.size() - 3) + 1));
    const Result broken = from("field_bus");
    CHECK(broken.status == 1);
    CHECK_MESSAGE(broken.err.find("the last write does not allow the programmes") != std::string::npos,
                  broken.err);
    const std::size_t third = writes.find("\n3,") + 1;
    shop.write("t/writes.csv", std::string(writes).replace(third, 1, "5"));
    const Result order = from("field_bus");
    CHECK(order.status == 1);
    CHECK_MESSAGE(order.err.find("writes.csv:4:1: error: write 5 stands at the place of write 3") !=
                      std::string::npos,
                  order.err);
    std::string sheet = shop.read("t/bright_anneal.md"), edited = sheet;
    for (std::size_t at = 0; (at = edited.find(" 780 |", at)) != std::string::npos;)
        edited.replace(at, 6, " 790 |");
    REQUIRE(edited != sheet);
    shop.write("t/bright_anneal.md", edited);
    Result other = athanor({"replay", "t/bright_anneal.md", "bright_anneal.ath"}, shop.path());
    CHECK(other.status == 1);
    CHECK(other.err.find("[table_mismatch]") != std::string::npos);
}

TEST_CASE("a register map is read only as it would be written: no bit, row or write beside it") {
    Shop shop;
    shop.write("g.ath", "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                        "use \"layouts/field_bus.ath\"\n"
                        "recipe g on quartz_bench for bench_twenty_five {\n"
                        "    purge argon at 2.4 slm until oxygen < 50 ppm\n"
                        "    ramp to 600 degC at 5 K/min\n    dwell 30 min within 5 K\n"
                        "    cool to 60 degC\n    close all\n}\n");
    const Result built = shop.build("g", "field_bus", "t");
    REQUIRE_MESSAGE(built.status == 0, built.err);
    const auto replayed = [&](const std::string& edit) {
        REQUIRE(shell("cat t/g.field_bus.csv | " + edit + " > t/e.csv", shop.path()).status == 0);
        REQUIRE(shop.read("t/e.csv") != shop.read("t/g.field_bus.csv"));
        const Result result = athanor({"replay", "t/e.csv", "g.ath", "--from", "field_bus"}, shop.path());
        CHECK_MESSAGE(result.status == 1, edit, result.out);
        CHECK_MESSAGE(result.err.find("[table_mismatch]") != std::string::npos, result.err);
        return result.err;
    };
    // Valves of lines that the recipe does not use, and what a meter of one of them would let through.
    const std::string valves = replayed(R"(sed -E '/outputs of argon/s/^([0-9]+,[0-9]+),0,/\1,6,/')");
    CHECK_MESSAGE(valves.find("6 to address 209; this programme has 0 to address 209 there (programme 1, "
                              "segment 1, outputs of argon)") != std::string::npos,
                  valves);
    replayed(R"(sed -E '/channel of hydrogen/s/,0,"/,8000,"/')");
    // A count that does not start from nothing, or stands elsewhere.
    replayed("sed -E '/holds nothing yet/s/,0,/,5,/'");
    replayed("sed -E '/holds nothing yet/s/,100,0,/,99,0,/'");
    // Figures that a row of its kind does not have.
    CHECK(replayed(R"(sed -E '/segment 3, ramp_time/s/^([0-9]+,[0-9]+),65535,/\1,0,/')").find("ramp_time") !=
          std::string::npos);
    replayed(R"(sed -E '/segment 5, dwell/s/^([0-9]+,[0-9]+),65535,/\1,0,/')");
    // One write more, one less; the numbers in front are right.
    const std::string renumber =
        R"( | awk -F, 'NR == 1 { print; next } { n = $0; sub(/^[0-9]+/, NR - 1, n); print n }')";
    replayed("sed '20a\\0,7777,1,of another\\r'" + renumber);
    replayed("sed '/threshold_above/d'" + renumber);
}

TEST_CASE("a tab in a text is read back out of every back end") {
    Shop shop;
    std::string text = shop.read("bright_anneal.ath");
    const std::size_t steps = text.find("    purge ");
    REQUIRE(steps != std::string::npos);
    text.insert(steps, "    wait for operator \"load:\ttwice\"\n    note \"read gauge:\tlog it\"\n");
    shop.write("tabs.ath", text);
    const Result result = shop.build("tabs", every, "tabs");
    CHECK_MESSAGE(result.status == 0, result.err);
    CHECK(shop.read("tabs/bright_anneal.plant_blocks.ini").find("read gauge: log it") != std::string::npos);
}
