// Waits for a person, steps of the set-point, natural cooling.
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
        program::Why reason;
        reason.what = "two waits follow each other, and the set-point is held between them";
        program::Segment& step = add_row(SegmentKind::step, i, std::move(reason));
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
        stay_at(targets(first, setpoint_budget));
        program::Segment& row = add_row(SegmentKind::operator_wait, first, why("operator wait", first, first));
        row.instruction = joined(row.instruction, text);
    } else {
        // Two waits in a row: a programme of nothing but its end lies between them.
        if (break_) empty_programme(first);
        if (!may_hand_over(first)) report_person(first);
        ProgramStart& start = break_.emplace();
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
            {LawKind::jump, setpoint_[z] + zero_celsius, c_.setpoint.value(to[z]) + zero_celsius, 0});
    program::Segment& row = add_row(SegmentKind::step, first, why("step", first, first));
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

bool Walker::goes_on_off(Index last, Index next) const {
    if (!goes_on(last, next) || input_.rearmed[next]) return false;
    if (span(last).ending.kind != EndingKind::passes || span(next).ending.kind != EndingKind::passes)
        return false;
    for (std::size_t z = 0; z < zones(); ++z)
        if (law(last, z).kind != LawKind::off || law(next, z).kind != LawKind::off ||
            law(next, z).to > law(last, z).to)
            return false;
    // Each ends where its own target is reached: the next one begins there.
    return span(last).ending.temperature >= span(next).ending.temperature;
}

timeline::Index Walker::off(Index first) {
    const Index last = end_of_off(first);
    const timeline::Span& s = span(first);
    if (any(first, LawKind::line))
        out_.error(Code::value_not_settable, s.source,
                   fmt::format(
                       "{} cannot cool one zone with its heater off while another follows a ramp: a segment "
                       "is either a step or a ramp",
                       c_.name))
            .remedy("cool every zone at a rate, or one after the other");
    const Values to = targets(last, setpoint_budget);
    Laws laws;
    for (std::size_t z = 0; z < zones(); ++z) {
        const double from = setpoint_[z] + zero_celsius;
        const double end = c_.setpoint.value(to[z]) + zero_celsius;
        laws.push_back({law(first, z).kind == LawKind::off ? LawKind::off : LawKind::hold, from, end, 0});
    }
    // Where the target was rounded, the temperature that ends the step goes with it.
    const auto ending_of = [&](Index i) {
        timeline::Ending ending = span(i).ending;
        if (ending.kind == EndingKind::passes)
            for (std::size_t z = 0; z < zones(); ++z)
                if (laws[z].kind == LawKind::off && ending.temperature == law(last, z).to)
                    ending.temperature = laws[z].to;
        return ending;
    };

    const bool timed = s.ending.kind == EndingKind::fixed;
    const plant::State entry = now_;
    std::vector<double> longest; // s, of each span
    double seconds = 0;
    bool hazardous = false; // while it cools
    for (Index i = first; i <= last; ++i) {
        const timeline::Ending ending = ending_of(i);
        longest.push_back(ending.duration);
        if (!timed) {
            plant::Passage p = passage(i, laws.data(), ending);
            if (!p.reachable || !std::isfinite(p.duration.hi)) {
                out_.error(
                    Code::condition_unreachable, span(i).source,
                    fmt::format("not every rig in the declared intervals ever cools to {} after rounding{}{}",
                                to_text(ending.temperature, Kind::temperature), p.why.empty() ? "" : ": ",
                                p.why));
                now_ = entry;
                set_setpoints(to);
                for (Index n = first; n <= last; ++n) {
                    if (n != first) enter(n);
                    add_span(n, holding().data(), fixed(0));
                }
                return last + 1;
            }
            longest.back() = p.duration.hi;
            if (std::isfinite(span(i).duration.hi))
                longest.back() = std::max(longest.back(), span(i).duration.hi);
            const timeline::State& discrete = recipe_.states[span(i).state];
            if (!c_.longest_wait && !hazardous && input_.limits.hazardous)
                hazardous = input_.limits.hazardous(
                    input_.plant.during(now_, {laws.data(), &discrete}, {0, longest.back()}), discrete);
            if (i != last) now_ = passage(i, laws.data(), fixed(longest.back())).exit;
        }
        seconds += longest.back();
    }
    now_ = entry;
    program::Why where = why("natural cooling", first, last);

    // In a band: the controller itself sees when the temperature is there. Without a longest wait it may never
    // go on where the sensor fails.
    const std::int64_t k = c_.soak_band ? band_below(setpoint_budget) : -1;
    timeline::Ending ending = ending_of(last);
    const bool to_target = std::all_of(laws.begin(), laws.end(), [&](const Law& l) {
        return l.kind != LawKind::off || l.to == ending.temperature;
    });
    // Who begins inside the band does not wait at all.
    const bool outside =
        k >= 0 && std::any_of(laws.begin(), laws.end(), [&](const Law& l) {
            return l.kind == LawKind::off && l.from > ending.temperature + c_.soak_band->value(k) + 1e-6;
        });
    if (ending.kind == EndingKind::passes && to_target && outside &&
        (c_.longest_wait ? *c_.longest_wait >= seconds : !hazardous)) {
        where.more = fmt::format(", waits inside a band of {} K", c_.soak_band->text(k));
        program::Segment& row = add_row(SegmentKind::step, first, std::move(where));
        row.targets = to;
        row.band = k;
        ending.temperature += c_.soak_band->value(k);
        Interval duration;
        for (Index i = first; i <= last; ++i) {
            if (i != first) enter(i);
            // What comes before the last one cannot pass where the last one ends.
            timeline::Ending own = i == last ? ending : ending_of(i);
            own.temperature = std::max(own.temperature, ending.temperature);
            own.band = c_.soak_band->value(k);
            duration = duration + add_span(i, laws.data(), own);
            for (Law& l : laws) l.from = l.to;
        }
        program::Segment& keyed = walked_.rows.segments.back();
        keyed.duration_s = duration.middle();
        keyed.duration_lo_s = duration.lo;
        keyed.duration_hi_s = duration.hi;
        set_setpoints(to);
        return last + 1;
    }

    // By time: as long as the slowest rig needs.
    if (!timed) seconds = std::max(seconds, input_.at_least[first]);
    const DwellPlan plan = plan_dwell(c_, seconds, timed ? Rounding::nearest : Rounding::up);
    if (plan.pieces.empty()) {
        out_.error(Code::value_not_settable, s.source,
                   fmt::format("{} cannot hold a dwell of {}", c_.name, to_text(seconds, Kind::time)));
        for (Index i = first; i <= last; ++i) {
            if (i != first) enter(i);
            add_span(i, laws.data(), fixed(longest[i - first]));
        }
        set_setpoints(to);
        return last + 1;
    }
    if (timed) {
        const double error = std::abs(plan.duration - seconds);
        walked_.instant_error = std::max(walked_.instant_error, error);
        if (error > instant_budget(c_) + 1e-9)
            out_.error(Code::rounding_too_coarse, s.source,
                       fmt::format("{} becomes {} on {}, whose dwells go in steps of {} s",
                                   to_text(seconds, Kind::time), to_text(plan.duration, Kind::time), c_.name,
                                   c_.dwell.step.text()));
    }
    if (!timed) walked_.waits[first] = plan.duration;
    if (!timed) where.more = ", by the longest time that a rig of these intervals needs";
    program::Segment& row = add_row(SegmentKind::step, first, std::move(where));
    row.targets = to;
    row.dwell = plan.pieces[0];
    const double first_piece = c_.dwell.value(plan.pieces[0]);
    row.duration_s = row.duration_lo_s = row.duration_hi_s = first_piece;
    double left = plan.duration;
    for (Index i = first; i <= last; ++i) {
        if (i != first) enter(i);
        // Rounding up falls into the last one.
        const double own = i == last ? left : std::min(left, longest[i - first]);
        add_span(i, laws.data(), fixed(own));
        for (Law& l : laws) l.from = l.to;
        left -= own;
    }
    set_setpoints(to);
    DwellPlan rest;
    rest.pieces.assign(plan.pieces.begin() + 1, plan.pieces.end());
    program::Why reason;
    reason.what = "the rest of the natural cooling";
    if (!rest.pieces.empty()) key_dwell(rest, -1, first, 0, reason);
    return last + 1;
}

} // namespace athanor::legalise
