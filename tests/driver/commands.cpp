// Each command as a person types it.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>

namespace {
const std::string accepted = project + "/tests/examples/accepted";
}

TEST_CASE("check prints one summary line per recipe") {
    Result result = athanor({"check", "air_calcine.ath"}, accepted);
    CHECK_MESSAGE(result.status == 0, result.err);
    CHECK(result.out.find("air_calcine: proven, ") == 0);
    CHECK(std::count(result.out.begin(), result.out.end(), '\n') == 1);
}

TEST_CASE("check reads standard input") {
    Result result = athanor({"check", "-"}, accepted, read_text(accepted + "/air_calcine.ath"));
    CHECK_MESSAGE(result.status == 0, result.err);
}

TEST_CASE("the inner forms are printable") {
    Result timeline = athanor({"check", "argon_anneal.ath", "--emit", "timeline"}, accepted);
    CHECK(timeline.status == 0);
    std::string difference = golden("emit/argon_anneal.timeline.txt", timeline.out);
    CHECK_MESSAGE(difference.empty(), difference);
    Result program = athanor({"check", "argon_anneal.ath", "--emit", "program"}, accepted);
    difference = golden("emit/argon_anneal.program.txt", program.out);
    CHECK_MESSAGE(difference.empty(), difference);
    Result why = athanor({"check", "argon_anneal.ath", "--explain-segments"}, accepted);
    CHECK(why.out.find("argon_anneal.ath:") != std::string::npos);
}

TEST_CASE("--set proves the value given") {
    CHECK(athanor({"check", "argon_anneal.ath", "--set", "peak=700 degC"}, accepted).status == 0);
    Result beyond =
        athanor({"check", "argon_anneal.ath", "--set", "peak=900 degC", "--message-format", "short"}, accepted);
    CHECK(beyond.status == 2); // no verdict on the recipe
    CHECK(beyond.err.find("[parameter_out_of_range]") != std::string::npos);
    Result type =
        athanor({"check", "argon_anneal.ath", "--set", "peak=3 h", "--message-format", "short"}, accepted);
    CHECK(type.status == 2);
    CHECK(type.err.find("[unit_mismatch]") != std::string::npos);
    Result name =
        athanor({"check", "argon_anneal.ath", "--set", "peek=700 degC", "--message-format", "short"}, accepted);
    CHECK(name.status == 2);
    CHECK(name.err.find("[unknown_name]") != std::string::npos);
    Scratch scratch;
    REQUIRE(athanor({"build", "argon_anneal.ath", "--set", "peak=700 degC", "-o", scratch.path()}, accepted)
                .status == 0);
    CHECK(scratch.read("argon_anneal.csv").find(",700,") != std::string::npos);
}

TEST_CASE("--controller decides what flows on behind the end") {
    const Workshop scratch;
    scratch.write("t.ath", "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\nuse "
                           "\"controllers/timed_sixty_four.ath\"\nrecipe t on quartz_bench_inert for "
                           "bench_twenty_five {\nopen argon at 2.4 slm\ndwell 10 min\nclose argon\n}\n");
    CHECK(athanor({"check", "t.ath"}, scratch.path()).err.find("[gas_flows_after_end]") != std::string::npos);
    const Result holds = athanor({"check", "t.ath", "--controller", "timed_sixty_four"}, scratch.path());
    CHECK(holds.status == 0);
    CHECK_MESSAGE(holds.err.find("[gas_flows_after_end]") == std::string::npos, holds.err);
}

TEST_CASE("every form of the table says what flows on behind the end, and which faults no interlock answers") {
    const Workshop scratch;
    scratch.write(
        "t.ath",
        "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\nuse "
        "\"controllers/timed_sixty_four.ath\"\n"
        "recipe falls on quartz_bench_inert for bench_twenty_five {\n"
        "open argon at 2.4 slm\ndwell 10 min\nclose argon\n}\n"
        "recipe left on quartz_bench_inert for timed_sixty_four {\n"
        "open argon at 2.4 slm\ndwell 10 min\n}\n"
        "rig feed_falls_open from quartz_bench {\nexhaust afterburner { output 4 ; pilot yes ; de_energised "
        "open ; into extraction_hood { backup_power yes } }\n}\n"
        "recipe flame on feed_falls_open for bench_twenty_five {\nopen argon at 2.4 slm\nlight burner\n"
        "dwell 10 min\nclose argon\nshut burner\n}\n");
    const Result built =
        athanor({"build", "t.ath", "--to", "csv,json,markdown,structured_text", "-o", "o/"}, scratch.path());
    REQUIRE_MESSAGE(built.status == 0, built.err);
    const auto said = [&](const std::string& stem, const std::string& words) {
        for (const char* ending : {".csv", ".json", ".md", ".st"}) {
            std::string text = scratch.read("o/" + stem + ending);
            std::string flat; // lines of a sheet are wrapped
            for (const char c : text)
                if (c != '\n' && (c != ' ' || !flat.ends_with(' ')))
                    flat += c;
                else if (!flat.ends_with(' '))
                    flat += ' ';
            CHECK_MESSAGE(flat.find(words) != std::string::npos, stem, ending, "\n", text);
        }
    };
    said("falls", "close argon; at the end argon falls open and flows until it is shut by hand");
    said("left", "at the end argon flows on until it is shut by hand");
    said("flame", "at the end the burner's feed falls open and stays open until it is shut by hand");
    CHECK(scratch.read("o/falls.md").find("- when programme 1 ends: close argon;") != std::string::npos);
    const Result lifted = athanor({"lift", "o/falls.json"}, scratch.path());
    CHECK_MESSAGE(lifted.out.find("close argon") != std::string::npos, lifted.out, lifted.err);
    CHECK(lifted.out.find("at the end") == std::string::npos);
    const std::string accepted = project + "/recipes";
    REQUIRE(
        athanor({"build", "nickel_reduction.ath", "--to", "csv,json,markdown", "-o", scratch.path() + "/n/"},
                accepted)
            .status == 0);
    for (const char* file :
         {"n/nickel_reduction.csv-metadata.json", "n/nickel_reduction.json", "n/nickel_reduction.md"})
        CHECK_MESSAGE(scratch.read(file).find("No interlock is declared for these faults") != std::string::npos,
                      file);
}

TEST_CASE("a ramp shorter than a set-point step is held, and builds") {
    Scratch scratch;
    scratch.write(
        "r.ath",
        "use \"muffle_tube.ath\"\nuse \"single_twelve.ath\"\nrecipe r on muffle_tube for single_twelve {\n"
        "    ramp to 299.6 degC at 2 K/min\n    dwell 10 min\n    ramp to 300.4 degC at 1 K/min\n    dwell 20 "
        "min\n"
        "    cool to 90 degC\n}\n");
    for (const char* file : {"rigs/muffle_tube.ath", "controllers/single_twelve.ath"})
        scratch.write(std::string(file).substr(std::string(file).rfind('/') + 1),
                      read_text(project + "/recipes/" + file));
    Result result = athanor({"build", "r.ath", "-o", "-"}, scratch.path());
    CHECK_MESSAGE(result.status == 0, result.err);
}

TEST_CASE("two actions in a cooling, nearer than the band in which the controller waits, build") {
    const Result result =
        athanor({"build", "-", "-o", "-"}, project + "/recipes",
                "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                "recipe r on quartz_bench_inert for bench_twenty_five {\n"
                "    purge argon at 2.4 slm until oxygen < 100 ppm\n"
                "    ramp to 800 degC at 5 K/min\n    dwell 20 min\n"
                "    cool to 70 degC { at 586 degC note \"look\" ; at 585 degC close argon }\n"
                "    close all\n}\n");
    CHECK_MESSAGE(result.status == 0, result.err);
    // The second is keyed by time: inside its band the controller would not wait.
    CHECK(result.out.find(",step,586,585,") != std::string::npos);
}

TEST_CASE("diff speaks of the process and is silent about layout") {
    Scratch scratch;
    std::string before = read_text(accepted + "/copper_sinter.ath");
    scratch.write("athanor.root", "");
    scratch.write("rigs/bench_two.ath", read_text(project + "/tests/examples/rigs/bench_two.ath"));
    scratch.write("controllers/bench_controller.ath",
                  read_text(project + "/tests/examples/controllers/bench_controller.ath"));
    scratch.write("a/old.ath", before);
    auto with = [&](const std::string& from, const std::string& to) {
        std::string text = before;
        std::size_t at = text.find(from);
        REQUIRE(at != std::string::npos);
        return text.replace(at, from.size(), to);
    };
    // Comments, blanks and the name of an operation are not the process.
    std::string relaid =
        with("    make_inert(limit = 10 ppm)\n", "\n\n    # air out\n    make_inert( limit = 10 ppm )\n");
    scratch.write("a/new.ath", relaid);
    Result same = athanor({"diff", "a/old.ath", "a/new.ath"}, scratch.path());
    CHECK_MESSAGE(same.status == 0, same.out);
    CHECK(same.out.empty());

    scratch.write("a/new.ath", with("soak : time = 45 min", "soak : time = 60 min"));
    Result soak = athanor({"diff", "a/old.ath", "a/new.ath"}, scratch.path());
    CHECK(soak.status == 1);
    std::string difference = golden("diff/soak.txt", soak.out);
    CHECK_MESSAGE(difference.empty(), difference);

    scratch.write("a/new.ath",
                  with("    dwell 1 h within 5 K\n",
                       "    dwell 1 h within 5 K\n    ramp to 500 degC at 2 K/min\n    dwell 30 min\n"));
    Result inserted = athanor({"diff", "a/old.ath", "a/new.ath"}, scratch.path());
    CHECK(inserted.status == 1);
    difference = golden("diff/inserted.txt", inserted.out);
    CHECK_MESSAGE(difference.empty(), difference);
}

TEST_CASE("in a file with an error nothing is proven, whichever command is asked") {
    Workshop scratch;
    const std::string head = "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n";
    const std::string recipe = "recipe s on quartz_bench_inert for bench_twenty_five {\n"
                               "    purge argon at 2 L/min for 10 volumes\n}\n";
    const auto call = [&](const std::vector<std::string>& arguments) {
        return athanor(arguments, scratch.path());
    };
    scratch.write("good.ath", head + recipe);
    scratch.write("bad.ath", head + "policy site { rle x { require oxygen < 2 ppm } }\n" + recipe);
    REQUIRE(call({"build", "good.ath", "--to", "csv"}).status == 0);
    CHECK(call({"check", "bad.ath"}).out == "s: refused, the file has errors\n");
    CHECK(call({"build", "bad.ath", "--to", "csv"}).status == 1);
    CHECK(call({"replay", "s.csv", "good.ath"}).status == 0);
    CHECK(call({"replay", "s.csv", "bad.ath"}).status == 1);
    const Result test = call({"test", "bad.ath"});
    CHECK(test.status == 1);
    const Result assured = call({"assure", "bad.ath"});
    CHECK(assured.status == 1);
    CHECK_MESSAGE(assured.out.find(": proven\n") == std::string::npos, assured.out);
    const Result diff = call({"diff", "good.ath", "bad.ath"});
    CHECK(diff.status == 1);
    CHECK_MESSAGE(diff.out.find("the new version has errors, so nothing in it is proven") != std::string::npos,
                  diff.out);
    CHECK(diff.out.find("verdict: proven -> refused") != std::string::npos);
}

TEST_CASE(
    "diff of recipes that cannot be worked out compares what is written, and never says that all is the same") {
    Workshop scratch;
    const auto write = [&](const std::string& name, const std::string& step) {
        scratch.write(name, "use \"rigs/muffle_tube.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                            "recipe r on muffle_tube for bench_twenty_five {\n    " +
                                step + "\n    cool to 60 degC\n}\n");
    };
    write("a.ath", "ramp to 500 degC over 0 s");
    write("b.ath", "ramp to 900 degC over 0 s");
    write("c.ath", "ramp to 500 degC at 2 K/min");
    const auto diff = [&](const char* a, const char* b) { return athanor({"diff", a, b}, scratch.path()); };
    const Result both = diff("a.ath", "b.ath");
    CHECK(both.status == 1);
    CHECK_MESSAGE(both.out.find("ramp to 500 degC -> to 900 degC") != std::string::npos, both.out);
    CHECK(both.out.find("the old version has errors") != std::string::npos);
    CHECK(diff("a.ath", "a.ath").status == 1);
    CHECK(diff("a.ath", "c.ath").status == 1);
    CHECK(diff("c.ath", "c.ath").status == 0);
}

TEST_CASE("diff tells what no timeline shows beside what one does, and nothing twice") {
    Workshop scratch;
    const std::string text =
        "use \"rigs/muffle_tube.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
        "recipe r(peak : temperature in 500 degC to 750 degC = 650 degC, soak : time = 1 h)"
        " on muffle_tube for bench_twenty_five {\n    ramp to peak at 3 K/min\n"
        "    if peak > 700 degC {\n        require temperature < 800 degC\n"
        "        dwell 3 h\n    }\n    dwell 1 h\n    dwell soak * 2\n"
        "    cool to 80 degC\n}\n";
    const auto changed = [&](std::vector<std::pair<std::string, std::string>> edits) {
        std::string other = text;
        for (const auto& [from, to] : edits) {
            REQUIRE(other.find(from) != std::string::npos);
            other.replace(other.find(from), from.size(), to);
        }
        scratch.write("a.ath", text);
        scratch.write("b.ath", other);
        return athanor({"diff", "a.ath", "b.ath"}, scratch.path()).out;
    };
    const std::pair<std::string, std::string> longer{"dwell 1 h", "dwell 2 h"};
    const std::string told = "recipe r\n  ~ dwell (1): duration 1 h -> 2 h\n";
    CHECK(changed({longer}) == told);
    CHECK(changed({longer, {"dwell 3 h", "dwell 4 h"}}) == told + "  ~ if then dwell 3 h -> 4 h\n");
    CHECK(changed({longer, {"        require temperature < 800 degC\n", ""}}) ==
          told + "  - if then require temperature < 800 degC\n");
    CHECK(changed({longer, {"soak * 2", "soak + 1 h"}}) == told + "  ~ dwell (2) soak * 2 -> soak + 1 h\n");
    // What a formula gives for other values is told beside what it gives now.
    CHECK(changed({{"soak * 2", "soak + 2 h"}}) ==
          "recipe r\n  ~ dwell (2): duration 2 h -> 3 h\n  ~ dwell (2) soak * 2 -> soak + 2 h\n");
    CHECK(changed({{"    dwell 1 h\n", ""}}) == "recipe r\n  - dwell (1): duration 1 h\n");
}

TEST_CASE("diff of a version with errors tells what is written otherwise, not that every step went") {
    Workshop scratch;
    const auto write = [&](const std::string& name, const std::string& rig, const std::string& step) {
        scratch.write(name, "use \"rigs/muffle_tube.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                            "let pace = 3 K/min\nrecipe r on " +
                                rig + " for bench_twenty_five {\n    ramp to " + step +
                                " at pace\n    cool to 80 degC\n}\n");
    };
    write("a.ath", "muffle_tube", "500 degC");
    write("b.ath", "muffle_tub", "500 degC");
    write("c.ath", "muffle_tub", "600 degC");
    const Result same = athanor({"diff", "a.ath", "b.ath"}, scratch.path());
    CHECK(same.status == 1);
    CHECK_MESSAGE(same.out.find("b.ath: the new version has errors, so the process is compared as written") !=
                      std::string::npos,
                  same.out);
    CHECK(same.out.find("ramp") == std::string::npos);
    const Result other = athanor({"diff", "a.ath", "c.ath"}, scratch.path());
    CHECK_MESSAGE(other.out.find("ramp to 500 degC -> to 600 degC") != std::string::npos, other.out);
    // A recipe that cannot be worked out, though its steps stand as they stood.
    scratch.write("a.ath", scratch.read("a.ath").replace(scratch.read("a.ath").find("3 K/min"), 7, "0 K/min"));
    write("b.ath", "muffle_tube", "500 degC");
    const Result value = athanor({"diff", "b.ath", "a.ath"}, scratch.path());
    CHECK(value.status == 1);
    CHECK_MESSAGE(value.out.find("let pace: 3 K/min -> 0 K/min") != std::string::npos, value.out);
    CHECK_MESSAGE(value.out.find("- ") == std::string::npos, value.out);
}

TEST_CASE("what a threshold shut is swept out by the cooling that shut it") {
    Workshop scratch;
    const auto checked = [&](const std::string& share, const std::string& to) {
        scratch.write("kept.ath", "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                                  "recipe kept on quartz_bench for bench_twenty_five {\n"
                                  "    purge argon at 2.4 slm until oxygen < 50 ppm\n"
                                  "    keep forming open at 1.5 slm above 600 degC\n"
                                  "    ramp to 780 degC at 5 K/min\n    dwell 45 min within 5 K\n"
                                  "    cool to " +
                                      to + " degC\n    expect hydrogen < " + share + "\n    close all\n}\n");
        return athanor({"check", "kept.ath"}, scratch.path()).status;
    };
    CHECK(checked("0.1 %", "80") == 0); // hours of argon behind it
    CHECK(checked("1 ppm", "80") == 0);
    CHECK(checked("0.1 %", "590") == 1); // it may have shut a moment ago
}

TEST_CASE("a tube that is opened for a moment may hold what it held") {
    Workshop scratch;
    const auto found = [&](const std::string& steps) {
        scratch.write(
            "opened.ath",
            "use \"rigs/quartz_bench.ath\"\ngas forming_5 = 5 % hydrogen + rest nitrogen\n"
            "rig lean from quartz_bench_inert {\n"
            "line forming { gas forming_5 ; output 3 ; de_energised closed ; meter hand ; flow 0.2 slm to "
            "2 slm ; supply 120 mbar gauge }\n"
            "exhaust into extraction_hood { backup_power yes } }\n"
            "recipe opened on lean {\n" +
                steps + "\n}\n");
        return athanor({"check", "opened.ath", "--message-format", "short"}, scratch.path()).err;
    };
    const std::string look = "wait for operator \"Look\" with tube open\n";
    // Forming gas in the tube and in its plugs, at 125 % of hydrogen's lower limit.
    CHECK(found("purge forming at 2 slm for 8 volumes\nclose all\n" + look +
                "ramp to 900 degC at 5 K/min\ncool to 60 degC")
              .find("[flammable_mixture]") != std::string::npos);
    // Let into the hot, open tube between two waits.
    CHECK(found("purge argon at 2.4 slm until oxygen < 50 ppm\nramp to 900 degC at 5 K/min\n" + look +
                "switch to forming at 2 slm\n" + look + "switch to argon at 2.4 slm\n" + look +
                "cool to 60 degC")
              .find("[opening_tube]") != std::string::npos);
}

TEST_CASE("too little gas in a cooling tube is offered more of it, and that is enough") {
    const Workshop scratch;
    const auto checked = [&](const std::string& flow) {
        scratch.write("cools.ath",
                      "use \"rigs/quartz_bench.ath\"\n"
                      "rig fine from quartz_bench_inert { line argon { meter controlled, channel 1 ; "
                      "flow 5 sccm to 3 slm ; accuracy 1 % of reading } ; leak_rate 1e-6 mbar*L/s }\n"
                      "recipe cools on fine {\n    purge argon at 2 slm until oxygen < 50 ppm\n"
                      "    require oxygen < 200 ppm\n    ramp to 900 degC at 5 K/min\n"
                      "    set argon to " +
                          flow + "\n    cool to 70 degC\n}\n");
        return athanor({"check", "cools.ath"}, scratch.path());
    };
    const Result little = checked("10 sccm");
    CHECK(little.err.find("[air_drawn_in]") != std::string::npos);
    const std::string offer = "let more flow before this step:  set argon to ";
    const std::size_t at = little.err.find(offer);
    REQUIRE_MESSAGE(at != std::string::npos, little.err);
    const std::size_t flow = at + offer.size();
    const Result enough = checked(little.err.substr(flow, little.err.find('\n', flow) - flow));
    CHECK_MESSAGE(enough.status == 0, enough.err);
}

TEST_CASE("diff works as git's external diff") {
    Scratch scratch;
    std::string recipe = read_text(accepted + "/argon_anneal.ath");
    scratch.write("rigs/bench_two.ath", read_text(project + "/tests/examples/rigs/bench_two.ath"));
    scratch.write("controllers/bench_controller.ath",
                  read_text(project + "/tests/examples/controllers/bench_controller.ath"));
    scratch.write("recipes/anneal.ath", recipe);
    std::string git = "git -c user.name=n -c user.email=n@example.org -c init.defaultBranch=main ";
    REQUIRE(shell(git + "init -q . && " + git + "add . && " + git + "commit -qm one", scratch.path()).status ==
            0);
    std::string diff = git + "-c diff.external='" ATHANOR_PROGRAM " diff' diff";
    scratch.write("recipes/anneal.ath", recipe + "# a comment\n");
    Result same = shell(diff, scratch.path());
    CHECK(same.status == 0);
    CHECK(same.out.find("same process") != std::string::npos);
    std::size_t at = recipe.find("90 min");
    REQUIRE(at != std::string::npos);
    scratch.write("recipes/anneal.ath", std::string(recipe).replace(at, 6, "2 h"));
    Result changed = shell(diff, scratch.path());
    CHECK(changed.status == 0);
    CHECK(changed.out.find("duration 1 h 30 min -> 2 h") != std::string::npos);
    // Renamed into another folder, its imports are those of its new place.
    std::filesystem::create_directories(scratch.path() + "/recipes/old");
    const auto import = [&](std::string text) {
        for (std::size_t i = 0; (i = text.find("\"../", i)) != std::string::npos; i += 7)
            text.insert(i + 1, "../");
        return text;
    };
    scratch.write("recipes/anneal.ath", recipe);
    REQUIRE(shell("git mv recipes/anneal.ath recipes/old/", scratch.path()).status == 0);
    scratch.write("recipes/old/anneal.ath", import(recipe));
    const Result moved = shell(diff + " -M HEAD", scratch.path());
    CHECK_MESSAGE(moved.out.find("same process") != std::string::npos, moved.out);
    REQUIRE(shell("git mv -f recipes/old/anneal.ath recipes/", scratch.path()).status == 0);
    REQUIRE(shell(git + "rm -q --cached -f recipes/anneal.ath", scratch.path()).status == 0);
    CHECK(shell(diff + " --cached", scratch.path()).out.find("removed") != std::string::npos);
}

TEST_CASE("git's external diff past a renamed import, and while a conflict is open") {
    Scratch scratch;
    const std::string recipe = read_text(accepted + "/argon_anneal.ath");
    scratch.write("rigs/bench_two.ath", read_text(project + "/tests/examples/rigs/bench_two.ath"));
    scratch.write("controllers/bench_controller.ath",
                  read_text(project + "/tests/examples/controllers/bench_controller.ath"));
    scratch.write("recipes/anneal.ath", recipe);
    const std::string git = "git -c user.name=n -c user.email=n@example.org -c init.defaultBranch=main ";
    const std::string diff = git + "-c diff.external='" ATHANOR_PROGRAM " diff' diff";
    const auto run = [&](const std::string& command) {
        const Result result = shell(command, scratch.path());
        CHECK_MESSAGE(result.status == 0, command, result.out, result.err);
        return result.out;
    };
    run(git + "init -q . && " + git + "add . && " + git +
        "commit -qm one && git mv rigs/bench_two.ath rigs/two.ath");
    std::string renamed = recipe;
    renamed.replace(renamed.find("rigs/bench_two"), 14, "rigs/two");
    scratch.write("recipes/anneal.ath", renamed);
    const std::string same = run(diff + " HEAD -- recipes/anneal.ath");
    CHECK_MESSAGE(same.find("imports of the old version not found, compared as written") != std::string::npos,
                  same);
    CHECK_MESSAGE(same.find("same steps as written") != std::string::npos, same);
    CHECK(same.find("verdict") == std::string::npos);
    renamed.replace(renamed.find("90 min"), 6, "2 h");
    scratch.write("recipes/anneal.ath", renamed);
    const std::string longer = run(diff + " HEAD -- recipes/anneal.ath");
    CHECK_MESSAGE(longer.find("90 min -> 2 h") != std::string::npos, longer);
    CHECK_MESSAGE(longer.find("verdict") == std::string::npos, longer);
    CHECK_MESSAGE(longer.find("rig bench_two") == std::string::npos, longer);
    // Two branches that change one line.
    run(git + "reset -q --hard && " + git + "checkout -qb other");
    const auto commit = [&](const std::string& soak) {
        std::string text = recipe;
        scratch.write("recipes/anneal.ath", text.replace(text.find("90 min"), 6, soak));
        run(git + "commit -qam " + soak.substr(0, 1));
    };
    commit("3 h");
    run(git + "checkout -q main");
    commit("4 h");
    CHECK(shell(git + "merge -q other", scratch.path()).status != 0);
    CHECK(run(diff + " --cached").find("unmerged: recipes/anneal.ath") != std::string::npos);
    run(diff + " HEAD"); // with the marks of the conflict in it
    // Without git one file is too few.
    CHECK(athanor({"diff", "recipes/anneal.ath"}, scratch.path()).status == 2);
}

TEST_CASE("format brings a file into the one layout, once") {
    Scratch scratch;
    scratch.write("r.ath", "recipe  r{ # why\n dwell 1 min ;  dwell   2 min\n\n\n}\n");
    Result check = athanor({"format", "--check", "r.ath"}, scratch.path());
    CHECK(check.status == 1);
    CHECK(check.out == "r.ath: would change\n");
    CHECK(athanor({"format", "r.ath"}, scratch.path()).status == 0);
    std::string once = scratch.read("r.ath");
    CHECK(once.find("# why") != std::string::npos);
    CHECK(athanor({"format", "--check", "r.ath"}, scratch.path()).status == 0);
    Result piped = athanor({"format", "-"}, scratch.path(), once);
    CHECK(piped.out == once);
}

TEST_CASE("test runs the tests of a file and reports them") {
    Scratch scratch;
    scratch.write("t.ath", "recipe r {\n    dwell 10 min\n}\ntest \"good\" {\n    r() is refused\n}\ntest "
                           "\"bad\" {\n    r() is proven\n}\n");
    Result result = athanor({"test", "t.ath", "--junit", "report.xml"}, scratch.path());
    CHECK(result.status == 1);
    CHECK(result.out.find("1 passed, 1 failed") != std::string::npos);
    CHECK(scratch.read("report.xml").find("failures=\"1\"") != std::string::npos);
    CHECK(shell("/usr/bin/python3 -c 'import xml.dom.minidom as m; m.parse(\"report.xml\")'", scratch.path())
              .status == 0);
}

TEST_CASE("a test that could not be judged is an error, and none that passed") {
    const Workshop scratch;
    const std::string recipe = "use \"rigs/muffle_tube.ath\"\nuse "
                               "\"controllers/bench_twenty_five.ath\"\nrecipe r(t : time in 1 min to 1 h = 10 "
                               "min) on muffle_tube for bench_twenty_five {\n    dwell t\n}\n";
    for (const std::string line : {"r(t = 2 h) is refused by parameter_out_of_rang", "r(u = 2 h) is refused",
                                   "s() is proven", "r(t = 2 h) is refuse by parameter_out_of_range",
                                   "r(t = 2 h is refused", "r() on nowhere is refused"}) {
        CAPTURE(line);
        scratch.write("t.ath", recipe + "test \"x\" {\n    " + line +
                                   "\n}\ntest \"good\" {\n    r(t = 2 h) is "
                                   "refused by parameter_out_of_range\n}\n");
        const Result r =
            athanor({"test", "t.ath", "--junit", "j.xml", "--message-format", "short"}, scratch.path());
        CHECK(r.status == 1);
        CHECK_MESSAGE(r.out.find("0 failed, 1 not judged") != std::string::npos, r.out, r.err);
        const std::string report = scratch.read("j.xml");
        CHECK_MESSAGE(report.find("failures=\"0\" errors=\"1\"") != std::string::npos, report);
        CHECK(report.find("<error message=") != std::string::npos);
    }
    // What is wrong stands elsewhere in the file: nothing is refused by a code without a name.
    scratch.write("t.ath", recipe + "recipe other {\n    ramp\n}\ntest \"x\" {\n    r() is proven\n}\n");
    const Result other = athanor({"test", "t.ath", "--message-format", "short"}, scratch.path());
    CHECK(other.err.find("[test_failed]") == std::string::npos);
    CHECK(other.out == "ERROR t.ath: x\n0 passed, 0 failed, 1 not judged\n");
    scratch.write("t.ath", recipe + "recipe other {\n    ramp\n}\n");
    CHECK(
        athanor({"test", "t.ath", "nowhere.ath"}, scratch.path()).out ==
        "ERROR t.ath: the file itself\nERROR nowhere.ath: the file itself\n0 passed, 0 failed, 2 not judged\n");
}

TEST_CASE("what is known can be shown, with sources") {
    Scratch scratch;
    Result units = athanor({"units"}, scratch.path());
    CHECK(units.status == 0);
    CHECK(units.out.find("degC") != std::string::npos);
    CHECK(units.out.find("SI Brochure") != std::string::npos);
    Result gases = athanor({"gases"}, scratch.path());
    CHECK(gases.out.find("hydrogen") != std::string::npos);
    CHECK(gases.out.find("IEC 60079-20-1:2010") != std::string::npos);
    CHECK(athanor({"materials"}, scratch.path()).out.find("fused_quartz") != std::string::npos);
    CHECK(athanor({"targets"}, scratch.path()).out.find("csv") == 0);
    CHECK(athanor({"schema", "table"}, scratch.path()).out.find("2020-12") != std::string::npos);
    CHECK(athanor({"schema", "equipment"}, scratch.path()).out.find("schema rig") != std::string::npos);
    CHECK(athanor({"explain", "no_inert_purge_first"}, scratch.path()).out.find("no_inert_purge_first") !=
          std::string::npos);
    Result rig = athanor({"rig", "quartz_bench.ath"}, project + "/recipes/rigs");
    CHECK_MESSAGE(rig.status == 0, rig.err);
    CHECK(rig.out.find("natural cooling") != std::string::npos);
    CHECK(athanor({"--version"}, scratch.path()).out.find("athanor") == 0);
    CHECK(athanor({"check", "--help"}, scratch.path()).out.find("Examples:") != std::string::npos);
}

TEST_CASE("messages as JSON are one object a line") {
    Result result = athanor({"check", "rate_for_time.ath", "--message-format", "json"},
                            project + "/tests/examples/refused");
    CHECK(result.status == 1);
    Scratch scratch;
    scratch.write("messages", result.out);
    Result read = shell("/usr/bin/python3 -c 'import json\nfor line in open(\"messages\"): d = "
                        "json.loads(line); print(d[\"code\"], d[\"place\"][\"line\"])'",
                        scratch.path());
    CHECK(read.status == 0);
    CHECK(read.out.find("unit_mismatch 6") != std::string::npos);
}

TEST_CASE("Python's csv module reads the table back as it was meant") {
    Scratch scratch;
    REQUIRE(
        athanor({"build", "copper_sinter.ath", "--to", "csv,json", "-o", scratch.path()}, accepted).status ==
        0);
    scratch.write("read.py", R"(
import csv, json
rows = list(csv.DictReader(open('copper_sinter.csv', newline='')))
table = json.load(open('copper_sinter.json'))
segments = [s for p in table['programs'] for s in p['segments']]
assert len(rows) == len(segments), (len(rows), len(segments))
for r, s in zip(rows, segments):
    assert r['kind'] == s['kind'] and int(r['segment']) == s['segment'], (r, s)
    assert r['target_degC'] == '' or float(r['target_degC']) == s['target_degC'], (r, s)
assert max(float(r['target_degC']) for r in rows if r['target_degC']) == 950
)");
    Result rows = shell("/usr/bin/python3 read.py", scratch.path());
    CHECK_MESSAGE(rows.status == 0, rows.err);
    Result schema =
        shell("/usr/bin/python3 -m jsonschema -i copper_sinter.json '" + project + "/docs/table.schema.json'",
              scratch.path());
    CHECK_MESSAGE(schema.status == 0, schema.err);
}
