#pragma once
#include "compiler/quantity/few.hpp"
#include "compiler/quantity/interval.hpp"
#include "compiler/quantity/type.hpp"
#include "compiler/source/span.hpp"
#include "compiler/timeline/paths.hpp"

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

/// The first hinge: what happens in the work tube, as plain data that depends on no controller.
/// A timeline is a row of spans. A span has one set-point law per zone, one discrete state and one ending;
/// everything else (temperature, composition, pressure) is a bound that the plant computes from it.
/// Time is an interval: a span holds the interval of its own duration, never an absolute instant.
/// SI throughout: K, s, K/s, Pa, mol/s.
namespace athanor::timeline {

using Index = std::uint32_t;
inline constexpr Index none = 0xFFFFFFFFU;

// --- conditions ----------------------------------------------------------------------------------

enum class SignalKind : std::uint8_t {
    temperature, // every point of the hot zone: control point, load, all zones; index: see `without_sample`
    zone_temperature, // index: zone
    load_temperature,
    setpoint,    // of zone `index`, or of the first
    pressure,    // absolute
    flow,        // all that flows in; index: one line
    hazard_flow, // what flows in through the lines whose gas carries a hazard; index: the class (check::Hazard)
    fraction,    // index: species; free gas and pore gas
    dew_point,
    flammability,       // fuel over its lower limit in air, 1 = at the limit
    ignitability,       // below 1 nothing in the tube can burn: fuel or oxygen is below its limit at every
                        // temperature
    outflow_margin,     // inflow over what the tube may draw in by contraction and leak
    overpressure,       // over the room of the day
    rated_overpressure, // what seals and tube are rated for
    swept,              // tube volumes since air was last let in
    elapsed,
    burning, // s since the burner was lit; 0 while it is off
    burner,
    pump,       // boolean
    extraction, // boolean: the exhaust leads into an extraction that draws
    line_open,  // boolean; index: line
    constant    // boolean; index 0 or 1
};

/// Index of a `temperature`: of the hot zone alone, whatever a slide brings into it.
inline constexpr Index without_sample = 0;

struct Signal {
    SignalKind kind = SignalKind::constant;
    Index index = none;
    bool operator==(const Signal&) const = default;
};

enum class Comparison : std::uint8_t { less, less_equal, greater, greater_equal };

/// A condition in postfix order: comparisons and boolean signals push, and/or/not reduce.
struct Term {
    enum class Kind : std::uint8_t { compare, truth, and_, or_, not_ };
    Kind kind = Kind::truth;
    Comparison comparison = Comparison::less;
    Signal left;
    Signal right{SignalKind::constant, none}; // asked where `right_is_signal`
    bool right_is_signal = false;
    Interval value; // right side; added to `right` where that is a signal
};

struct Condition {
    std::vector<Term> terms; // empty: always true
    athanor::Span source;
    bool empty() const { return terms.empty(); }
};

// --- equipment as the timeline sees it -----------------------------------------------------------

struct Line {
    std::string name;
    Index output = 0; // 0: no output, worked by hand
    bool open_without_power = false;
    bool used = false;     // the recipe names it; one that is never named and worked by hand is shut by hand
    bool channel = false;  // a controlled meter whose flow an analogue channel sets
    double per_volume = 0; // mol/s of one m3/s at the meter's reference; 0: the meter reads an amount of gas
    /// Without power, and behind the end, whatever the recipe says; until then its output must hold it shut.
    bool falls_open() const { return output != 0 && open_without_power; }
    bool ever_open() const { return used || falls_open(); }
};

/// Burner and pump valve, where they are switched by an output.
struct Device {
    Index output = 0;
    bool present = false;
    bool on_without_power = false;
};

// --- states --------------------------------------------------------------------------------------

inline constexpr Index most_thresholds = 32; // bits of State::armed

/// Everything that is switched. Two spans with equal states share one entry of `Timeline::states`.
struct State {
    Few<double> flows;         // per line: set flow, mol/s; 0 = closed
    Few<std::uint8_t, 8> open; // per line: 1 = open; a line can be open at a flow that a person must still set
    std::uint32_t armed = 0;   // bit per standing threshold that may act
    bool burner = false;
    bool pump = false;      // pump running and its valve open
    bool tube_open = false; // a person may have the tube open: air comes in
    double regulated = 0;   // pressure that a throttle holds, Pa; 0 = none
    bool bubbler = false;   // the bubbler's line is led through its bath
    double bath = 0;        // K, what the bath is set to; 0: dry
    bool slide = false;     // the slide's output is energised
    Index place = none;     // where the sample stands: Timeline::places; none: in the hot zone
    bool powered = true;
    /// What flows through each line, mol/s, where no set flow says it: after a power failure, or over a range
    /// of a parameter. Empty: `flows`.
    std::vector<Interval> between;
    bool operator==(const State&) const = default;
};

/// A place along the tube to which a slide moves the sample.
struct Place {
    std::string name;
    bool hot = true; // inside the heated length
};

inline constexpr std::size_t most_evolved = 8; // gases that a load gives off

/// Gas that the load gives off while a line may be open (`none`: always) and some of it may be hotter than a
/// temperature.
struct Evolved {
    Index species = none;
    double flow = 0; // mol/s, the greatest
    Index line = none;
    double above = 0; // K
};

/// `keep LINE open at FLOW above T`: a line that follows the measured temperature by itself.
struct Threshold {
    Index line = none;
    double flow = 0;        // mol/s
    double temperature = 0; // K
    bool opens = true;      // open on the named side, closed on the other (or the reverse)
    bool above = true;
    athanor::Span source;
};

// --- spans ---------------------------------------------------------------------------------------

enum class LawKind : std::uint8_t {
    hold, // set-point stays
    line, // straight line from `from` to `to` at `rate`
    off,  // heater off, natural cooling down to `to`, where the controller holds again
    jump  // set-point changes at once to `to`; the furnace follows as it can
};

struct Law {
    LawKind kind = LawKind::hold;
    double from = 0; // K, set-point at entry
    double to = 0;   // K, set-point at exit
    double rate = 0; // K/s, signed; only for `line`
    bool operator==(const Law&) const = default;
};

enum class EndingKind : std::uint8_t {
    fixed,   // after `duration`
    band,    // after `duration` counted only while |measured - setpoint| <= band
    passes,  // when the measured temperature passes `temperature`
    certain, // when `condition` holds for every rig in the intervals
    person   // when a person acknowledges; any length
};

struct Ending {
    EndingKind kind = EndingKind::fixed;
    double duration = 0;    // s; for a `line` law the length of the line
    double band = 0;        // K; > 0 for `band`, and for a keyed `passes` that a soak band ends
    double temperature = 0; // K; only for `passes`
    double at_most = 0;     // s; 0 = no limit given; only for `certain`
    Index condition = none; // Timeline::conditions; only for `certain`
    Index text = none;      // Timeline::texts; only for `person`
    bool quench = false;    // only for `person`: the hot load is taken out, the last thing of its run
};

enum class ActionKind : std::uint8_t {
    open,
    close,
    set,
    switch_to,
    close_all,
    light,
    shut,
    start_pump,
    stop_pump,
    regulate,
    note,
    open_tube,
    arm,
    disarm,
    move,
    humidify // line: the bubbler's
};

struct Action {
    ActionKind kind = ActionKind::note;
    Index line = none;
    double value = 0;  // flow mol/s, pressure Pa, K of the bath (`humidify`)
    Index text = none; // Timeline::texts
    Index state = 0;   // discrete state after this action
    athanor::Span source;
};

/// What a step took from a `defaults` block: bits of `Span::defaulted`, for people.
namespace defaulted {
inline constexpr std::uint8_t rate = 1, time = 2, gas = 4, flow = 8;
}

struct Span {
    Ending ending;
    Interval duration;                   // s, resolved by the plant; [x, inf] for a person
    Index state = 0;                     // into Timeline::states
    Index first_action = 0, actions = 0; // what happens at its entry, in order
    Index path = none;                   // Timeline::paths
    std::uint8_t defaulted = 0;          // which values came from a `defaults` block: bits, see above
    athanor::Span source;
};

struct Requirement {
    Index condition = none, guard = none; // Timeline::conditions
    Index first_span = 0, last_span = 0;  // half-open range of spans
    athanor::Span source;
    bool to_end = false; // of the run: it stands in no block that ends before
};

struct Expectation {
    Index condition = none;
    Index boundary = 0;      // before span `boundary`, after its actions that stand earlier in the text
    Index after_actions = 0; // how many of the boundary's actions come before it
    athanor::Span source;
};

/// A plain repeat: `passes` copies of `spans` spans from `first`, equal but for resolved durations.
struct Repeat {
    Index first = 0, spans = 0, passes = 0;
    athanor::Span source;
};

/// A place from which the run may also go on further behind: a person may end a repeat there.
struct Exit {
    Index from = 0, to = 0; // boundaries: before the span of that index
};

/// One `run` block, or the whole recipe.
struct Run {
    std::string name;
    Index first = 0, last = 0; // half-open
};

struct Parameter {
    std::string name, value; // value as a person writes it
    bool given = false;      // by --set or a call, not by default
};

struct Timeline {
    std::string recipe, title, rig, controller;
    std::vector<Parameter> parameters;
    std::vector<std::string> zones;   // at least one
    std::vector<std::string> species; // every gas that can be in the tube
    std::vector<Line> lines;
    Device burner, pump, bubbler, slide;
    Index bubbler_line = none;
    std::vector<Place> places;
    std::vector<Evolved> evolved;

    std::vector<State> states; // states[0] is the state before the first action
    std::vector<Law> laws;     // zones.size() entries a span
    /// Only where the timeline stands for a range of parameters: the highest set-points and the last endings,
    /// `laws` and the spans' own being the lowest and the first.
    std::vector<Law> laws_most;
    std::vector<Ending> endings_most; // one a span
    std::vector<Span> spans;
    std::vector<Action> actions; // in order; those after the last span are [end_first, end_first + end_actions)
    Index end_first = 0, end_actions = 0;
    Index end_state = 0;

    std::vector<Threshold> thresholds; // at most most_thresholds
    std::vector<Condition> conditions;
    std::vector<Requirement> requirements;
    std::vector<Expectation> expectations;
    std::vector<Repeat> repeats;
    std::vector<Exit> exits;
    std::vector<Run> runs; // at least one
    std::vector<std::string> texts;
    Paths paths;

    const Law* laws_of(std::size_t span) const { return laws.data() + span * zones.size(); }
    Law* laws_of(std::size_t span) { return laws.data() + span * zones.size(); }
};

/// The timeline as text, one span a line, every field: `--emit timeline`.
std::string print(const Timeline& timeline);
/// A condition as a person would write it: "oxygen < 10 ppm and burner".
std::string print(const Condition& condition, const Timeline& timeline);
std::string print(Signal signal, const Timeline& timeline);
/// The kind in which people read a signal's values.
Kind kind_of(SignalKind signal);
/// A set flow as its meter shows it: "1.5 L/min", or "500 sccm" where the meter reads an amount of gas.
std::string flow_text(const Line& line, double flow, int digits = 4);

} // namespace athanor::timeline
