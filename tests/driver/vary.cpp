// Designs of experiments, and several files at a time.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <sstream>

namespace fs = std::filesystem;

namespace {

const std::string sinter = project + "/tests/examples/accepted/copper_sinter.ath";

std::vector<std::string> lines_of(const std::string& text) {
    std::vector<std::string> lines;
    std::istringstream in(text);
    for (std::string line; std::getline(in, line);) lines.push_back(line);
    return lines;
}

} // namespace

TEST_CASE("a design is built point by point, in parallel, with an index") {
    Scratch scratch;
    std::vector<std::string> arguments{
        "vary", sinter, "--over", "peak=940 degC to 1000 degC by 20 K", "--over", "soak=[30 min, 45 min]", "-o",
        "four", "-j",   "4"};
    Result result = athanor(arguments, scratch.path());
    CHECK(result.status == 1); // 1000 degC is outside the parameter's range
    CHECK_MESSAGE(result.out.find("8 points, 6 proven, 2 refused") != std::string::npos, result.out);
    CHECK(result.out.find("peak = 1000 °C, soak = 45 min: refused") != std::string::npos);
    std::vector<std::string> index = lines_of(scratch.read("four/copper_sinter_index.csv"));
    REQUIRE(index.size() == 9);
    CHECK(index[0] == "file,peak,soak,verdict,rules,duration_least_s,duration_greatest_s,segments,sha256\r");
    CHECK(index[2].starts_with("copper_sinter_2.csv,940 °C,45 min,proven,,"));
    CHECK(index[7] == ",1000 °C,30 min,refused,parameter_out_of_range,,,,\r");
    CHECK(!scratch.has("four/copper_sinter_7.csv"));

    // One point is the table that `build --set` writes, and the sum in the index is that of its bytes.
    result = athanor({"build", sinter, "--set", "peak=960 degC", "--set", "soak=45 min", "-o", "one/"},
                     scratch.path());
    CHECK_MESSAGE(result.status == 0, result.err);
    CHECK(scratch.read("one/copper_sinter.csv") == scratch.read("four/copper_sinter_4.csv"));
    result = shell("sha256sum four/copper_sinter_4.csv", scratch.path());
    CHECK(index[4].find(result.out.substr(0, 64)) != std::string::npos);

    // The order of threads leaves no trace.
    arguments[7] = "single";
    arguments[9] = "1";
    athanor(arguments, scratch.path());
    CHECK(shell("diff -r four single", scratch.path()).status == 0);
}

TEST_CASE("designs that cannot be meant are refused before anything is built") {
    Scratch scratch;
    auto vary = [&](const std::vector<std::string>& over) {
        std::vector<std::string> arguments{"vary", sinter, "-o", "out"};
        for (const std::string& one : over) arguments.insert(arguments.end(), {"--over", one});
        return athanor(arguments, scratch.path());
    };
    Result result = vary({"peak=900 degC to 980 degC by 0.01 K"});
    CHECK(result.status == 1);
    CHECK(result.err.find("[too_large]") != std::string::npos);
    result = vary({"peak=900 degC to 980 degC by 1 K", "soak=10 min to 60 min by 1 min"});
    CHECK(result.err.find("[too_large]") != std::string::npos);
    for (const char* wrong :
         {"peak=900 degC to 980 degC by -1 K", "peak=900 degC to 980 degC by 5 min", "peak=900 degC",
          "paek=[900 degC]", "peak=[900 degC, 900 degC]", "peak=[900 degC,]"}) {
        CAPTURE(wrong);
        CHECK(vary({wrong}).status == 2);
    }
    CHECK(vary({"peak=900 degC to 980 degC by 0 K"}).err.find("the step `0 K` is zero") != std::string::npos);
    CHECK(vary({"peak=900 degC to 980 degC by 1e-9 K"}).err.find("too fine") != std::string::npos);
    CHECK(vary({"peak=[900 degC]", "peak=[950 degC]"}).status == 2);
    CHECK(!scratch.has("out"));
}

TEST_CASE("a folder is built file by file, in order, each whole or not at all") {
    Scratch scratch;
    Result result =
        athanor({"build", project + "/recipes", "-o", "out/", "--message-format", "short"}, scratch.path());
    CHECK_MESSAGE(result.status == 0, result.err);
    Result again =
        athanor({"build", project + "/recipes", "-o", "single/", "-j", "1", "--message-format", "short"},
                scratch.path());
    CHECK(again.err == result.err);
    CHECK(shell("diff -r out single", scratch.path()).status == 0);
    CHECK(scratch.has("out/bright_anneal.csv"));

    // One that is refused leaves the other alone.
    result = athanor({"build", sinter, project + "/tests/examples/refused/no_purge.ath", "-o", "mixed/"},
                     scratch.path());
    CHECK(result.status == 1);
    CHECK(scratch.has("mixed/copper_sinter.csv"));
    CHECK(!scratch.has("mixed/no_purge.csv"));
    result = athanor({"build", sinter, sinter, "-o", "twice/"}, scratch.path());
    CHECK(result.status == 2);
    CHECK(result.err.find("both make copper_sinter.csv") != std::string::npos);
    result = athanor({"build", sinter, sinter, "-o", "-"}, scratch.path());
    CHECK(result.status == 2);
}
