// What is remembered of a course is what would be computed anew, in whatever order it is asked for.
#include "compiler/prove/ahead.hpp"

#include "tests/prove/support.hpp"

#include <doctest/doctest.h>

#include <vector>

using namespace athanor;

TEST_CASE("a course that is asked again answers as it would anew") {
    const auto c = prove::test::steps("  open argon at 1 slm\n  ramp to 600 degC at 5 K/min\n  dwell 1 h\n");
    const plant::Plant& plant = *c->done.plant;
    const timeline::Timeline& timeline = *c->done.timeline;
    const plant::Drive drive = plant::drive(timeline, 0);
    const plant::State entry = plant.start();
    prove::Ahead ahead(plant, entry, drive);
    const std::vector<Interval> asked{{0, 60}, 60,        {60, 600},   {0, 60}, {0, 7000},
                                      60,      {60, 600}, {600, 7000}, {0, 60}};
    std::vector<const plant::State*> first;
    for (const Interval& t : asked) {
        const plant::State& state = ahead.during(t);
        const plant::State anew = plant.during(entry, drive, t);
        CHECK(state.zones[0].control == anew.zones[0].control);
        CHECK(state.zones[0].load == anew.zones[0].load);
        CHECK(state.pressure == anew.pressure);
        CHECK(state.swept == anew.swept);
        CHECK(state.elapsed == anew.elapsed);
        for (std::size_t s = 0; s < timeline.species.size(); ++s) CHECK(state.fraction[s] == anew.fraction[s]);
        first.push_back(&state);
    }
    // The same time is answered once, and the answer stays where it is.
    CHECK(first[0] == first[3]);
    CHECK(first[0] == first[8]);
    CHECK(first[1] == first[5]);
    CHECK(first[0] != first[1]);
}
