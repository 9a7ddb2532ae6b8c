// Every code has its page, and what a page promises is true: the breaking example gives the code and no other
// error but the consequences it lists, the mended one is accepted. The language reference is compiled the same
// way.
#include "tests/driver/page.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <filesystem>
#include <optional>
#include <set>
#include <sstream>

namespace fs = std::filesystem;

namespace {

bool is_code(const std::string& name) {
    return std::any_of(all_codes().begin(), all_codes().end(),
                       [&](const Code& code) { return code.name == name; });
}

void examples_hold(const Bench& bench, const Code& code, const std::string& page) {
    const std::string& name = code.name;
    std::string command = line_behind(page, "The command that finds it: `athanor ").value_or("check`.");
    command = command.substr(0, command.find('`'));
    std::vector<std::string> examples = blocks(page, "ath");
    REQUIRE(examples.size() == 2);
    Codes wanted = reported_as(name, examples[0]);

    Verdict broken = bench.run(command, name + ".ath", examples[0]);
    CAPTURE(broken.said);
    if (code.severity == "warning") {
        CHECK(broken.warnings.count(name) == 1);
        CHECK(broken.errors.empty());
        CHECK(broken.status == 0);
    } else {
        CHECK(broken.status == 1);
        Codes given = broken.errors;
        for (const std::string& each : wanted) CHECK(given.erase(each) == 1);
        Codes also = listed(line_behind(page, "also:").value_or(""));
        CHECK(given == also);
    }

    Verdict mended = bench.run(command, name + ".ath", examples[1]);
    CAPTURE(mended.said);
    CHECK(mended.status == 0);
    CHECK(mended.errors.empty());
    for (const std::string& each : wanted) CHECK(mended.warnings.count(each) == 0);
}

} // namespace

TEST_CASE("every code has a page and every page a code") {
    Codes codes, written;
    for (const Code& code : all_codes()) codes.insert(code.name);
    for (const auto& entry : fs::directory_iterator(pages)) written.insert(entry.path().stem().string());
    CHECK(codes == written);
    REQUIRE(codes.size() > 50);
}

TEST_CASE("every page has its parts") {
    for (const Code& code : all_codes()) {
        const std::string& name = code.name;
        CAPTURE(name);
        std::string page = read_text(pages + "/" + name + ".md");
        CHECK(page.starts_with("# " + name + "\n"));
        for (const char* part : {"\n## Why\n", "\n## Mended\n", "\n## Sources\n", "\n## Cautions\n"})
            CHECK_MESSAGE(page.find(part) != std::string::npos, part);
        // What it usually is stands first, as in codes.def.
        std::string front = page.substr(0, page.find("\n## "));
        std::replace(front.begin(), front.end(), '\n', ' ');
        const std::size_t error = front.find("An error"), warning = front.find("A warning");
        CHECK(error != warning);
        CHECK((error < warning) == (code.severity == "error"));
        // Consequences stand only where there are some.
        const auto also = line_behind(page, "also:");
        CHECK((page.find("\n## Consequences\n") != std::string::npos) == also.has_value());
        if (!also) continue;
        CHECK(!listed(*also).empty());
        for (const std::string& each : listed(*also)) CHECK_MESSAGE(is_code(each), each);
    }
}

TEST_CASE("every page's examples do what it says") {
    Bench bench;
    Codes without;
    for (const Code& code : all_codes()) {
        const std::string& name = code.name;
        CAPTURE(name);
        std::string page = read_text(pages + "/" + name + ".md");
        if (line_behind(page, "example: none ("))
            without.insert(name);
        else
            examples_hold(bench, code, page);
    }
    // These two are tested below; no other page may do without examples.
    CHECK(without == Codes{"file_unreadable", "table_mismatch"});
}

TEST_CASE("file_unreadable: the page's console example") {
    Bench bench;
    Result result = athanor({"check", "not_there.ath"}, bench.path());
    CHECK(result.status == 2);
    CHECK(result.err.find("[file_unreadable]") != std::string::npos);
}

TEST_CASE("table_mismatch: the page's console example") {
    Bench bench;
    bench.write("granule_drying.ath", read_text(project + "/recipes/granule_drying.ath"));
    REQUIRE(athanor({"build", "granule_drying.ath", "-o", "tables"}, bench.path()).status == 0);
    std::vector<std::string> replay{"replay", "tables/granule_drying.csv", "granule_drying.ath"};
    CHECK(athanor(replay, bench.path()).status == 0);
    std::string table = bench.read("tables/granule_drying.csv"), edited = table;
    for (std::size_t at = 0; (at = edited.find(",520,", at)) != std::string::npos;)
        edited.replace(at, 5, ",540,");
    REQUIRE(edited != table);
    bench.write("tables/granule_drying.csv", edited);
    Result result = athanor(replay, bench.path());
    CHECK(result.status == 1);
    CHECK(result.err.find("[table_mismatch]") != std::string::npos);
}

TEST_CASE("explain prints the page, its paragraphs broken for the terminal") {
    const auto words = [](const std::string& text) {
        std::istringstream in(text);
        std::vector<std::string> out;
        for (std::string word; in >> word;) out.push_back(word);
        return out;
    };
    for (const Code& code : all_codes()) {
        CAPTURE(code.name);
        Result result = athanor({"explain", code.name}, project);
        CHECK(result.status == 0);
        const std::string page = read_text(pages + "/" + code.name + ".md");
        CHECK(words(result.out) == words(page));
        CHECK(blocks(result.out, "ath") == blocks(page, "ath"));
        std::istringstream lines(result.out);
        bool verbatim = false;
        for (std::string line; std::getline(lines, line);) {
            if (line.starts_with("```")) verbatim = !verbatim;
            if (verbatim || line.starts_with("|")) continue;
            CHECK_MESSAGE(
                std::count_if(line.begin(), line.end(), [](char c) { return (c & 0xC0) != 0x80; }) <= 80, line);
        }
    }
    CHECK(athanor({"explain", "no_such_code"}, project).status == 2);
}

TEST_CASE("the examples of the language reference compile") {
    std::vector<std::string> examples = blocks(read_text(project + "/docs/language.md"), "ath");
    REQUIRE(examples.size() >= 6);
    Bench bench;
    for (std::size_t i = 0; i < examples.size(); ++i) {
        std::string example = examples[i];
        CAPTURE(example);
        for (const char* command : {"check", "test"}) {
            Verdict v = bench.run(command, "example.ath", example);
            CAPTURE(v.said);
            CHECK(v.status == 0);
            CHECK(v.errors.empty());
        }
    }
}

TEST_CASE("the whole recipe of the language reference is nickel_reduction") {
    std::string text = read_text(project + "/docs/language.md");
    std::size_t at = text.find("\n## A whole recipe\n");
    REQUIRE(at != std::string::npos);
    std::vector<std::string> examples = blocks(text.substr(at), "ath");
    REQUIRE(!examples.empty());
    std::string recipe = read_text(project + "/recipes/nickel_reduction.ath");
    while (recipe.starts_with("#")) recipe.erase(0, recipe.find('\n') + 1);
    CHECK(examples.front() == recipe);
}

TEST_CASE("the fields of a JSON message are those that the page lists") {
    Bench bench;
    std::string page = read_text(project + "/docs/diagnostics.md");
    bench.write(
        "shifted.ath",
        "use \"rigs/muffle_tube.ath\"\nuse \"controllers/bench_twenty_five.ath\"\n"
        "recipe shifted \"Pigment\"(base : temperature = 600 degC) on muffle_tube for bench_twenty_five {\n"
        "    ramp to base + 20 degC at 3 K/min\n    cool to 60 degC\n}\n");
    Result result = athanor({"check", "shifted.ath", "--message-format", "json"}, bench.path());
    CHECK(result.status == 1);
    nlohmann::json message = nlohmann::json::parse(result.out);
    std::vector<std::string> printed = blocks(page, "json");
    REQUIRE(printed.size() == 1);
    CHECK(message == nlohmann::json::parse(printed[0]));
    for (const nlohmann::json& object : {message, message["place"]})
        for (const auto& [field, value] : object.items())
            CHECK_MESSAGE(page.find("`" + field + "`") != std::string::npos, field);
}
