// Flows that an analogue channel sets: of a line that follows the temperature, behind a shut valve, and beside
// the words of their row.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

#include <string>
#include <vector>

namespace {

struct Bench : Workshop {
    Bench() {
        write("kept.ath", R"(use "rigs/quartz_bench.ath"
use "controllers/bench_twenty_five.ath"
rig metered from quartz_bench_inert { line argon { meter controlled, channel 1 ; flow 20 sccm to 2000 sccm } }
recipe kept on metered for bench_twenty_five {
    if 1 h > 1 min {
        keep argon open at 1000 sccm above 300 degC
        ramp to 500 degC at 5 K/min
        ramp to 200 degC at 0.5 K/min
    }
    dwell 10 min
    keep argon open at 100 sccm above 300 degC
    ramp to 500 degC at 5 K/min
    ramp to 200 degC at 0.5 K/min
    cool to 60 degC
}
)");
        const Result built = athanor({"build", "kept.ath", "--to", "csv,json", "-o", "out/"}, path());
        REQUIRE_MESSAGE(built.status == 0, built.err);
    }
    /// Replays the table with every `from` as `to`, with its recipe or alone.
    Result edited(const std::string& ending, const std::string& from, const std::string& to,
                  bool alone = false) const {
        std::string text = read("out/kept." + ending);
        REQUIRE(text.find(from) != std::string::npos);
        for (std::size_t at = text.find(from); at != std::string::npos; at = text.find(from, at + to.size()))
            text.replace(at, from.size(), to);
        write("kept." + ending, text);
        if (!alone) return athanor({"replay", "kept." + ending, "kept.ath"}, path());
        return athanor({"replay", "kept." + ending, "--root", ".", "--rig", "kept.ath:metered", "--controller",
                        "controllers/bench_twenty_five.ath"},
                       path());
    }
};

void refused(const Result& result, const std::string& words) {
    const std::string all = result.out + result.err;
    CHECK_MESSAGE(result.status == 1, all);
    CHECK_MESSAGE(all.find(words) != std::string::npos, all);
}

} // namespace

TEST_CASE("of two `keep`s of one line each opens it at its own flow, in the words too") {
    const Bench bench;
    const std::string table = bench.read("out/kept.csv");
    CHECK_MESSAGE(table.find("2400,,0,1000,open argon at 1 slm,") != std::string::npos, table);
    CHECK_MESSAGE(table.find("2400,,0,100,open argon at 100 sccm,") != std::string::npos, table);
}

TEST_CASE("the flow of a line that follows the temperature is compared") {
    const Bench bench;
    refused(bench.edited("csv", ",0,1000,", ",0,2000,"), "argon flows at 2000 sccm, the recipe has 1000 sccm");
    refused(bench.edited("csv", ",0,1000,", ",0,0,"), "argon flows at 0 sccm, the recipe has 1000 sccm");
    refused(bench.edited("json", "\"argon_sccm\": 1000", "\"argon_sccm\": 20"),
            "argon flows at 20 sccm, the recipe has 1000 sccm");
}

TEST_CASE("a meter behind a shut valve is set to nothing") {
    const Bench bench;
    refused(bench.edited("csv", ",1,0,", ",1,1000,"),
            "argon is closed and its meter is set to 1000 sccm, the recipe has it at 0 sccm");
    refused(bench.edited("json", "\"argon_sccm\": 0", "\"argon_sccm\": 1000"), "its meter is set to 1000 sccm");
    refused(bench.edited("csv", ",1,0,", ",1,1000,", true),
            "argon is closed and its meter is set to 1000 sccm: it stands wide open when the valve opens");
}

TEST_CASE("the words of a row name the flow that its channel sets") {
    const Bench bench;
    refused(bench.edited("csv", ",0,100,", ",0,900,", true),
            "it says that argon flows at 100 sccm, its channel sets 900 sccm");
    refused(bench.edited("csv", "open argon at 1 slm", "open argon at 2 slm"), "open argon at 2 slm");
    CHECK(bench.edited("csv", "open argon at 1 slm", "open argon at 1000 sccm").status == 0);
}

TEST_CASE("a line that opens and closes again in one row is read without its recipe") {
    const Bench bench;
    bench.write("kept.ath", R"(use "rigs/quartz_bench.ath"
use "controllers/bench_twenty_five.ath"
rig metered from quartz_bench_inert { line argon { meter controlled, channel 1 ; flow 20 sccm to 2000 sccm } }
recipe kept on metered for bench_twenty_five {
    open argon at 100 sccm
    close argon
    ramp to 200 degC at 5 K/min
    open argon at 200 sccm
    dwell 10 min
    close argon
    cool to 60 degC
}
)");
    REQUIRE(athanor({"build", "kept.ath", "--to", "csv", "-o", "out/"}, bench.path()).status == 0);
    const std::vector<std::string> alone{
        "replay", "out/kept.csv",     "--root",       ".",
        "--rig",  "kept.ath:metered", "--controller", "controllers/bench_twenty_five.ath"};
    const Result read = athanor(alone, bench.path());
    CHECK_MESSAGE(read.status == 0, read.out, read.err);
    refused(bench.edited("csv", ",0,200,", ",0,0,", true), "argon is open and its channel sets no flow");
}

TEST_CASE("a line that opens and closes again while another closes is no exchange") {
    const Bench bench;
    bench.write("kept.ath", R"(use "rigs/quartz_bench.ath"
use "controllers/bench_twenty_five.ath"
rig metered from quartz_bench_inert {
    line spare { gas argon ; output 5 ; de_energised closed ; meter hand ; flow 20 sccm to 2000 sccm ; supply 120 mbar gauge }
    line third { gas argon ; output 6 ; de_energised closed ; meter hand ; flow 20 sccm to 2000 sccm ; supply 120 mbar gauge }
}
recipe kept on metered for bench_twenty_five {
    open third at 50 sccm
    open argon at 1 slm
    ramp to 100 degC at 5 K/min
    open spare at 50 sccm
    close argon
    close spare
    dwell 10 min
    close all
    cool to 60 degC
}
)");
    REQUIRE(athanor({"build", "kept.ath", "--to", "csv", "-o", "out/"}, bench.path()).status == 0);
    const Result read = athanor({"replay", "out/kept.csv", "--root", ".", "--rig", "kept.ath:metered",
                                 "--controller", "controllers/bench_twenty_five.ath"},
                                bench.path());
    CHECK_MESSAGE(read.status == 0, read.out, read.err);
}
