// The README's recipe and table are the real ones.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

#include <algorithm>

namespace {

/// The text of the first fenced block of a language.
std::string block(const std::string& text, const std::string& language) {
    std::string open = "```" + language + "\n";
    std::size_t begin = text.find(open);
    if (begin == std::string::npos) return {};
    begin += open.size();
    return text.substr(begin, text.find("```", begin) - begin);
}

} // namespace

TEST_CASE("the README shows the recipe and the table as they are") {
    std::string readme = read_text(project + "/README.md");
    std::string recipe = block(readme, "ath"), table = block(readme, "csv");
    REQUIRE(recipe.size() > 200);
    CHECK(read_text(project + "/recipes/bright_anneal.ath").find(recipe) == 0);
    Result built = athanor({"build", "bright_anneal.ath", "-o", "-"}, project + "/recipes");
    CHECK(built.status == 0);
    built.out.erase(std::remove(built.out.begin(), built.out.end(), '\r'), built.out.end());
    CHECK(built.out == table);
    Result refused =
        athanor({"check", "no_purge.ath", "--message-format", "short"}, project + "/tests/examples/refused");
    std::string line = readme.substr(readme.find("no_purge.ath:9:5"));
    CHECK(refused.err.find(line.substr(0, line.find('\n'))) != std::string::npos);
}
