// Every accepted example builds to the table that was reviewed; every refused one is refused by the rule it
// names.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <sstream>

namespace fs = std::filesystem;

namespace {

std::vector<std::string> files(const std::string& folder) {
    std::vector<std::string> list;
    for (const auto& entry : fs::directory_iterator(project + "/" + folder))
        if (entry.path().extension() == ".ath") list.push_back(entry.path().filename().string());
    std::sort(list.begin(), list.end());
    return list;
}

/// The codes behind "# refused:" in the first line.
std::vector<std::string> expected_codes(const std::string& path) {
    std::string first = read_text(path);
    first = first.substr(0, first.find('\n'));
    std::vector<std::string> codes;
    std::string mark = "# refused:";
    if (!first.starts_with(mark)) return codes;
    std::istringstream rest(first.substr(mark.size()));
    for (std::string code; std::getline(rest, code, ',');) {
        code.erase(std::remove_if(code.begin(), code.end(), [](char c) { return c == ' ' || c == '\r'; }),
                   code.end());
        codes.push_back(code);
    }
    return codes;
}

void builds_to_its_goldens(const std::string& folder, const std::string& file, const std::string& goldens) {
    CAPTURE(file);
    Scratch scratch;
    Result result = athanor({"build", file, "--to", "csv,json", "-o", scratch.path()}, project + "/" + folder);
    CHECK_MESSAGE(result.status == 0, result.err);
    REQUIRE(!scratch.names().empty());
    for (const std::string& name : scratch.names()) {
        std::string difference = golden(goldens + name, scratch.read(name));
        CHECK_MESSAGE(difference.empty(), difference);
    }
}

} // namespace

TEST_CASE("accepted examples build") {
    std::vector<std::string> list = files("tests/examples/accepted");
    REQUIRE(list.size() >= 7);
    for (const std::string& file : list) builds_to_its_goldens("tests/examples/accepted", file, "examples/");
}

TEST_CASE("our own recipes build") {
    std::vector<std::string> list = files("recipes");
    REQUIRE(list.size() >= 5);
    for (const std::string& file : list) builds_to_its_goldens("recipes", file, "recipes/");
}

TEST_CASE("refused examples are refused by the rule in their first line") {
    std::vector<std::string> list = files("tests/examples/refused");
    REQUIRE(list.size() >= 15);
    for (const std::string& file : list) {
        CAPTURE(file);
        Result result =
            athanor({"check", file, "--message-format", "short"}, project + "/tests/examples/refused");
        CHECK(result.status == 1);
        std::vector<std::string> codes = expected_codes(project + "/tests/examples/refused/" + file);
        REQUIRE(!codes.empty());
        bool found = std::any_of(codes.begin(), codes.end(), [&](const std::string& code) {
            return result.err.find("[" + code + "]") != std::string::npos;
        });
        CHECK_MESSAGE(found, result.err);
        Result pretty = athanor({"check", file}, project + "/tests/examples/refused");
        std::string difference = golden("refused/" + fs::path(file).stem().string() + ".txt", pretty.err);
        CHECK_MESSAGE(difference.empty(), difference);
        Scratch scratch;
        Result built = athanor({"build", file, "-o", scratch.path()}, project + "/tests/examples/refused");
        CHECK(built.status == 1);
        CHECK(scratch.names().empty()); // nothing is written unless all is proven
    }
}

TEST_CASE("two builds give the same bytes") {
    Scratch one, two;
    for (const Scratch* scratch : {&one, &two})
        REQUIRE(athanor({"build", "copper_sinter.ath", "--to", "csv,json", "-o", scratch->path()},
                        project + "/tests/examples/accepted")
                    .status == 0);
    REQUIRE(one.names() == two.names());
    for (const std::string& name : one.names()) CHECK(one.read(name) == two.read(name));
}

TEST_CASE("a table replays to its recipe, a changed one does not") {
    Scratch scratch;
    std::string folder = project + "/tests/examples/accepted";
    REQUIRE(athanor({"build", "argon_anneal.ath", "--to", "csv,json", "-o", scratch.path()}, folder).status ==
            0);
    for (const char* ending : {".csv", ".json"}) {
        Result result =
            athanor({"replay", scratch.path() + "/argon_anneal" + ending, "argon_anneal.ath"}, folder);
        CHECK_MESSAGE(result.status == 0, result.err);
    }
    std::string table = scratch.read("argon_anneal.csv");
    std::size_t at = table.find(",650,");
    REQUIRE(at != std::string::npos);
    scratch.write("argon_anneal.csv", table.replace(at, 5, ",660,"));
    Result result = athanor({"replay", scratch.path() + "/argon_anneal.csv", "argon_anneal.ath"}, folder);
    CHECK(result.status == 1);
    CHECK(result.err.find("table_mismatch") != std::string::npos);
}
