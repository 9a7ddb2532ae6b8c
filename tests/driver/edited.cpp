// Edits of a table where little looks: outputs that the recipe does not use, and rows that end a programme.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

#include <filesystem>

namespace fs = std::filesystem;

namespace {

struct Bench : Workshop {
    /// The table of a small recipe in a form with one column for all outputs.
    std::string laid_out(const std::string& outputs_as, const std::string& steps) const {
        write("t.ath", R"(use "rigs/quartz_bench.ath"
use "controllers/bench_twenty_five.ath"
layout plain for bench_twenty_five {
    column "program" = program
    column "segment" = segment
    column "kind" = kind
    column "target" = target in degC by 0.1
    column "rate" = rate in K/min by 0.01
    column "s" = duration in s by 1
    column "band" = soak_band
    column "gas" = outputs as )" +
                           outputs_as + " (argon, hydrogen, forming, burner)\n}\n" +
                           "recipe t on quartz_bench for bench_twenty_five {\n" + steps + "}\n");
        const Result built = athanor({"build", "t.ath", "--to", "plain", "-o", "out/"}, path());
        REQUIRE_MESSAGE(built.status == 0, built.err);
        for (const fs::directory_entry& file : fs::directory_iterator(path() + "/out"))
            if (file.path().string().find("provenance") == std::string::npos)
                return "out/" + file.path().filename().string();
        return {};
    }
    /// Replays a table in which `from` is `to`, in all places.
    Result edited(const std::string& table, const std::string& from, const std::string& to,
                  const std::string& recipe) const {
        std::string text = read(table);
        REQUIRE(text.find(from) != std::string::npos);
        for (std::size_t at = text.find(from); at != std::string::npos; at = text.find(from, at + to.size()))
            text.replace(at, from.size(), to);
        write(table, text);
        return athanor({"replay", table, recipe}, path());
    }
};

const std::string linked = R"(use "rigs/quartz_bench.ath"
controller linked_four {
    programs 4 ; segments 4 ; linking yes
    zones 1
    setpoint 0 degC to 1200 degC by 1 K
    ramps by rate 0.1 K/min to 20 K/min by 0.1 K/min
    dwells 0 s to 50 h by 1 min
    outputs 1 ; channels 1
    soak_band none
    operator_wait no
    starts_from measured
    at_end hold
    after_power_failure stop
}
rig metered from quartz_bench_inert {
    line argon { meter controlled, channel 1 ; flow 0.1 slm to 5 slm ; accuracy 1 % of reading }
}
recipe t on metered for linked_four {
    purge argon at 2.4 slm until oxygen < 50 ppm
    ramp to 400 degC at 6 K/min
    dwell 10 min
    ramp to 500 degC at 3 K/min
    cool to 70 degC
}
)";

} // namespace

TEST_CASE("a layout's bit for an output that the recipe does not use must be at rest") {
    for (const std::string as : {"bits", "number"}) {
        CAPTURE(as);
        const Bench bench;
        const std::string table =
            bench.laid_out(as, "purge argon at 2.4 slm until oxygen < 50 ppm\nramp to 400 degC at 6 K/min\n"
                               "cool to 70 degC\nclose all\n");
        REQUIRE(athanor({"replay", table, "t.ath"}, bench.path()).status == 0);
        const Result open = as == "bits" ? bench.edited(table, "0000", "0100", "t.ath")
                                         : bench.edited(table, ";;0\r\n", ";;2\r\n", "t.ath");
        CHECK(open.status == 1);
        CHECK_MESSAGE(open.err.find("energises the output of `hydrogen`, which this programme does not use") !=
                          std::string::npos,
                      open.out, open.err, bench.read(table));
    }
}

TEST_CASE("what an end keys where another programme follows is that of a neighbour") {
    const Bench bench;
    bench.write("t.ath", linked);
    REQUIRE(athanor({"build", "t.ath", "-o", "out/"}, bench.path()).status == 0);
    const std::string whole = bench.read("out/t.csv");
    CAPTURE(whole);
    REQUIRE(athanor({"replay", "out/t.csv", "t.ath"}, bench.path()).status == 0);
    const std::size_t end = whole.find("\n1,4,end,") + 1;
    const std::string row = whole.substr(end, whole.find('\n', end) - end);
    CAPTURE(row);
    const auto with = [&](const std::string& from, const std::string& to) {
        std::string changed = row;
        const std::size_t at = changed.find(from);
        REQUIRE(at != std::string::npos);
        changed.replace(at, from.size(), to);
        bench.write("out/t.csv", whole);
        return bench.edited("out/t.csv", row, changed, "t.ath");
    };
    const Result shut = with(",0,2400,", ",1,2400,");
    CHECK(shut.status == 1);
    CHECK_MESSAGE(shut.err.find("out/t.csv:5:") != std::string::npos, shut.err);
    CHECK(shut.err.find("output 1 (argon) is energised at the end of programme 1, which goes on in 2") !=
          std::string::npos);
    const Result less = with(",0,2400,", ",0,240,");
    CHECK(less.status == 1);
    CHECK_MESSAGE(less.err.find("channel 1 is set to 240 sccm at the end of programme 1") != std::string::npos,
                  less.err);
}

TEST_CASE("the flow that a controller holds at the end is compared") {
    const Bench bench;
    bench.write("t.ath", linked);
    REQUIRE(athanor({"build", "t.ath", "-o", "out/"}, bench.path()).status == 0);
    const std::string whole = bench.read("out/t.csv");
    const std::size_t end = whole.find("\n2,3,end,") + 1;
    std::string row = whole.substr(end, whole.find('\n', end) - end), changed = row;
    REQUIRE(changed.find(",2400,") != std::string::npos);
    changed.replace(changed.find(",2400,"), 6, ",24,");
    const Result less = bench.edited("out/t.csv", row, changed, "t.ath");
    CHECK(less.status == 1);
    CHECK_MESSAGE(less.err.find("argon flows at 24 sccm, the recipe has 2400 sccm") != std::string::npos,
                  less.err);
}

TEST_CASE("a layout without the flow of a line that never opens is read without its recipe") {
    const Bench bench;
    const std::string table = bench.laid_out("bits", "ramp to 400 degC at 6 K/min\ncool to 70 degC\n");
    const auto alone = [&] {
        return athanor({"replay", table, "--from", "t.ath:plain", "--rig", "rigs/quartz_bench.ath:quartz_bench",
                        "--controller", "controllers/bench_twenty_five.ath", "--root", "."},
                       bench.path());
    };
    const Result read = alone();
    CHECK_MESSAGE(read.err.find("hydrogen_sccm is missing") == std::string::npos, read.out, read.err);
    CHECK(read.status == 0);
    // With hydrogen open its flow is missed.
    std::string text = bench.read(table);
    text.replace(text.find("1000"), 4, "1100");
    bench.write(table, text);
    const Result open = alone();
    CHECK(open.status == 1);
    CHECK_MESSAGE(open.err.find("hydrogen_sccm is missing") != std::string::npos, open.out, open.err);
}

TEST_CASE("a run sheet must say which way round its outputs are, and what a person does") {
    const Bench bench;
    bench.write("t.ath",
                "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\nrecipe t on "
                "quartz_bench_inert for bench_twenty_five {\nwait for operator \"Load the boat\"\n"
                "open argon at 2.4 slm\nramp to 400 degC at 6 K/min\ncool to 70 degC\nclose all\n}\n");
    REQUIRE(athanor({"build", "t.ath", "--to", "markdown", "-o", "out/"}, bench.path()).status == 0);
    REQUIRE(athanor({"replay", "out/t.md", "t.ath"}, bench.path()).status == 0);
    const std::string whole = bench.read("out/t.md");
    const auto with = [&](const std::string& from, const std::string& to) {
        bench.write("out/t.md", whole);
        const Result result = bench.edited("out/t.md", from, to, "t.ath");
        CHECK(result.status == 1);
        return result.err;
    };
    CHECK(with("| closed       | open             |", "| open         | closed           |")
              .find("`open` stands here; for output 1 of this rig it is `closed`") != std::string::npos);
    CHECK(with("|      1 | `argon`", "|      2 | `argon`").find("`2` stands here; for output 1") !=
          std::string::npos);
    CHECK(with("segment 1 waits: Load the boat", "segment 1 waits: Open the hydrogen")
              .find("`Open the hydrogen` is not what programme 1 says there") != std::string::npos);
    CHECK(with("when programme 1 ends: close argon", "when programme 1 ends: open argon")
              .find("is not what programme 1 says there") != std::string::npos);
    // A length that nobody keys is read all the same.
    CHECK(with("| ~1:02:50 |", "| ~1:20:50 |")
              .find("duration_s: the table says that it takes 4850 s, it takes") != std::string::npos);
}

TEST_CASE("a note or a word to a person that reads as an order is refused") {
    const Bench bench;
    const auto checked = [&](const std::string& step) {
        bench.write("n.ath",
                    "use \"rigs/muffle_tube.ath\"\nuse \"controllers/bench_twenty_five.ath\"\nrecipe n on "
                    "muffle_tube for bench_twenty_five {\nramp to 300 degC at 3 K/min\n" +
                        step + "\ncool to 60 degC\n}\n");
        return athanor({"check", "n.ath"}, bench.path());
    };
    for (const std::string order : {"close argon", "look; open door", "tube may be opened", "light burner"})
        for (const std::string statement : {"note \"", "wait for operator \""}) {
            CAPTURE(order);
            const Result refused = checked(statement + order + "\"");
            CHECK(refused.status == 1);
            CHECK_MESSAGE(refused.err.find("n.ath:5:") != std::string::npos, refused.err);
            CHECK(refused.err.find("reads in the table as something that the recipe switches") !=
                  std::string::npos);
        }
    for (const std::string words : {"close the hand valve", "is the door open?", "set aside", "light on"}) {
        CAPTURE(words);
        const Result fine = checked("note \"" + words + "\"");
        CHECK_MESSAGE(fine.status == 0, fine.err);
    }
}

TEST_CASE("a table without outputs whose words name a pump is read without its recipe") {
    const Bench bench;
    bench.write("rigs/hand_pump.ath", "use \"vacuum_retort.ath\"\nrig hand_pump from vacuum_retort {}\n");
    bench.write("t.ath",
                "use \"rigs/hand_pump.ath\"\nuse \"controllers/bench_twenty_five.ath\"\nrecipe t on hand_pump "
                "for bench_twenty_five {\nnote \"the pump is off\"\nramp to 300 degC at 3 K/min\n"
                "cool to 60 degC\n}\n");
    REQUIRE(athanor({"build", "t.ath", "-o", "out/"}, bench.path()).status == 0);
    REQUIRE(bench.read("out/t.csv").find("out2_pump") == std::string::npos);
    const Result read = athanor({"replay", "out/t.csv", "--rig", "rigs/hand_pump.ath", "--controller",
                                 "controllers/bench_twenty_five.ath", "--root", "."},
                                bench.path());
    CHECK_MESSAGE(read.err.find("out2_pump is missing") == std::string::npos, read.out, read.err);
}

namespace {

/// A table of a recipe, and what `replay` says of it with some text replaced.
struct Edits : Workshop {
    explicit Edits(const std::string& recipe) {
        write("t.ath", recipe);
        const Result built = athanor({"build", "t.ath", "-o", "out/"}, path());
        REQUIRE_MESSAGE(built.status == 0, built.err);
        own = read("out/t.csv");
        REQUIRE(athanor({"replay", "out/t.csv", "t.ath"}, path()).status == 0);
    }
    /// Every `from` is `to` in the row that begins with `row`; in all rows where that is empty.
    Result with(const std::string& row, const std::string& from, const std::string& to) const {
        std::string text;
        bool found = false;
        for (std::size_t at = 0; at < own.size();) {
            const std::size_t end = own.find('\n', at) + 1;
            std::string line = own.substr(at, end - at);
            if (line.starts_with(row))
                for (std::size_t i = line.find(from); i != std::string::npos;
                     i = line.find(from, i + to.size()))
                    line.replace(i, from.size(), to), found = true;
            text += line;
            at = end;
        }
        CHECK_MESSAGE(found, row, from, own);
        write("edited.csv", text);
        return athanor({"replay", "edited.csv", "t.ath"}, path());
    }
    /// It differs, and says so in these words.
    void differs(const std::string& row, const std::string& from, const std::string& to,
                 const std::string& words) const {
        const Result result = with(row, from, to);
        CHECK_MESSAGE(result.status == 1, from, to, result.out);
        CHECK_MESSAGE(result.err.find(words) != std::string::npos, from, to, result.err);
    }
    std::string own;
};

} // namespace

TEST_CASE("a wait for a pressure is as long as build makes it: longer is more gas in the tube, or less") {
    const std::string head = "use \"rigs/vacuum_retort.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                             "recipe t on vacuum_retort for bench_twenty_five {\n";
    SUBCASE("a filling") {
        const Edits edits(head + "evacuate to 1 mbar\nrequire pressure < 800 mbar\n"
                                 "backfill argon at 4 slm to 600 mbar\n}\n");
        edits.differs("1,2,", ",106,", ",600,", "it takes 10 min, the recipe has 1 min 45 s");
    }
    SUBCASE("a loop of them that begins a row sooner") {
        const Edits edits(head + "repeat 3 times {\nevacuate to 1 mbar\n"
                                 "backfill argon at 4 slm to ambient + 20 mbar\n}\n}\n");
        CHECK(edits.with("1,4,", ",3,2,", ",2,2,").status == 1);
    }
}

TEST_CASE("a longer wait is proven with its own time") {
    const Edits edits("use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                      "recipe t on quartz_bench for bench_twenty_five {\n"
                      "    require elapsed < 62 min while setpoint < 24 degC\n"
                      "    purge argon at 2.4 slm until oxygen < 50 ppm at most 66 min\n"
                      "    ramp to 600 degC at 5 K/min within 20 K\n    dwell 30 min within 5 K\n"
                      "    cool to 60 degC\n    close all\n}\n");
    CHECK(edits.with("1,1,", ",3517,", ",3600,").status == 0);
    edits.differs("1,1,", ",3517,", ",3800,", "require elapsed < 1 h 2 min while setpoint < 24 °C");
    edits.differs("1,1,", ",3517,", ",4000,", "it takes 1 h 6 min 40 s"); // `at most` is an upper bound
    // Two figures that differ are told so that they do.
    edits.differs("1,1,", ",3517,", ",3515,", "it takes 58 min 35 s, the recipe needs 58 min 36 s");
    // A soak band is no tolerance of the set-point.
    edits.differs("1,", "600", "618", "the set-point is 618 °C, the recipe has 600 °C");
    // What little looks at.
    edits.differs("1,5,", "end,,", "end,999,", "start_degC: the table says that it starts from 999 °C");
    edits.differs("", "2.576 L/min", "2.577 L/min", "the recipe needs `open argon at 2.576 L/min`");
    CHECK(edits.with("", "2.576 L/min", "154.6 L/h").status == 0);
    std::string text = edits.own;
    for (std::size_t at = text.find("\n1,"); at != std::string::npos; at = text.find("\n1,", at + 1))
        text[at + 1] = '2';
    edits.write("edited.csv", text);
    const Result number = athanor({"replay", "edited.csv", "t.ath"}, edits.path());
    CHECK(number.status == 1);
    CHECK_MESSAGE(number.err.find("programme 1 is keyed as number 2") != std::string::npos, number.err);
    edits.differs("1,3,", "dwell", "ramp_dwell",
                  "edited.csv:4:5: error: kind: a ramp_dwell has a dwell of its own");
}

TEST_CASE("with JSON, standard output of replay is objects alone") {
    const Edits edits("use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                      "recipe t on quartz_bench for bench_twenty_five {\n"
                      "    purge argon at 2.4 slm until oxygen < 50 ppm\n    ramp to 600 degC at 5 K/min\n"
                      "    cool to 60 degC\n    close all\n}\n");
    const auto objects = [&](const std::vector<std::string>& arguments) {
        std::vector<std::string> all = arguments;
        all.insert(all.end(), {"--message-format", "json"});
        const Result result = athanor(all, edits.path());
        for (std::size_t at = 0; at < result.out.size(); at = result.out.find('\n', at) + 1)
            CHECK_MESSAGE(result.out[at] == '{', result.out);
        return result;
    };
    CHECK(objects({"replay", "out/t.csv", "t.ath"}).err.find("does what the recipe says") != std::string::npos);
    edits.with("1,2,", ",5,", ",6,");
    const Result other = objects({"replay", "edited.csv", "t.ath"});
    CHECK(other.status == 1);
    CHECK_MESSAGE(other.out.find("\"code\":\"table_mismatch\"") != std::string::npos, other.out);
    CHECK(other.err.find("error") == std::string::npos);
    edits.write("edited.csv", "program\r\nx\r\n");
    CHECK(objects({"replay", "edited.csv", "t.ath"}).out.find("\"code\":\"table_mismatch\"") !=
          std::string::npos);
}

TEST_CASE("a rig's file that is not there is a file error in its own name") {
    const Edits edits("use \"rigs/muffle_tube.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                      "recipe t on muffle_tube for bench_twenty_five {\n    ramp to 300 degC at 3 K/min\n"
                      "    cool to 60 degC\n}\n");
    for (const std::vector<std::string>& command :
         {std::vector<std::string>{"replay", "out/t.csv"}, {"lift", "out/t.csv", "-o", "l.ath"}})
        for (const std::vector<std::string>& files :
             {std::vector<std::string>{"--rig", "rigs/none.ath", "--controller",
                                       "controllers/bench_twenty_five.ath"},
              {"--rig", "rigs/muffle_tube.ath", "--controller", "none.ath"}}) {
            std::vector<std::string> all = command;
            all.insert(all.end(), files.begin(), files.end());
            const Result result = athanor(all, edits.path());
            CHECK(result.status == 2);
            CHECK_MESSAGE(result.err.find("none.ath: error: the file cannot be read") != std::string::npos,
                          result.err);
        }
}

namespace {

/// The bench of the examples, and what `build` and then `replay` say of a small recipe on it.
struct Small : Scratch {
    Small() {
        for (const char* file : {"rigs/bench_two.ath", "controllers/bench_controller.ath"})
            write(fs::path(file).filename().string(), read_text(project + "/tests/examples/" + file));
    }
    void stands(const std::string& steps) const {
        write("t.ath", "use \"bench_two.ath\"\nuse \"bench_controller.ath\"\n"
                       "recipe t on bench_two for bench_controller {\n" +
                           steps + "}\n");
        const Result built = athanor({"build", "t.ath", "-o", "out/"}, path());
        CHECK_MESSAGE(built.status == 0, steps, built.err);
        const Result same = athanor({"replay", "out/t.csv", "t.ath"}, path());
        CHECK_MESSAGE(same.status == 0, steps, same.err);
    }
};

} // namespace

TEST_CASE("the shortest dwell between two actions of an instant, the second of which no output shows") {
    const Small bench;
    bench.stands("inert_purge(feed = 1.5 slm)\nlight burner\nkeep hydrogen open at 0.5 slm above 850 degC\n"
                 "ramp to 900 degC at 5 K/min\ncool to 800 degC at 1 K/min\ncool to 60 degC\nshut burner\n"
                 "close all\n");
}

TEST_CASE("a wait of no length in a band, in front of one in another gas") {
    const Small bench;
    bench.stands("open argon at 1.5 slm\nramp to 200 degC at 2.5 K/min\ndwell 1 min within 3 K\n"
                 "dwell 0 min within 3 K\nclose argon\ndwell 1 h within 3 K\n");
}

TEST_CASE("a coarse start is judged with the table that was made from it") {
    const Small bench;
    std::string controller = bench.read("bench_controller.ath");
    for (const auto& [from, to] :
         {std::pair<std::string, std::string>{"by 1 K\n    ramps", "by 5 K\n    ramps"},
          {"starts_from measured", "starts_from setpoint 20 degC"}}) {
        REQUIRE(controller.find(from) != std::string::npos);
        controller.replace(controller.find(from), from.size(), to);
    }
    bench.write("bench_controller.ath", controller);
    bench.stands("ramp to 800 degC at 3 K/min within 8 K\ndwell 10 min\n");
    const Result judged = athanor(
        {"replay", "out/t.csv", "--rig", "bench_two.ath:bench_two", "--controller", "bench_controller.ath"},
        bench.path());
    CHECK_MESSAGE(judged.status == 0, judged.out, judged.err);
    // Where the controller's values are coarse, a band lets its own programme go further than 1 K; no table
    // further than that.
    bench.stands("ramp to 802 degC at 3 K/min within 9 K\ndwell 10 min within 9 K\n"
                 "ramp to 743 degC at 1 K/min within 9 K\ndwell 10 min within 9 K\ncool to 60 degC\n");
    std::string table = bench.read("out/t.csv");
    for (std::size_t at = table.find(",745,"); at != std::string::npos; at = table.find(",745,"))
        table.replace(at, 5, ",750,");
    bench.write("edited.csv", table);
    const Result hotter = athanor({"replay", "edited.csv", "t.ath"}, bench.path());
    CHECK(hotter.status == 1);
    CHECK_MESSAGE(hotter.err.find("the set-point is 750 °C, the recipe has 743 °C") != std::string::npos,
                  hotter.err);
}
