#pragma once
#include "compiler/check/model.hpp"
#include "compiler/program/program.hpp"
#include "compiler/timeline/timeline.hpp"

#include <string>
#include <utility>
#include <vector>

/// Timelines and controllers built by hand, for the tests of the legaliser.
namespace athanor::bench {

inline Grid grid(const char* lo, const char* hi, const char* step) {
    return {*Decimal::parse(lo), *Decimal::parse(hi), *Decimal::parse(step)};
}

/// One loop, sixteen segments, four outputs, dwells in whole minutes, rates in tenths.
inline program::Controller controller() {
    program::Controller c;
    c.name = "keys";
    c.programs = 4;
    c.segments = 16;
    c.linking = true;
    c.loop_levels = 1;
    c.passes_lo = 2;
    c.passes_hi = 999;
    c.zones = 1;
    c.setpoint = grid("0", "1200", "1");
    c.rate = grid("0.1", "99.9", "0.1");
    c.dwell = grid("0", "359940", "60");
    c.outputs = 4;
    c.thresholds = 1;
    c.soak_band = grid("1", "99", "1");
    c.operator_wait = true;
    c.starts_from_measured = true;
    c.after_power_failure = program::Controller::Power::stop;
    c.longest_wait = 7200;
    return c;
}

inline double kelvin(double degC) {
    return degC + 273.15;
}

/// Adds spans one after the other; the set-point starts at 23 °C.
class Builder {
public:
    timeline::Timeline t;

    explicit Builder(std::vector<std::string> zones = {"centre"}) : at_(zones.size(), kelvin(23)) {
        t.recipe = "test";
        t.rig = "bench";
        t.zones = std::move(zones);
        t.species = {"argon", "oxygen", "nitrogen", "water", "hydrogen"};
        t.lines = {{"argon", 1, true, true, false}, {"hydrogen", 2, false, true, false}};
        t.burner = {4, true, false};
        t.runs = {{"test", 0, 0}};
        timeline::State first;
        first.flows = {0, 0};
        first.open = {false, false};
        first.tube_open = true;
        t.states = {first};
        state_ = first;
        state_.tube_open = false;
    }

    static constexpr double argon_flow = 1.0e-3; // mol/s

    Builder& open(timeline::Index line, double flow = argon_flow) {
        state_.open[line] = true;
        state_.flows[line] = flow;
        return act(timeline::ActionKind::open, line, flow);
    }
    Builder& close(timeline::Index line) {
        state_.open[line] = false;
        state_.flows[line] = 0;
        return act(timeline::ActionKind::close, line, 0);
    }
    Builder& light() {
        state_.burner = true;
        return act(timeline::ActionKind::light, timeline::none, 0);
    }
    Builder& shut() {
        state_.burner = false;
        return act(timeline::ActionKind::shut, timeline::none, 0);
    }
    Builder& start_pump() {
        state_.pump = true;
        return act(timeline::ActionKind::start_pump, timeline::none, 0);
    }
    Builder& stop_pump() {
        state_.pump = false;
        return act(timeline::ActionKind::stop_pump, timeline::none, 0);
    }
    Builder& note(const std::string& text) {
        t.texts.push_back(text);
        act(timeline::ActionKind::note, timeline::none, 0);
        t.actions.back().text = static_cast<timeline::Index>(t.texts.size() - 1);
        return *this;
    }
    Builder& arm(const timeline::Threshold& threshold) {
        t.thresholds.push_back(threshold);
        state_.armed |= 1U << (t.thresholds.size() - 1);
        return act(timeline::ActionKind::arm, threshold.line, 0);
    }

    Builder& disarm() {
        state_.armed = 0;
        return act(timeline::ActionKind::disarm, timeline::none, 0);
    }

    Builder& ramp(double degC, double K_per_min, double band = 0) { return ramp_all({degC}, K_per_min, band); }
    /// The rate is that of the first zone; the others arrive with it.
    Builder& ramp_all(const std::vector<double>& degC, double K_per_min, double band = 0) {
        std::vector<timeline::Law> laws;
        const double duration = std::abs(kelvin(degC[0]) - at_[0]) / (K_per_min / 60);
        for (std::size_t z = 0; z < at_.size(); ++z) {
            const double to = kelvin(degC[z]);
            laws.push_back({to == at_[z] ? timeline::LawKind::hold : timeline::LawKind::line, at_[z], to,
                            (to - at_[z]) / duration});
            at_[z] = to;
        }
        return add(laws, {band > 0 ? timeline::EndingKind::band : timeline::EndingKind::fixed, duration, band});
    }
    Builder& dwell(double seconds, double band = 0) {
        return add(holding(),
                   {band > 0 ? timeline::EndingKind::band : timeline::EndingKind::fixed, seconds, band});
    }
    Builder& cool(double degC, Interval estimate) {
        const std::vector<timeline::Law> laws(1, {timeline::LawKind::off, at_[0], kelvin(degC), 0});
        at_[0] = kelvin(degC);
        timeline::Ending ending;
        ending.kind = timeline::EndingKind::passes;
        ending.temperature = kelvin(degC);
        add(laws, ending);
        t.spans.back().duration = estimate;
        return *this;
    }
    Builder& jump(double degC) {
        const std::vector<timeline::Law> laws(1, {timeline::LawKind::jump, at_[0], kelvin(degC), 0});
        at_[0] = kelvin(degC);
        return add(laws, {timeline::EndingKind::fixed, 0});
    }
    /// Waits until a species is certainly under a fraction; `estimate`: what elaboration found.
    Builder& until(timeline::Index species, double below, double estimate) {
        timeline::Condition condition;
        timeline::Term term;
        term.kind = timeline::Term::Kind::compare;
        term.comparison = timeline::Comparison::less;
        term.left = {timeline::SignalKind::fraction, species};
        term.value = below;
        condition.terms = {term};
        t.conditions.push_back(condition);
        timeline::Ending ending;
        ending.kind = timeline::EndingKind::certain;
        ending.condition = static_cast<timeline::Index>(t.conditions.size() - 1);
        add(holding(), ending);
        t.spans.back().duration = estimate;
        return *this;
    }
    Builder& person(const std::string& text) {
        t.texts.push_back(text);
        timeline::Ending ending;
        ending.kind = timeline::EndingKind::person;
        ending.text = static_cast<timeline::Index>(t.texts.size() - 1);
        add(holding(), ending);
        t.spans.back().duration = {0, infinity};
        return *this;
    }
    /// Calls `body(pass)` for each pass and lists the repeat.
    template<typename Body>
    Builder& repeat(timeline::Index passes, const Body& body) {
        timeline::Repeat r;
        r.first = static_cast<timeline::Index>(t.spans.size());
        r.passes = passes;
        for (timeline::Index pass = 0; pass < passes; ++pass) body(*this, pass);
        r.spans = (static_cast<timeline::Index>(t.spans.size()) - r.first) / passes;
        t.repeats.push_back(r);
        return *this;
    }
    timeline::Timeline finish() {
        t.end_first = first_action_;
        t.end_actions = static_cast<timeline::Index>(t.actions.size()) - first_action_;
        t.end_state = intern(state_);
        t.runs.back().last = static_cast<timeline::Index>(t.spans.size());
        return t;
    }

private:
    std::vector<timeline::Law> holding() const {
        std::vector<timeline::Law> laws;
        for (const double k : at_) laws.push_back({timeline::LawKind::hold, k, k, 0});
        return laws;
    }
    timeline::Index intern(const timeline::State& state) {
        for (std::size_t i = 1; i < t.states.size(); ++i)
            if (t.states[i] == state) return static_cast<timeline::Index>(i);
        t.states.push_back(state);
        return static_cast<timeline::Index>(t.states.size() - 1);
    }
    Builder& act(timeline::ActionKind kind, timeline::Index line, double value) {
        timeline::Action action;
        action.kind = kind;
        action.line = line;
        action.value = value;
        action.state = intern(state_);
        t.actions.push_back(action);
        return *this;
    }
    Builder& add(const std::vector<timeline::Law>& laws, timeline::Ending ending) {
        timeline::Span span;
        span.state = intern(state_);
        span.source = {0, static_cast<std::uint32_t>(t.spans.size()),
                       static_cast<std::uint32_t>(t.spans.size())};
        span.ending = ending;
        span.duration = ending.duration;
        span.first_action = first_action_;
        span.actions = static_cast<timeline::Index>(t.actions.size()) - first_action_;
        first_action_ = static_cast<timeline::Index>(t.actions.size());
        t.spans.push_back(span);
        t.laws.insert(t.laws.end(), laws.begin(), laws.end());
        return *this;
    }

    std::vector<double> at_;
    timeline::State state_;
    timeline::Index first_action_ = 0;
};

} // namespace athanor::bench
