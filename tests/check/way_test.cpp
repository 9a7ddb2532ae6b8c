// How a number goes with a parameter: what may turn inside a range, and what cannot.
#include "compiler/check/way.hpp"

#include <doctest/doctest.h>

using athanor::check::difference;
using athanor::check::extreme;
using athanor::check::quotient_turns;
using athanor::check::scaled;
using athanor::check::share_a_parameter;
using athanor::check::sum;
using athanor::check::Way;
using athanor::check::Ways;

namespace {

constexpr Way still, up{true, true, false, 1}, down{true, true, false, -1}, straight{true, true, false, 0};
constexpr Way rising{true, false, false, 1}, falling{true, false, false, -1}, bent{true, false, false, 0};

} // namespace

TEST_CASE("two straight lines add up to a straight line, whichever way they go") {
    CHECK(sum(up, down) == straight);
    CHECK(sum(up, up) == up);
    CHECK(sum(still, down) == down);
    CHECK_FALSE(sum(straight, down).turns);
}

TEST_CASE("what bends may turn beside anything that does not surely go the same way") {
    CHECK(sum(rising, up) == rising);
    CHECK(sum(rising, down).turns);
    CHECK(sum(rising, falling).turns);
    CHECK(sum(rising, straight).turns);
    CHECK(sum(bent, bent).turns); // the same function twice, less a part of it
    CHECK_FALSE(sum(bent, still).turns);
    CHECK(sum(sum(rising, falling), up).turns); // once turning, always
}

TEST_CASE("a negative factor turns a way around, an unknown one hides it") {
    CHECK(scaled(up, -1) == down);
    CHECK(scaled(rising, 0) == bent);
    CHECK(difference(Ways{rising}, Ways{rising})[0].turns);
    CHECK(difference(Ways{rising}, Ways{falling})[0] == rising);
}

TEST_CASE("the greatest of several is bent, and turns where one rises and another falls") {
    CHECK(extreme({up, still}) == rising);
    CHECK(extreme({up, rising}) == rising);
    CHECK(extreme({up, down}).turns);
    CHECK(extreme({straight, straight}).turns);
    CHECK_FALSE(extreme({straight, still}).turns);
}

TEST_CASE("a quotient of two straight lines goes one way, of anything else it may turn") {
    CHECK_FALSE(quotient_turns({up}, {down}));
    CHECK(quotient_turns({up}, {rising}));
    CHECK_FALSE(quotient_turns({up, still}, {still, rising})); // each with its own parameter
    CHECK(share_a_parameter({up}, {down}));
    CHECK_FALSE(share_a_parameter({up, still}, {still, up}));
}
