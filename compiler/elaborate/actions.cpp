// Actions: what is switched between steps, and the checks that need only the action and the rig.
#include "compiler/elaborate/elaborator.hpp"

#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace athanor::elaborate {

using timeline::ActionKind;

Index Elaborator::text_index(std::string text) {
    auto [at, inserted] = texts.try_emplace(std::move(text), static_cast<Index>(t->texts.size()));
    if (inserted) t->texts.push_back(at->first);
    return at->second;
}

void Elaborator::commit(ActionKind kind, const Statement& s, Index line, double flow, Index text) {
    timeline::Action action;
    action.kind = kind;
    action.line = line;
    action.value = flow;
    action.text = text;
    action.state = states.intern(now, t->states);
    action.source = s.span;
    t->actions.push_back(action);
}

void Elaborator::action(const Statement& s) {
    auto name = [&](Index i) { return model.names_used[s.first_name + i]; };
    if (quenched) {
        error(Code::misplaced, s.span,
              "nothing can follow a quench in the same run: the load is out of the tube");
        return;
    }
    switch (s.kind) {
    case StatementKind::open:
    case StatementKind::switch_to:
    case StatementKind::set: {
        if (s.names == 0) return;
        Index line = line_of(name(0));
        double flow = 0;
        if (line == none || !flow_asked(s, line, flow)) {
            blind = true;
            return;
        }
        if (s.kind == StatementKind::set && !may_be_open(line)) {
            const Clause* to = model.clause(s, ClauseKind::to);
            const Clause* at = model.clause(s, ClauseKind::at);
            const ExprId asked = at != nullptr   ? at->expr
                                 : s.value != 0  ? s.value
                                 : to != nullptr ? to->expr
                                                 : 0;
            const std::string written =
                fmt::format("open {} at {}", rig->lines[line].name,
                            asked != 0 ? std::string(files.text(span_of(asked))) : flow_text(line, flow, 12));
            if (Diagnostic* d =
                    error(Code::misplaced, s.span,
                          fmt::format("`{}` is shut here, and `set` gives an open line another flow",
                                      rig->lines[line].name)))
                d->remedy(written).mend(s.span, written);
        }
        open(s, line, flow,
             s.kind == StatementKind::open  ? ActionKind::open
             : s.kind == StatementKind::set ? ActionKind::set
                                            : ActionKind::switch_to);
        return;
    }
    case StatementKind::close:
        for (Index i = 0; i < s.names; ++i)
            if (Index line = line_of(name(i)); line != none) close(s, line);
        return;
    case StatementKind::close_all: close_all(s); return;
    case StatementKind::blend: blend(s); return;
    case StatementKind::light: burner(s, true); return;
    case StatementKind::shut: burner(s, false); return;
    case StatementKind::start_pump: start_pump(s); return;
    case StatementKind::stop_pump: stop_pump(s); return;
    case StatementKind::note:
        if (s.text != none) commit(ActionKind::note, s, none, 0, text_index(model.texts[s.text]));
        return;
    case StatementKind::regulate: regulate(s); return;
    case StatementKind::humidify: humidify(s); return;
    case StatementKind::move: move(s); return;
    case StatementKind::at_action:
    case StatementKind::after_action:
        error(Code::misplaced, s.span, "`at` and `after` place an action inside the block of a step");
        return;
    default: return;
    }
}

bool Elaborator::flow_asked(const Statement& s, Index line, double& flow_) {
    const check::Line& l = rig->lines[line];
    const Clause* at = model.clause(s, ClauseKind::at);
    ExprId expr = at != nullptr ? at->expr : s.kind == StatementKind::set ? s.value : 0;
    if (expr == 0 && s.kind == StatementKind::set)
        if (const Clause* to = model.clause(s, ClauseKind::to)) expr = to->expr;
    if (expr == 0 && line < lines_in_run.size() && lines_in_run[line].last > 0) {
        // The meter keeps what was set before in this run.
        flow_ = lines_in_run[line].last;
        return true;
    }
    check::Frame* outer = frame;
    if (expr == 0 && (expr = default_flow(line)) != 0) {
        defaulted_before |= timeline::defaulted::flow;
        frame = &recipe_frame;
    }
    bool good = false;
    if (expr != 0) {
        good = flow(expr, line, flow_);
    } else {
        athanor::Span span = s.names != 0 ? model.names_used[s.first_name].span : s.span;
        if (Diagnostic* d = error(Code::value_missing, span,
                                  fmt::format("`{}` has no flow here, and no default gives one", l.name)))
            d->cause(fmt::format("its meter sets {} ({})", flow_text(line, l.meter.range.value),
                                 place(l.meter.source)))
                .remedy(fmt::format("{} at {}", files.text(s.span), flow_text(line, l.meter.range.hi(), 3)));
    }
    frame = outer;
    return good;
}

/// Of the recipe's block before its rig's; in each of a line by its own name, else by its gas, else by a gas
/// that it is mostly of. 0: no default gives one.
ExprId Elaborator::default_flow(Index line) const {
    const check::Line& l = rig->lines[line];
    const auto flow = [&](const check::Defaults& block) -> ExprId {
        for (const int near : {0, 1, 2}) {
            const auto meant = [&](const NameRef& ref) {
                if (ref.name == 0) return false;
                if (near == 0) return text_of(ref) == l.name;
                const Index gas = model.gas_named(text_of(ref));
                return near == 1 ? gas == l.gas : model.delivers(l.gas, gas);
            };
            for (const auto& [ref, value] : block.flows)
                if (meant(ref)) return value;
            if (block.purge_flow != 0 && meant(block.purge_line)) return block.purge_flow;
        }
        return 0;
    };
    const check::Defaults* block = defaults_with([&](const check::Defaults& d) { return flow(d) != 0; });
    return block != nullptr ? flow(*block) : 0;
}

void Elaborator::open(const Statement& s, Index line, double flow_, ActionKind kind) {
    if (follows_temperature(s, line)) return;
    if (kind == ActionKind::switch_to) leaves_open(s, {line});
    flow_ = as_set(line, flow_);
    use_line(s, line, flow_);
    if (kind != ActionKind::set) dry(line); // a line that opens anew is dry
    if (kind == ActionKind::switch_to)
        for (Index i = 0; i < rig->lines.size(); ++i) {
            dry(i);
            now.open[i] = false;
            now.flows[i] = 0;
        }
    now.open[line] = flow_ > 0;
    now.flows[line] = flow_;
    commit(kind, s, line, flow_);
    check_opposing(s, line);
    into_the_pump(s, line, flow_);
}

void Elaborator::into_the_pump(const Statement& s, Index line, double flow_) {
    if (!now.pump) return;
    if (now.regulated > 0) return check_held_pressure(s.span);
    if (Diagnostic* d = error(Code::evacuate_with_gas_open, s.span,
                              fmt::format("`{}` opens while the pump is on", rig->lines[line].name)))
        d->cause("the pump draws the gas straight through: neither the flow nor the pressure is known")
            .remedy(
                fmt::format("backfill {} at {} to ambient", rig->lines[line].name, flow_text(line, flow_, 3)))
            .remedy("or `regulate pressure to P` before it, with a throttle in the rig")
            .remedy("or `stop pump` before it");
}

bool Elaborator::follows_temperature(const Statement& s, Index line) {
    if (armed_for(line) == nullptr) return false;
    kept(s, line,
         fmt::format("`{}` follows the temperature here and cannot be switched", rig->lines[line].name));
    return true;
}

void Elaborator::kept(const Statement& s, Index line, const std::string& what) {
    if (Diagnostic* d = error(Code::misplaced, s.span, what))
        d->also(armed_for(line)->source, "by this `keep`, to the end of its block")
            .remedy("end the block before it: `repeat 1 times { keep … }` around the steps that it is for");
}

/// A statement that shuts all other lines does not shut those that follow the temperature.
void Elaborator::leaves_open(const Statement& s, const std::vector<Index>& opened) {
    if (blind || survey) return;
    for (Index i = 0; i < rig->lines.size(); ++i) {
        if (std::find(opened.begin(), opened.end(), i) != opened.end() || armed_for(i) == nullptr) continue;
        if (plant->signal({timeline::SignalKind::line_open, i}, here, now).hi < 0.5) continue;
        kept(s, i,
             fmt::format("this leaves `{}` open, which follows the temperature here", rig->lines[i].name));
    }
}

void Elaborator::close(const Statement& s, Index line) {
    if (follows_temperature(s, line)) return;
    dry(line);
    now.open[line] = false;
    now.flows[line] = 0;
    t->lines[line].used = true;
    if (lines_in_run[line].named_first == athanor::Span{}) lines_in_run[line].named_first = shown(s.span);
    commit(ActionKind::close, s, line);
}

void Elaborator::close_all(const Statement& s) {
    leaves_open(s, {});
    std::fill(now.open.begin(), now.open.end(), false);
    std::fill(now.flows.begin(), now.flows.end(), 0.0);
    now.bubbler = false;
    now.bath = 0;
    commit(ActionKind::close_all, s);
}

void Elaborator::burner(const Statement& s, bool on) {
    if (!rig->exhaust.has_burner()) {
        if (Diagnostic* d =
                error(Code::rig_inconsistent, s.span,
                      fmt::format("rig `{}` has no burner to {}", rig->name, on ? "light" : "shut")))
            d->cause(fmt::format("its exhaust is declared at {}", place(rig->exhaust.source)))
                .remedy("declare the burner in the rig: `exhaust afterburner { … }`");
        return;
    }
    now.burner = on;
    if (!on) here.burning = {};
    if (on && first_light == athanor::Span{}) first_light = shown(s.span);
    commit(on ? ActionKind::light : ActionKind::shut, s);
}

void Elaborator::start_pump(const Statement& s) {
    if (!rig->pump.present) {
        if (Diagnostic* d =
                error(Code::rig_inconsistent, s.span, fmt::format("rig `{}` has no pump", rig->name)))
            d->cause(fmt::format("it is declared at {}", place(rig->source)))
                .remedy("declare one in the rig: `pump { output 3 ; speed 4 m3/h ; ultimate 1e-2 mbar ; pipe "
                        "25 mm by 1 m }`");
        blind = true;
        return;
    }
    if (rig->ends.kind == check::EndsKind::insulation_plugs) {
        if (Diagnostic* d = error(
                Code::plugs_in_vacuum, s.span,
                "the tube is fitted with porous plugs: they hold air, which leaves slowly and goes on leaving"))
            d->cause(fmt::format("the plugs of rig `{}`, {} long and {} porous, are declared at {}", rig->name,
                                 to_text(rig->ends.length.value, Kind::length),
                                 to_text(rig->ends.porosity.value, Kind::fraction), place(rig->ends.source)))
                .remedy(fmt::format("fit shields for work under vacuum: rig {}_vacuum from {} {{ ends "
                                    "radiation_shields {{ count 4 }} }}",
                                    rig->name, rig->name));
        blind = true;
    }
    need_seals(s.span, "the tube is pumped");
    std::string open_lines;
    bool follows = false;
    for (Index i = 0; i < rig->lines.size(); ++i) {
        if (may_be_open(i)) open_lines += (open_lines.empty() ? "`" : ", `") + rig->lines[i].name + "`";
        follows = follows || armed_for(i) != nullptr;
    }
    if (!open_lines.empty()) {
        if (Diagnostic* d = error(Code::evacuate_with_gas_open, s.span,
                                  fmt::format("the pump starts while {} may be open", open_lines)))
            d->cause("the pump would draw the cylinder empty and never reach its pressure")
                .remedy(follows ? "end the block of the `keep` before it, and put `close all` there"
                                : "put `close all` before it");
        blind = true;
    }
    now.pump = true;
    commit(ActionKind::start_pump, s);
}

void Elaborator::stop_pump(const Statement& s) {
    if (!rig->pump.present) {
        error(Code::rig_inconsistent, s.span, fmt::format("rig `{}` has no pump", rig->name));
        return;
    }
    now.pump = false;
    now.regulated = 0;
    commit(ActionKind::stop_pump, s);
}

} // namespace athanor::elaborate
