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
    // The first message whole, as it is printed.
    const std::string prompt = "$ athanor check tests/examples/refused/no_purge.ath\n";
    std::string said = readme.substr(readme.find(prompt) + prompt.size());
    said = said.substr(0, said.find("…\n"));
    Result refused = athanor({"check", "tests/examples/refused/no_purge.ath"}, project);
    CHECK_MESSAGE(refused.err.starts_with(said), refused.err);
    CHECK(said.find("\n   remedy: ") != std::string::npos);
}
