// Slips on the command line: told once, against what was typed, and nothing is claimed beside them.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

#include <algorithm>

namespace {

const std::string rigs = project + "/recipes";

/// A folder with a recipe that needs its time given.
Scratch& bench() {
    static Scratch scratch;
    scratch.write("athanor.root", "");
    scratch.write("muffle_tube.ath", read_text(rigs + "/rigs/muffle_tube.ath"));
    scratch.write("bench_twenty_five.ath", read_text(rigs + "/controllers/bench_twenty_five.ath"));
    scratch.write("hole.ath",
                  "use \"muffle_tube.ath\"\nuse \"bench_twenty_five.ath\"\n\nrecipe hole(t : time) on "
                  "muffle_tube for bench_twenty_five {\n    ramp to 300 degC at 2 K/min\n    dwell t\n"
                  "    cool to 60 degC\n}\n");
    return scratch;
}

Result run(std::vector<std::string> arguments) {
    arguments.insert(arguments.end(), {"--message-format", "short"});
    return athanor(arguments, bench().path());
}

const std::string not_judged = "hole: not judged, the command line has an error\n";

} // namespace

TEST_CASE("a wrong --set is one error, shown as it was typed") {
    const auto check = [](const std::string& set) { return run({"check", "hole.ath", "--set", set}); };
    CHECK(check("t=300 min").status == 0);
    Result unit = check("t=300");
    CHECK(unit.status == 2); // a wrong option, no verdict on the recipe
    CHECK(unit.err.starts_with("command line:1:9: error: `300` has no unit"));
    CHECK(std::count(unit.err.begin(), unit.err.end(), '\n') == 1);
    CHECK(unit.out == not_judged);
    CHECK(athanor({"check", "hole.ath", "--set", "t=300"}, bench().path()).err.find(" | --set t=300\n") !=
          std::string::npos);
    Result bare = check("t");
    CHECK(bare.err == "command line:1:7: error: `--set` gives one parameter its value [syntax]\n");
    CHECK(athanor({"check", "hole.ath", "--set", "t"}, bench().path()).err.find("write `--set 't=VALUE'`") !=
          std::string::npos);
    CHECK(check("t=").err ==
          "command line:1:9: error: expected a value, found the end of the value [syntax]\n");
    CHECK(check("t=(1 h").err ==
          "command line:1:13: error: expected `)`, found the end of the value [syntax]\n");
    CHECK(check("t=1 h)").err.find("command line:1:12: error: expected the end of the value, found `)`") == 0);
    CHECK(check("t=1 h\nu=2").err ==
          "command line:1:7: error: `--set` gives one parameter its value [syntax]\n");
    CHECK(check("u=1 h").err.starts_with("command line:1:7: error: "));
    CHECK(run({"check", "hole.ath", "--set", "t=1 h # so long", "--set", "t=2 h"})
              .err.starts_with("command line:1:29: error: "));
    // The second of two.
    Result second = run({"check", "hole.ath", "--set", "t=1 h", "--set", "u=1 h"});
    CHECK_MESSAGE(second.err.starts_with("command line:1:19: error: "), second.err);
}

TEST_CASE("a wrong --rig, --controller or --recipe: nothing is claimed") {
    for (const std::string option : {"--rig", "--controller"}) {
        for (const std::string command : {"check", "assure", "build", "plot"}) {
            if (command == "plot" && option == "--controller") continue;
            CAPTURE(option);
            CAPTURE(command);
            Scratch out;
            std::vector<std::string> arguments{command, "hole.ath", "--set", "t=1 h", option, "nowhere"};
            if (command == "build" || command == "plot")
                arguments.insert(arguments.end(), {"-o", out.path() + "/"});
            Result r = run(arguments);
            CHECK(r.status == 2);
            CHECK(r.err.find("command line:1:" + std::to_string(option.size() + 2) + ": error: there is no ") ==
                  0);
            CHECK((r.out + r.err).find("proven") == std::string::npos);
            CHECK((r.out + r.err).find("names no controller") == std::string::npos);
            CHECK((r.out + r.err).find("not judged") != std::string::npos);
            CHECK(out.names().empty());
        }
    }
    Result recipe = run({"check", "hole.ath", "--recipe", "whole"});
    CHECK(recipe.err ==
          "command line:1:10: error: there is no recipe `whole`; the file has `hole` [unknown_name]\n");
    CHECK(recipe.out == "");
    CHECK(recipe.status == 2);
    CHECK(run({"check", "hole.ath", "--set", "u=1 h"}).status == 2);
    // What the recipe refuses is its verdict.
    CHECK(run({"check", "hole.ath"}).status == 1);
    Scratch out;
    for (const char* option : {"--rig", "--controller", "--recipe"})
        CHECK(run({"vary", "hole.ath", "--over", "t=[1 h, 2 h]", option, "nowhere", "-o", out.path()}).status ==
              2);
    Result set = run({"vary", "hole.ath", "--over", "t=[1 h, 2 h]", "--set", "u=1 h", "-o", out.path()});
    CHECK(set.status == 2);
    CHECK(set.err == "athanor vary: `hole` has no parameter `u`; it has t\n");
    CHECK(run({"diff", "hole.ath", "hole.ath", "--rig", "nowhere"}).status == 2);
    CHECK(out.names().empty());
}

TEST_CASE("an output that cannot be written is no success") {
    for (const char* call : {"--version", "--help", "check --help", "units", "explain missing_unit"}) {
        CAPTURE(call);
        Result r = shell(std::string(ATHANOR_PROGRAM) + " " + call + " > /dev/full", bench().path());
        CHECK(r.status == 2);
        CHECK(r.err == "athanor: standard output cannot be written\n");
    }
}

TEST_CASE("findings beyond the hundredth are counted, in JSON too") {
    Scratch scratch;
    std::string text = "recipe r {\n";
    for (int i = 0; i < 112; ++i) text += "    ramp\n";
    scratch.write("r.ath", text + "}\n");
    Result plain = athanor({"check", "r.ath", "--message-format", "short"}, scratch.path());
    CHECK(plain.err.ends_with("\nand 12 more\n"));
    Result json = athanor({"check", "r.ath", "--message-format", "json"}, scratch.path());
    CHECK(std::count(json.out.begin(), json.out.end(), '\n') == 101);
    CHECK(
        json.out.find("\"code\":\"too_large\",\"message\":\"12 more findings stand behind this one and are not "
                      "printed\"") != std::string::npos);
}

TEST_CASE("a number of a hundred thousand digits is not quoted to its end") {
    Scratch scratch;
    scratch.write("r.ath", "recipe r {\n    dwell " + std::string(100000, '7') + " s\n}\n");
    for (const char* format : {"short", "pretty", "json"}) {
        Result r = athanor({"check", "r.ath", "--message-format", format}, scratch.path());
        CHECK(r.status == 1);
        CHECK((r.out + r.err).find("777…777") != std::string::npos);
        CHECK((r.out + r.err).size() < 1500);
    }
}

TEST_CASE("evaluate speaks of what was typed, and rounds nothing away that is short") {
    const auto evaluate = [](const std::string& text) { return run({"evaluate", text}); };
    CHECK(evaluate("2 +").err ==
          "expression:1:4: error: expected a value, found the end of the expression [syntax]\n");
    CHECK(evaluate("").err == "expression:1:1: error: the expression is empty [syntax]\n");
    CHECK(evaluate("2 K = 2 K").err ==
          "expression:1:5: error: `=` gives a value to a name; it does not compare [syntax]\n");
    CHECK(evaluate("(2").err ==
          "expression:1:3: error: expected `)`, found the end of the expression [syntax]\n");
    CHECK(evaluate("5 ppm + 300 %").out == "300.0005 %\n");
    CHECK(evaluate("61.1 s").out == "1 min 1.1 s\n");
    CHECK(evaluate("1 h + 0.25 s").out == "1 h 0.25 s\n");
    CHECK(evaluate("1 / 3").out == "0.333333\n");
    CHECK(athanor({"evaluate", "-", "--value"}, bench().path(), "2 * # twice\n45 min # so long\n").out ==
          "1 h 30 min\n");
}

TEST_CASE("the file may follow an option that can be given several times") {
    Scratch out;
    const Result formats = run({"build", "--set", "t=1 h", "--to", "csv", "hole.ath", "-o", out.path() + "/"});
    CHECK_MESSAGE(formats.status == 0, formats.err);
    CHECK(out.has("hole.csv"));
    const Result several =
        run({"build", "--to", "csv", "--to", "json", "--set", "t=1 h", "hole.ath", "-o", out.path() + "/"});
    CHECK_MESSAGE(several.status == 0, several.err);
    CHECK(out.has("hole.json"));
    CHECK(run({"check", "--set", "t=1 h", "hole.ath"}).status == 0);
}

TEST_CASE("a format named twice is written once") {
    Scratch out;
    Result r = run({"build", "hole.ath", "--set", "t=1 h", "--to", "csv,csv", "-o", out.path() + "/"});
    CHECK_MESSAGE(r.status == 0, r.err);
    CHECK(out.has("hole.csv"));
}

TEST_CASE("a file for another version of the language is refused, and left alone") {
    Scratch scratch;
    const std::string text = "language 2\nrecipe  r { anneal! }\n";
    scratch.write("r.ath", text);
    for (const std::string command : {"check", "build", "test", "format"}) {
        CAPTURE(command);
        Result r = athanor({command, "r.ath", "--message-format", "short"}, scratch.path());
        CHECK(r.status == 1);
        CHECK(r.err.starts_with("r.ath:1:10: error: the file is written for version `2` of the language; "));
        CHECK(scratch.read("r.ath") == text);
    }
    scratch.write("user.ath", "use \"r.ath\"\nrecipe r {\n    dwell 1 min\n}\n");
    Result user = athanor({"check", "user.ath", "--message-format", "short"}, scratch.path());
    CHECK(user.err.find("r.ath:1:10: error: the file is written for version `2`") != std::string::npos);
}

TEST_CASE("format leaves a read-only file and one with errors as they are") {
    Scratch scratch;
    const std::string loose = "recipe  r {\n dwell 1 min\n}\n", broken = "recipe  r {\n ramp\n}\n";
    scratch.write("locked.ath", loose);
    REQUIRE(shell("chmod 0444 locked.ath", scratch.path()).status == 0);
    Result locked = athanor({"format", "locked.ath"}, scratch.path());
    CHECK(locked.status == 2);
    CHECK(locked.err == "locked.ath: not written: the file is read-only\n");
    CHECK(scratch.read("locked.ath") == loose);
    CHECK(athanor({"format", "--check", "locked.ath"}, scratch.path()).out == "locked.ath: would change\n");
    scratch.write("broken.ath", broken);
    Result refused = athanor({"format", "broken.ath"}, scratch.path());
    CHECK(refused.status == 1);
    CHECK(refused.out == "");
    CHECK(scratch.read("broken.ath") == broken);
    CHECK(athanor({"format", "-"}, scratch.path(), broken).out == broken);
}

TEST_CASE("a rig that the file does not have is an error of usage for each command") {
    const Workshop bench;
    const Result shown = athanor({"rig", "rigs/muffle_tube.ath", "--rig", "nope"}, bench.path());
    CHECK(shown.status == 2);
    CHECK(shown.err.find("there is no rig `nope`") != std::string::npos);
}

TEST_CASE("a test of a recipe with an error of its own is not judged") {
    Scratch scratch;
    scratch.write("t.ath", "recipe r {\n    ramp\n}\ntest \"x\" {\n    r() is refused by value_missing\n}\n");
    Result r = athanor({"test", "t.ath", "--junit", "report.xml", "--message-format", "short"}, scratch.path());
    CHECK(r.status == 1);
    CHECK(r.err.find("refused by ,") == std::string::npos);
    CHECK(std::count(r.err.begin(), r.err.end(), '\n') == 1);
    CHECK(scratch.read("report.xml").find("cannot be judged, the recipe has errors of its own") !=
          std::string::npos);
}

TEST_CASE("a command that is none is named, and messages do not mix with what is written") {
    Scratch scratch;
    const Result wrong = athanor({"chekc", "x.ath"}, scratch.path());
    CHECK(wrong.status == 2);
    CHECK(wrong.err.find("`chekc`, did you mean `check`?") != std::string::npos);
    const Result mixed = athanor({"build", "x.ath", "-o", "-", "--message-format", "json"}, scratch.path());
    CHECK(mixed.status == 2);
    CHECK(mixed.err.find("standard output") != std::string::npos);
}
