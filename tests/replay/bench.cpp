#include "tests/replay/bench.hpp"

namespace bench {

using program::Segment;
using program::SegmentKind;
using timeline::EndingKind;
using timeline::LawKind;

program::Controller controller() {
    program::Controller c;
    c.name = "bench_controller";
    c.programs = 4;
    c.segments = 20;
    c.linking = true;
    c.loop_levels = 1;
    c.passes_lo = 2;
    c.passes_hi = 999;
    c.setpoint = {{0, 0}, {1200, 0}, {1, 0}};
    c.rate = Grid{{1, -1}, {999, -1}, {1, -1}};
    c.dwell = {{0, 0}, {359940, 0}, {60, 0}};
    c.outputs = 4;
    c.thresholds = 1;
    c.soak_band = Grid{{1, 0}, {99, 0}, {1, 0}};
    c.operator_wait = true;
    c.longest_wait = 6 * 3600.0;
    return c;
}

namespace {

constexpr double zero = 273.15;

struct Maker {
    timeline::Timeline t;
    double setpoint = 23 + zero;

    timeline::Index state(double argon, double hydrogen, bool burner) {
        timeline::State s;
        s.flows = {argon, hydrogen};
        s.open = {argon > 0, hydrogen > 0};
        s.burner = burner;
        for (std::size_t i = 0; i < t.states.size(); ++i)
            if (t.states[i] == s) return static_cast<timeline::Index>(i);
        t.states.push_back(s);
        return static_cast<timeline::Index>(t.states.size() - 1);
    }
    timeline::Span& span(timeline::Law law, timeline::Index state, timeline::Ending ending, Interval duration,
                         const char* path) {
        t.laws.push_back(law);
        timeline::Span s;
        s.state = state;
        s.ending = ending;
        s.duration = duration;
        s.first_action = static_cast<timeline::Index>(t.actions.size());
        s.path = t.paths.add(path);
        t.spans.push_back(s);
        setpoint = law.to;
        return t.spans.back();
    }
    timeline::Ending ending(EndingKind kind, double duration, double band = 0) {
        timeline::Ending e;
        e.kind = kind;
        e.duration = duration;
        e.band = band;
        return e;
    }
    void hold(double seconds, timeline::Index state, const char* path, double band = 0) {
        span({LawKind::hold, setpoint, setpoint, 0}, state,
             ending(band > 0 ? EndingKind::band : EndingKind::fixed, seconds, band),
             band > 0 ? Interval(seconds, seconds + 1800) : Interval(seconds), path);
    }
    void certain(double seconds, timeline::Index state, const char* path) {
        span({LawKind::hold, setpoint, setpoint, 0}, state, ending(EndingKind::certain, 0), seconds, path);
    }
    void ramp(double to_degC, double K_per_min, timeline::Index state, const char* path) {
        double to = to_degC + zero, way = to - setpoint;
        double rate = (way < 0 ? -1 : 1) * K_per_min / 60.0;
        span({LawKind::line, setpoint, to, rate}, state, ending(EndingKind::fixed, way / rate), way / rate,
             path);
    }
    void off(double to_degC, Interval seconds, timeline::Index state, const char* path) {
        timeline::Ending e = ending(EndingKind::passes, 0);
        e.temperature = to_degC + zero;
        span({LawKind::off, setpoint, to_degC + zero, 0}, state, e, seconds, path);
    }
    void person(timeline::Index state, const char* path) {
        span({LawKind::hold, setpoint, setpoint, 0}, state, ending(EndingKind::person, 0), {0, infinity}, path);
    }
};

} // namespace

timeline::Timeline recipe() {
    Maker m;
    m.t.recipe = "bench";
    m.t.zones = {"centre"};
    m.t.lines = {{"argon", 1, true, true, false}, {"hydrogen", 2, false, true, false}};
    m.t.burner = {4, true, false};
    m.t.texts = {"load"};
    auto closed = m.state(0, 0, false), argon = m.state(1e-3, 0, false), lit = m.state(1e-3, 0, true),
         hydrogen = m.state(0, 4e-4, true);
    m.person(closed, "wait 1");
    m.certain(3122, argon, "purge 1");
    m.ramp(300, 4, argon, "ramp 1");
    m.hold(3600, argon, "dwell 1", 5);
    m.ramp(880, 5.03, argon, "ramp 2");
    m.hold(1200, lit, "dwell 2", 5);
    m.hold(3000, hydrogen, "dwell 3");
    std::size_t first = m.t.spans.size();
    for (int i = 0; i < 3; ++i) {
        m.ramp(950, 3, hydrogen, "loop / ramp");
        m.hold(600, hydrogen, "loop / dwell", 3);
        m.ramp(880, 2, hydrogen, "loop / cool");
        m.hold(300, hydrogen, "loop / rest");
    }
    m.t.repeats.push_back({static_cast<timeline::Index>(first), 4, 3, {}});
    m.certain(1000, lit, "dwell 4");
    m.off(60, {9000, 18000}, argon, "cool 1");
    m.hold(600, argon, "dwell 5");
    m.t.runs = {{"", 0, static_cast<timeline::Index>(m.t.spans.size())}};
    m.t.end_state = closed;
    return m.t;
}

program::Program table() {
    program::Program p;
    p.recipe = "bench";
    p.title = "Bench run";
    p.rig = "bench_two";
    p.controller = controller();
    p.zones = {"centre"};
    p.outputs = {{1, "argon", program::OutputUse::line, 0, true},
                 {2, "hydrogen", program::OutputUse::line, 1, false},
                 {4, "burner", program::OutputUse::burner, 0, false}};
    program::Part part;
    auto add = [&](SegmentKind kind, std::int64_t target, std::uint32_t outputs) -> Segment& {
        Segment& s = part.segments.emplace_back();
        s.kind = kind;
        s.targets = {target};
        s.outputs = outputs;
        return s;
    };
    auto dwell = [&](std::int64_t target, std::int64_t minutes, std::uint32_t outputs,
                     std::int64_t band_K = 0) {
        Segment& s = add(SegmentKind::dwell, target, outputs);
        s.dwell = minutes;
        s.band = band_K - 1; // the grid begins at 1 K
        s.duration_s = static_cast<double>(minutes) * 60;
        s.start_degC = static_cast<double>(target);
    };
    auto ramp = [&](std::int64_t target, std::int64_t tenths, std::uint32_t outputs) {
        add(SegmentKind::ramp, target, outputs).rates = {tenths - 1};
    };
    constexpr std::uint32_t closed = 1, argon = 0, lit = 8, hydrogen = 1 + 2 + 8;
    add(SegmentKind::operator_wait, 23, closed).instruction = "Load the boat, \"both\" plugs";
    dwell(23, 53, argon); // 3122 s up
    ramp(300, 40, argon);
    dwell(300, 60, argon, 5);
    // 5.03 K/min is not settable: 5.0 for the most part, 5.1 for the rest, so that the path stays within 1 K.
    ramp(420, 50, argon);
    ramp(520, 51, argon);
    ramp(726, 50, argon);
    ramp(786, 51, argon);
    ramp(880, 50, argon);
    dwell(880, 20, lit, 5);
    dwell(880, 50, hydrogen);
    auto first = static_cast<std::uint32_t>(part.segments.size());
    ramp(950, 30, hydrogen);
    dwell(950, 10, hydrogen, 3);
    ramp(880, 20, hydrogen);
    dwell(880, 5, hydrogen);
    part.loops = {{first, first + 3, 3}};
    dwell(880, 17, lit);                        // 1000 s up
    add(SegmentKind::step, 60, argon).band = 0; // 1 K, no more than a set-point may be off
    dwell(60, 10, argon);
    add(SegmentKind::end, 60, closed);
    part.segments.back().instruction = "=close all";
    p.parts = {part};
    return p;
}

std::vector<std::string> check(const program::Program& table, const timeline::Timeline& recipe) {
    replay::Run run = replay::run(table, 23);
    std::vector<std::string> messages;
    for (const auto& list : {run.problems, replay::compare(run, recipe, table, 1.0)})
        for (const replay::Finding& finding : list) messages.push_back(replay::text_of(finding));
    return messages;
}

std::string joined(const std::vector<std::string>& messages) {
    std::string text;
    for (const std::string& message : messages) text += message + "\n";
    return text;
}

std::string joined(const std::vector<replay::Finding>& findings) {
    std::string text;
    for (const replay::Finding& finding : findings) text += replay::text_of(finding) + "\n";
    return text;
}

} // namespace bench
