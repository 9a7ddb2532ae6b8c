// Every program of the legaliser, read by the interpreter that knows nothing of it.
#include "compiler/legalise/rounding.hpp"
#include "compiler/replay/replay.hpp"
#include "compiler/replay/said.hpp"
#include "tests/legalise/random.hpp"

#include <doctest/doctest.h>

#include <string>
#include <vector>

using namespace athanor;

namespace {

/// As bench::random_recipe, with bands on ramps whatever the controller has.
timeline::Timeline banded_recipe() {
    bench::Writer writer;
    writer.ramp_bands = true;
    writer.steps(*rc::gen::inRange(1, 9), true);
    return writer.b.finish();
}

void replays(const timeline::Timeline& recipe, const program::Controller& controller, int& keyed) {
    const auto k = bench::key(recipe, controller, true);
    if (!k->result.complete) return; // refused: the legaliser's own tests look at that
    ++keyed;
    const replay::Run run = replay::run(k->result.program, 23);
    RC_ASSERT(run.problems.empty());
    const std::vector<replay::Finding> differences =
        replay::compare(run, k->recipe, k->result.program, legalise::setpoint_budget, true);
    if (!differences.empty())
        RC_LOG() << replay::text_of(differences.front()) << "\n"
                 << print(k->result.program, k->files) << print(k->recipe);
    RC_ASSERT(differences.empty());
    const std::vector<replay::Finding> against = replay::compare_said(k->result.program, k->recipe);
    if (!against.empty())
        RC_LOG() << replay::text_of(against.front()) << "\n" << print(k->result.program, k->files);
    RC_ASSERT(against.empty());
}

} // namespace

TEST_CASE("random recipes on random controllers: what the legaliser keys replays to the recipe") {
    int keyed = 0;
    CHECK(rc::check("legalise and replay", [&] {
        const program::Controller c = bench::random_controller();
        replays(bench::random_recipe(c), c, keyed);
    }));
    CHECK(keyed > 30);
}

TEST_CASE("bands on ramps, on controllers that start from where they please") {
    int keyed = 0;
    CHECK(rc::check("legalise and replay", [&] {
        program::Controller c = bench::random_controller();
        c.starts_from_measured = *rc::gen::arbitrary<bool>();
        c.start_setpoint = *rc::gen::element(0.0, 20.0, 25.0);
        replays(banded_recipe(), c, keyed);
    }));
    CHECK(keyed > 30);
}
