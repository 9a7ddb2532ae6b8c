#pragma once
#include "compiler/legalise/limits.hpp"
#include "compiler/legalise/retimed.hpp"
#include "compiler/legalise/rounding.hpp"
#include "compiler/legalise/rows.hpp"
#include "compiler/legalise/wiring.hpp"
#include "compiler/plant/plant.hpp"
#include "compiler/program/program.hpp"
#include "compiler/source/diagnostic.hpp"
#include "compiler/source/file.hpp"
#include "compiler/timeline/timeline.hpp"

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

/// The way through a timeline from left to right: one keyed row after the other, each on the rounded prefix.
namespace athanor::legalise {

struct Walked {
    Rows rows; // without `end`
    program::Segment end;
    std::optional<ProgramStart> last_wait; // a hand-over behind which nothing but the end comes
    std::vector<timeline::Index> row_of;   // per span of the recipe, and one behind: the first row from it on
    /// Per span of the recipe: rounded length of the sufficient wait that begins there, s.
    std::vector<double> waits;
    Retimed built;
    double setpoint_error = 0, instant_error = 0;
    bool parted = false;    // passes of a repeat were kept apart where one segment might have gone on
    bool displaced = false; // some set-point is not the nearest, because that saves segments
    explicit Walked(const timeline::Timeline& timeline) : waits(timeline.spans.size(), 0.0), built(timeline) {}
};

/// What is worked out again and again while the same timeline is keyed in several ways.
struct Memory {
    /// The set-points at the ends of a row of lines, by their spans and the set-point before the first.
    std::map<std::pair<std::vector<timeline::Index>, double>, std::vector<std::int64_t>> ends;
    /// Plans, by all that a line asks.
    std::map<std::vector<double>, RampPlan> plans;
    /// A line that one segment follows, found without a search, as it was asked last.
    struct Line {
        timeline::Index last =
            timeline::none;  // span; none: it was asked between others since, and is not known
        bool fused = false;  // as asked
        double duration = 0; // s, as asked
        Degrees from;
        OneRamp plan;
    };
    std::vector<Line> lines;            // room for one a span: they never move
    std::vector<std::uint32_t> line_of; // per first span: 1 + index into `lines`; 0: none
};

struct WalkInput {
    const timeline::Timeline& timeline;
    const plant::Plant& plant;
    const program::Controller& controller;
    const Wiring& wiring;
    const Files& files;
    /// Spans at whose start no segment may go on from before: passes of repeats and runs.
    std::vector<bool> boundary;
    /// Spans that are the rest of a line which a threshold has cut.
    std::vector<bool> continues;
    /// Spans before which a standing threshold is armed or disarmed: a line there is another line, though no
    /// output shows it.
    std::vector<bool> rearmed;
    /// Shortest spans that only keep two actions of one instant in their order.
    std::vector<bool> ordering;
    /// Smallest length of the waits that begin at a span, s: the longest of the passes of a folded repeat.
    std::vector<double> at_least;
    const Limits& limits;
    Memory& memory;
    Texts texts = Texts::all;
    bool nearest = false; // every set-point is the nearest, whatever it costs
};

Walked walk(const WalkInput& input, Diagnostics& out);

} // namespace athanor::legalise
