// Random recipes on random controllers: refused with a code, or every set-point and time inside its budget.
#include "compiler/legalise/rounding.hpp"
#include "compiler/replay/replay.hpp"
#include "tests/legalise/random.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <string>
#include <vector>

using namespace athanor;

namespace {

/// The set-point of the recipe's span `i` some seconds after its beginning, K.
double wanted(const timeline::Timeline& recipe, std::size_t i, double seconds) {
    const timeline::Law& law = *recipe.laws_of(i);
    if (law.kind != timeline::LawKind::line) return law.to;
    const double length = (law.to - law.from) / law.rate;
    return seconds >= length ? law.to : law.from + law.rate * seconds;
}

} // namespace

TEST_CASE("random recipes on random controllers are refused, or keyed inside every budget") {
    std::map<std::string, int> seen;
    CHECK(rc::check("legalise", [&] {
        const program::Controller c = bench::random_controller();
        const auto k = bench::key(bench::random_recipe(c), c, true);
        const timeline::Timeline& recipe = k->recipe;
        const timeline::Timeline& legal = k->result.timeline;
        if (!k->result.complete) {
            RC_ASSERT(k->out.any_error());
            for (const Diagnostic& d : k->out.all()) {
                ++seen[std::string(name(d.code))];
                // A band that its grid narrows may become uncertain.
                RC_ASSERT(group(d.code) == Group::controller || d.code == Code::condition_unreachable);
            }
            return;
        }
        RC_ASSERT(!k->out.any_error());
        ++seen["keyed"];
        const std::vector<replay::Finding> differences =
            replay::compare_exactly(replay::run(k->result.program, 23), legal, k->result.program);
        if (!differences.empty()) RC_FAIL(replay::text_of(differences[0]));

        RC_ASSERT(k->result.program.parts.size() <= c.programs);
        for (const program::Part& part : k->result.program.parts) {
            RC_ASSERT(part.segments.size() <= c.segments);
            RC_ASSERT(part.segments.back().kind == program::SegmentKind::end);
        }

        // The legalised spans of each span of the recipe: they join, follow its line and last as long.
        const double late = legalise::instant_budget(c);
        std::size_t at = 0;
        for (std::size_t i = 0; i < recipe.spans.size(); ++i) {
            const timeline::Span& span = recipe.spans[i];
            const timeline::Law& asked = *recipe.laws_of(i);
            // Several spans of the recipe may share a ramp, which may be late where they meet.
            const double budget = (span.ending.kind == timeline::EndingKind::band ? span.ending.band : 1.0) +
                                  std::abs(asked.rate) * late;
            double elapsed = 0;
            for (; at < legal.spans.size() && legal.spans[at].source.begin == i; ++at) {
                const timeline::Law& law = *legal.laws_of(at);
                if (at > 0) RC_ASSERT(std::abs(law.from - legal.laws_of(at - 1)->to) <= 1e-6);
                if (asked.kind == timeline::LawKind::line)
                    RC_ASSERT(std::abs(law.from - wanted(recipe, i, elapsed)) <= budget + 1e-6);
                elapsed += legal.spans[at].ending.duration;
            }
            // Natural coolings that go on share one step, down to the last of their targets.
            const bool cools = span.ending.kind == timeline::EndingKind::passes;
            if (cools)
                RC_ASSERT(legal.laws_of(at - 1)->to <= asked.to + budget + 1e-6);
            else
                RC_ASSERT(std::abs(legal.laws_of(at - 1)->to - asked.to) <= budget + 1e-6);
            if (span.ending.kind == timeline::EndingKind::certain)
                RC_ASSERT(elapsed >= span.duration.lo - 1e-6);
            else if (span.ending.kind == timeline::EndingKind::fixed ||
                     span.ending.kind == timeline::EndingKind::band)
                RC_ASSERT(std::abs(elapsed - span.ending.duration) <= late + 1e-6);
        }
        RC_ASSERT(at == legal.spans.size());
    }));
    std::string text;
    for (const auto& [what, count] : seen) text += what + " " + std::to_string(count) + ", ";
    MESSAGE(text);
    CHECK(seen["keyed"] > 30);
}
