// Steps that something cuts, and waits that grids change, where a table has little room: each is built, and its
// table is proven without its recipe.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <filesystem>

namespace fs = std::filesystem;

namespace {

struct Bench : Scratch {
    Bench() {
        for (const char* folder : {"/recipes/rigs", "/recipes/controllers", "/tests/examples/controllers",
                                   "/tests/legalise/controllers"})
            fs::copy(project + folder, path() + "/" + fs::path(folder).filename().string(),
                     fs::copy_options::recursive | fs::copy_options::skip_existing);
    }
    /// `rig` is FILE:NAME without its ending.
    Result build(const std::string& rig, const std::string& controller, const std::string& steps) const {
        const std::string file = rig.substr(0, rig.find(':')), name = rig.substr(rig.find(':') + 1);
        write("t.ath", "use \"rigs/" + file + ".ath\"\nuse \"controllers/" + controller +
                           ".ath\"\nrecipe t on " + name + " for " + controller + " {\n" + steps + "\n}\n");
        return athanor({"build", "t.ath", "-o", "out/"}, path());
    }
    Result replay(const std::string& rig, const std::string& controller) const {
        const std::string file = rig.substr(0, rig.find(':')), name = rig.substr(rig.find(':') + 1);
        return athanor({"replay", "out/t.csv", "--rig", "rigs/" + file + ".ath:" + name, "--controller",
                        "controllers/" + controller + ".ath", "--root", "."},
                       path());
    }
    /// A controller that differs from another in some lines.
    void derive(const std::string& name, const std::string& from, const std::string& lines) const {
        write("controllers/" + name + ".ath",
              "use \"" + from + ".ath\"\ncontroller " + name + " from " + from + " { " + lines + " }\n");
    }
    void stands(const std::string& rig, const std::string& controller, const std::string& steps) const {
        CAPTURE(steps);
        const Result built = build(rig, controller, steps);
        REQUIRE_MESSAGE(built.status == 0, built.out, built.err);
        const Result replayed = replay(rig, controller);
        CHECK_MESSAGE(replayed.status == 0, replayed.out, replayed.err, read("out/t.csv"));
    }
};

const std::string muffle = "muffle_tube:muffle_tube", quartz = "quartz_bench:quartz_bench_inert",
                  three = "gradient_three:gradient_three";

} // namespace

TEST_CASE("a time inside natural cooling") {
    const Bench bench;
    bench.stands(muffle, "bench_twenty_five",
                 "ramp to 600 degC at 3 K/min\ncool to 60 degC { after 1 h note \"look\" }");
    bench.stands(quartz, "bench_twenty_five",
                 "purge argon at 2.4 slm until oxygen < 40 ppm\nramp to 500 degC at 6 K/min\n"
                 "cool to 70 degC { after 1 h close argon }");
}

TEST_CASE("a temperature inside natural cooling, where the controller waits in a band for a part of it only") {
    const Bench bench;
    bench.stands(muffle, "bench_twenty_five",
                 "ramp to 600 degC at 3 K/min\ncool to 60 degC { at 300 degC note \"look\" }");
    bench.stands(quartz, "bench_twenty_five",
                 "purge argon at 2.4 slm until oxygen < 40 ppm\nramp to 500 degC at 6 K/min\n"
                 "cool to 300 degC\nnote \"b\"\ncool to 70 degC");
    bench.stands(quartz, "bench_controller",
                 "repeat 5 times {\nramp to 601 degC at 2 K/min\ncool to 205 degC\n}\ncool to 166 degC");
}

TEST_CASE("an instant of a natural cooling that some zones have behind them") {
    const Bench bench;
    const std::string apart = "purge argon at 400 sccm for 10 volumes\n"
                              "ramp front to 100 degC, middle to 350 degC, back to 600 degC at 2 K/min\n";
    bench.stands(three, "three_zone", apart + "cool to 50 degC { at 500 degC note \"hot still\" }");
    bench.stands(three, "three_zone", apart + "cool to 50 degC { at 500 degC close argon }");
    bench.stands(three, "three_zone",
                 apart + "cool to 50 degC { after 1 min note \"soon\"\nat 500 degC note \"hot still\" }");
    const std::string table = bench.read("out/t.csv");
    CHECK_MESSAGE(table.find(",500,") == std::string::npos, table);
    CHECK_MESSAGE(table.find(",step,100,50,50,50,") != std::string::npos, table);
}

TEST_CASE("temperatures and times in one natural cooling") {
    const Bench bench;
    bench.stands(quartz, "looping",
                 "ramp to 171 degC at 3 K/min\n"
                 "cool to 139 degC { at 148 degC note \"x8\"\nafter 1 min note \"x9\" }");
}

TEST_CASE("a repeat of more passes than a loop takes") {
    const Bench bench;
    bench.stands(muffle, "bench_twenty_five",
                 "repeat 1001 times { ramp to 600 degC at 2 K/min\ncool to 550 degC at 0.5 K/min }");
    bench.stands(three, "three_zone",
                 "repeat 150 times { ramp to 600 degC at 2 K/min\ncool to 550 degC at 0.5 K/min }");
}

TEST_CASE("a hold at the start, on a controller that starts from a set-point of its own") {
    const Bench bench;
    bench.stands(quartz, "timed_sixty_four",
                 "purge argon at 2.4 slm until oxygen < 40 ppm\nramp to 500 degC over 3 h\ncool to 70 degC\n"
                 "close argon");
}

TEST_CASE("a slow ramp that is cut before the display moves") {
    const Bench bench;
    const std::string steps =
        "ramp to 600 degC at 2 K/min\ncool to 500 degC at 0.2 K/min { after 1 min note \"x\" }";
    bench.stands(muffle, "single_twelve", steps);
    bench.stands(muffle, "bench_controller", steps);
    bench.stands(muffle, "no_wait",
                 "ramp to 806 degC at 0.7 K/min\ncool to 748 degC at 0.3 K/min { after 1 min note \"x3\" }");
    // Three zones follow it in no number of even pieces: refused, and the repair is one.
    const Result refused = bench.build(three, "three_zone", steps);
    CHECK(refused.status == 1);
    CHECK(refused.err.find("[rounding_too_coarse]") != std::string::npos);
    CHECK(refused.err.find("place what cuts this ramp by temperature") != std::string::npos);
    bench.stands(three, "three_zone",
                 "ramp to 600 degC at 2 K/min\ncool to 500 degC at 0.2 K/min { at 599 degC note \"x\" }");
}

TEST_CASE("a ramp at a rate that cannot be keyed, cut into short parts") {
    const Bench bench;
    bench.stands(quartz, "three_zones",
                 "ramp to 651.3 degC at 1.33 K/min { at 623 degC note \"x0\"\nat 624 degC note \"x8\" }");
    bench.stands("quartz_bench:quartz_bench", "coarse_rate",
                 "ramp to 634.3 degC at 1.33 K/min within 10 K { after 5 min note \"x7\" }");
}

TEST_CASE("a recipe that switches and has no step") {
    const Bench bench;
    bench.stands(quartz, "bench_twenty_five", "open argon at 2.4 slm");
    bench.stands(quartz, "timed_sixty_four", "open argon at 2.4 slm");
}

TEST_CASE(
    "a table that stops on the way up from the room, steps to where it is, or waits in a band for no time") {
    const Bench bench;
    bench.stands(muffle, "bench_twenty_five", "ramp to 600 degC at 2 K/min { at 45 degC note \"x\" }");
    bench.stands(quartz, "plain_rate",
                 "ramp to 743 degC at 3 K/min\nstep to 743 degC\nramp to 860 degC at 1.33 K/min");
    bench.stands(
        three, "three_zone",
        "ramp to 822 degC at 3 K/min\nramp to 876 degC at 1.33 K/min within 10 K { after 1 min close argon }");
    for (const char* steps :
         {"ramp to 45 degC at 2 K/min\ndwell 1 h\nramp to 600 degC at 2 K/min", "ramp to 45 degC at 2 K/min",
          "step to 45 degC\nramp to 600 degC at 2 K/min",
          "ramp to 45 degC at 2 K/min\ndwell 1 min within 5 K\nramp to 600 degC at 2 K/min"}) {
        CAPTURE(steps);
        const Result refused = bench.build(muffle, "bench_twenty_five", steps);
        CHECK(refused.status == 1);
        CHECK(refused.err.find("[beyond_furnace]") != std::string::npos);
    }
}

TEST_CASE("a band that the controller's grid narrows is proven as it is keyed") {
    const Bench bench;
    // The zone in the middle may be driven some 20 K above its set-point.
    const auto dwelling = [](const char* band) {
        return fmt::format("ramp front to 600 degC, middle to 660 degC, back to 740 degC over 4 h\n"
                           "dwell 1 h within {} K\ncool to 80 degC",
                           band);
    };
    bench.derive("by_ten", "three_zone", "soak_band 10 K to 50 K by 10 K");
    const Result refused = bench.build(three, "by_ten", dwelling("19"));
    CHECK(refused.status == 1);
    CHECK(refused.err.find("[condition_unreachable]") != std::string::npos);
    CHECK(refused.err.find("[condition_unreachable]") == refused.err.rfind("[condition_unreachable]"));
    CHECK(refused.err.find("by_ten takes soak bands of 10 K to 50 K by 10 K, the recipe asks for 19 K") !=
          std::string::npos);
    CHECK(refused.err.find("remedy: a band that by_ten takes:  within 20 K") != std::string::npos);
    bench.stands(three, "by_ten", dwelling("20"));
    bench.stands(three, "three_zone", dwelling("19"));
    // Above the largest one.
    bench.derive("three_to_nine", "three_zone", "soak_band 3 K to 9 K by 3 K");
    CHECK(bench.build(three, "three_to_nine", dwelling("19")).err.find("[condition_unreachable]") !=
          std::string::npos);
    // Where the room decides the first band, its swing is counted too.
    bench.derive("by_five", "bench_twenty_five", "soak_band 5 K to 50 K by 5 K\nlongest_wait 6 h");
    bench.stands(muffle, "by_five", "dwell 1 h within 12 K\nramp to 500 degC at 3 K/min\ncool to 80 degC");
}

TEST_CASE("natural cooling in hydrogen waits in no band where the controller has no longest wait") {
    const Bench bench;
    bench.derive("no_limit", "bench_twenty_five", "longest_wait none");
    bench.stands("quartz_bench:quartz_bench", "no_limit",
                 "inert_purge(feed = 2.4 slm, limit = 30 ppm)\nramp to 920 degC at 5 K/min\nlight burner\n"
                 "dwell 30 min\nswitch to hydrogen at 400 sccm\ndwell 30 min\ncool to 860 degC\n"
                 "clear_flammable(feed = 2.4 slm)\nshut burner\ncool to 70 degC\nclose all");
}

TEST_CASE("a wait with the tube open at the start, on a controller that starts from a set-point of its own") {
    const Bench bench;
    bench.stands(muffle, "timed_sixty_four",
                 "wait for operator \"load\" with tube open\nramp to 300 degC over 100 min\ncool to 60 degC");
}

TEST_CASE("a line that follows the temperature, armed or let go where that works it at once") {
    const Bench bench;
    for (const char* controller : {"single_twelve", "bench_twenty_five"}) {
        bench.stands(quartz, controller,
                     "ramp to 600 degC at 3 K/min\nkeep argon open at 2.4 slm above 400 degC\n"
                     "cool to 300 degC at 1 K/min\ncool to 60 degC");
        CHECK(bench.read("out/t.csv").find("open argon at ") != std::string::npos);
    }
    bench.stands(quartz, "single_twelve",
                 "open argon at 2.4 slm\nramp to 600 degC at 3 K/min\nrepeat 1 times {\n"
                 "keep argon open at 2.4 slm above 400 degC\ndwell 1 h\n}\ndwell 1 h");
    CHECK(bench.read("out/t.csv").find("close argon") != std::string::npos);
}

TEST_CASE("a ramp of no length that waits in a band") {
    const Bench bench;
    bench.stands(quartz, "single_twelve",
                 "ramp to 800 degC at 1 K/min within 9 K\ndwell 1 h within 8 K\n"
                 "ramp to 800 degC at 1 K/min within 9 K\ndwell 1 h within 8 K");
    bench.stands(quartz, "single_twelve",
                 "repeat 3 times {\nramp to 800 degC at 1 K/min within 9 K\ndwell 1 h within 8 K\n}");
    bench.stands(muffle, "bench_twenty_five", "repeat 3 times {\nramp to 1050 degC at 1 K/min within 20 K\n}");
    bench.stands(quartz, "bench_twenty_five",
                 "repeat 60 times {\nramp to 530 degC at 1.5 K/min within 6.5 K\n}\ncool to 90 degC");
}

TEST_CASE("a dwell in a band behind natural cooling") {
    const Bench bench;
    bench.stands(muffle, "single_twelve", "ramp to 500 degC at 3 K/min\ncool to 90 degC\ndwell 1 h within 5 K");
}

TEST_CASE("a ramp behind natural cooling that is cut before the display moves") {
    const Bench bench;
    bench.stands(three, "three_zone",
                 "ramp to 600 degC at 2 K/min\ncool to 200 degC\n"
                 "ramp to 220 degC at 0.2 K/min {\nafter 2 min open argon at 300 sccm\n}");
}

TEST_CASE("a first ramp within a band, on a controller whose start is rounded by more than without") {
    const Bench bench;
    bench.derive("own_start", "bench_twenty_five",
                 "setpoint 0 degC to 1800 degC by 5 K\nstarts_from setpoint 50 degC");
    bench.stands(muffle, "own_start", "ramp to 500 degC at 3 K/min within 12 K\ncool to 60 degC");
}

TEST_CASE("a second programme that begins with a step or natural cooling, on a controller with its own start") {
    const Bench bench;
    bench.derive("own_start", "bench_twenty_five",
                 "operator_wait no\nat_end hold\nstarts_from setpoint 50 degC");
    bench.stands(muffle, "own_start",
                 "ramp to 530 degC at 3 K/min\nwait for operator \"look\"\ncool to 400 degC\ncool to 80 degC");
    bench.stands(muffle, "own_start",
                 "run \"one\" {\nramp to 300 degC at 3 K/min\ncool to 90 degC\n}\nwait for operator \"turn\"\n"
                 "run \"two\" {\nstep to 62 degC\nramp to 300 degC at 3 K/min\ncool to 90 degC\n}");
}

TEST_CASE("a ramp that begins between two coarse set-points says so") {
    const Bench bench;
    bench.derive("coarse", "timed_sixty_four",
                 "setpoint 0 degC to 1200 degC by 5 K\nstarts_from setpoint 30 degC");
    const Result refused = bench.build(muffle, "coarse", "ramp to 400 degC at 3 K/min\ncool to 60 degC");
    CHECK(refused.status == 1);
    CHECK_MESSAGE(refused.err.find(
                      "the ramp begins at 23.5 °C, and the nearest set-point of coarse lies 1.5 K from it") !=
                      std::string::npos,
                  refused.err);
}

TEST_CASE("a ramp in a band waits in it wherever it is cut, each cut for a shortest dwell of its own") {
    const Bench bench;
    bench.derive("minute", "single_twelve", "dwells 1 min to 99 h by 1 min");
    bench.derive("on_ramps", "single_twelve", "band_on ramps_and_dwells");
    const std::string noted = "ramp to 600 degC at 1 K/min within 15 K {\n"
                              "at 200 degC note \"a\" ; at 300 degC note \"b\" ; at 400 degC note \"c\" }\n"
                              "dwell 1 h\ncool to 80 degC";
    bench.stands(muffle, "minute", noted);
    bench.stands(muffle, "on_ramps", noted);
    const std::string two = "ramp to 500 degC at 1 K/min within 15 K\nramp to 600 degC at 1 K/min within 15 K\n"
                            "dwell 1 h\ncool to 80 degC";
    bench.stands(muffle, "single_twelve", two);
    const std::string table = bench.read("out/t.csv");
    const auto edited = [&](const std::string& from, const std::string& to) {
        std::string text = table;
        REQUIRE_MESSAGE(text.find(from) != std::string::npos, text);
        text.replace(text.find(from), from.size(), to);
        bench.write("out/t.csv", text);
        const Result result = athanor({"replay", "out/t.csv", "t.ath"}, bench.path());
        CHECK(result.status == 1);
        CHECK_MESSAGE(result.err.find("no soak band at 500 °C, the recipe has 15 K there") != std::string::npos,
                      result.err);
    };
    edited("1,2,dwell,500,500,,0,15,", "1,2,dwell,500,500,,0,,");
    // The two ramps as one.
    bench.stands(muffle, "on_ramps", two);
    const std::string whole = bench.read("out/t.csv");
    CHECK_MESSAGE(whole.find("1,1,ramp,23.5,500,1,28590,15,") != std::string::npos, whole);
}

TEST_CASE("a line that follows the temperature where a hot programme starts from a set-point of its own") {
    const Bench bench;
    bench.derive("own", "bench_twenty_five", "operator_wait no ; at_end hold ; starts_from setpoint 25 degC");
    bench.stands(quartz, "own",
                 "ramp to 500 degC at 5 K/min\nwait for operator \"check the seals\"\n"
                 "keep argon open at 2.4 slm above 250 degC\ndwell 10 min\nramp to 600 degC at 5 K/min");
}

TEST_CASE("two waits behind each other while hot, on a controller that starts from a set-point of its own") {
    const Bench bench;
    bench.derive("own", "bench_twenty_five", "operator_wait no ; at_end hold ; starts_from setpoint 25 degC");
    const std::string steps = "ramp to 500 degC at 5 K/min\nwait for operator \"look at it\"\n"
                              "open argon at 1 slm\nwait for operator \"check the seals\"\n"
                              "dwell 10 min\nclose argon\ncool to 60 degC";
    bench.stands(quartz, "own", steps);
    const std::string table = bench.read("out/t.csv");
    // An empty programme would begin at 25 °C and hold that.
    CHECK_MESSAGE(table.find("2,1,step,25,500,") != std::string::npos, table);
}

TEST_CASE("what a table needs of its controller beyond its declaration is listed as taken for granted") {
    const Bench bench;
    bench.derive("own", "bench_twenty_five", "operator_wait no ; at_end hold");
    bench.stands(quartz, "own",
                 "keep argon open at 2.4 slm above 250 degC\nramp to 500 degC at 5 K/min\n"
                 "wait for operator \"check the seals\"\ndwell 10 min\ncool to 60 degC");
    // Also a controller whose outputs follow while a programme runs only keeps argon flowing.
    const std::string table = bench.read("out/t.csv");
    CHECK_MESSAGE(table.find("1,2,end,,500,,,,0,") != std::string::npos, table);
    CHECK_MESSAGE(table.find("2,3,end,,60,,,,1,") != std::string::npos, table);
    const auto granted = [&](const std::string& words) {
        const Result built = athanor({"build", "t.ath", "--to", "json", "-o", "out/"}, bench.path());
        REQUIRE_MESSAGE(built.status == 0, built.err);
        return bench.read("out/t.json").find(words) != std::string::npos;
    };
    const std::string follows = "goes on doing so between two programmes", passes = "passes on its set-point";
    CHECK(granted(follows));
    CHECK_FALSE(granted(passes));
    bench.derive("short", "bench_twenty_five", "segments 3 ; starts_from setpoint 20 degC");
    bench.stands(quartz, "short",
                 "ramp to 300 degC at 5 K/min\nramp to 400 degC at 3 K/min\nramp to 500 degC at 1 K/min\n"
                 "dwell 10 min\ncool to 60 degC");
    CHECK(granted(passes));
    CHECK_FALSE(granted(follows));
}

TEST_CASE("a first dwell holds the value that it keys, and the ramp behind it begins there") {
    const Bench bench;
    bench.derive("two_k", "bench_twenty_five",
                 "setpoint 0 degC to 1800 degC by 2 K ; ramps by rate 0.1 K/min to 100 K/min by 0.1 K/min");
    const std::string steps = "dwell 10 min\nramp to 400 degC at 0.5 K/min\ncool to 60 degC";
    bench.stands(quartz, "two_k", steps);
    const std::string table = bench.read("out/t.csv");
    CHECK_MESSAGE(table.find("1,1,dwell,24,24,,600,") != std::string::npos, table);
    CHECK_MESSAGE(table.find("1,2,ramp,24,400,0.5,45120,") != std::string::npos, table);
    // As long as from 23 °C it would be another ramp.
    std::string longer = table;
    longer.replace(longer.find(",45120,"), 7, ",45240,");
    bench.write("out/t.csv", longer);
    const Result result = athanor({"replay", "out/t.csv", "t.ath"}, bench.path());
    CHECK(result.status == 1);
    CHECK_MESSAGE(result.err.find("the table says that it takes 45240 s, it takes 45120 s") !=
                      std::string::npos,
                  result.err);
    // By time nothing is shorter.
    bench.derive("timed", "two_k", "ramps by time 1 s to 99 h by 1 s");
    bench.stands(quartz, "timed", steps);
    CHECK_MESSAGE(bench.read("out/t.csv").find("1,2,ramp,24,400,,45240,") != std::string::npos,
                  bench.read("out/t.csv"));
}
