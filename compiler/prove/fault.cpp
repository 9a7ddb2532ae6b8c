#include "compiler/prove/fault.hpp"

#include "compiler/elaborate/states.hpp"
#include "compiler/prove/meter.hpp"

#include <algorithm>
#include <cmath>
#include <deque>
#include <functional>
#include <set>

namespace athanor::prove {
namespace {

using plant::Verdict;

constexpr double shortest_instant = 1;          // s: a span is not cut finer for the instant of the failure
constexpr unsigned most_cuts = 12;              // of a span
constexpr double first_piece = 8, growth = 1.5; // s: the abort is judged on pieces that grow

} // namespace

PowerFailure::PowerFailure(const check::Rig& rig, const timeline::Timeline& timeline, timeline::Index lost)
    : rig_(rig), timeline_(timeline), lost_(lost) {
    const std::size_t lines = rig.lines.size();
    by_hand_.resize(lines);
    // What no span is in stands at the end.
    entered_.assign(timeline.states.size(), timeline.spans.size());
    for (std::size_t i = 0; i < timeline.spans.size(); ++i) {
        const timeline::State& state = timeline.states[timeline.spans[i].state];
        std::size_t& first = entered_[timeline.spans[i].state];
        if (first < i) continue;
        first = i;
        for (std::size_t l = 0; l < lines && l < state.flows.size(); ++l) {
            if (rig.lines[l].meter.controlled || !(state.flows[l] > 0)) continue;
            by_hand_[l].flow = hull(by_hand_[l].flow, set_flow(l, state));
            by_hand_[l].since = std::min(by_hand_[l].since, i);
        }
    }
}

std::size_t PowerFailure::entered(const timeline::State& at) const {
    const timeline::State* const first = timeline_.states.data();
    const bool own = !std::less<>{}(&at, first) && std::less<>{}(&at, first + timeline_.states.size());
    return own ? entered_[static_cast<std::size_t>(&at - first)] : 0; // of another's nothing is known to be set
}

/// Over a range of a parameter one state stands for many, and `flows` is the greatest of theirs.
Interval PowerFailure::set_flow(std::size_t line, const timeline::State& at) const {
    if (line < at.between.size() && at.between[line].hi > 0) return at.between[line];
    return with_error(at.flows[line], rig_.lines[line].meter);
}

Interval PowerFailure::flow(std::size_t line, const timeline::State& at) const {
    const check::Meter& meter = rig_.lines[line].meter;
    if (!meter.controlled) {
        if (at.flows[line] > 0) return set_flow(line, at);
        if (by_hand_[line].since <= entered(at)) return by_hand_[line].flow;
        return {0, most_flow(meter)};
    }
    if (rig_.lines[line].flow_without_power.hi > 0) return rig_.lines[line].flow_without_power;
    return {0, most_flow(meter)};
}

Abort PowerFailure::operator()(const timeline::State& at) const {
    Abort abort;
    fall(at, abort.discrete);
    abort.laws = laws();
    return abort;
}

std::vector<timeline::Law> PowerFailure::laws() const {
    const double cold = rig_.ambient_temperature.lo();
    return std::vector<timeline::Law>(timeline_.zones.size(), {timeline::LawKind::off, cold, cold, 0});
}

void PowerFailure::fall(const timeline::State& at, timeline::State& s) const {
    s = at;
    s.powered = false;
    s.between.assign(s.flows.size(), Interval{0});
    for (std::size_t l = 0; l < s.flows.size() && l < rig_.lines.size(); ++l) {
        const check::Line& line = rig_.lines[l];
        // A standing threshold drives its line by an output, which falls like any other.
        s.open[l] = line.output == 0 ? at.open[l] : line.open_without_power;
        s.flows[l] = 0;
        if (s.open[l] && l != lost_) s.between[l] = flow(l, at);
        // One that people open and close as the temperature goes may stand either way.
        for (std::size_t k = 0; line.output == 0 && l != lost_ && k < timeline_.thresholds.size(); ++k) {
            const timeline::Threshold& follows = timeline_.thresholds[k];
            if ((at.armed >> k & 1U) == 0 || follows.line != l) continue;
            s.open[l] = 1;
            s.between[l] = {0, with_error(follows.flow, line.meter).hi};
        }
    }
    s.armed = 0;
    s.pump = false;
    s.regulated = 0;
    s.burner = at.burner && rig_.exhaust.pilot;
    if (s.slide && timeline_.slide.output != 0 &&
        !timeline_.places.empty()) { // it falls back to where it rests
        s.slide = false;
        s.place = timeline_.places[0].hot ? timeline::none : 0;
    }
}

Aborts::Aborts(const check::Rig& rig, const timeline::Timeline& timeline, timeline::Index lost)
    : timeline_(timeline), failure_(rig, timeline, lost) {
    elaborate::States known;
    std::vector<timeline::State> different;
    timeline::State fallen, before;
    const bool controlled = std::all_of(rig.lines.begin(), rig.lines.end(),
                                        [](const check::Line& line) { return line.meter.controlled; });
    of_.reserve(timeline.states.size());
    for (const timeline::State& state : timeline.states) {
        // What controlled meters are set to is lost: most states differ from the one before them in that alone.
        if (controlled && !of_.empty()) {
            before.flows = state.flows;
            if (before == state) {
                of_.push_back(of_.back());
                continue;
            }
        }
        failure_.fall(state, fallen);
        of_.push_back(known.intern(fallen, different));
        if (controlled) before = state;
    }
    for (timeline::State& discrete : different) all_.push_back({std::move(discrete), failure_.laws()});
}

/// A failure at some instant of a span, and what follows it.
struct FaultJudge::Failed {
    Failed(const FaultJudge& judge, std::size_t in, Interval at, const plant::State& from)
        : span(in), instant(at), state(from), drive{judge.abort(in).laws.data(), &judge.abort(in).discrete},
          ahead(judge.plant_, state, drive) {}
    const std::size_t span;
    const Interval instant;   // s behind its entry
    const plant::State state; // holds every state then
    const plant::Drive drive;
    Ahead ahead;
};

/// The failures in one span, worked out when the first clause asks for them.
class FaultJudge::InSpan {
public:
    InSpan(const FaultJudge& judge, std::size_t span) : judge_(judge), span_(span) {}
    /// Nothing was asked but the whole span.
    bool whole() const { return failed_.size() <= 1; }
    Failed& failed(Interval instant) {
        for (Failed& one : failed_)
            if (one.instant.lo == instant.lo && one.instant.hi == instant.hi) return one;
        const bool whole = instant.lo == 0 && instant.hi == judge_.timeline_.spans[span_].duration.hi;
        return failed_.emplace_back(judge_, span_, instant,
                                    whole
                                        ? judge_.walk_.over(span_)
                                        : judge_.plant_.during(judge_.walk_.entry(span_),
                                                               plant::drive(judge_.timeline_, span_), instant));
    }

private:
    const FaultJudge& judge_;
    std::size_t span_;
    std::deque<Failed> failed_; // what they hold never moves
};

Judgement FaultJudge::after(const Instance& instance, Failed& failed) const {
    Judgement result;
    const timeline::Span& s = timeline_.spans[failed.span];
    const timeline::State& before = timeline_.states[s.state];
    if (!instance.guard.empty() && plant_.evaluate(instance.guard, failed.state, before) == Verdict::violated)
        return result;
    static const timeline::Condition always;
    const timeline::Condition* until = instance.until.empty() ? nullptr : &instance.until;
    const Query query{instance.require, always, until};
    const Course course{failed.state, failed.drive, walk_.at_s(failed.span) + failed.instant.lo,
                        s.source,     failed.span,  infinity,
                        true,         &failed.ahead};
    bool active = true;
    if (until == nullptr) {
        judge_.over_piece(query, course, 0, longest_abort, 16, active, result);
        result.margin.failure = failed.instant;
        return result;
    }
    double piece = first_piece;
    for (double at = 0; active && !result.witness && at < longest_abort; at += piece, piece *= growth)
        judge_.over_piece(query, course, at, at + piece, 8, active, result);
    result.margin.failure = failed.instant;
    return result;
}

std::string FaultJudge::explain(const Margin& margin) const {
    const plant::State failed =
        plant_.during(walk_.entry(margin.span), plant::drive(timeline_, margin.span), margin.failure);
    const Abort& abort = this->abort(margin.span);
    const plant::State state = plant_.during(failed, {abort.laws.data(), &abort.discrete}, margin.in_course);
    return plant_.explain(margin.term.left, state, abort.discrete);
}

bool FaultJudge::over(const Instance& instance, InSpan& span, double from, double to, unsigned depth,
                      Judgement& result) const {
    const Judgement whole = after(instance, span.failed({from, to}));
    if (whole.verdict == Verdict::proven) {
        result.applied = result.applied || whole.applied;
        if (whole.margin.relative < result.margin.relative) result.margin = whole.margin;
        return true;
    }
    const auto report = [&](const Judgement& judgement) {
        result = judgement;
        return false;
    };
    if (depth == 0 || to - from <= shortest_instant) return report(whole);
    if (const Judgement first = after(instance, span.failed(from)); first.verdict != Verdict::proven)
        return report(first);
    // A person may take for ever: the first hour and the rest.
    const double middle = std::isfinite(to) ? from + 0.5 * (to - from) : from + 3600;
    return over(instance, span, from, middle, depth - 1, result) &&
           over(instance, span, middle, to, depth - 1, result);
}

double FaultJudge::room(const timeline::Term& term, std::size_t span) const {
    const Interval value = plant_.signal(term.left, walk_.over(span), abort(span).discrete);
    const bool below =
        term.comparison == timeline::Comparison::less || term.comparison == timeline::Comparison::less_equal;
    return below ? -value.hi : value.lo;
}

bool FaultJudge::stands_by(const Instance& instance, std::size_t span) const {
    const bool own = instance.rule != nullptr && !instance.rule->standard;
    return !own && timeline_.states[timeline_.spans[span].state].tube_open;
}

bool FaultJudge::together(const Instance& instance, Judgement& result) const {
    std::vector<std::vector<std::size_t>> falling(aborts_.count()); // spans by what they fall into
    for (std::size_t span = 0; span < timeline_.spans.size(); ++span)
        falling[aborts_.which(timeline_.spans[span].state)].push_back(span);
    Judgement all;
    for (const std::vector<std::size_t>& spans : falling) {
        if (spans.empty() || stands_by(instance, spans[0])) continue;
        const std::size_t first = spans[0];
        plant::State hull = walk_.over(first);
        for (std::size_t i = 1; i < spans.size(); ++i) widen(hull, walk_.over(spans[i]));
        Failed failed(*this, first, {0, timeline_.spans[first].duration.hi}, hull);
        const Judgement one = after(instance, failed);
        if (one.verdict != Verdict::proven) return false;
        all.applied = all.applied || one.applied;
        if (one.margin.relative >= all.margin.relative) continue;
        all.margin = one.margin;
        // Of the steps that the hull holds, the one that is nearest to the limit when the power fails.
        std::size_t nearest = first;
        double least = room(all.margin.term, first);
        for (const std::size_t span : spans)
            if (const double left = room(all.margin.term, span); left < least) least = left, nearest = span;
        const timeline::Span& span = timeline_.spans[nearest];
        all.margin.span = nearest;
        all.margin.at_s = walk_.at_s(nearest);
        all.margin.source = span.source;
        all.margin.failure = {0, span.duration.hi};
    }
    result = all;
    return true;
}

namespace {

/// Whether it asks for what goes on from step to step even where all else stands still.
bool asks_a_clock(const Instance& clause) {
    const auto clock = [](timeline::Signal signal) {
        using timeline::SignalKind;
        return signal.kind == SignalKind::elapsed || signal.kind == SignalKind::burning ||
               signal.kind == SignalKind::swept;
    };
    for (const timeline::Condition* condition : {&clause.require, &clause.guard, &clause.until})
        for (const timeline::Term& term : condition->terms)
            if (clock(term.left) || (term.right_is_signal && clock(term.right))) return true;
    return false;
}

} // namespace

/// All that a failure in a span depends on, but for the clocks.
std::vector<double> FaultJudge::numbers_of(std::size_t span) const {
    const KeptState state = walk_.over(span);
    std::vector<double> numbers;
    numbers.reserve(1 + 12 * state.zones.size() + 2 * (state.fraction.size() + state.pore.size() + 4));
    numbers.push_back(static_cast<double>(timeline_.spans[span].state));
    const auto add = [&](const Interval& part) {
        numbers.push_back(part.lo);
        numbers.push_back(part.hi);
    };
    for (const plant::ZoneState& zone : state.zones) {
        add(zone.control);
        add(zone.load);
        add(zone.setpoints);
        numbers.insert(numbers.end(),
                       {zone.setpoint, zone.unread.below, zone.unread.above, zone.comes_down ? 1.0 : 0.0,
                        zone.comes_up ? 1.0 : 0.0, zone.untouched ? 1.0 : 0.0});
    }
    for (const Interval& part : state.fraction) add(part);
    for (const Interval& part : state.pore) add(part);
    for (const Interval& part : {state.pressure, state.inflow, state.drawn_in, state.taken}) add(part);
    return numbers;
}

std::vector<Judgement> FaultJudge::rules(std::span<const Instance* const> clauses) const {
    std::vector<Judgement> results(clauses.size());
    std::vector<std::size_t> by_step; // clauses that are asked of each step
    for (std::size_t c = 0; c < clauses.size(); ++c) {
        const Instance& clause = *clauses[c];
        if (!(clause.until.empty() && clause.guard.empty() && together(clause, results[c])))
            by_step.push_back(c);
    }
    // Passes of a repeat come to the same states, number for number: what was proven of one holds of all.
    const bool clocked = std::any_of(clauses.begin(), clauses.end(),
                                     [](const Instance* clause) { return asks_a_clock(*clause); });
    std::set<std::vector<double>> proven;
    for (std::size_t i = 0; i < timeline_.spans.size() && !by_step.empty(); ++i) {
        std::vector<double> own = clocked ? std::vector<double>{} : numbers_of(i);
        if (!clocked && proven.contains(own)) continue;
        InSpan span(*this, i);
        std::erase_if(by_step, [&](std::size_t c) {
            return !stands_by(*clauses[c], i) &&
                   !over(*clauses[c], span, 0, timeline_.spans[i].duration.hi, most_cuts, results[c]);
        });
        if (!clocked && span.whole()) proven.insert(std::move(own));
    }
    return results;
}

} // namespace athanor::prove
