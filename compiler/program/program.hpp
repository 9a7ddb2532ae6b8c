#pragma once
#include "compiler/program/decimal.hpp"
#include "compiler/quantity/few.hpp"
#include "compiler/source/file.hpp"
#include "compiler/source/span.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// The second hinge: what is keyed into a controller, as plain data in the controller's own settable values.
/// Every number of a segment is an index into a grid of the controller, so that it is exact.
namespace athanor::program {

/// What a controller can hold, from its `controller` declaration. Grids are in degC, K/min and s.
struct Controller {
    std::string name, title;
    athanor::Span source;
    bool broken = false; // an error was reported inside; nothing is keyed for it
    std::uint32_t programs = 1, segments = 0;
    bool linking = false;
    std::uint32_t loop_levels = 0, passes_lo = 0, passes_hi = 0;
    std::uint32_t zones = 1;
    Grid setpoint;                 // degC
    std::optional<Grid> rate;      // K/min
    std::optional<Grid> ramp_time; // s
    Grid dwell;                    // s
    std::uint32_t outputs = 0, thresholds = 0, channels = 0;
    std::optional<Grid> soak_band; // K
    bool operator_wait = false;
    bool starts_from_measured = true;
    double start_setpoint = 0;   // degC, when it starts from a set-point
    bool ramp_and_dwell = false; // one segment holds a ramp and the dwell behind it
    bool band_on_ramps = false;
    bool holds_at_end = false;
    enum class Power : std::uint8_t { undeclared, stop, resume } after_power_failure = Power::undeclared;
    std::optional<double> longest_wait; // s; a band not reached by then ends the programme
};

enum class OutputUse : std::uint8_t { line, burner, pump, bubbler, slide, other };

struct Output {
    std::uint32_t number = 0; // from 1
    std::string name;         // "argon", "burner"
    OutputUse use = OutputUse::line;
    std::uint32_t line = 0;        // index of the line in the timeline, for `line`
    bool on_without_power = false; // valve open (burner lit, pump valve open) when the output is not energised
};

enum class SegmentKind : std::uint8_t {
    ramp,          // set-point line to `target`
    dwell,         // hold
    step,          // set-point jumps to `target`, then waits for the band if one is given
    ramp_dwell,    // a controller whose segments hold both
    operator_wait, // until a person acknowledges
    end
};

/// Indices into a grid, or channel values: one a zone or channel.
using Values = Few<std::int64_t>;

/// Where a segment comes from and why it exists: the parts of a sentence, which `text` puts together. Most
/// programs are never asked for it. The parts without a place are literals.
struct Why {
    const char* what = ""; // "dwell", "ramp"; a whole sentence where nothing is placed
    const char* behind_place = "";
    const char* apart = "";  // why it does not go on in the segment before it
    athanor::Span at, up_to; // of the first and the last step that the segment stands for
    bool placed = false;     // " at " and the place of `at` follow `what`
    bool several = false;    // `up_to` counts
    std::string more;        // what only some segments have: numbers, other segments' reasons
};

struct Segment {
    SegmentKind kind = SegmentKind::dwell;
    std::uint8_t defaulted = 0;  // for people, as what stands at the end: what came from a `defaults` block,
                                 // in bits (timeline::defaulted); a table says only that something did
    std::uint32_t outputs = 0;   // bit n-1: output number n energised
    Values targets;              // per zone: index into Controller::setpoint; held value for a dwell
    Values rates;                // per zone: index into Controller::rate; empty in time form
    std::int64_t ramp_time = -1; // index into Controller::ramp_time; -1 in rate form
    std::int64_t dwell = -1;     // index into Controller::dwell; -1 = none
    std::int64_t band = -1;      // index into Controller::soak_band; -1 = none
    Values channels;             // sccm times 1000, per channel

    // For people and for provenance; replay does not read them.
    std::string instruction; // valves and gases in words
    athanor::Span source;
    Why why;                                     // for --explain-segments
    double start_degC = 0, duration_s = 0;       // nominal
    double duration_lo_s = 0, duration_hi_s = 0; // a wait for a person counts 0
};

/// Segments first..last (indices within the part) run `passes` times in all.
struct Loop {
    std::uint32_t first = 0, last = 0, passes = 0;
};

/// An output that follows the measured temperature by itself.
struct ThresholdOutput {
    std::uint32_t output = 0;     // number from 1
    std::int64_t temperature = 0; // index into Controller::setpoint
    bool energised_above = true;  // energised above, not energised below (or the reverse)
    std::string instruction;
    athanor::Span source;
};

/// One stored programme of the controller.
struct Part {
    std::uint32_t number = 1;
    std::uint32_t next = 0; // linked programme, 0 = none
    std::string hand_over;  // what a person does before it is started, where programmes stand in for a wait
    std::vector<Segment> segments; // the last one is `end`
    std::vector<Loop> loops;
    std::vector<ThresholdOutput> thresholds;
};

struct Program {
    std::string recipe, title, rig;
    Controller controller;
    std::vector<std::string> zones;
    std::vector<Output> outputs;       // in the order of their numbers
    std::vector<std::string> channels; // line names, in the order of their channels
    std::vector<Part> parts;
};

std::string_view name(SegmentKind kind); // "ramp", "dwell", "step", "ramp_dwell", "operator", "end"

/// "ramp at sinter.ath:12; apart from the one before it: a dwell stands before the ramp"; empty where no reason
/// is kept. `files`: those that the spans are of.
std::string text(const Why& why, const Files& files);

/// The whole program, every field, numbers as the controller's decimals in degC, K/min and s: `--emit program`.
/// `files`: those that the spans are of.
std::string print(const Program& program, const Files& files);

/// Segments that a controller must hold, over all parts. An `end` takes a place: it is keyed like one.
std::uint32_t segment_count(const Program& program);

} // namespace athanor::program
