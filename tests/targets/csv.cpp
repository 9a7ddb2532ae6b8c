#include "targets/csv/text.hpp"
#include "tests/targets/sample.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <fmt/format.h>

using namespace sample;
using targets::Target;

namespace {

std::string written(const program::Program& program) {
    return targets::target_named("csv")->write(program, context(), "bench")[0].bytes;
}
std::string refused(const std::string& bytes, const program::Program& shape = bench()) {
    targets::ReadError error;
    if (targets::target_named("csv")->read(bytes, shape, error)) return "read";
    return fmt::format("{}:{}: {}", error.line, error.column, error.message);
}
std::string replaced(std::string text, const std::string& from, const std::string& to) {
    std::size_t at = text.find(from);
    REQUIRE(at != std::string::npos);
    return text.replace(at, from.size(), to);
}

const std::string header =
    "program,segment,kind,start_degC,target_degC,rate_K_per_min,duration_s,soak_band_K,out1_argon,"
    "out2_hydrogen,out4_burner,loop_start,loop_passes,next_program,instruction,source\r\n";

} // namespace

TEST_CASE("the rows of a table, byte for byte") {
    CHECK(written(bench()) ==
          header +
              "1,,threshold,,650,,,,,1,,,,,hydrogen follows 650 °C,\r\n"
              "1,1,operator,23,23,,,,1,0,0,,,,\"Load the boat, fit \"\"both\"\" plugs\nclamp the seals\",\r\n"
              "1,2,ramp,23,300.5,4.1,4063.415,,0,0,0,,,,'=open argon,\r\n"
              "1,3,dwell,23,300.5,,3600,5,0,0,1,2,7,,,\r\n"
              "1,4,step,23,60,,,3,1,0,1,,,,,\r\n"
              "1,5,step,23,20,,36000,,1,1,1,2 3,3 2,,,\r\n"
              "1,6,end,,20,,,,1,0,0,,,3,,\r\n"
              "3,1,dwell,23,20,,0,,1,0,0,,,,''quoted,\r\n"
              "3,2,end,,20,,,,1,0,0,,,,,\r\n");
}

TEST_CASE("columns stand only where they are used") {
    program::Program p = bench();
    p.parts[0].loops.clear();
    p.parts[0].next = 0;
    p.parts.pop_back();
    CHECK(written(p).starts_with(
        "program,segment,kind,start_degC,target_degC,rate_K_per_min,duration_s,soak_band_K,"
        "out1_argon,out2_hydrogen,out4_burner,instruction,source\r\n"));
    CHECK(
        written(zones()).starts_with("program,segment,kind,start_degC,target_left_degC,target_right_degC,"
                                     "rate_left_K_per_min,rate_right_K_per_min,duration_s,dwell_s,soak_band_K,"
                                     "argon_sccm,instruction,source\r\n"));
}

TEST_CASE("a table reads back equal") {
    for (const program::Program& p : {bench(), zones()}) {
        targets::ReadError error;
        auto back = targets::target_named("csv")->read(written(p), p, error);
        CAPTURE(error.message);
        REQUIRE(back);
        CHECK(keyed(*back) == keyed(p));
        CHECK(hand_over_and_instructions(*back) == hand_over_and_instructions(p));
        CHECK(written(*back) == written(p));
    }
}

TEST_CASE("line feeds alone, a byte order mark and another order of columns are read") {
    std::string text = written(bench());
    std::string plain = "\xEF\xBB\xBF";
    for (char c : text)
        if (c != '\r') plain += c;
    targets::ReadError error;
    auto back = targets::target_named("csv")->read(plain, bench(), error);
    REQUIRE(back);
    CHECK(keyed(*back) == keyed(bench()));
}

TEST_CASE("what a spreadsheet would run is disarmed, and comes back") {
    using namespace targets::csv;
    for (const char* text : {"=1+1", "+1", "-1", "@sum", "'a", "''", "'", "plain", "", "\tx"})
        CHECK(disarmed(harmless(text)) == text);
    CHECK(harmless("=1") == "'=1");
    CHECK(harmless("argon") == "argon");
}

TEST_CASE("every wrong table is refused at its place") {
    std::string good = written(bench());
    CHECK(refused(good) == "read");
    CHECK(refused("") == "1:1: the file is empty");
    CHECK(refused(header) == "1:1: the table has no rows");
    CHECK(refused(replaced(good, "out1_argon", "out1_nitrogen"))
              .starts_with("1:83: there is no column `out1_nitrogen`"));
    CHECK(refused(replaced(good, "kind,", "program,")).find("a second time") != std::string::npos);
    CHECK(refused(replaced(good, "4.1,4063", "4.15,4063")) ==
          "5:19: rate_K_per_min: 4.15 K/min is not settable: nearest are 4.1 K/min and 4.2 K/min");
    CHECK(refused(replaced(good, "300.5,4.1", "1300,4.1")).find("the controller takes 0 degC to 1200 degC") !=
          std::string::npos);
    CHECK(refused(replaced(good, "300.5,4.1", "3e99,4.1")).find("is no number") != std::string::npos);
    CHECK(refused(replaced(good, "300.5,4.1", "nan,4.1")).find("`nan` is no number") != std::string::npos);
    CHECK(refused(replaced(good, "300.5,4.1", "300,5,4.1")).find("17 fields in a table of 16 columns") !=
          std::string::npos);
    CHECK(refused(replaced(good, "3600,5", "3601,5")).find("3601 s is not settable") != std::string::npos);
    CHECK(refused(replaced(good, "3600,5", "3600,5.5")).find("5.5 K is not settable") != std::string::npos);
    CHECK(refused(replaced(good, "5,0,0,1,2,7", "5,0,0,2,2,7")).find("out4_burner: `2`") != std::string::npos);
    CHECK(refused(replaced(good, "5,0,0,1,2,7", "5,0,,1,2,7")).find("out2_hydrogen: ``") != std::string::npos);
    CHECK(refused(replaced(good, "1,2,7", "1,4,7")).find("loop_start: `4`") != std::string::npos);
    CHECK(refused(replaced(good, "2 3,3 2", "2 3,3")).find("loop_passes") != std::string::npos);
    CHECK(refused(replaced(good, "1,3,dwell", "1,4,dwell")).find("segment: `4` where 3 comes next") !=
          std::string::npos);
    CHECK(refused(replaced(good, "dwell", "soak")).find("`soak` is none of") != std::string::npos);
    CHECK(
        refused(replaced(good, ",,3,,\r\n", ",,4,,\r\n")).find("programme 4, which the table does not hold") !=
        std::string::npos);
    CHECK(refused(good.substr(0, good.find("3,2,end"))).find("programme 3 has no row of kind end") !=
          std::string::npos);
    CHECK(refused(replaced(good, "1,6,end", "1,6,dwell")).find("duration_s") != std::string::npos);
    CHECK(refused(replaced(good, ",650,,,,,1,", ",650,,,,,,")).find("names no output") != std::string::npos);
    CHECK(refused(replaced(good, "'=open", "\"=open")).starts_with("5:42: this quote does not close"));
    CHECK(refused(replaced(good, "clamp the seals\"", "clamp the seals")).find("does not close") !=
          std::string::npos);
    CHECK(refused(replaced(good, "open argon", "open \"argon\"")).find("a quote inside a field") !=
          std::string::npos);
    CHECK(refused(replaced(good, "open argon", "open \xFF")).find("no text (UTF-8)") != std::string::npos);
    CHECK(refused(replaced(good, "argon,\r\n", "argon,\r")).find("carriage return") != std::string::npos);
}

TEST_CASE("the metadata obeys its schema and speaks of the columns that are there") {
    for (const program::Program& p : {bench(), zones()}) {
        auto files = targets::target_named("csv")->write(p, context(), "bench");
        REQUIRE(files.size() == 2);
        CHECK(files[1].name == "bench.csv-metadata.json");
        CHECK(schema_errors("csvw-profile.schema.json", files[1].bytes) == "");
        auto json = nlohmann::json::parse(files[1].bytes);
        std::string titles;
        for (const auto& column : json["tableSchema"]["columns"])
            titles += (titles.empty() ? "" : ",") + column["titles"].get<std::string>();
        CHECK(files[0].bytes.starts_with(titles + "\r\n"));
    }
    // The schema itself refuses what it should.
    std::string bytes = targets::target_named("csv")->write(bench(), context(), "bench")[1].bytes;
    CHECK(schema_errors("csvw-profile.schema.json", replaced(bytes, "\"Cel\"", "\"degC\"")) != "");
    CHECK(schema_errors("csvw-profile.schema.json", replaced(bytes, "\"dc:title\"", "\"dc:titel\"")) != "");
}

TEST_CASE("a table that is cut off is told at its last row") {
    const std::string good = written(bench());
    CHECK(refused("") == "1:1: the file is empty");
    CHECK(refused(header) == "1:1: the table has no rows");
    CHECK(refused(good.substr(0, good.find("1,4,step"))) ==
          "6:1: programme 1 has no row of kind end: is the table cut off here?");
    CHECK(
        refused(good.substr(0, good.find("3,2,end"))).starts_with("10:1: programme 3 has no row of kind end"));
    CHECK(
        refused(good.substr(0, good.find("3,1,dwell"))).starts_with("9:1: programme 1 goes on in programme 3"));
    // In the middle of a row.
    CHECK(refused(good.substr(0, good.find("1,4,step") + 6)).starts_with("7:5: 3 fields"));
}
