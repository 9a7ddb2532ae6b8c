#include "compiler/prove/judge.hpp"

#include "compiler/plant/exits.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <utility>
#include <vector>

namespace athanor::prove {
namespace {

using plant::Verdict;
using timeline::Comparison;
using timeline::Term;

constexpr unsigned max_bisections = 14; // a piece of a ten-hour span is then 2 s
constexpr double shortest_piece = 0.25; // s; no controller acts faster

double distance(Comparison comparison, Interval value, Interval limit) {
    switch (comparison) {
    case Comparison::less:
    case Comparison::less_equal: return limit.lo - value.hi;
    case Comparison::greater:
    case Comparison::greater_equal: return value.lo - limit.hi;
    }
    return 0;
}

/// The same as a share of the limit; infinite where nothing limits the side that decides.
double relative(Comparison comparison, Interval value, Interval limit) {
    double scale = 1e-12;
    for (const double end : {limit.lo, limit.hi})
        if (std::abs(end) < std::numeric_limits<double>::max()) scale = std::max(scale, std::abs(end));
    return distance(comparison, value, limit) / scale;
}

/// Stands for a truth that is not certain, which has no distance: nearer to failing than any comparison.
constexpr double doubtful = -1e9;

Comparison opposite(Comparison comparison) {
    switch (comparison) {
    case Comparison::less: return Comparison::greater_equal;
    case Comparison::less_equal: return Comparison::greater;
    case Comparison::greater: return Comparison::less_equal;
    case Comparison::greater_equal: break;
    }
    return Comparison::less;
}

/// How a line stands before and after an action, 1 = open: a standing threshold that is armed or taken back may
/// move it at once.
struct Moved {
    Interval before, after;
};

/// Did this action do what the event waits for?
bool happened(check::EventKind event, Moved line, const timeline::State& before, const timeline::State& after,
              timeline::ActionKind action) {
    using E = check::EventKind;
    switch (event) {
    case E::opening:
    case E::opening_hazard: return line.before.lo < 0.5 && line.after.hi > 0.5;
    case E::closing:
    case E::closing_hazard: return line.before.hi > 0.5 && line.after.lo < 0.5;
    case E::evacuating: return !before.pump && after.pump;
    case E::opening_tube: return action == timeline::ActionKind::open_tube;
    case E::none:
    case E::heating_above:
    case E::start:
    case E::end:
    case E::abort: break;
    }
    return false;
}

/// True only while a standing threshold may be moving its line: neither surely open nor surely closed.
timeline::Condition moving(timeline::Index line) {
    timeline::Condition condition;
    Term open;
    open.left = {timeline::SignalKind::line_open, line};
    Term flip;
    flip.kind = Term::Kind::not_;
    Term both;
    both.kind = Term::Kind::and_;
    condition.terms = {open, open, flip, both};
    return condition;
}

timeline::Condition both(timeline::Condition first, const timeline::Condition& second) {
    if (second.empty()) return first;
    first.terms.insert(first.terms.end(), second.terms.begin(), second.terms.end());
    Term join;
    join.kind = Term::Kind::and_;
    first.terms.push_back(join);
    return first;
}

/// Can the temperature rise in a span? A hold can: it may follow a jump of the set-point. Over a range of
/// parameters one end of it may stand still while the other rises.
bool may_rise(const timeline::Timeline& timeline, std::size_t span) {
    const auto falls = [](const timeline::Law& law) {
        return law.kind == timeline::LawKind::off ||
               (law.kind == timeline::LawKind::line && law.to <= law.from);
    };
    for (std::size_t zone = 0; zone < timeline.zones.size(); ++zone)
        if (const Laws laws = laws_of(timeline, span, zone); !falls(laws.least) || !falls(laws.most))
            return true;
    return false;
}

/// True only while the temperature may be passing `t`.
timeline::Condition passing(double t) {
    timeline::Condition condition;
    Term term;
    term.kind = Term::Kind::compare;
    term.left = {timeline::SignalKind::temperature, timeline::none};
    term.value = t;
    term.comparison = Comparison::greater_equal;
    condition.terms.push_back(term);
    term.comparison = Comparison::less_equal;
    condition.terms.push_back(term);
    Term both;
    both.kind = Term::Kind::and_;
    condition.terms.push_back(both);
    return condition;
}

} // namespace

bool Judge::note_margin(const timeline::Condition& require, const plant::State& state,
                        const timeline::State& discrete, double at_s, athanor::Span source,
                        Margin& margin) const {
    std::vector<Sides>& stack = stack_;
    stack.clear();
    const auto nearer = [](const Distance& a, const Distance& b) { return a.relative <= b.relative; };
    // Without any negation nobody asks how far the parts are from holding.
    const bool both_sides = std::any_of(require.terms.begin(), require.terms.end(),
                                        [](const Term& term) { return term.kind == Term::Kind::not_; });
    for (const Term& term : require.terms) {
        switch (term.kind) {
        case Term::Kind::truth: {
            const Interval value = plant_.signal(term.left, state, discrete);
            stack.push_back({{value.lo > 0.5 ? infinity : doubtful, &term, value},
                             {value.hi < 0.5 ? infinity : doubtful, &term, value}});
            break;
        }
        case Term::Kind::compare: {
            const Interval value = plant_.signal(term.left, state, discrete);
            Interval limit = term.value;
            if (term.right_is_signal) limit = limit + plant_.signal(term.right, state, discrete);
            Sides& sides = stack.emplace_back();
            sides.holds = {relative(term.comparison, value, limit), &term, value};
            if (both_sides) sides.fails = {relative(opposite(term.comparison), value, limit), &term, value};
            break;
        }
        case Term::Kind::not_: std::swap(stack.back().holds, stack.back().fails); break;
        case Term::Kind::and_:
        case Term::Kind::or_: {
            // A conjunction is as near to failing as its nearest part, an alternative as its farthest.
            const Sides right = stack.back();
            stack.pop_back();
            Sides& left = stack.back();
            const bool both = term.kind == Term::Kind::and_;
            left.holds = nearer(left.holds, right.holds) == both ? left.holds : right.holds;
            if (both_sides) left.fails = nearer(left.fails, right.fails) != both ? left.fails : right.fails;
            break;
        }
        }
    }
    if (stack.empty() || stack.back().holds.relative >= margin.relative) return false;
    const Distance& found = stack.back().holds;
    margin = {found.relative, *found.term, found.value, at_s, source, -1, 0, 0, {}, false};
    return true;
}

void Judge::at_instant(const timeline::Condition& require, const plant::State& state,
                       const timeline::State& discrete, std::size_t span, double at_s, athanor::Span source,
                       Judgement& result) const {
    result.applied = true;
    Verdict verdict = plant_.evaluate(require, state, discrete);
    if (note_margin(require, state, discrete, at_s, source, result.margin)) {
        result.margin.span = span;
        result.margin.boundary = true;
    }
    if (verdict == Verdict::proven) return;
    if (!result.witness) result.witness = Witness{span, at_s, state, discrete, source, -1};
    if (result.verdict == Verdict::proven) result.verdict = verdict;
}

/// A condition over a course, asked piece by piece.
class Judge::Asked {
public:
    Asked(const Judge& judge, const Query& query, const Course& course, Judgement& result)
        : judge_(judge), plant_(judge.plant_), query_(query), course_(course), discrete_(*course.drive.state),
          result_(result) {}

    const plant::State& during(Interval t) const {
        if (course_.ahead == nullptr)
            course_.ahead = &course_.own.emplace(plant_, course_.entry, course_.drive);
        return course_.ahead->during(t);
    }
    const plant::State& over(double from, double to) {
        const bool whole = !course_.aborted && from == 0 && to == course_.last;
        return whole ? whole_.emplace(judge_.walk_.over(course_.span)) : during({from, to});
    }
    Verdict evaluate(const timeline::Condition& condition, const plant::State& state) const {
        return condition.empty() ? Verdict::proven : plant_.evaluate(condition, state, discrete_);
    }
    bool done(const plant::State& state) const {
        return query_.until && plant_.evaluate(*query_.until, state, discrete_) == Verdict::proven;
    }

    /// A piece in which it surely holds.
    void holds(const plant::State& over, double from, double to) {
        result_.applied = true;
        const double before = result_.margin.relative;
        note(over, from, result_.margin);
        if (!(result_.margin.relative < before) || !std::isfinite(to)) return;
        // Say at which end of the piece it is: a bound that moves is nearest at one of them.
        Margin first, last;
        note(during(from), from, first);
        note(during(to), to, last);
        if (last.relative >= first.relative) return;
        result_.margin.at_s = last.at_s;
        result_.margin.after_s = last.after_s;
        result_.margin.in_course = last.in_course;
    }

    void fails(const plant::State& state, double t, Verdict verdict) {
        result_.applied = true;
        note(state, t, result_.margin);
        result_.verdict = verdict;
        result_.witness = witness(state, t);
        settle();
    }

private:
    void note(const plant::State& state, double t, Margin& margin) const {
        if (!judge_.note_margin(query_.require, state, discrete_, course_.at_s + (course_.aborted ? 0 : t),
                                course_.source, margin))
            return;
        margin.span = course_.span;
        margin.in_course = t;
        if (course_.aborted) margin.after_s = t;
    }
    Witness witness(plant::State state, double t) const {
        return {course_.span,     course_.at_s + (course_.aborted ? 0 : t),
                std::move(state), discrete_,
                course_.source,   course_.aborted ? t : -1};
    }
    /// The bounds widen and narrow: what only some rigs fail at the first doubtful instant, every rig may fail
    /// when the span ends. A rule that is over at some point keeps its first doubtful instant: that is where to
    /// act.
    void settle() {
        const double last = course_.last;
        if (query_.until || result_.verdict != Verdict::not_provable || !std::isfinite(last)) return;
        const plant::State& later = during(last);
        if (evaluate(query_.guard, later) != Verdict::proven ||
            plant_.evaluate(query_.require, later, discrete_) != Verdict::violated)
            return;
        result_.verdict = Verdict::violated;
        result_.witness = witness(later, last);
    }

    const Judge& judge_;
    const plant::Plant& plant_;
    const Query& query_;
    const Course& course_;
    const timeline::State& discrete_;
    Judgement& result_;
    std::optional<plant::State> whole_;
};

void Judge::over_piece(const Query& query, const Course& course, double from, double to, unsigned depth,
                       bool& active, Judgement& result) const {
    if (!active || result.witness) return;
    Asked asked(*this, query, course, result);
    if (query.until && !query.standing && !query.unmet && asked.done(asked.during(from))) {
        active = false;
        return;
    }
    const plant::State& over = asked.over(from, to);
    if (query.standing && asked.done(over)) return;
    if (asked.evaluate(query.guard, over) == Verdict::violated) return;
    if (plant_.evaluate(query.require, over, *course.drive.state) == Verdict::proven)
        return asked.holds(over, from, to);
    // A failure at the piece's first instant settles it, and is the earliest there is; otherwise the piece is
    // halved until its hull is narrow enough, or too short to matter.
    const plant::State& state = asked.during(from);
    const Verdict held = asked.evaluate(query.guard, state);
    const Verdict required = plant_.evaluate(query.require, state, *course.drive.state);
    const bool over_already = query.standing && asked.done(state);
    if (held != Verdict::violated && required != Verdict::proven && !over_already)
        return asked.fails(state, from,
                           held == Verdict::proven && required == Verdict::violated ? Verdict::violated
                                                                                    : Verdict::not_provable);
    if (depth == 0 || to - from <= shortest_piece || !std::isfinite(to))
        return asked.fails(over, from, Verdict::not_provable);
    const double middle = from + 0.5 * (to - from);
    over_piece(query, course, from, middle, depth - 1, active, result);
    over_piece(query, course, middle, to, depth - 1, active, result);
}

void Judge::over_span(const Query& query, std::size_t span, bool& active, Judgement& result) const {
    const timeline::Span& s = timeline_.spans[span];
    const plant::State entry = walk_.entry(span);
    const Course course{entry, plant::drive(timeline_, span), walk_.at_s(span), s.source, span, s.duration.hi};
    over_piece(query, course, 0, s.duration.hi, max_bisections, active, result);
}

Judgement Judge::requirement(const timeline::Requirement& requirement) const {
    static const timeline::Condition always;
    Judgement result;
    const timeline::Condition& guard =
        requirement.guard == timeline::none ? always : timeline_.conditions[requirement.guard];
    Query query{timeline_.conditions[requirement.condition], guard, nullptr};
    for (std::size_t span = requirement.first_span; span < requirement.last_span && !result.witness; ++span) {
        bool active = true;
        over_span(query, span, active, result);
    }
    return result;
}

Judgement Judge::expectation(const timeline::Expectation& expectation) const {
    Judgement result;
    std::size_t span = expectation.boundary;
    bool last = span >= timeline_.spans.size();
    double at_s = walk_.at_s(last ? walk_.steps.size() : span);
    timeline::Index state = span == 0 ? 0 : timeline_.spans[span - 1].state;
    timeline::Index first = last ? timeline_.end_first : timeline_.spans[span].first_action;
    plant::State now = walk_.arrival(last ? walk_.steps.size() : span);
    for (timeline::Index a = 0; a < expectation.after_actions; ++a) {
        const timeline::Action& action = timeline_.actions[first + a];
        plant::act(action.kind, plant_, now);
        state = action.state;
    }
    at_instant(timeline_.conditions[expectation.condition], now, timeline_.states[state], span, at_s,
               expectation.source, result);
    return result;
}

/// More outputs than this in one instant are taken in the order that is written.
constexpr std::size_t most_changes = 10;

std::vector<timeline::State> Judge::in_any_order(std::size_t boundary, timeline::Index own,
                                                 const Instance& instance) const {
    const std::size_t spans = timeline_.spans.size();
    const bool last = boundary == spans;
    const timeline::Index first = last ? timeline_.end_first : timeline_.spans[boundary].first_action;
    const timeline::Index count = last ? timeline_.end_actions : timeline_.spans[boundary].actions;
    const timeline::State& before = timeline_.states[boundary == 0 ? 0 : timeline_.spans[boundary - 1].state];
    const timeline::State& after = timeline_.states[timeline_.actions[first + count - 1].state];
    const timeline::Action& event = timeline_.actions[first + own];
    std::vector<std::function<void(timeline::State&)>> changes; // of all that is not the event's own
    for (timeline::Index l = 0; l < before.open.size(); ++l)
        if (l != event.line && l != instance.line &&
            (before.open[l] != after.open[l] || before.flows[l] != after.flows[l]))
            changes.emplace_back(
                [&, l](timeline::State& s) { s.open[l] = after.open[l], s.flows[l] = after.flows[l]; });
    if (before.burner != after.burner)
        changes.emplace_back([&](timeline::State& s) { s.burner = after.burner; });
    if (before.pump != after.pump && instance.clause->event.kind != check::EventKind::evacuating)
        changes.emplace_back([&](timeline::State& s) { s.pump = after.pump; });
    if (changes.size() > most_changes) return {};
    std::vector<timeline::State> list;
    for (std::size_t some = 0; some < std::size_t{1} << changes.size(); ++some) {
        list.push_back(before);
        for (std::size_t n = 0; n < changes.size(); ++n)
            if ((some >> n & 1U) != 0) changes[n](list.back());
    }
    return list;
}

bool Judge::meets(const Instance& instance, std::size_t boundary, Judgement& result) const {
    using Form = check::RuleForm;
    const check::Event& event = instance.clause->event;
    const std::size_t spans = timeline_.spans.size();
    const bool last = boundary == spans;
    timeline::Index state = boundary == 0 ? 0 : timeline_.spans[boundary - 1].state;
    const timeline::Index first = last ? timeline_.end_first : timeline_.spans[boundary].first_action;
    const timeline::Index count = last ? timeline_.end_actions : timeline_.spans[boundary].actions;
    timeline::Index done = 0; // actions before this one
    bool met = false;
    auto standing = [&] {
        plant::State now = walk_.arrival(boundary);
        for (timeline::Index a = 0; a < done; ++a) plant::act(timeline_.actions[first + a].kind, plant_, now);
        return now;
    };
    auto moved = [&](const timeline::Action& action) -> Moved {
        if (instance.line == timeline::none) return {};
        const timeline::State &before = timeline_.states[state], &after = timeline_.states[action.state];
        if (action.line != instance.line ||
            (action.kind != timeline::ActionKind::arm && action.kind != timeline::ActionKind::disarm))
            return {before.open[instance.line], after.open[instance.line]};
        const timeline::Signal open{timeline::SignalKind::line_open, instance.line};
        const plant::State now = standing();
        return {plant_.signal(open, now, before), plant_.signal(open, now, after)};
    };
    auto meet = [&](athanor::Span source) {
        met = true;
        if (instance.clause->form != Form::before) return;
        const plant::State now = standing();
        const timeline::State& discrete = timeline_.states[state];
        if (!instance.guard.empty() && plant_.evaluate(instance.guard, now, discrete) == Verdict::violated)
            return;
        at_instant(instance.require, now, discrete, boundary, walk_.at_s(boundary), source, result);
        // What the standard policy forbids on the way is kept apart when it is keyed.
        const bool acts = event.kind != check::EventKind::start && event.kind != check::EventKind::end;
        if (result.witness || !any_order_ || instance.rule->standard || !acts) return;
        for (const timeline::State& other : in_any_order(boundary, done, instance)) {
            at_instant(instance.require, now, other, boundary, walk_.at_s(boundary), source, result);
            if (!result.witness) continue;
            result.witness->together = true;
            return;
        }
    };
    if (boundary == 0 && event.kind == check::EventKind::start) meet(instance.clause->span);
    for (timeline::Index a = 0; a < count && !result.witness; ++a) {
        const timeline::Action& action = timeline_.actions[first + a];
        if (happened(event.kind, moved(action), timeline_.states[state], timeline_.states[action.state],
                     action.kind))
            meet(action.source);
        state = action.state;
        ++done;
    }
    if (last && event.kind == check::EventKind::end) // a run without any step that takes time has its actions
        meet(spans > 0   ? timeline_.spans[spans - 1].source
             : count > 0 ? timeline_.actions[first + count - 1].source
                         : instance.clause->span);
    return met;
}

/// What of an event may come at any instant of a span: a standing threshold that opens or closes its line, a
/// temperature that is passed.
Judge::Within Judge::within(const Instance& instance, std::size_t span, Judgement& result) const {
    using E = check::EventKind;
    const E kind = instance.clause->event.kind;
    const bool before = instance.clause->form == check::RuleForm::before;
    const timeline::State& discrete = timeline_.states[timeline_.spans[span].state];
    const bool line_event =
        kind == E::opening || kind == E::opening_hazard || kind == E::closing || kind == E::closing_hazard;
    Within found;
    bool always = true;
    for (std::size_t t = 0; line_event && t < timeline_.thresholds.size(); ++t) {
        if ((discrete.armed >> t & 1U) == 0 || timeline_.thresholds[t].line != instance.line) continue;
        const timeline::Condition here = both(moving(instance.line), instance.guard);
        if (before)
            over_span({instance.require, here, nullptr}, span, always, result);
        else
            found.met = found.standing = true;
    }
    if (kind != E::heating_above || !may_rise(timeline_, span)) return found;
    const timeline::Condition here = passing(instance.temperature);
    if (before)
        over_span({instance.require, both(here, instance.guard), nullptr}, span, always, result);
    else if (plant_.evaluate(here, walk_.over(span), discrete) != Verdict::violated)
        found.met = true;
    return found;
}

/// A rule that is still on when the run ends: what its last actions do is asked, too. The standard policy has a
/// rule of its own for the end.
void Judge::at_end(const Instance& instance, const timeline::Condition* until, Judgement& result) const {
    if (timeline_.end_actions == 0 || instance.rule->standard) return;
    const std::size_t spans = timeline_.spans.size();
    plant::State now = walk_.arrival(spans);
    timeline::Index state = spans == 0 ? 0 : timeline_.spans[spans - 1].state;
    if (until != nullptr && plant_.evaluate(*until, now, timeline_.states[state]) == Verdict::proven) return;
    for (timeline::Index a = 0; a < timeline_.end_actions; ++a) {
        const timeline::Action& action = timeline_.actions[timeline_.end_first + a];
        plant::act(action.kind, plant_, now);
        state = action.state;
    }
    const timeline::State& discrete = timeline_.states[state];
    if (until != nullptr && plant_.evaluate(*until, now, discrete) == Verdict::proven) return;
    if (!instance.guard.empty() && plant_.evaluate(instance.guard, now, discrete) == Verdict::violated) return;
    at_instant(instance.require, now, discrete, spans, walk_.at_s(spans),
               timeline_.actions[timeline_.end_first].source, result);
}

Judgement Judge::rule(const Instance& instance) const {
    Judgement result;
    using Form = check::RuleForm;
    const Form form = instance.clause->form;
    bool active = form == Form::always;
    const timeline::Condition* until =
        form == Form::from_until && !instance.until.empty() ? &instance.until : nullptr;
    const std::size_t spans = timeline_.spans.size();
    for (std::size_t b = 0; b <= spans && !result.witness; ++b) {
        if (meets(instance, b, result)) active = true;
        if (b == spans) {
            if (active && !result.witness && form == Form::from_until) at_end(instance, until, result);
            break;
        }
        const Within within = this->within(instance, b, result);
        if (within.met) active = true;
        if (form == Form::before) continue;
        if (active) {
            const timeline::State& discrete = timeline_.states[timeline_.spans[b].state];
            // What is violated over the whole of a span is proven at no instant of it.
            const bool unmet =
                until != nullptr && plant_.evaluate(*until, walk_.over(b), discrete) == Verdict::violated;
            over_span({instance.require, instance.guard, until, within.standing, unmet}, b, active, result);
        }
        if (form == Form::always) active = true;
    }
    return result;
}

} // namespace athanor::prove
