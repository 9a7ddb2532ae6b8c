#include "compiler/legalise/legalise.hpp"

#include "compiler/legalise/fold.hpp"
#include "compiler/legalise/limits.hpp"
#include "compiler/legalise/order.hpp"
#include "compiler/legalise/walk.hpp"
#include "compiler/legalise/wiring.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

namespace athanor::legalise {

using timeline::Index;
using timeline::Repeat;
using timeline::Timeline;

namespace {

/// Where a segment may not go on from one span to the next: runs, and the passes of the repeats that are kept
/// apart so that a loop can hold them.
std::vector<bool> boundaries(const Timeline& timeline, const std::vector<bool>& apart) {
    std::vector<bool> boundary(timeline.spans.size() + 1, false);
    for (const timeline::Run& run : timeline.runs)
        boundary[std::min<std::size_t>(run.first, timeline.spans.size())] = true;
    for (std::size_t r = 0; r < timeline.repeats.size(); ++r) {
        if (!apart[r]) continue;
        const Repeat& repeat = timeline.repeats[r];
        for (Index pass = 0; pass <= repeat.passes; ++pass) {
            const std::size_t at = repeat.first + std::size_t{pass} * repeat.spans;
            if (at < boundary.size()) boundary[at] = true;
        }
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
    Diagnostics found;
};

/// What the timeline became before it is keyed.
struct Prepared {
    const Timeline& timeline;
    std::vector<bool> continues, rearmed, ordering;
};

class Keying {
public:
    Keying(const Prepared& prepared, const plant::Plant& plant, const program::Controller& controller,
           const Wiring& wiring, const Files& files, const Limits& limits, bool nearest, Texts texts)
        : prepared_(prepared), plant_(plant), c_(controller), wiring_(wiring), files_(files), limits_(limits),
          nearest_(nearest),
          // What a loop's row says decides whether it is one.
          texts_(controller.loop_levels > 0 ? Texts::all : texts) {}

    /// The passes of a repeat are kept apart for a loop, unless fewer segments are left without that.
    Keyed best() const {
        const std::size_t repeats = prepared_.timeline.repeats.size();
        std::vector<bool> apart(repeats, c_.loop_levels > 0);
        Keyed best = once(apart);
        if (!best.walked.parted) return best;
        const auto offer = [&](const std::vector<bool>& choice) {
            Keyed other = once(choice);
            if (other.found.errors() > best.found.errors()) return false;
            if (other.found.errors() == best.found.errors() &&
                other.folded.rows.size() >= best.folded.rows.size())
                return false;
            best = std::move(other);
            return true;
        };
        if (repeats <= most_tried) {
            for (std::size_t mask = 0; mask + 1 < std::size_t{1} << repeats; ++mask) {
                std::vector<bool> choice(repeats);
                for (std::size_t r = 0; r < repeats; ++r) choice[r] = (mask >> r & 1U) != 0;
                offer(choice);
            }
            return best;
        }
        for (std::size_t r = 0; r < std::min(repeats, most_single); ++r) {
            std::vector<bool> choice = apart;
            choice[r] = false;
            if (offer(choice)) apart = choice;
        }
        return best;
    }

private:
    /// Repeats of which every combination is tried, and of which each is tried alone.
    static constexpr std::size_t most_tried = 3, most_single = 24;

    Keyed once(const std::vector<bool>& apart) const {
        const Timeline& timeline = prepared_.timeline;
        WalkInput input{timeline,
                        plant_,
                        c_,
                        wiring_,
                        files_,
                        boundaries(timeline, apart),
                        prepared_.continues,
                        prepared_.rearmed,
                        prepared_.ordering,
                        std::vector<double>(timeline.spans.size(), 0.0),
                        limits_,
                        memory_,
                        texts_,
                        nearest_};
        Diagnostics found;
        Walked walked = walk(input, found);
        // Longer waits in one pass may shorten or lengthen those behind it: repeat until the passes agree.
        // Where they do not, the repeat is simply unrolled.
        for (int round = 0; c_.loop_levels > 0 && round < 6; ++round) {
            if (!level_waits(timeline.repeats, walked.waits, input.at_least)) break;
            found = Diagnostics{};
            walked = walk(input, found);
        }
        Folded folded = fold(walked, timeline, c_);
        return {std::move(walked), std::move(folded), std::move(found)};
    }

    const Prepared& prepared_;
    const plant::Plant& plant_;
    const program::Controller& c_;
    const Wiring& wiring_;
    const Files& files_;
    const Limits& limits_;
    mutable Memory memory_;
    bool nearest_;
    Texts texts_;
};

} // namespace

Legalised legalise_within(const Limits& limits, const Timeline& recipe, const plant::Plant& plant,
                          const program::Controller& controller, const Files& files, Diagnostics& out,
                          bool nearest, Texts texts) {
    Legalised result;
    result.program.recipe = recipe.recipe;
    result.program.title = recipe.title;
    result.program.rig = recipe.rig;
    result.program.controller = controller;
    result.program.zones = recipe.zones;
    const std::size_t errors = out.errors();
    if (!zones_fit(recipe, controller, out)) {
        result.timeline = recipe;
        return result;
    }

    Wiring wiring = wire(recipe, controller, out);
    assign_thresholds(wiring, recipe, plant, controller);
    Timeline split;
    std::vector<bool> continues(recipe.spans.size(), false);
    const Timeline* timeline = &recipe;
    // Per span of the recipe: its first one after the split.
    std::vector<Index> first_of(recipe.spans.size() + 1);
    std::iota(first_of.begin(), first_of.end(), Index{0});
    const auto all = static_cast<std::uint32_t>((std::uint64_t{1} << recipe.thresholds.size()) - 1);
    if ((all & ~wiring.threshold_bits) != 0) {
        Split cut = split_thresholds(recipe, all & ~wiring.threshold_bits, controller, out);
        split = std::move(cut.timeline);
        first_of = cut.map;
        timeline = &split;
        continues.assign(split.spans.size(), true);
        for (const Index first : cut.map)
            if (first < continues.size()) continues[first] = false;
    }
    const Ordered ordered = keep_order(*timeline, plant, controller);
    if (ordered.timeline) timeline = &*ordered.timeline;
    const std::vector<bool> no(timeline->spans.size(), false);
    Prepared prepared{*timeline, no, no, ordered.inserted};
    for (std::size_t i = 0; i < continues.size(); ++i)
        if (continues[i]) prepared.continues[ordered.map[i]] = true;
    for (std::size_t i = 1; i < recipe.spans.size() && !recipe.thresholds.empty(); ++i)
        if (recipe.states[recipe.spans[i].state].armed != recipe.states[recipe.spans[i - 1].state].armed)
            prepared.rearmed[ordered.map[first_of[i]]] = true;

    Keyed keyed = Keying(prepared, plant, controller, wiring, files, limits, nearest, texts).best();
    for (const Diagnostic& diagnostic : keyed.found.all()) out.add(diagnostic);
    result.program.outputs = wiring.outputs;
    result.program.channels = wiring.channel_names(recipe);
    const auto with_loops = [&] {
        program::Controller looping = controller;
        looping.loop_levels = 8;
        looping.passes_lo = 2;
        looping.passes_hi = 9999;
        const Keyed looped = Keying(prepared, plant, looping, wiring, files, limits, nearest, texts).best();
        return looped.folded.rows.size() + 1;
    };
    if (texts == Texts::all) explain(keyed.folded, controller);
    // Rows made with a reported poison value say nothing about the number of segments.
    Diagnostics silent;
    result.program.parts = pack(keyed.folded, keyed.walked, controller, wiring.thresholds, with_loops,
                                keyed.found.any_error() ? silent : out);
    if (texts == Texts::all)
        for (program::Part& part : result.program.parts)
            for (program::Segment& segment : part.segments) tidy(segment);
    result.timeline = std::move(keyed.walked.built.timeline);
    result.setpoint_error = keyed.walked.setpoint_error;
    result.instant_error = keyed.walked.instant_error;
    result.displaced = keyed.walked.displaced;
    result.complete = out.errors() == errors;
    return result;
}

} // namespace athanor::legalise
