// Random small recipes on random controllers: what is keyed replays as the recipe, what is refused is refused
// for a true reason, and no program is longer than the fewest segments that brute force finds.
#include "compiler/legalise/limits.hpp"
#include "compiler/replay/replay.hpp"
#include "tests/legalise/dice.hpp"
#include "tests/legalise/fewest_segments.hpp"
#include "tests/legalise/true_reason.hpp"

#include <doctest/doctest.h>

#include <map>
#include <string>

using namespace athanor;
using bench::Dice;
using bench::Shape;

namespace {

std::string said(const Diagnostics& out) {
    std::string all;
    for (const Diagnostic& d : out.all()) all += std::string(name(d.code)) + ": " + d.message + "\n";
    return all;
}

} // namespace

TEST_CASE("random recipes on random controllers replay as they are written, or are truly refused") {
    constexpr int cases = 20'000;
    Dice dice(20261125);
    bench::Bench bench;
    std::map<std::string, int> seen;
    for (int n = 0; n < cases; ++n) {
        const program::Controller c = bench::any_controller(dice);
        Shape shape;
        shape.spans = dice.between(1, 8);
        // Long ways take longer to try: most are short.
        shape.high = dice.once_in(200) ? 1250 : 100;
        const timeline::Timeline recipe = bench::any_recipe(dice, shape);
        Diagnostics out;
        const legalise::Legalised l = legalise::legalise_within({}, recipe, bench.plant, c, bench.files, out);
        INFO("case ", n);
        if (!l.complete) {
            REQUIRE(out.any_error());
            std::string codes;
            for (const Diagnostic& d : out.all()) {
                if (codes.find(name(d.code)) == std::string::npos)
                    codes += (codes.empty() ? "" : " ") + std::string(name(d.code));
                if (bench::TrueReason(recipe, c).holds(d.code, l.program)) continue;
                INFO(d.message);
                INFO(timeline::print(recipe));
                INFO(program::print(l.program, bench.files));
                REQUIRE(name(d.code) == "a true reason");
            }
            ++seen[codes];
            continue;
        }
        ++seen["keyed"];
        if (l.displaced) ++seen["displaced"];
        const replay::Run run = replay::run(l.program, 23);
        const std::string problems = run.problems.empty() ? "" : replay::text_of(run.problems[0]);
        INFO(problems);
        REQUIRE(run.problems.empty());
        std::vector<replay::Finding> differences = replay::compare(run, recipe, l.program, 1.0);
        // What is proven of it is what it does.
        if (differences.empty()) differences = replay::compare_exactly(run, l.timeline, l.program);
        if (differences.empty()) continue;
        INFO(timeline::print(recipe));
        INFO(program::print(l.program, bench.files));
        REQUIRE(replay::text_of(differences[0]) == "");
    }
    std::string text;
    for (const auto& [what, count] : seen) text += what + " " + std::to_string(count) + ", ";
    MESSAGE(text);
    CHECK(seen["keyed"] > cases * 6 / 10);
}

TEST_CASE("as few segments as brute force finds, and none refused that it keys") {
    Dice dice(31);
    bench::Bench bench;
    int compared = 0, refused = 0, displaced = 0;
    for (int n = 0; n < 2000; ++n) {
        const program::Controller c = bench::small_controller(dice);
        Shape shape;
        shape.spans = dice.between(1, 8);
        shape.low = 13;
        shape.high = 73;
        shape.persons = shape.repeats = false;
        shape.coarsest = 2;
        const timeline::Timeline recipe = bench::any_recipe(dice, shape);
        const int fewest = bench::FewestSegments(recipe, c, 3).count();
        Diagnostics out;
        const legalise::Legalised l = legalise::legalise_within({}, recipe, bench.plant, c, bench.files, out);
        if (fewest == bench::FewestSegments::never) {
            // It may be keyed with more pieces a line than were tried.
            ++refused;
            continue;
        }
        // Brute force knows no furnace: a rounded band may be out of its reach.
        if (out.has(Code::condition_unreachable)) continue;
        ++compared;
        if (l.displaced) ++displaced;
        INFO("case ", n);
        INFO(said(out));
        CHECK(l.complete);
        // Fewer than brute force would be a fault of one of the two.
        CHECK(static_cast<int>(program::segment_count(l.program)) == fewest);
    }
    MESSAGE("compared ", compared, ", of them with another than the nearest set-point ", displaced,
            "; without a program of three pieces a line ", refused);
    CHECK(compared > 600);
}
