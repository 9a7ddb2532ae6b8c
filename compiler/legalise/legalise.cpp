#include "compiler/legalise/legalise.hpp"

#include "compiler/legalise/fold.hpp"
#include "compiler/legalise/walk.hpp"
#include "compiler/legalise/wiring.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::legalise {

using timeline::Index;
using timeline::Repeat;
using timeline::Timeline;

namespace {

/// Where a segment may not go on from one span to the next. Passes count only where loops can hold them.
std::vector<bool> boundaries(const Timeline& timeline, const program::Controller& controller) {
    std::vector<bool> boundary(timeline.spans.size() + 1, false);
    for (const timeline::Run& run : timeline.runs)
        boundary[std::min<std::size_t>(run.first, timeline.spans.size())] = true;
    if (controller.loop_levels == 0) return boundary;
    for (const Repeat& repeat : timeline.repeats)
        for (Index pass = 0; pass <= repeat.passes; ++pass) {
            const std::size_t at = repeat.first + std::size_t{pass} * repeat.spans;
            if (at < boundary.size()) boundary[at] = true;
        }
    return boundary;
}

/// Gives every pass of a repeat the longest of the waits that its passes need; true when something grew.
bool level_waits(const std::vector<Repeat>& repeats, const std::vector<double>& waits,
                 std::vector<double>& at_least) {
    bool grew = false;
    for (const Repeat& repeat : repeats)
        for (Index offset = 0; offset < repeat.spans; ++offset) {
            double longest = 0;
            for (Index pass = 0; pass < repeat.passes; ++pass) {
                const Index i = repeat.first + pass * repeat.spans + offset;
                longest = std::max({longest, waits[i], at_least[i]});
            }
            for (Index pass = 0; pass < repeat.passes; ++pass) {
                const Index i = repeat.first + pass * repeat.spans + offset;
                if (waits[i] <= 0 || longest <= waits[i]) continue;
                grew = grew || longest > at_least[i];
                at_least[i] = longest;
            }
        }
    return grew;
}

bool zones_fit(const Timeline& timeline, const program::Controller& controller, Diagnostics& out) {
    if (timeline.zones.size() <= controller.zones) return true;
    out.error(Code::value_not_settable, timeline.spans.empty() ? controller.source : timeline.spans[0].source,
              fmt::format("the rig has {} zones, {} drives {}", timeline.zones.size(), controller.name,
                          controller.zones))
        .also(controller.source, "the controller")
        .remedy(fmt::format("a controller with {} zones", timeline.zones.size()));
    return false;
}

/// Times and starts are for people: a microsecond is beyond what anyone reads, and sums leave less behind.
void tidy(program::Segment& segment) {
    for (double* value :
         {&segment.start_degC, &segment.duration_s, &segment.duration_lo_s, &segment.duration_hi_s})
        if (std::isfinite(*value)) *value = std::round(*value * 1e6) / 1e6;
}

struct Keyed {
    Walked walked;
    Folded folded;
};

Keyed key(const Timeline& timeline, const plant::Plant& plant, const program::Controller& controller,
          const Wiring& wiring, const std::vector<bool>& continues, const Files& files, Diagnostics& out) {
    WalkInput input{timeline,   plant,
                    controller, wiring,
                    files,      boundaries(timeline, controller),
                    continues,  std::vector<double>(timeline.spans.size(), 0.0)};
    Diagnostics found;
    Walked walked = walk(input, found);
    // Longer waits in one pass may shorten or lengthen those behind it: repeat until the passes agree. Where
    // they do not, the repeat is simply unrolled.
    for (int round = 0; controller.loop_levels > 0 && round < 6; ++round) {
        if (!level_waits(timeline.repeats, walked.waits, input.at_least)) break;
        found = Diagnostics{};
        walked = walk(input, found);
    }
    for (const Diagnostic& diagnostic : found.all()) out.add(diagnostic);
    Folded folded = fold(walked, timeline.repeats, controller);
    return {std::move(walked), std::move(folded)};
}

} // namespace

Legalised legalise(const Timeline& recipe, const plant::Plant& plant, const program::Controller& controller,
                   const Files& files, Diagnostics& out) {
    Legalised result;
    result.program.recipe = recipe.recipe;
    result.program.title = recipe.title;
    result.program.rig = recipe.rig;
    result.program.controller = controller;
    result.program.zones = recipe.zones;
    result.timeline = recipe;
    const std::size_t errors = out.errors();
    if (!zones_fit(recipe, controller, out)) return result;

    Wiring wiring = wire(recipe, controller, out);
    assign_thresholds(wiring, recipe, plant, controller);
    Timeline split;
    std::vector<bool> continues(recipe.spans.size(), false);
    const Timeline* timeline = &recipe;
    const auto all = static_cast<std::uint32_t>(
        (std::uint64_t{1} << std::min<std::size_t>(32, recipe.thresholds.size())) - 1);
    if ((all & ~wiring.threshold_bits) != 0) {
        Split cut = split_thresholds(recipe, all & ~wiring.threshold_bits, controller, out);
        split = std::move(cut.timeline);
        timeline = &split;
        continues.assign(split.spans.size(), true);
        for (const Index first : cut.map)
            if (first < continues.size()) continues[first] = false;
    }

    Diagnostics found;
    Keyed keyed = key(*timeline, plant, controller, wiring, continues, files, found);
    for (const Diagnostic& diagnostic : found.all()) out.add(diagnostic);
    result.program.outputs = wiring.outputs;
    result.program.channels = wiring.channel_names(recipe);
    const auto with_loops = [&] {
        program::Controller looping = controller;
        looping.loop_levels = 8;
        looping.passes_lo = 2;
        looping.passes_hi = 9999;
        Diagnostics ignored;
        return key(*timeline, plant, looping, wiring, continues, files, ignored).folded.rows.size() + 1;
    };
    // Rows made with a reported poison value say nothing about the number of segments.
    Diagnostics silent;
    result.program.parts = pack(keyed.folded, keyed.walked, controller, wiring.thresholds, with_loops,
                                found.any_error() ? silent : out);
    for (program::Part& part : result.program.parts)
        for (program::Segment& segment : part.segments) tidy(segment);
    result.timeline = std::move(keyed.walked.built.timeline);
    result.setpoint_error = keyed.walked.setpoint_error;
    result.instant_error = keyed.walked.instant_error;
    result.complete = out.errors() == errors;
    return result;
}

} // namespace athanor::legalise
