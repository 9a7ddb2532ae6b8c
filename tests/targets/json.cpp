#include "targets/json/json.hpp"
#include "targets/json/locate.hpp"
#include "tests/targets/sample.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <fmt/format.h>

#include <cmath>

using namespace sample;

namespace {

std::string written(const program::Program& program) {
    return targets::target_named("json")->write(program, context(), "bench")[0].bytes;
}
std::string refused(const std::string& bytes) {
    targets::ReadError error;
    if (targets::target_named("json")->read(bytes, bench(), error)) return "read";
    return fmt::format("{}:{}: {}", error.line, error.column, error.message);
}
std::string replaced(std::string text, const std::string& from, const std::string& to) {
    std::size_t at = text.find(from);
    REQUIRE(at != std::string::npos);
    return text.replace(at, from.size(), to);
}

} // namespace

TEST_CASE("a JSON table obeys its schema and reads back equal") {
    for (const program::Program& p : {bench(), zones()}) {
        std::string bytes = written(p);
        CHECK(schema_errors("table.schema.json", bytes) == "");
        targets::ReadError error;
        auto back = targets::target_named("json")->read(bytes, p, error);
        CAPTURE(error.message);
        REQUIRE(back);
        CHECK(keyed(*back) == keyed(p));
        CHECK(hand_over_and_instructions(*back) == hand_over_and_instructions(p));
        CHECK(written(p) == bytes);
    }
}

TEST_CASE("numbers are the controller's own, figures are never infinite") {
    auto json = nlohmann::json::parse(written(bench()));
    CHECK(json["programs"][0]["segments"][1]["target_degC"].dump() == "300.5");
    CHECK(json["programs"][0]["segments"][1]["rate_K_per_min"].dump() == "4.1");
    CHECK(json["programs"][0]["segments"][2]["dwell_s"].dump() == "3600");
    CHECK(json["totals"]["duration_s"].dump() == "[3600,null]");
    // 1 mol of ideal gas at 0 degC and 101.325 kPa: 22.413 969 54 L (CODATA 2018)
    CHECK(json["totals"]["gas_NL"]["argon"][0].get<double>() ==
          doctest::Approx(22.41396954).scale(0).epsilon(1e-4));
    CHECK(json["totals"]["energy_kWh"][1].get<double>() == 2);
    CHECK(json["programs"][0]["segments"][1]["valves"]["argon"] == "open");
    CHECK(json["cautions"].size() == 2);
}

TEST_CASE("every wrong JSON table is refused at its place") {
    std::string good = written(bench());
    CHECK(refused(good) == "read");
    CHECK(refused("").ends_with("this is no JSON (RFC 8259)"));
    CHECK(refused("{\n  \"athanor_table\": 1,\n  oops\n}").starts_with("3:"));
    CHECK(refused("[1,2]").find("an object is expected") != std::string::npos);
    CHECK(refused(replaced(good, "\"athanor_table\": 1", "\"athanor_table\": 2"))
              .starts_with("2:19: athanor_table"));
    CHECK(refused(replaced(good, "\"rate_K_per_min\": 4.1", "\"rate_K_per_min\": 4.15"))
              .find("4.15 K/min is not settable") != std::string::npos);
    CHECK(refused(replaced(good, "\"rate_K_per_min\": 4.1", "\"rate_K_per_min\": 1e999")).find("number") !=
          std::string::npos);
    CHECK(refused(replaced(good, "\"dwell_s\": 3600", "\"dwell_s\": \"3600\""))
              .find("dwell_s: a number is expected") != std::string::npos);
    CHECK(refused(replaced(good, "\"1\": 1", "\"1\": 0")).find("output 1 says open") != std::string::npos);
    CHECK(refused(replaced(good, "\"kind\": \"ramp\"", "\"kind\": \"soak\"")).find("kind: one of") !=
          std::string::npos);
    CHECK(refused(replaced(good, "\"next\": 3", "\"next\": 2")).find("no such programme") != std::string::npos);
    CHECK(refused(replaced(good, "\"last\": 3", "\"last\": 300")).find("last: a whole number from 1 to 5") !=
          std::string::npos);
    CHECK(refused(replaced(good, "\"first\": 2", "\"first\": 2, \"first\": 1")).find("stands twice") !=
          std::string::npos);
    CHECK(refused(replaced(good, "\"zones\"", "\"zone\"")).find("there is no key `zone` here") !=
          std::string::npos);
    CHECK(refused(replaced(good, "bench_controller", "other_controller"))
              .find("the table is for other_controller") != std::string::npos);
    CHECK(refused(std::string(100000, '[')).find("JSON") != std::string::npos);
    CHECK(refused(std::string(100, '[') + std::string(100, ']')).find("deeper") != std::string::npos);
    // The place is that of the very value, not of the first of its name.
    std::string wrong = refused(replaced(good, "\"soak_band_K\": 3", "\"soak_band_K\": 0.5"));
    std::size_t line = 1;
    for (char c : good.substr(0, good.find("\"soak_band_K\": 3"))) line += c == '\n' ? 1 : 0;
    CHECK(wrong.starts_with(fmt::format("{}:", line)));
}

TEST_CASE("no member of a JSON table may lack") {
    // Every object of the table loses each of its members once; the maps by name may hold what they like.
    const nlohmann::json good = nlohmann::json::parse(written(bench()));
    const nlohmann::json flat = good.flatten();
    std::size_t removed = 0;
    for (const auto& [path, value] : flat.items()) {
        for (std::string at = path; !at.empty(); at = at.substr(0, at.rfind('/'))) {
            const std::string key = at.substr(at.rfind('/') + 1);
            const nlohmann::json::json_pointer parent(at.substr(0, at.rfind('/')));
            if (!good.at(parent).is_object() || at.find("/parameters/") != std::string::npos ||
                at.find("/gas_NL/") != std::string::npos)
                continue;
            nlohmann::json table = good;
            table.at(parent).erase(key);
            const std::string said = refused(table.dump());
            CAPTURE(at);
            CHECK_MESSAGE((said.find("`" + key + "` is missing") != std::string::npos ||
                           said.find("a value for each of 3 outputs") != std::string::npos),
                          said);
            ++removed;
        }
    }
    CHECK(removed > 200);
    std::string text = written(bench());
    CHECK(
        refused(replaced(text, "\"rule\": \"burner_off\"", "\"rule\": null")).find("rule: text is expected") !=
        std::string::npos);
    CHECK(refused(replaced(text, "\"verdict\": \"proven\"", "\"verdict\": \"fine\""))
              .find("`fine` is no verdict") != std::string::npos);
    nlohmann::json table = good;
    table["assurance"] = nlohmann::json::array();
    CHECK(refused(table.dump()).find("assurance: the table does not say which rules were judged") !=
          std::string::npos);
    CHECK(schema_errors("table.schema.json", table.dump()) != "");
    table = good;
    table["provenance"]["sources"][0]["sha256"] = "abc";
    CHECK(refused(table.dump()).find("sha256: 64 digits") != std::string::npos);
}

TEST_CASE("what is no table, and what a table says of itself") {
    using namespace targets::json;
    std::string good = written(bench());
    CHECK(!malformed(good));
    REQUIRE(malformed(good.substr(0, 300)));
    CHECK(malformed(good.substr(0, 300))->message == "this is no JSON (RFC 8259)");
    CHECK(malformed("[]")->message == "an object is expected");
    CHECK(malformed(std::string(100000, '['))->line == 1);
    REQUIRE(figures(good));
    CHECK(figures(good)->duration_s.first == 3600);
    CHECK(std::isinf(figures(good)->duration_s.second));
    CHECK(figures(good)->energy_kWh.second == 2);
    CHECK(figures(good)->gas_NL.size() == 1);
    REQUIRE(figures(good)->assurance.size() == 1);
    CHECK(figures(good)->assurance[0].rule == "burner_off");
    CHECK(figures(good)->assurance[0].verdict == "proven");
    CHECK_FALSE(figures(good)->assurance[0].rest.empty());
}

TEST_CASE("the schema refuses what it should") {
    std::string good = written(bench());
    CHECK(schema_errors("table.schema.json", replaced(good, "\"kind\": \"ramp\"", "\"kind\": \"soak\"")) != "");
    CHECK(schema_errors("table.schema.json", replaced(good, "\"loops\"", "\"loop\"")) != "");
    CHECK(schema_errors("table.schema.json", replaced(good, "\"dwell_s\": 3600", "\"dwell_s\": \"3600\"")) !=
          "");
}

TEST_CASE("places in JSON") {
    using namespace targets::json;
    std::string text = "{\"a\": [1, {\"b\": \"x\\\"]\"}, 3],\n \"c\": {\"d\": null}}";
    CHECK(text.substr(locate(text, {{"a", 0}, {"", 2}}), 1) == "3");
    CHECK(text.substr(locate(text, {{"a", 0}, {"", 1}, {"b", 0}}), 2) == "\"x");
    CHECK(text.substr(locate(text, {{"c", 0}, {"d", 0}}), 4) == "null");
    CHECK(text[locate(text, {{"c", 0}, {"e", 0}})] == '{');
    CHECK(place_of(text, locate(text, {{"c", 0}})).line == 2);
    CHECK(place_of(text, locate(text, {{"c", 0}})).column == 7);
}
