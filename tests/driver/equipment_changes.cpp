// `diff` of files that declare equipment: by hand and as git calls it.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

namespace {

const std::string rigs = read_text(project + "/tests/examples/rigs/bench_two.ath");
const std::string controllers = read_text(project + "/tests/examples/controllers/bench_controller.ath");
const std::string anneal = read_text(project + "/tests/examples/accepted/argon_anneal.ath");

std::string with(std::string text, const std::string& from, const std::string& to) {
    const std::size_t at = text.find(from);
    REQUIRE(at != std::string::npos);
    return text.replace(at, from.size(), to);
}

Result diff(const std::string& before, const std::string& after) {
    Scratch scratch;
    scratch.write("old.ath", before);
    scratch.write("new.ath", after);
    return athanor({"diff", "old.ath", "new.ath"}, scratch.path());
}

} // namespace

TEST_CASE("diff of a file of equipment tells each property") {
    const Result tube = diff(rigs, with(rigs, "inner_diameter 60 mm", "inner_diameter 90 mm"));
    CHECK(tube.status == 1);
    CHECK(tube.out == "declarations\n"
                      "  ~ rig bench_two: tube inner_diameter 60 mm -> 90 mm\n"
                      "  ~ rig bench_two_vacuum: with its base, rig bench_two\n");
    const Result impurity = diff(rigs, with(rigs, "5 ppm water", "500 ppm water"));
    CHECK(impurity.status == 1);
    CHECK(impurity.out == "declarations\n  ~ gas hydrogen_n50: water 5 ppm -> 500 ppm\n");
    const Result relaid = diff(rigs, "# first\n" + with(rigs, "wall 3 mm ;", "wall\t0.3 cm;"));
    CHECK(relaid.status == 0);
    CHECK(relaid.out.empty());
    const Result segments = diff(controllers, with(controllers, "segments ", "segments 1"));
    CHECK(segments.status == 1);
    CHECK_MESSAGE(segments.out.find("controller bench_controller: segments ") != std::string::npos,
                  segments.out);
}

TEST_CASE("diff of recipes tells the equipment that they import") {
    Scratch scratch;
    scratch.write("athanor.root", "");
    for (const char* side : {"a/", "b/"}) {
        scratch.write(side + std::string("recipes/anneal.ath"), anneal);
        scratch.write(side + std::string("controllers/bench_controller.ath"), controllers);
    }
    scratch.write("a/rigs/bench_two.ath", rigs);
    scratch.write("b/rigs/bench_two.ath",
                  with(rigs, "length 1200 mm }", "length 1200 mm ; rated 50 mbar gauge }"));
    const std::vector<std::string> call{"diff", "a/recipes/anneal.ath", "b/recipes/anneal.ath"};
    const Result result = athanor(call, scratch.path());
    CHECK(result.status == 1);
    CHECK_MESSAGE(result.out.find("+ rig bench_two: tube rated 50 mbar gauge") != std::string::npos,
                  result.out);
}

TEST_CASE("git shows what changed in a file of equipment, and never calls it the same process") {
    Scratch scratch;
    scratch.write("rigs/bench_two.ath", rigs);
    const std::string git = "git -c user.name=n -c user.email=n@example.org -c init.defaultBranch=main ";
    REQUIRE(shell(git + "init -q . && " + git + "add . && " + git + "commit -qm one", scratch.path()).status ==
            0);
    const std::string call = git + "-c diff.external='" ATHANOR_PROGRAM " diff' diff";
    scratch.write("rigs/bench_two.ath", rigs + "# a comment\n");
    const Result comment = shell(call, scratch.path());
    CHECK(comment.status == 0);
    CHECK(comment.out == "process of rigs/bench_two.ath\n  same declarations\n");
    scratch.write("rigs/bench_two.ath", with(rigs, "load_lag 0 min to 4 min", "load_lag 0 min to 9 min"));
    const Result lag = shell(call, scratch.path());
    CHECK(lag.status == 0);
    CHECK_MESSAGE(lag.out.find("rig bench_two: load_lag 0 min to 4 min -> 0 min to 9 min") != std::string::npos,
                  lag.out);
    // A version that is wrong is told so, and its declarations are compared all the same.
    scratch.write("rigs/bench_two.ath", with(rigs, "wall 3 mm", "wall -3 mm"));
    const Result wrong = shell(call, scratch.path());
    CHECK(wrong.status == 0);
    CHECK(wrong.out.find("the new version has errors") != std::string::npos);
    CHECK(wrong.out.find("tube wall 3 mm -> -3 mm") != std::string::npos);
    REQUIRE(shell(git + "rm -q --cached rigs/bench_two.ath", scratch.path()).status == 0);
    CHECK(shell(call + " --cached", scratch.path()).out.find("- rig bench_two\n") != std::string::npos);
}

TEST_CASE("a range over which check proves is part of a recipe") {
    Scratch scratch;
    scratch.write("athanor.root", "");
    scratch.write("rigs/bench_two.ath", rigs);
    scratch.write("controllers/bench_controller.ath", controllers);
    const std::string sinter = read_text(project + "/tests/examples/accepted/copper_sinter.ath");
    scratch.write("a/old.ath",
                  with(sinter, "soak : time = 45 min", "soak : time in 30 min to 50 min = 45 min"));
    scratch.write("a/new.ath",
                  with(sinter, "soak : time = 45 min", "soak : time in 40 min to 50 min = 45 min"));
    const Result range = athanor({"diff", "a/old.ath", "a/new.ath"}, scratch.path());
    CHECK(range.status == 1);
    CHECK(range.out == "recipe copper_sinter\n  ~ parameter soak 30 min to 50 min -> 40 min to 50 min\n");
}
