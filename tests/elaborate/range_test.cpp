// What several values of a parameter make of one recipe, joined.
#include "compiler/elaborate/range.hpp"
#include "tests/elaborate/support.hpp"

#include <doctest/doctest.h>

using namespace athanor;
using namespace athanor::elaborate::test;

namespace {

check::Value minutes(double min) {
    return {type_of(Kind::time), min * 60, check::none, {}};
}

} // namespace

TEST_CASE("a limit that depends on a parameter is the shortest of its corners") {
    const std::string_view text =
        "use \"rigs.ath\"\nrecipe r(longest : time) on bench {\n"
        "purge argon at 1 L/min until oxygen < 1 % at most longest\ndwell until oxygen < 1 %\n}\n";
    const auto at = [&](double min) { return run(text, {{"longest", minutes(min)}}); };
    const auto long_one = at(180), short_one = at(60);
    REQUIRE_MESSAGE(long_one->done.complete, long_one->all());
    REQUIRE_MESSAGE(short_one->done.complete, short_one->all());
    // Whichever corner comes first.
    for (const bool turned : {false, true}) {
        const auto &first = turned ? short_one : long_one, &second = turned ? long_one : short_one;
        const elaborate::Range range = elaborate::join({&first->done, &second->done});
        REQUIRE_MESSAGE(range.timeline != nullptr, range.differs);
        CHECK(range.timeline->spans[0].ending.at_most == 3600);
        CHECK(range.timeline->endings_most[0].at_most == 3600);
        CHECK(range.timeline->spans[1].ending.at_most == 0); // none is given
    }
}
