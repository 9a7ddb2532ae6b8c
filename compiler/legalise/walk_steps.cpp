// Waits for a person, steps of the set-point.
#include "compiler/legalise/walker.hpp"
#include "compiler/legalise/words.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::legalise {

using program::SegmentKind;
using timeline::EndingKind;
using timeline::Law;
using timeline::LawKind;

/// What the controller would have to energise or set while no programme of its own runs. Before the first one
/// the rig stands as people left it: what is energised to be shut counts as shut.
std::vector<std::string> Walker::needs_programme(const timeline::State& state) const {
    const bool first = walked_.rows.empty();
    std::vector<std::string> needs;
    for (const program::Output& output : input_.wiring.outputs)
        if ((input_.wiring.bits(state) >> (output.number - 1) & 1U) != 0 && !(first && output.on_without_power))
            needs.push_back(fmt::format("output {} ({}) would not {}", output.number, output.name,
                                        first ? "be energised yet" : "stay energised"));
    const program::Values channels = input_.wiring.channels(state);
    for (std::size_t c = 0; c < channels.size(); ++c)
        if (channels[c] != 0)
            needs.push_back(fmt::format("the channel of {} would set no flow",
                                        recipe_.lines[input_.wiring.channel_lines[c]].name));
    if ((state.armed & input_.wiring.threshold_bits) != 0)
        needs.push_back("no output would follow the temperature");
    return needs;
}

std::uint32_t Walker::held_bits(const timeline::State& state) const {
    std::uint32_t bits = input_.wiring.bits(state);
    if (!c_.holds_at_end) return bits;
    for (std::size_t t = 0; t < recipe_.thresholds.size(); ++t) {
        const timeline::Threshold& threshold = recipe_.thresholds[t];
        if ((state.armed & input_.wiring.threshold_bits & (1U << t)) == 0) continue;
        const double degC = threshold.temperature - zero_celsius;
        const auto beyond = [&](double setpoint) {
            return threshold.above ? setpoint > degC : setpoint < degC;
        };
        if (!std::all_of(setpoint_.begin(), setpoint_.end(), beyond)) continue;
        for (const program::Output& output : input_.wiring.outputs) {
            if (output.use != program::OutputUse::line || output.line != threshold.line) continue;
            const std::uint32_t bit = 1U << (output.number - 1);
            bits = threshold.opens != output.on_without_power ? bits | bit : bits & ~bit;
        }
    }
    return bits;
}

bool Walker::may_hand_over(Index first) const {
    if (!walked_.rows.empty() && c_.holds_at_end) return true;
    const bool cold = std::all_of(setpoint_.begin(), setpoint_.end(), [&](double degC) {
        return degC + zero_celsius <= start_.hi + setpoint_budget;
    });
    return (cold || walked_.rows.empty()) && needs_programme(recipe_.states[span(first).state]).empty();
}

void Walker::report_person(Index first) {
    const std::vector<std::string> needs = needs_programme(recipe_.states[span(first).state]);
    if (walked_.rows.empty()) {
        Diagnostic& d = out_.error(
            Code::no_operator_wait, span(first).source,
            fmt::format("{} has no operator wait, and before its first programme it switches nothing",
                        c_.name));
        for (const std::string& need : needs) d.cause(need);
        d.remedy("put the wait before what is switched, or take a controller with `operator_wait yes`");
        return;
    }
    const double hottest = *std::max_element(setpoint_.begin(), setpoint_.end()) + zero_celsius;
    Diagnostic& d =
        out_.error(Code::no_operator_wait, span(first).source,
                   fmt::format("{} has no operator wait, and separate programmes cannot stand in for one "
                               "here: it switches off at the end of a programme",
                               c_.name));
    if (hottest > start_.hi + setpoint_budget)
        d.cause(fmt::format("the set-point of {} would not be held", to_text(hottest, Kind::temperature)));
    for (const std::string& need : needs) d.cause(need);
    d.remedy("a controller with `operator_wait yes`, or one with `at_end hold`");
}

void Walker::empty_programme(Index i) {
    const bool there = std::all_of(setpoint_.begin(), setpoint_.end(),
                                   [&](double degC) { return std::abs(degC - c_.start_setpoint) < 1e-9; });
    const double cold = start_.hi + setpoint_budget - zero_celsius;
    const bool all_cold = c_.start_setpoint <= cold && std::all_of(setpoint_.begin(), setpoint_.end(),
                                                                   [&](double degC) { return degC <= cold; });
    if (c_.holds_at_end && !c_.starts_from_measured && !there && !all_cold) {
        // Without a step it would begin, and then hold, at the controller's own set-point.
        put_into_words(); // what is said last may have to wait on
        program::Segment& step = add_row(SegmentKind::step, i);
        step.targets = setpoints();
        step.why.what = "two waits follow each other, and the set-point is held between them";
        pending_ = take_opening(step.instruction);
        return;
    }
    program::Segment row;
    row.kind = SegmentKind::end;
    row.targets = setpoints();
    row.outputs = break_->outputs_before;
    row.channels = break_->channels_before;
    row.source = span(i).source;
    row.start_degC = setpoint_[0];
    row.why.what = "two waits follow each other";
    walked_.rows.starts.emplace(walked_.rows.size(), std::move(*break_));
    break_.reset();
    walked_.rows.push_back(std::move(row), i);
}

timeline::Index Walker::person(Index first) {
    const timeline::Span& s = span(first);
    const std::string text = s.ending.text < recipe_.texts.size() ? recipe_.texts[s.ending.text] : "go on";
    // A run is a programme of its own; its opening wait is the hand-over even where the controller could wait.
    const bool new_run = begins_run(first) && !walked_.rows.empty() && may_hand_over(first) && c_.programs > 1;
    if (c_.operator_wait && !new_run) {
        stay_at(first);
        program::Segment& row = add_row(SegmentKind::operator_wait, first);
        row.targets = setpoints();
        row.why = why("operator wait", first, first);
        row.instruction = joined(row.instruction, text);
    } else {
        // Two waits in a row: a programme of nothing but its end lies between them.
        if (break_) empty_programme(first);
        if (!may_hand_over(first)) report_person(first);
        ProgramStart& start = break_.emplace();
        put_into_words();
        start.hand_over = joined(pending_, text);
        start.waits = !walked_.rows.empty();
        start.outputs_before = held_bits(recipe_.states[s.state]);
        start.channels_before = input_.wiring.channels(recipe_.states[s.state]);
        pending_.clear();
        // The next programme starts from what is measured then, which may have cooled to the bench.
        from_measured_ = c_.starts_from_measured && !c_.holds_at_end;
    }
    add_span(first, holding().data(), s.ending);
    return first + 1;
}

timeline::Index Walker::jump(Index first) {
    const Values to = targets(first, budget(first));
    const std::int64_t k = band(first);
    Laws laws;
    for (std::size_t z = 0; z < zones(); ++z)
        laws.push_back(
            {LawKind::jump, setpoint_[z] + zero_celsius, keys_.setpoint.value(to[z]) + zero_celsius, 0});
    program::Segment& row = add_row(SegmentKind::step, first);
    row.why = why("step", first, first);
    row.targets = to;
    row.band = k;
    timeline::Ending ending = fixed(0); // what follows a step is a dwell of its own
    if (k >= 0) {
        ending.kind = EndingKind::band;
        ending.band = c_.soak_band->value(k);
    }
    set_setpoints(to);
    const Interval duration = add_span(first, laws.data(), ending);
    row.duration_s = row.duration_lo_s = 0;
    row.duration_hi_s = std::max(0.0, duration.hi);
    return first + 1;
}

} // namespace athanor::legalise
