// Tables without their recipe: proven like one, lifted to one that builds back, and parameters varied.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <sstream>

namespace fs = std::filesystem;

namespace {

const std::string rig = project + "/tests/examples/rigs/bench_two.ath:bench_two";
const std::string controller = project + "/tests/examples/controllers/bench_controller.ath";

/// Without the last column: `source` names the file a row comes from, and that file is another one.
std::string without_source(const std::string& table) {
    std::istringstream lines(table);
    std::string out;
    for (std::string line; std::getline(lines, line);) out += line.substr(0, line.rfind(',')) + "\n";
    return out;
}

std::string between(const std::string& text, const std::string& a, const std::string& b) {
    std::size_t begin = text.find(a);
    std::size_t end = begin == std::string::npos ? begin : text.find(b, begin + a.size());
    return begin == std::string::npos || end == std::string::npos
               ? ""
               : text.substr(begin + a.size(), end - begin - a.size());
}

std::string replaced(std::string text, const std::string& old, const std::string& fresh) {
    std::size_t at = text.find(old);
    REQUIRE(at != std::string::npos);
    return text.replace(at, old.size(), fresh);
}

std::string built(const Scratch& scratch, const std::string& name) {
    Result result = athanor(
        {"build", project + "/tests/examples/accepted/" + name + ".ath", "-o", scratch.path()}, scratch.path());
    REQUIRE_MESSAGE(result.status == 0, result.err);
    return scratch.read(name + ".csv");
}

Result replay(const Scratch& scratch, const std::string& table, std::vector<std::string> more = {}) {
    scratch.write("table.csv", table);
    std::vector<std::string> arguments{"replay",   "table.csv",        "--rig", rig, "--controller",
                                       controller, "--message-format", "short"};
    arguments.insert(arguments.end(), more.begin(), more.end());
    return athanor(arguments, scratch.path());
}

} // namespace

TEST_CASE("every example is lifted to a recipe that builds back to the same bytes") {
    std::size_t count = 0;
    for (const char* folder : {"/tests/examples/accepted", "/recipes"})
        for (const auto& entry : fs::directory_iterator(project + folder)) {
            if (entry.path().extension() != ".ath") continue;
            std::string name = entry.path().stem().string();
            CAPTURE(name);
            Scratch scratch;
            Result result = athanor({"build", entry.path().string(), "--to", "json,csv", "-o", scratch.path()},
                                    scratch.path());
            REQUIRE_MESSAGE(result.status == 0, result.err);
            std::string original = scratch.read(name + ".csv");
            // JSON brings rig and controller along, so that the lifted recipe stands alone.
            result = athanor({"lift", name + ".json", "-o", "lifted.ath"}, scratch.path());
            CHECK_MESSAGE(result.status == 0, result.err);
            CHECK(result.err.find("builds back to the same table") != std::string::npos);
            result = athanor({"format", "--check", "lifted.ath"}, scratch.path());
            CHECK_MESSAGE(result.status == 0, result.out);
            result = athanor({"build", "lifted.ath", "-o", "again"}, scratch.path());
            REQUIRE_MESSAGE(result.status == 0, result.err);
            CHECK(without_source(scratch.read("again/" + name + ".csv")) == without_source(original));
            // And as it is, the table is as good as its recipe.
            result = athanor({"replay", name + ".json"}, scratch.path());
            CHECK_MESSAGE(result.status == 0, result.err);
            CHECK(result.out.find("proven") != std::string::npos);
            ++count;
        }
    CHECK(count >= 15);
}

TEST_CASE("tables of published procedures: many controllers, runs, loops, linked programmes") {
    Scratch scratch;
    Result result =
        athanor({"build", project + "/tests/procedures", "--to", "json", "-o", scratch.path()}, scratch.path());
    REQUIRE_MESSAGE(result.status == 0, result.err);
    std::size_t count = 0;
    for (const std::string& name : scratch.names()) {
        if (!name.ends_with(".json")) continue;
        CAPTURE(name);
        ++count;
        result = athanor({"lift", name, "-o", "lifted.ath", "--message-format", "short"}, scratch.path());
        CHECK_MESSAGE(result.status == 0, result.err);
        CHECK_MESSAGE(result.err.find("builds back to the same table") != std::string::npos, result.err);
    }
    CHECK(count >= 60);
}

TEST_CASE("a lifted recipe reads like one") {
    Scratch scratch;
    built(scratch, "vacuum_degas");
    Result result =
        athanor({"lift", "vacuum_degas.csv", "--rig",
                 project + "/tests/examples/rigs/bench_two.ath:bench_two_vacuum", "--controller", controller},
                scratch.path());
    CHECK_MESSAGE(result.status == 0, result.err);
    for (const char* line :
         {"recipe vacuum_degas on bench_two_vacuum for bench_controller {", "repeat 3 times {", "start pump",
          "open argon at 1.5 L/min", "dwell 2 h within 5 K"})
        CHECK_MESSAGE(result.out.find(line) != std::string::npos, result.out);
}

TEST_CASE("a table without its recipe is refused by the rule that a recipe would be") {
    Scratch scratch;
    std::string table = built(scratch, "copper_sinter");
    Result result = replay(scratch, table);
    CHECK_MESSAGE(result.status == 0, result.err);
    CHECK(result.out.find("proven") != std::string::npos);
    CHECK(result.out.find("carbon_dioxide: the table has no place for it") != std::string::npos);

    // Hydrogen opens into a cold tube full of air: the message stands at the row.
    result = replay(scratch,
                    replaced(table, "3240,,0,0,0,open argon at 1.5 L/min",
                             "3240,,1,1,1,open hydrogen at 500 sccm; light burner"),
                    {"--flow", "argon=1.5 L/min"});
    CHECK(result.status == 1);
    CHECK_MESSAGE(result.err.find("table.csv:3:1: error") != std::string::npos, result.err);
    CHECK(result.err.find("[no_inert_purge_first]") != std::string::npos);
    CHECK(result.err.find("[flammable_below_ignition]") != std::string::npos);

    // Hydrogen stays on while the furnace cools.
    result =
        replay(scratch, replaced(table, "1500,,0,0,1,open argon at 1.5 L/min; close hydrogen", "1500,,1,1,1,"));
    CHECK(result.status == 1);
    CHECK_MESSAGE(result.err.find("[flammable_below_ignition]") != std::string::npos, result.err);

    // A rate that no furnace of this rig follows.
    result = replay(scratch, replaced(table, "1,3,ramp,23,300,4,", "1,3,ramp,23,300,99.9,"));
    CHECK(result.status == 1);
    CHECK_MESSAGE(result.err.find("table.csv:4:1: error") != std::string::npos, result.err);
}

TEST_CASE("what shows nothing in a table's words is a blank in the recipe that is made of it") {
    Scratch scratch;
    const std::string table = built(scratch, "copper_sinter");
    for (const char* hidden : {"\x7F", "\t", "\u009B", "\u202E"}) {
        CAPTURE(hidden);
        const Result result = replay(scratch, replaced(table, "open argon at 1.5 L/min",
                                                       std::string("open argon at 1.5 L/min; read") + hidden));
        CHECK_MESSAGE(result.status == 0, result.err);
    }
}

TEST_CASE("what a table does not say is asked for, never guessed") {
    Scratch scratch;
    std::string table = built(scratch, "copper_sinter");
    std::string bare = replaced(table, "open argon at 1.5 L/min", "");
    bare = replaced(bare, "\"" + between(table, "1,0,0,\"", "\"") + "\"", "");
    Result result = replay(scratch, bare);
    CHECK(result.status == 1);
    CHECK_MESSAGE(result.err.find("table.csv:2:1: error: a person is waited for") != std::string::npos,
                  result.err);
    CHECK_MESSAGE(result.err.find("table.csv:3:1: error: argon opens, and no row says at which flow") !=
                      std::string::npos,
                  result.err);
    result =
        replay(scratch, bare, {"--flow", "argon=1.5 L/min", "--instruction", "1.1=tube may be opened; Load"});
    CHECK_MESSAGE(result.status == 0, result.err);
    result = replay(scratch, bare, {"--flow", "helium=1.5 L/min"});
    CHECK(result.status == 2);
    CHECK(result.err.find("argon, hydrogen") != std::string::npos);

    // Words and outputs must agree.
    result =
        replay(scratch, replaced(table, "1.5 L/min; close hydrogen", "1.5 L/min; open hydrogen at 500 sccm"));
    CHECK(result.status == 1);
    CHECK_MESSAGE(result.err.find("it says that hydrogen is open, its output has it closed") !=
                      std::string::npos,
                  result.err);
}

TEST_CASE("a table that the controller cannot run, and options that name nothing") {
    Scratch scratch;
    std::string table = built(scratch, "copper_sinter");
    Result result = replay(scratch, replaced(table, "300,300,,3600,5,", "302,302,,3600,5,"));
    CHECK(result.status == 1);
    CHECK_MESSAGE(result.err.find("a dwell at 302 degC") != std::string::npos, result.err);
    scratch.write("table.csv", table);
    result = athanor({"replay", "table.csv"}, scratch.path());
    CHECK(result.status == 2);
    CHECK(result.err.find("--rig FILE") != std::string::npos);
    result = athanor({"replay", "table.csv", "--rig", rig + "_and_more", "--controller", controller},
                     scratch.path());
    CHECK(result.status == 2);
    result = athanor({"lift", "table.csv", "--rig", rig, "--controller", controller, "-o", "lifted.txt"},
                     scratch.path());
    CHECK(result.status == 2);
    CHECK(!scratch.has("lifted.txt"));
}

TEST_CASE("a file that only imports the rig is told the one that declares it, with lines or without") {
    const Workshop shop;
    shop.write("air.ath", "use \"rigs/muffle_tube.ath\"\nuse \"controllers/single_twelve.ath\"\nrecipe air on "
                          "muffle_tube for single_twelve {\nramp to 550 degC at 3 K/min\ncool to 60 degC\n}\n");
    const Result built = athanor({"build", "air.ath", "-o", "."}, shop.path());
    REQUIRE_MESSAGE(built.status == 0, built.err);
    const auto judged = [&](const std::string& rig) {
        return athanor(
            {"replay", "air.csv", "--rig", rig, "--controller", "controllers/single_twelve.ath", "--root", "."},
            shop.path());
    };
    const Result own = judged("rigs/muffle_tube.ath:muffle_tube");
    CHECK_MESSAGE(own.status == 0, own.err);
    shop.write("other.ath", "use \"rigs/muffle_tube.ath\"\nuse \"rigs/quartz_bench.ath\"\n");
    for (const std::string name : {"muffle_tube", "quartz_bench"}) {
        const Result result = judged("other.ath:" + name);
        CHECK(result.status == 2);
        CHECK_MESSAGE(result.err == "athanor: other.ath only imports the rig " + name +
                                        "; name the file that declares it: --rig rigs/" + name +
                                        ".ath:" + name + "\n",
                      result.err);
    }
    // One of the same file name, which cannot be told from it so early.
    shop.write("mine/muffle_tube.ath", "use \"../rigs/muffle_tube.ath\"\n");
    const Result alike = judged("mine/muffle_tube.ath:muffle_tube");
    CHECK(alike.status == 1);
    CHECK_MESSAGE(alike.err.find("the rig muffle_tube cannot be used") != std::string::npos, alike.err);
}

TEST_CASE("a table in a declared layout is judged like any other") {
    Scratch scratch;
    for (const char* folder : {"rigs", "controllers", "layouts"})
        fs::copy(project + "/recipes/" + folder, scratch.path() + "/" + folder);
    scratch.write("athanor.root", "");
    scratch.write("lay.ath",
                  "use \"layouts/shift_list.ath\"\nuse \"rigs/quartz_bench.ath\"\n"
                  "use \"controllers/bench_twenty_five.ath\"\n"
                  "recipe lay on quartz_bench_inert for bench_twenty_five {\n"
                  "    purge argon at 2.5 L/min until oxygen < 20 ppm\n    ramp to 700 degC at 6 K/min\n"
                  "    dwell 1 h\n    cool to 70 degC\n    close argon\n}\n");
    Result result = athanor({"build", "lay.ath", "--to", "shift_list", "-o", "out/"}, scratch.path());
    REQUIRE_MESSAGE(result.status == 0, result.err);
    result = athanor({"replay", "out/lay.shift_list.txt", "--rig", "rigs/quartz_bench.ath:quartz_bench_inert",
                      "--controller", "controllers/bench_twenty_five.ath", "--from",
                      "layouts/shift_list.ath:shift_list", "--flow", "argon=2.5 L/min"},
                     scratch.path());
    CHECK_MESSAGE(result.status == 0, result.err);
    CHECK(result.out.find("proven") != std::string::npos);
}

TEST_CASE("zones that one row brings to their targets at different instants are judged so") {
    Workshop scratch;
    scratch.write("athanor.root", "");
    for (const char* targets : {"front to 280 degC, middle to 310 degC, back to 350 degC",
                                "front to 280 degC, middle to 310 degC, back to 310 degC"}) {
        CAPTURE(targets);
        scratch.write("r.ath", "use \"rigs/gradient_three.ath\"\nuse \"controllers/three_zone.ath\"\n"
                               "recipe r on gradient_three for three_zone {\n"
                               "    purge argon at 0.4 slm for 2 h\n    ramp " +
                                   std::string(targets) + " over 3 h\n    cool to 80 degC\n    close all\n}\n");
        REQUIRE(athanor({"build", "r.ath", "-o", "."}, scratch.path()).status == 0);
        const Result judged = athanor({"replay", "r.csv", "--rig", "rigs/gradient_three.ath", "--controller",
                                       "controllers/three_zone.ath"},
                                      scratch.path());
        CHECK_MESSAGE(judged.status == 0, judged.out, judged.err);
        const Result lifted = athanor({"lift", "r.csv", "--rig", "rigs/gradient_three.ath", "--controller",
                                       "controllers/three_zone.ath", "-o", "lifted.ath"},
                                      scratch.path());
        CHECK_MESSAGE(lifted.status == 0, lifted.err);
        CHECK(scratch.read("lifted.ath").find("over 3 h") != std::string::npos);
    }
}

TEST_CASE("a zone at the slowest rate of its controller arrives when it does") {
    Workshop scratch;
    scratch.write("athanor.root", "");
    scratch.write("r.ath", "use \"rigs/gradient_three.ath\"\nuse \"controllers/three_zone.ath\"\n"
                           "recipe r on gradient_three for three_zone {\n"
                           "    purge argon at 0.4 slm for 2 h\n    ramp to 400 degC at 1 K/min\n"
                           "    ramp front to 280 degC, middle to 310 degC, back to 350 degC over 3 h\n"
                           "    ramp front to 290 degC, middle to 310 degC, back to 310 degC over 3 h\n"
                           "    cool to 100 degC\n    close all\n}\n");
    REQUIRE(athanor({"build", "r.ath", "-o", "."}, scratch.path()).status == 0);
    const Result judged = athanor(
        {"replay", "r.csv", "--rig", "rigs/gradient_three.ath", "--controller", "controllers/three_zone.ath"},
        scratch.path());
    CHECK_MESSAGE(judged.status == 0, judged.out, judged.err);
}

TEST_CASE("the soak band of a ramp is lifted where only dwells wait in one") {
    Workshop scratch;
    scratch.write("athanor.root", "");
    scratch.write("r.ath", "use \"rigs/quartz_bench.ath\"\nuse \"controllers/single_twelve.ath\"\n"
                           "recipe r on quartz_bench_inert for single_twelve {\n"
                           "    purge argon at 2.4 slm for 2 h\n    ramp to 250 degC at 2 K/min\n"
                           "    ramp to 400 degC at 2 K/min within 5 K\n    ramp to 500 degC at 2.5 K/min\n"
                           "    cool to 80 degC\n    close all\n}\n");
    REQUIRE(athanor({"build", "r.ath", "-o", "."}, scratch.path()).status == 0);
    const Result lifted = athanor({"lift", "r.csv", "--rig", "rigs/quartz_bench.ath:quartz_bench_inert",
                                   "--controller", "controllers/single_twelve.ath", "-o", "lifted.ath"},
                                  scratch.path());
    CHECK_MESSAGE(lifted.status == 0, lifted.err);
    CHECK(lifted.err.find("it builds back to the same table") != std::string::npos);
}

TEST_CASE("one changed cell of a table is seen against its recipe") {
    // Faults of a writer: each keyed cell of each row, changed by the least that a controller could hold.
    Scratch scratch;
    std::string recipe = project + "/tests/examples/accepted/copper_sinter.ath";
    std::string table = built(scratch, "copper_sinter");
    std::vector<std::string> lines;
    std::istringstream text(table);
    for (std::string line; std::getline(text, line);) lines.push_back(line);
    // program,segment,kind,start,target,rate,duration,band,out1,out2,out4: no commas before the instruction
    std::size_t seeded = 0, missed = 0;
    for (std::size_t row = 1; row < lines.size(); ++row)
        for (std::size_t column : {2U, 4U, 5U, 6U, 7U, 8U, 9U, 10U}) {
            std::vector<std::string> cells;
            std::string rest = lines[row];
            for (int i = 0; i < 11; ++i) {
                cells.push_back(rest.substr(0, rest.find(',')));
                rest = rest.substr(rest.find(',') + 1);
            }
            std::string kind = cells[2], &cell = cells[column];
            bool nominal = column == 6 && kind == "ramp"; // worked out by the controller from the rate
            bool idle = column == 4 && (kind == "operator" || kind == "end");
            // This controller switches off at its end: every output falls.
            if (cell.empty() || nominal || idle || kind == "end") continue;
            if (column == 2)
                cell = kind == "dwell" ? "operator" : "end";
            else if (column >= 8)
                cell = cell == "0" ? "1" : "0";
            else if (column == 4)
                cell = std::to_string(std::stoi(cell) + 2); // 1 K is inside the budget
            else if (column == 5)
                cell = std::to_string(std::stoi(cell) + 1);
            else if (column == 6)
                cell = std::to_string(std::stoi(cell) - 300);
            else
                cell = std::to_string(std::stoi(cell) + 1);
            std::string wrong;
            for (const std::string& c : cells) wrong += c + ",";
            std::string damaged;
            for (std::size_t i = 0; i < lines.size(); ++i)
                damaged += (i == row ? wrong + rest : lines[i]) + "\n";
            scratch.write("copper_sinter.csv", damaged);
            Result result = athanor({"replay", "copper_sinter.csv", recipe}, scratch.path());
            ++seeded;
            missed += result.status == 1 ? 0 : 1;
            CHECK_MESSAGE(result.status == 1, wrong);
        }
    MESSAGE(seeded << " cells changed, " << missed << " missed");
    CHECK(seeded >= 50);
}

TEST_CASE("a controller's file may hold a recipe of the table's name") {
    Scratch scratch;
    for (const char* folder : {"rigs", "controllers"})
        fs::copy(project + "/tests/examples/" + folder, fs::path(scratch.path()) / folder);
    scratch.write("athanor.root", "");
    scratch.write("twice.ath", "use \"rigs/bench_two.ath\"\nuse \"controllers/bench_controller.ath\"\n"
                               "controller mine from bench_controller { operator_wait yes }\n"
                               "recipe twice on bench_two for mine {\n    ramp to 500 degC at 3 K/min\n"
                               "    dwell 1 h\n    cool to 80 degC\n}\n");
    Result result = athanor({"build", "twice.ath", "-o", "."}, scratch.path());
    REQUIRE_MESSAGE(result.status == 0, result.err);
    const std::vector<std::string> from{"twice.csv", "--rig", "rigs/bench_two.ath:bench_two", "--controller",
                                        "twice.ath:mine"};
    std::vector<std::string> arguments{"replay"};
    arguments.insert(arguments.end(), from.begin(), from.end());
    result = athanor(arguments, scratch.path());
    CHECK_MESSAGE(result.status == 0, result.err);
    arguments[0] = "lift";
    arguments.insert(arguments.end(), {"-o", "lifted.ath"});
    result = athanor(arguments, scratch.path());
    CHECK_MESSAGE(result.status == 0, result.err);
    CHECK(result.err.find("builds back to the same table") != std::string::npos);
    result = athanor({"build", "lifted.ath", "-o", "again"}, scratch.path());
    CHECK_MESSAGE(result.status == 0, result.err);
}
