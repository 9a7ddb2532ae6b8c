// Recipes that must compile, as printed timelines. ATHANOR_REFRESH=1 writes what is printed now; the difference
// is read before it is kept.
#include "tests/elaborate/support.hpp"

#include <doctest/doctest.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>

using namespace athanor;
using namespace athanor::elaborate::test;

namespace {

std::string read(const std::filesystem::path& path) {
    std::ifstream in(path, std::ios::binary);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

void golden(const std::filesystem::path& recipe) {
    auto c = file(recipe.string());
    REQUIRE(c);
    REQUIRE_MESSAGE(c->done.complete, recipe.string(), "\n", c->all());
    std::string printed = timeline::print(c->timeline());
    std::filesystem::path path =
        std::filesystem::path(ATHANOR_ROOT "/tests/elaborate/goldens") / (recipe.stem().string() + ".txt");
    if (const char* refresh = std::getenv("ATHANOR_REFRESH"); refresh != nullptr && *refresh == '1')
        std::ofstream(path, std::ios::binary) << printed;
    CHECK_MESSAGE(read(path) == printed, path.string());
}

} // namespace

TEST_CASE("timelines of recipes that must compile") {
    std::size_t seen = 0;
    for (const auto& entry : std::filesystem::directory_iterator(ATHANOR_ROOT "/tests/examples/accepted")) {
        if (entry.path().extension() != ".ath") continue;
        CAPTURE(entry.path().string());
        golden(entry.path());
        ++seen;
    }
    CHECK(seen >= 7);
}
