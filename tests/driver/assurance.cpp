// `assure` and `rig --for`: what a person reads before a run.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <sstream>

namespace {

using nlohmann::json;

struct Bench : Workshop {
    Bench() { write("nickel.ath", read_text(project + "/recipes/nickel_reduction.ath")); }
};

/// Characters of UTF-8 in the longest line.
std::ptrdiff_t widest(const std::string& text) {
    std::ptrdiff_t most = 0;
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);)
        most =
            std::max(most, std::count_if(line.begin(), line.end(), [](char c) { return (c & 0xC0) != 0x80; }));
    return most;
}

json row(const json& table, const std::string& rule) {
    for (const json& one : table["assurance"])
        if (one["rule"] == rule) return one;
    return nullptr;
}

json assured(const Bench& bench, const std::string& file, int status = 0) {
    const Result result = athanor({"assure", file, "--message-format", "json"}, bench.path());
    CHECK(result.status == status);
    std::istringstream lines(result.out);
    json last;
    for (std::string line; std::getline(lines, line);) last = json::parse(line);
    return last;
}

} // namespace

TEST_CASE("the assurance table names each rule with its verdict, and the cautions, at 80 columns") {
    Bench bench;
    const Result result = athanor({"assure", "nickel.ath"}, bench.path());
    CHECK(result.status == 0);
    CHECK(result.out.find("nickel_reduction on quartz_bench for bench_twenty_five: proven\n") == 0);
    for (const char* part : {"  proven              flammable_below_ignition\n", "limit 760 °C",
                             "decided by: ", "power fails at ", "needs an interlock", "taken for granted",
                             "figures taken from defaults:", "cautions", "Flammable gas: "})
        CHECK_MESSAGE(result.out.find(part) != std::string::npos, part);
    CHECK(widest(result.out) <= 80);
}

TEST_CASE("the table of a build and that of assure are the same") {
    Bench bench;
    const json table = assured(bench, "nickel.ath");
    CHECK(table["proven"] == true);
    const Result built = athanor({"build", "nickel.ath", "--to", "json", "-o", "-"}, bench.path());
    REQUIRE(built.status == 0);
    const json file = json::parse(built.out);
    REQUIRE(file["assurance"].size() == table["assurance"].size());
    for (std::size_t i = 0; i < table["assurance"].size(); ++i)
        for (const char* field : {"rule", "title", "verdict", "margin", "decides"})
            CHECK(file["assurance"][i][field] == table["assurance"][i][field]);
    CHECK(file["cautions"].is_array());
}

TEST_CASE("a margin is the distance that the source's own figures leave") {
    Bench bench;
    // The load lag, offset and tolerance are subtracted from a hold of 820 degC: the margin must lie between
    // the rule's limit and the set-point, and a hotter hold must widen it by as much as it is hotter, within 1
    // K of a tolerance that grows with temperature.
    const auto least = [&](int degrees) {
        const std::string text = "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                                 "recipe hold \"Held\" on quartz_bench for bench_twenty_five {\n"
                                 "    inert_purge(feed = 2.4 slm)\n    ramp to " +
                                 std::to_string(degrees) +
                                 " degC at 5 K/min\n    light burner\n    dwell 1 h within 4 K\n"
                                 "    switch to hydrogen at 300 sccm\n    dwell 30 min within 4 K\n"
                                 "    clear_flammable(feed = 2.4 slm)\n    shut burner\n    cool to 70 degC\n"
                                 "    close all\n}\n";
        bench.write("hold.ath", text);
        const std::string margin = row(assured(bench, "hold.ath"), "flammable_below_ignition")["margin"];
        CAPTURE(margin);
        const std::size_t at = margin.find("at least ");
        REQUIRE(at != std::string::npos);
        return std::stod(margin.substr(at + 9));
    };
    const double low = least(830), high = least(860);
    CHECK(low > 760);
    CHECK(low < 830);
    CHECK(high - low == doctest::Approx(30).scale(0).epsilon(0.05));
}

TEST_CASE("rules about failures are not judged while the run itself breaks one") {
    Bench bench;
    std::string text = bench.read("nickel.ath");
    text.replace(text.find("    light burner\n"), 17, "");
    bench.write("dark.ath", text);
    const json table = assured(bench, "dark.ath", 1);
    CHECK(table["proven"] == false);
    CHECK(row(table, "burner_off")["verdict"] == "violated");
    CHECK(row(table, "no_inert_on_abort")["verdict"] == "not_judged");
    CHECK(row(table, "flammable_to_pump")["verdict"] == "not_applied");
}

TEST_CASE("rig --for says what is missing") {
    Bench bench;
    const Result bare = athanor({"rig", "rigs/muffle_tube.ath", "--for", "nickel.ath"}, bench.path());
    CHECK(bare.status == 1);
    CHECK(widest(bare.out) <= 80);
    for (const char* part : {"line hydrogen", "seals", "burner", "MISSING", "Athanor checks a plan"})
        CHECK_MESSAGE(bare.out.find(part) != std::string::npos, part);

    const Result own =
        athanor({"rig", "rigs/quartz_bench.ath", "--rig", "quartz_bench", "--for", "nickel.ath"}, bench.path());
    CHECK(own.status == 1); // four faults have no interlock
    CHECK(own.out.find("nickel_reduction on quartz_bench: proven") == 0);

    bench.write("warm.ath", "use \"rigs/muffle_tube.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                            "recipe warm \"Warmed\" on muffle_tube for bench_twenty_five {\n"
                            "    ramp to 400 degC at 3 K/min\n    cool to 60 degC\n}\n");
    const Result whole = athanor({"rig", "rigs/muffle_tube.ath", "--for", "warm.ath"}, bench.path());
    CHECK_MESSAGE(whole.status == 0, whole.out);
    CHECK(whole.out.find("MISSING") == std::string::npos);
    CHECK(athanor({"rig", "rigs/muffle_tube.ath", "--for", "not_there.ath"}, bench.path()).status == 2);
}

TEST_CASE("a conceded rule stands in the table, in the JSON and in a comparison") {
    Workshop bench;
    const std::string recipe = "use \"rigs/quartz_bench.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
                               "gas moist_argon = 2.5 % water + rest argon\nrig moist_bench from "
                               "quartz_bench_inert {\n    line moist { gas "
                               "moist_argon ; output 3 ; de_energised closed ; meter hand ; flow 0.1 slm to 1 "
                               "slm ; supply 100 mbar gauge "
                               "}\n}\nrecipe wet \"Strip\" on moist_bench for bench_twenty_five {\n    open "
                               "moist at 0.5 slm\n    dwell 1 "
                               "h\n    close all\n}\n";
    bench.write("strict.ath", recipe);
    bench.write("conceded.ath", recipe + "policy house { concession condensation because \"a trap takes it\" "
                                         "approved \"the lab\" }\n");
    CHECK(athanor({"check", "strict.ath"}, bench.path()).status == 1);
    // Every output says it, and what claims nothing says nothing.
    const std::string line = "  conceded: condensation: a trap takes it (approved the lab)\n";
    const Result checked = athanor({"check", "conceded.ath"}, bench.path());
    CHECK_MESSAGE(checked.out.find("\n" + line) != std::string::npos, checked.out);
    CHECK(athanor({"check", "strict.ath"}, bench.path()).out.find("conceded") == std::string::npos);
    const Result built = athanor({"build", "conceded.ath", "--to", "csv", "-o", "tables"}, bench.path());
    CHECK_MESSAGE(built.err.find(line) != std::string::npos, built.err);
    CHECK(bench.read("tables/wet.csv-metadata.json").find("a trap takes it") != std::string::npos);
    CHECK(athanor({"plot", "conceded.ath"}, bench.path()).status == 0);
    CHECK(bench.read("wet.svg").find("! Athanor checks a plan against a model. It is no safety device") !=
          std::string::npos);
    CHECK(bench.read("wet.svg").find("conceded: condensation: a trap takes it (approved the lab)") !=
          std::string::npos);
    const Result table = athanor({"assure", "conceded.ath"}, bench.path());
    CHECK(table.status == 0);
    for (const char* part : {"  conceded            condensation\n", "a trap takes it (approved the lab)"})
        CHECK_MESSAGE(table.out.find(part) != std::string::npos, table.out);
    const Result object = athanor({"assure", "conceded.ath", "--message-format", "json"}, bench.path());
    const json parsed = json::parse(object.out);
    CHECK(row(parsed, "condensation")["verdict"] == "conceded");
    CHECK(parsed["concessions"].size() == 1);
    CHECK(athanor({"build", "conceded.ath", "--to", "json", "-o", "tables"}, bench.path()).status == 0);
    CHECK(read_text(bench.path() + "/tables/wet.json").find("a trap takes it") != std::string::npos);
    const Result diff = athanor({"diff", "strict.ath", "conceded.ath"}, bench.path());
    CHECK_MESSAGE(diff.out.find("+ concession: condensation: a trap takes it (approved the lab)") !=
                      std::string::npos,
                  diff.out);
}
