// Every program of the legaliser, read by the interpreter that knows nothing of it.
#include "compiler/legalise/rounding.hpp"
#include "compiler/replay/replay.hpp"
#include "tests/legalise/random.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <string>
#include <vector>

using namespace athanor;

namespace {

/// The recipe with the worked-out times that the legaliser found on the rounded prefix where those are longer:
/// a sufficient wait may rightly grow. What it must not do is shrink, which stays as strict as the interpreter
/// makes it.
timeline::Timeline with_grown_waits(timeline::Timeline recipe, const timeline::Timeline& legal) {
    std::vector<double> keyed(recipe.spans.size(), 0.0);
    for (const timeline::Span& span : legal.spans) keyed[span.source.begin] += span.ending.duration;
    for (std::size_t i = 0; i < recipe.spans.size(); ++i) {
        timeline::Span& span = recipe.spans[i];
        if (span.ending.kind == timeline::EndingKind::certain ||
            span.ending.kind == timeline::EndingKind::passes)
            span.duration.hi = std::max(span.duration.hi, keyed[i]);
    }
    return recipe;
}

} // namespace

TEST_CASE("random recipes on random controllers: what the legaliser keys replays to the recipe") {
    int keyed = 0;
    CHECK(rc::check("legalise and replay", [&] {
        const program::Controller c = bench::random_controller();
        const auto k = bench::key(bench::random_recipe(c), c, true);
        if (!k->result.complete) return; // refused: the legaliser's own tests look at that
        ++keyed;
        const replay::Run run = replay::run(k->result.program, 23);
        const std::vector<std::string> differences = replay::compare(
            run, with_grown_waits(k->recipe, k->result.timeline), k->result.program, legalise::setpoint_budget);
        if (!differences.empty())
            RC_LOG() << differences.front() << "\n" << print(k->result.program) << print(k->recipe);
        RC_ASSERT(differences.empty());
    }));
    CHECK(keyed > 30);
}
