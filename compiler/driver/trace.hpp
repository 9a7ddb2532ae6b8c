#pragma once
#include "compiler/plant/plant.hpp"
#include "compiler/timeline/timeline.hpp"

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

/// The state of the rig along a timeline, as plain rows: what `--emit state` prints and `plot` draws.
///
/// A row bounds the state at ONE instant: `after` seconds behind the entry of its span, for every rig inside
/// the declared intervals and for every state with which one of them may enter the span (the entry hull). An
/// `exit` row is the hull over every length that the span may have: the state that the next span is entered
/// with. Where the length of a span is an interval, its rows run up to the middle of it: a row behind the
/// shortest length speaks of the rigs that are still in the span.
namespace athanor::driver {

/// How a value is shown. Logarithmic ones are sampled by their ratio.
enum class Measure : std::uint8_t {
    temperature, // K, shown in degC
    pressure,    // Pa
    flow,        // mol/s, shown in sccm
    fraction,    // 1
    volumes,     // tube volumes
    time,        // s
    truth        // 0 or 1; [0, 1] where it depends on the rig
};

struct TraceColumn {
    std::string name; // without unit and bound: "zone_centre", "oxygen"
    Measure measure = Measure::truth;
    timeline::Signal signal;
};

/// Each signal that means something on this timeline, in a fixed order.
std::vector<TraceColumn> trace_columns(const timeline::Timeline& timeline);

enum class RowKind : std::uint8_t {
    entry,  // just behind the actions of a boundary
    within, // `after` seconds later
    exit,   // hull over every length of the span
    end     // behind the actions that follow the last span
};

struct TraceRow {
    RowKind kind = RowKind::entry;
    std::size_t span = 0; // index into Timeline::spans; their number for `end`
    double after = 0;     // s since the entry of the span
    double time = 0;      // s since the start: sum of the middle lengths, waits for a person left out
    Interval instant;     // s since the start, earliest and latest; waits for a person left out
    const timeline::State* state = nullptr;
    std::vector<double> setpoints; // K, one a zone
    std::vector<Interval> values;  // SI, one a column
};

/// Seconds between the rows of a span; nothing: as many as a smooth curve needs (every 2 K or a tenth of the
/// ratio, say), few on a straight ramp and close ones where a purge begins.
using Every = std::optional<double>;

/// Calls `sink` for every row in order. `plant` must have been made for a timeline with the same species, lines
/// and thresholds.
void trace(const timeline::Timeline& timeline, const plant::Plant& plant,
           const std::vector<TraceColumn>& columns, Every every,
           const std::function<void(const TraceRow&)>& sink);

/// How many rows `trace` would give at least; to refuse what nobody can read.
double least_rows(const timeline::Timeline& timeline, Every every);

/// RFC 4180, header first. Every lower bound is rounded down and every upper one up, to seven digits. `write`
/// is called for each line. `segments`: the controller's segment of each span as text; may be empty.
void write_csv(const timeline::Timeline& timeline, const plant::Plant& plant, Every every,
               const std::vector<std::string>& segments, const std::function<void(const std::string&)>& write);

} // namespace athanor::driver
