// Structure: blocks, repeats, branches, calls, runs, and what stands for a stretch of the recipe.
#include "compiler/elaborate/elaborator.hpp"

#include "compiler/quantity/unit.hpp"
#include "compiler/timeline/words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace athanor::elaborate {

/// Reported by whichever walk meets it first; the survey does, before anything is computed.
bool Elaborator::expands_too_far(athanor::Span at) {
    stopped = true;
    const std::size_t pumping = counted.pumped * (pump_step - 1);
    Diagnostic& d =
        out.error(Code::too_large, at, fmt::format("the recipe expands to more than {} steps", max_spans));
    if (survey && pumping > counted.spans)
        d.cause(fmt::format("a pump-down, and a filling behind one, counts as {} steps", pump_step));
    d.remedy("fewer passes, or several recipes");
    return false;
}

void Elaborator::block(StatementId first, std::string_view label) {
    Block& mine = blocks.emplace_back();
    mine.path_length = path.size();
    if (!label.empty()) path.append(label).append("/");
    for (StatementId id = first; id != 0 && !stopped; id = model.statements[id].next) statement(id);
    close_block();
}

void Elaborator::close_block() {
    Block mine = std::move(blocks.back());
    blocks.pop_back();
    path.resize(mine.path_length);
    if (survey) return;
    auto end = static_cast<Index>(t->spans.size());
    for (const auto& [r, before] : mine.requirements) {
        t->requirements[r].last_span = end;
        t->requirements[r].to_end = blocks.empty();
        active.erase(std::find(active.begin(), active.end(), r));
        if (before == steps) covers_nothing(t->requirements[r].source, "require");
    }
    for (const auto& [h, before] : mine.thresholds) {
        if (before == steps) covers_nothing(t->thresholds[h].source, "keep");
        now.armed &= ~(1U << h);
        Statement s{};
        s.span = t->thresholds[h].source;
        commit(timeline::ActionKind::disarm, s, t->thresholds[h].line, t->thresholds[h].flow);
    }
}

/// Read, it would promise something; in the run it is nothing.
void Elaborator::covers_nothing(athanor::Span at, const char* what) {
    if (blind || stopped) return;
    if (Diagnostic* d =
            error(Code::misplaced, at,
                  fmt::format("this `{}` holds to the end of its block, and no step follows it there", what)))
        d->remedy("put it in front of the steps that it is for, in their block");
}

void Elaborator::statement(StatementId id) {
    const Statement& s = model.statements[id];
    if (!work(s.span)) return;
    if (survey && asks_by_parameter) species_asked(s);
    switch (s.kind) {
    case StatementKind::repeat:
    case StatementKind::repeat_until: repeat(s); return;
    case StatementKind::for_each: for_each(s); return;
    case StatementKind::if_else: if_else(s); return;
    case StatementKind::call: call(s); return;
    case StatementKind::run: run_block(s); return;
    case StatementKind::let: let(s); return;
    case StatementKind::keep: keep(s); return;
    case StatementKind::require: require(s); return;
    case StatementKind::expect: expect(s); return;
    case StatementKind::ramp:
    case StatementKind::heat:
    case StatementKind::cool:
    case StatementKind::step_to:
    case StatementKind::dwell:
    case StatementKind::purge:
    case StatementKind::evacuate:
    case StatementKind::backfill:
    case StatementKind::wait:
    case StatementKind::quench:
        if (survey) {
            if (s.kind == StatementKind::evacuate || s.kind == StatementKind::backfill) ++counted.pumped;
            ++counted.spans;
            survey_placed(s);
        } else {
            step(s);
        }
        return;
    default:
        if (survey) {
            ++counted.actions;
            moves = moves || s.kind == StatementKind::move;
        } else {
            action(s);
        }
        return;
    }
}

/// What is placed inside a step cuts it, and is counted as what stands between two steps.
void Elaborator::survey_placed(const Statement& s) {
    for (StatementId id = s.body; id != 0 && !stopped; id = model.statements[id].next) {
        const Statement& a = model.statements[id];
        ++counted.spans;
        if (a.kind == StatementKind::at_action || a.kind == StatementKind::after_action) {
            if (a.body != 0) statement(a.body);
        } else {
            statement(id);
        }
    }
}

void Elaborator::let(const Statement& s) {
    if (s.slot < frame->slots.size()) frame->slots[s.slot] = value(s.value);
}

void Elaborator::repeat(const Statement& s) {
    double count = 0;
    // How far its steps go is not known, nor what comes behind them.
    if (!number(s.value, count)) return void(blind = true);
    if (count < 0 || count != std::floor(count)) {
        error(Code::misplaced, span_of(s.value),
              fmt::format("{} passes: a repeat takes a whole number, 0 or more", shortest(count)));
        blind = true;
        return;
    }
    if (count > static_cast<double>(max_spans)) {
        stopped = true;
        out.error(
            Code::too_large, span_of(s.value),
            fmt::format("{} passes are more than the {} steps a recipe may have", shortest(count), max_spans));
        return;
    }
    auto passes = static_cast<std::size_t>(count);
    bool until = s.kind == StatementKind::repeat_until;
    if (until && passes == 0) {
        error(Code::misplaced, span_of(s.value),
              "`at most` 0 times: nobody is ever asked, and no step of this repeat runs");
        blind = true;
        return;
    }
    std::size_t first = survey ? 0 : t->spans.size();
    std::size_t repeats_before = survey ? 0 : t->repeats.size();
    std::vector<std::size_t> starts;
    std::vector<std::pair<Index, plant::State>> exits;
    for (std::size_t pass = 1; pass <= passes && !stopped; ++pass) {
        if (!survey) starts.push_back(t->spans.size());
        if (s.slot != none && s.slot < frame->slots.size())
            frame->slots[s.slot] = {type_of(Kind::count), static_cast<double>(pass), none, {}};
        ++loops;
        block(s.body, fmt::format("repeat[{}]", pass));
        --loops;
        if (!work(s.span)) return;
        if (!until) continue;
        if (survey)
            ++counted.spans;
        else
            person(s, std::string(timeline::accepting) + model.texts[s.text], false);
        if (!survey && pass < passes) exits.emplace_back(static_cast<Index>(t->spans.size()), here);
    }
    // A person may have ended the repeat after each pass. Every step says where it goes, so all passes leave
    // the same set-points, valves and flows; what is in the tube differs.
    for (const auto& [boundary, there] : exits) {
        widen(here, there);
        t->exits.push_back({boundary, static_cast<Index>(t->spans.size())});
    }
    if (!survey && !stopped) record_repeat(first, repeats_before, passes, starts, s.span);
}

/// Records the passes that equal each other; where only the first differs (it starts from another set-point,
/// say), the others are recorded. An outer plain repeat takes the place of those inside it.
void Elaborator::record_repeat(std::size_t first, std::size_t repeats_before, std::size_t passes,
                               const std::vector<std::size_t>& starts, athanor::Span source) {
    std::size_t end = t->spans.size();
    if (passes < 2 || end == first) return;
    auto equal = [&](std::size_t a, std::size_t b, std::size_t length) {
        for (std::size_t i = 0; i < length; ++i) {
            const timeline::Span &x = t->spans[a + i], &y = t->spans[b + i];
            const timeline::Ending &e = x.ending, &f = y.ending;
            if (x.state != y.state || x.actions != y.actions || e.kind != f.kind || e.duration != f.duration ||
                e.band != f.band || e.temperature != f.temperature || e.at_most != f.at_most ||
                e.text != f.text)
                return false;
            // `for N volumes` counts from each pass's own entry; the rest of a condition is the same text.
            if (e.kind == timeline::EndingKind::certain &&
                t->conditions[e.condition].source != t->conditions[f.condition].source)
                return false;
            for (std::size_t z = 0; z < t->zones.size(); ++z)
                if (!(t->laws_of(a + i)[z] == t->laws_of(b + i)[z])) return false;
            for (Index k = 0; k < x.actions; ++k) {
                const timeline::Action &p = t->actions[x.first_action + k], &q = t->actions[y.first_action + k];
                if (p.kind != q.kind || p.line != q.line || p.value != q.value || p.text != q.text ||
                    p.state != q.state)
                    return false;
            }
        }
        return true;
    };
    auto length = [&](std::size_t pass) { return (pass + 1 < passes ? starts[pass + 1] : end) - starts[pass]; };
    for (std::size_t from : {std::size_t{0}, std::size_t{1}}) {
        if (passes - from < 2 || length(from) == 0) continue;
        bool plain = true;
        for (std::size_t pass = from + 1; pass < passes && plain; ++pass)
            plain = length(pass) == length(from) && equal(starts[from], starts[pass], length(from));
        if (!plain) continue;
        auto covered = [&](const timeline::Repeat& r) { return r.first >= starts[from]; };
        t->repeats.erase(std::remove_if(t->repeats.begin() + static_cast<std::ptrdiff_t>(repeats_before),
                                        t->repeats.end(), covered),
                         t->repeats.end());
        t->repeats.push_back({static_cast<Index>(starts[from]), static_cast<Index>(length(from)),
                              static_cast<Index>(passes - from), source});
        return;
    }
}

void Elaborator::for_each(const Statement& s) {
    check::Value list = value(s.value);
    if (list.poison()) {
        blind = true;
        return;
    }
    std::size_t pass = 0;
    for (const check::Value& item : list.list) {
        if (stopped || !work(s.span)) return;
        if (s.slot < frame->slots.size()) frame->slots[s.slot] = item;
        ++loops;
        block(s.body, fmt::format("for[{}]", ++pass));
        --loops;
    }
}

void Elaborator::if_else(const Statement& s) {
    check::Value v = value(s.value);
    if (v.poison()) {
        blind = true;
        return;
    }
    if (v.number.lo != v.number.hi) {
        error(Code::misplaced, span_of(s.value), "an `if` on an uncertain value: it may hold or not");
        return;
    }
    if (v.number.lo > 0)
        block(s.body, "if");
    else if (s.otherwise != 0)
        block(s.otherwise, "else");
}

void Elaborator::call(const Statement& s) {
    if (s.operation == none) return;
    const check::Operation& operation = model.operations[s.operation];
    if (calls.size() >= max_call_depth) {
        stopped = true;
        out.error(Code::too_large, s.span,
                  fmt::format("more than {} operations inside each other", max_call_depth));
        return;
    }
    check::Frame inner;
    inner.ambient_pressure = frame->ambient_pressure;
    inner.has_ambient = frame->has_ambient;
    inner.slots.resize(std::max<std::size_t>(operation.slots, operation.parameters.size()));
    bool good = true;
    for (Index i = 0; i < operation.parameters.size(); ++i) {
        const check::Parameter& p = operation.parameters[i];
        ExprId argument = i < s.arguments ? model.arguments[s.first_argument + i] : 0;
        if (argument != 0) {
            inner.slots[i] = value(argument);
        } else if (p.default_value != 0) {
            // A default may use the parameters before it.
            check::Frame* outer = std::exchange(frame, &inner);
            inner.slots[i] = value(p.default_value);
            frame = outer;
        } else {
            error(Code::value_missing, s.span,
                  fmt::format("`{}` needs a value for `{}`", model.names[operation.name], model.names[p.name]));
        }
        if (inner.slots[i].poison()) {
            good = false;
            continue;
        }
        check::Frame* outer = std::exchange(frame, &inner);
        good = in_range(p, inner.slots[i], argument != 0 ? span_of(argument) : p.span) && good;
        frame = outer;
    }
    if (!good) {
        blind = true;
        return;
    }
    check::Frame* outer = std::exchange(frame, &inner);
    calls.push_back(s.span);
    block(operation.body, model.names[operation.name]);
    calls.pop_back();
    frame = outer;
}

bool Elaborator::in_range(const check::Parameter& p, const check::Value& v, athanor::Span at) {
    Diagnostics found;
    const bool good = check::in_range(model, p, v, *frame, at, found);
    if (!survey)
        for (const Diagnostic& d : found.all())
            if (fresh(d.severity, d.code, d.span)) out.add(d); // an operation may be called many times
    return good;
}

/// Each `run` is a programme that a person starts. Where no operator step says what happens between two of
/// them, a stop of any length stands there: nothing else is known about the pause.
void Elaborator::run_block(const Statement& s) {
    std::string name = s.text == none ? std::string() : model.texts[s.text];
    if (survey) {
        ++counted.spans;
        block(s.body, name);
        return;
    }
    if (in_run) {
        error(Code::misplaced, s.span, "a run inside a run: each run is a programme of its own");
        return;
    }
    StatementId first = s.body;
    bool starts_with_person = first != 0 && model.statements[first].kind == StatementKind::wait;
    // Who takes the load out has not put the next one in.
    bool person_there = t->spans.empty() || (t->spans.back().ending.kind == timeline::EndingKind::person &&
                                             t->spans.size() != taken_out);
    if (!person_there && !starts_with_person) person(s, fmt::format("start \"{}\"", name), false);
    in_run = true;
    quenched = false;
    block(first, name);
    in_run = false;
    taken_out = std::exchange(quenched, false) ? t->spans.size() : 0;
    // Steps between two runs belong to the one that follows.
    Index begin = t->runs.empty() ? 0 : t->runs.back().last;
    t->runs.push_back({name, begin, static_cast<Index>(t->spans.size())});
    end_of_run();
    for (LineInRun& line : lines_in_run) line.last = line.by_hand = 0;
}

void Elaborator::require(const Statement& s) {
    if (survey) return;
    Index c = condition(s.value);
    const Clause* guard = model.clause(s, ClauseKind::guard);
    Index g = guard != nullptr ? condition(guard->expr) : none;
    if (c == none || (guard != nullptr && g == none)) return;
    auto from = static_cast<Index>(t->spans.size());
    std::uint64_t key = std::uint64_t{s.span.file} << 32U | s.span.begin;
    auto [at, inserted] = last_requirement.try_emplace(key, none);
    if (!inserted) {
        // In a loop the ranges of the passes join into one.
        timeline::Requirement& before = t->requirements[at->second];
        bool running = std::find(active.begin(), active.end(), at->second) != active.end();
        if (!running && before.last_span == from && before.condition == c && before.guard == g) {
            blocks.back().requirements.push_back({at->second, steps});
            active.push_back(at->second);
            return;
        }
    }
    at->second = static_cast<Index>(t->requirements.size());
    t->requirements.push_back({c, g, from, from, s.span});
    blocks.back().requirements.push_back({at->second, steps});
    active.push_back(at->second);
}

void Elaborator::expect(const Statement& s) {
    if (survey) return;
    Index c = condition(s.value);
    if (c == none) return;
    t->expectations.push_back({c, static_cast<Index>(t->spans.size()),
                               static_cast<Index>(t->actions.size()) - pending_first, s.span});
}

void Elaborator::keep(const Statement& s) {
    if (s.names == 0 || survey) return;
    Index line = line_of(model.names_used[s.first_name]);
    double temperature = 0, flow = 0;
    if (line == none || !number(s.value, temperature) || !flow_asked(s, line, flow)) return;
    for (Index i = 0; i < t->thresholds.size(); ++i)
        if ((now.armed >> i & 1U) != 0 && t->thresholds[i].line == line) {
            error(Code::misplaced, s.span,
                  fmt::format("`{}` already follows the temperature by another `keep`", rig->lines[line].name));
            return;
        }
    Index index = 0; // of a pass before, or a new one
    while (index < t->thresholds.size()) {
        const timeline::Threshold& h = t->thresholds[index];
        if (h.line == line && h.flow == flow && h.temperature == temperature && h.opens == s.flag &&
            h.above == s.above)
            break;
        ++index;
    }
    if (index == timeline::most_thresholds) {
        stopped = true;
        out.error(Code::too_large, s.span,
                  fmt::format("more than {} standing thresholds", timeline::most_thresholds));
        return;
    }
    if (index == t->thresholds.size())
        t->thresholds.push_back({line, flow, temperature, s.flag, s.above, s.span});
    use_line(s, line, flow);
    dry(line);
    now.open[line] = false;
    now.flows[line] = 0;
    now.armed |= 1U << index;
    commit(timeline::ActionKind::arm, s, line, flow);
    check_opposing(s, line);
    into_the_pump(s, line, flow);
    blocks.back().thresholds.push_back({index, steps});
}

} // namespace athanor::elaborate
