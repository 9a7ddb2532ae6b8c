#pragma once
#include "compiler/program/program.hpp"
#include "compiler/replay/finding.hpp"
#include "compiler/timeline/timeline.hpp"

#include <string>
#include <vector>

/// An interpreter of controllers, written without a look at the legaliser: of the stages it shares the two
/// hinges alone, and below them quantity and source.
namespace athanor::replay {

/// One stretch of what the controller does: a set-point law, outputs, a way to end.
struct Stretch {
    enum class Kind : std::uint8_t { line, hold, jump, person } kind = Kind::hold;
    std::vector<double> from_degC, to_degC; // per zone
    double rate_K_per_min = 0;              // of the zone that moves longest
    double duration_s = 0;      // exact for lines and dwells; for a jump 0: its wait, if any, is the band's
    std::vector<double> zone_s; // per zone, for a line: when its own line ends, <= duration_s
    double band_K = 0;          // 0 = none
    double longest_wait_s = 0;  // for a band; 0 = no limit
    std::vector<bool> outputs;  // by number - 1: energised
    std::vector<double> channels_sccm;
    std::uint32_t part = 1, segment = 1;
    bool between = false; // a person's wait between programmes: the controller runs none of them
    RowName row() const { return {part, between ? 0U : segment}; }
};

struct Run {
    std::vector<Stretch> stretches; // loops unrolled, links followed
    std::vector<bool> end_outputs;  // as the last end segment keys them; they fall where the controller does
    std::vector<double> end_channels_sccm; // the same of the channels; empty: nothing is said
    std::vector<Finding> problems;         // a program that the controller could not hold or run
};

/// Executes a program as the controller declaration says. `start_degC`: measured temperature at the start,
/// of every zone.
Run run(const program::Program& program, double start_degC);

/// The programme that was compiled of the recipe itself, and its run.
struct Own {
    const Run& run;
    const program::Program& program;
};

/// How long a table waits at a set-point, and how long the recipe's own programme does: spans [first, last) of
/// the recipe.
struct OtherWait {
    std::size_t first = 0, last = 0;
    double seconds = 0, own_seconds = 0;
    RowName row{0, 0};
    bool differs() const { return seconds > own_seconds + 1e-3 || seconds < own_seconds - 1e-3; }
};

/// Refinement: the same discrete states in the same order, every duration inside its interval, set-points
/// within the budget (`setpoint_budget` K; the legaliser may use up a soak band). Empty = it refines; else the
/// differences. `hands`: what the instructions leave set by hand must be the recipe's, too; without it they are
/// not read. `texts`: each free text must be read at the recipe's step.
/// `own`: what the recipe's own programme needs of a soak band and of a wait for a pressure is all that any
/// table may take, and `others` gets all waits where some
/// is not its own.
std::vector<Finding> compare(const Run& run, const timeline::Timeline& timeline,
                             const program::Program& program, double setpoint_budget, bool hands = false,
                             bool texts = false, const Own* own = nullptr,
                             std::vector<OtherWait>* others = nullptr);

/// Whether the controller does exactly what the legalised timeline says, to the instant: what was proven is
/// what will run. Empty, or the first difference. `hands` as above.
std::vector<Finding> compare_exactly(const Run& run, const timeline::Timeline& proven,
                                     const program::Program& program, bool hands = false);

} // namespace athanor::replay
