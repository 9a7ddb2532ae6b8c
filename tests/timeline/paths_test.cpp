#include "compiler/timeline/paths.hpp"

#include <doctest/doctest.h>

using athanor::timeline::Path;
using athanor::timeline::Paths;

TEST_CASE("a path names the blocks, the step, its number among equals and its piece") {
    Paths paths;
    const auto anneal = paths.keep("anneal/"), ramp = paths.keep("ramp left");
    CHECK(paths.add(Path{0, ramp}) == 0);
    CHECK(paths.add(Path{anneal, ramp, 2, 1}) == 1);
    CHECK(paths.add(Path{anneal, ramp, 2, 3}) == 2);
    CHECK(paths.add("start") == 3);
    CHECK(paths.size() == 4);
    CHECK(paths[0] == "ramp left");
    CHECK(paths[1] == "anneal/ramp left#2");
    CHECK(paths[2] == "anneal/ramp left#2/3");
    CHECK(paths[3] == "start");
}
