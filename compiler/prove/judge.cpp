#include "compiler/prove/judge.hpp"

#include "compiler/plant/exits.hpp"

#include <algorithm>
#include <cmath>
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

/// How far one part of a condition is from failing.
struct Distance {
    double relative = infinity;
    const Term* term = nullptr;
    Interval value;
};
/// The same for the part and for its negation.
struct Sides {
    Distance holds, fails;
};
bool nearer(const Distance& a, const Distance& b) {
    return a.relative <= b.relative;
}

Comparison opposite(Comparison comparison) {
    switch (comparison) {
    case Comparison::less: return Comparison::greater_equal;
    case Comparison::less_equal: return Comparison::greater;
    case Comparison::greater: return Comparison::less_equal;
    case Comparison::greater_equal: break;
    }
    return Comparison::less;
}

/// Did this action do what the event waits for?
bool happened(check::EventKind event, timeline::Index line, const timeline::State& before,
              const timeline::State& after, timeline::ActionKind action) {
    using E = check::EventKind;
    switch (event) {
    case E::opening:
    case E::opening_hazard: return line != timeline::none && !before.open[line] && after.open[line];
    case E::closing:
    case E::closing_hazard: return line != timeline::none && before.open[line] && !after.open[line];
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

/// Can the temperature rise while these laws run? A hold can: it may follow a jump of the set-point.
bool may_rise(const timeline::Law* laws, std::size_t zones) {
    return std::any_of(laws, laws + zones, [](const timeline::Law& law) {
        bool falls =
            law.kind == timeline::LawKind::off || (law.kind == timeline::LawKind::line && law.to <= law.from);
        return !falls;
    });
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
    std::vector<Sides> stack;
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
            stack.push_back({{relative(term.comparison, value, limit), &term, value},
                             {relative(opposite(term.comparison), value, limit), &term, value}});
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
            left.fails = nearer(left.fails, right.fails) != both ? left.fails : right.fails;
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

void Judge::over_piece(const Query& query, const Course& course, double from, double to, unsigned depth,
                       bool& active, Judgement& result) const {
    if (!active || result.witness) return;
    const timeline::State& discrete = *course.drive.state;
    auto during = [&](Interval t) {
        if (!course.way) course.way.emplace(plant_, course.entry, course.drive);
        return course.way->during(t);
    };
    auto at = [&](double t) { return during(t); };
    auto margin = [&](const plant::State& state, double t, Margin& to_margin) {
        if (!note_margin(query.require, state, discrete, course.at_s + (course.aborted ? 0 : t), course.source,
                         to_margin))
            return;
        to_margin.span = course.span;
        to_margin.in_course = t;
        if (course.aborted) to_margin.after_s = t;
    };
    auto witness = [&](plant::State state, double t) {
        return Witness{course.span,      course.at_s + (course.aborted ? 0 : t),
                       std::move(state), discrete,
                       course.source,    course.aborted ? t : -1};
    };
    bool ends = query.until && !query.standing;
    if (ends && plant_.evaluate(*query.until, at(from), discrete) == Verdict::proven) {
        active = false;
        return;
    }
    const bool whole = !course.aborted && from == 0 && to == course.last;
    const plant::State over = whole ? walk_.over(course.span) : during({from, to});
    if (query.standing && query.until && plant_.evaluate(*query.until, over, discrete) == Verdict::proven)
        return;
    Verdict guard = query.guard.empty() ? Verdict::proven : plant_.evaluate(query.guard, over, discrete);
    if (guard == Verdict::violated) return;
    Verdict verdict = plant_.evaluate(query.require, over, discrete);
    if (verdict == Verdict::proven) {
        result.applied = true;
        double before = result.margin.relative;
        margin(over, from, result.margin);
        if (result.margin.relative < before && std::isfinite(to)) {
            // Say at which end of the piece it is: a bound that moves is nearest at one of them.
            Margin first, last;
            margin(at(from), from, first);
            margin(at(to), to, last);
            if (last.relative < first.relative) {
                result.margin.at_s = last.at_s;
                result.margin.after_s = last.after_s;
                result.margin.in_course = last.in_course;
            }
        }
        return;
    }
    // The bounds widen and narrow: what only some rigs fail at the first doubtful instant, every rig may fail
    // when the span ends. A rule that is over at some point keeps its first doubtful instant: that is where to
    // act.
    auto settle = [&] {
        double last = course.last;
        if (query.until || result.verdict != Verdict::not_provable || !std::isfinite(last)) return;
        plant::State later = at(last);
        bool surely = query.guard.empty() || plant_.evaluate(query.guard, later, discrete) == Verdict::proven;
        if (!surely || plant_.evaluate(query.require, later, discrete) != Verdict::violated) return;
        result.verdict = Verdict::violated;
        result.witness = witness(later, last);
    };
    // A failure at the piece's first instant settles it, and is the earliest there is; otherwise the piece is
    // halved until its hull is narrow enough, or too short to matter.
    plant::State state = at(from);
    Verdict held = query.guard.empty() ? Verdict::proven : plant_.evaluate(query.guard, state, discrete);
    Verdict required = plant_.evaluate(query.require, state, discrete);
    bool over_already =
        query.standing && query.until && plant_.evaluate(*query.until, state, discrete) == Verdict::proven;
    if (held != Verdict::violated && required != Verdict::proven && !over_already) {
        result.applied = true;
        margin(state, from, result.margin);
        result.verdict = held == Verdict::proven && required == Verdict::violated ? Verdict::violated
                                                                                  : Verdict::not_provable;
        result.witness = witness(state, from);
        settle();
        return;
    }
    if (depth == 0 || to - from <= shortest_piece || !std::isfinite(to)) {
        result.applied = true;
        margin(over, from, result.margin);
        result.verdict = Verdict::not_provable;
        result.witness = witness(over, from);
        settle();
        return;
    }
    double middle = from + 0.5 * (to - from);
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

Judgement Judge::rule(const Instance& instance) const {
    Judgement result;
    using Form = check::RuleForm;
    const check::Event& event = instance.clause->event;
    bool active = instance.clause->form == Form::always;
    const timeline::Condition* until =
        instance.clause->form == Form::from_until && !instance.until.empty() ? &instance.until : nullptr;
    Query query{instance.require, instance.guard, until};

    std::size_t spans = timeline_.spans.size();
    for (std::size_t b = 0; b <= spans && !result.witness; ++b) {
        bool last = b == spans;
        timeline::Index state = b == 0 ? 0 : timeline_.spans[b - 1].state;
        double at_s = walk_.at_s(b);
        timeline::Index first = last ? timeline_.end_first : timeline_.spans[b].first_action;
        timeline::Index count = last ? timeline_.end_actions : timeline_.spans[b].actions;
        timeline::Index done = 0; // actions before this one
        auto meet = [&](athanor::Span source) {
            plant::State now = walk_.arrival(b);
            for (timeline::Index a = 0; a < done; ++a)
                plant::act(timeline_.actions[first + a].kind, plant_, now);
            if (instance.clause->form == Form::before)
                at_instant(instance.require, now, timeline_.states[state], b, at_s, source, result);
            else
                active = true;
        };
        athanor::Span nearby =
            spans == 0 ? instance.clause->span : timeline_.spans[std::min(b, spans - 1)].source;
        query.standing = false;
        if (b == 0 && event.kind == check::EventKind::start) meet(instance.clause->span);
        for (timeline::Index a = 0; a < count && !result.witness; ++a) {
            const timeline::Action& action = timeline_.actions[first + a];
            if (happened(event.kind, instance.line, timeline_.states[state], timeline_.states[action.state],
                         action.kind))
                meet(action.source);
            state = action.state;
            ++done;
        }
        if (last) {
            if (event.kind == check::EventKind::end) meet(nearby);
            break;
        }
        // A standing threshold may open or close its line at any instant of the span.
        const timeline::State& discrete = timeline_.states[timeline_.spans[b].state];
        for (std::size_t t = 0; t < timeline_.thresholds.size(); ++t) {
            using E = check::EventKind;
            bool line_event = event.kind == E::opening || event.kind == E::opening_hazard ||
                              event.kind == E::closing || event.kind == E::closing_hazard;
            if ((discrete.armed >> t & 1U) == 0 || timeline_.thresholds[t].line != instance.line || !line_event)
                continue;
            if (instance.clause->form == Form::before) {
                bool always = true;
                timeline::Condition here = moving(instance.line);
                over_span({instance.require, here, nullptr}, b, always, result);
            } else {
                active = query.standing = true;
            }
        }
        if (event.kind == check::EventKind::heating_above) {
            timeline::Condition here = passing(instance.temperature);
            bool rising = may_rise(timeline_.laws_of(b), timeline_.zones.size());
            bool always = true;
            if (rising && instance.clause->form == Form::before)
                over_span({instance.require, here, nullptr}, b, always, result);
            if (rising && instance.clause->form == Form::from_until &&
                plant_.evaluate(here,
                                plant_.during(walk_.entry(b), plant::drive(timeline_, b),
                                              {0, timeline_.spans[b].duration.hi}),
                                discrete) != Verdict::violated)
                active = true;
        }
        if (active && instance.clause->form != Form::before) over_span(query, b, active, result);
        if (instance.clause->form == Form::always) active = true;
    }
    return result;
}

} // namespace athanor::prove
