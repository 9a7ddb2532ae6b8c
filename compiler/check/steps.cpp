// Steps: what takes time.
#include "compiler/check/checker.hpp"

#include <algorithm>
#include <fmt/format.h>

namespace athanor::check {

namespace {

struct ClauseForm {
    Node node;
    ClauseKind kind;
    Kind takes;
    std::string_view place;
};

/// Clauses that mean the same wherever they stand; `at` is a rate, a flow or a temperature by its statement.
constexpr ClauseForm forms[] = {
    {Node::over, ClauseKind::over, Kind::time, "`over`"},
    {Node::within, ClauseKind::within, Kind::difference, "`within`"},
    {Node::duration, ClauseKind::duration, Kind::time, "`for`"},
    {Node::volumes, ClauseKind::volumes, Kind::count, "`for … volumes`"},
    {Node::at_most, ClauseKind::at_most, Kind::time, "`at most`"},
    {Node::to, ClauseKind::to, Kind::pressure, "`to`"},
};

} // namespace

void Checker::clause(Statement& s, NodeId node, ClauseKind kind_, ExprId expr) {
    if (has(s, kind_) != nullptr) return; // twice: the parser told it
    model.clauses.push_back({kind_, expr, span(node)});
    ++s.clauses;
}

void Checker::clauses(NodeId node, Statement& s) {
    s.first_clause = static_cast<Index>(model.clauses.size());
    for (NodeId at = first(node); at != no_node; at = next(at)) {
        const NodeId expr = first(at);
        const Node k = kind(at);
        if (k < Node::at || k > Node::to) continue; // no clause
        if (k == Node::at) {
            const bool rate = s.kind == StatementKind::ramp || s.kind == StatementKind::cool;
            ExprId id = 0;
            if (rate) {
                id = value(expr, Kind::rate, "`at`");
                look_at(id, expr, "`at`");
            } else if (s.kind == StatementKind::humidify) {
                id = value(expr, Kind::temperature, "`at`");
            } else {
                flow_line_ = s.names == 1 ? model.names_used[s.first_name].name : 0;
                id = flow_value(expr, "`at`");
                flow_line_ = 0;
            }
            clause(s, at, ClauseKind::at, id);
        } else if (k == Node::until) {
            clause(s, at, ClauseKind::until, condition(expr, Reads::signals, "`until`"));
        } else {
            for (const ClauseForm& form : forms)
                if (form.node == k) {
                    const ExprId id = value(expr, form.takes, form.place);
                    if (form.takes == Kind::time) look_at(id, expr, form.place);
                    clause(s, at, form.kind, id);
                }
        }
    }
}

void Checker::targets(NodeId node, Statement& s) {
    s.first_target = static_cast<Index>(model.targets.size());
    const std::string_view place = s.kind == StatementKind::ramp   ? "`ramp to`"
                                   : s.kind == StatementKind::heat ? "`heat to`"
                                   : s.kind == StatementKind::cool ? "`cool to`"
                                                                   : "`step to`";
    for (NodeId at = first(node); at != no_node; at = next(at)) {
        if (kind(at) != Node::zone_target) continue;
        ZoneTarget target{};
        NodeId expr = first(at);
        if (expr != no_node && next(expr) != no_node) {
            target.zone = zone(expr);
            if (target.zone.name == 0) frame_->broken = true;
            expr = next(expr);
        }
        target.target = value(expr, Kind::temperature, place);
        look_at(target.target, expr, "a set-point");
        for (Index i = 0; i < s.targets; ++i) {
            const NameId earlier = model.targets[s.first_target + i].zone.name;
            if (earlier == target.zone.name && (earlier != 0 || kind(first(at)) != Node::name)) {
                misplaced(at, earlier == 0 ? "two set-points for every zone in one step"
                                           : fmt::format("two set-points for zone `{}` in one step",
                                                         model.names[earlier]));
                break;
            }
            if ((earlier == 0) != (target.zone.name == 0)) {
                misplaced(at, "a set-point for every zone beside one for a single zone",
                          "name a zone for each of them");
                break;
            }
        }
        model.targets.push_back(target);
        ++s.targets;
    }
}

void Checker::name_list(NodeId node, Statement& s) {
    s.first_name = static_cast<Index>(model.names_used.size());
    for (NodeId at = first(node); at != no_node; at = next(at)) {
        if (kind(at) != Node::name) continue;
        const NameRef ref = line(at);
        if (ref.name == 0) frame_->broken = true;
        model.names_used.push_back(ref);
        ++s.names;
    }
}

void Checker::ramp_clauses(const Statement& s) {
    const Clause *at = has(s, ClauseKind::at), *over = has(s, ClauseKind::over),
                 *within = has(s, ClauseKind::within);
    if (at != nullptr && over != nullptr) {
        out.error(Code::misplaced, over->span, "a ramp has a rate or a time, not both")
            .also(at->span, "the rate")
            .remedy("leave one of them out");
        frame_->broken = true;
    }
    if (within != nullptr && s.kind == StatementKind::cool && at == nullptr && over == nullptr) {
        out.error(Code::misplaced, within->span, "natural cooling follows no set-point, so it has no soak band")
            .remedy("state a rate, or put the band on the dwell that follows");
        frame_->broken = true;
    }
    if (within != nullptr && s.kind == StatementKind::step_to) {
        out.error(Code::misplaced, within->span, "`step to` takes no time, so it has no soak band")
            .remedy("put the band on the dwell that follows");
        frame_->broken = true;
    }
}

void Checker::dwell(NodeId node, Statement& s) {
    s.kind = StatementKind::dwell;
    const NodeId time = first(node);
    const Node k = time == no_node ? Node::none : kind(time);
    const bool bare =
        k == Node::none || k == Node::until || k == Node::at_most || k == Node::within || k == Node::block;
    if (!bare) {
        s.value = value(time, Kind::time, "`dwell`");
        look_at(s.value, time, "`dwell`");
    }
    clauses(node, s);
    const Clause *until = has(s, ClauseKind::until), *most = has(s, ClauseKind::at_most),
                 *within = has(s, ClauseKind::within);
    if (most != nullptr && until == nullptr) {
        out.error(Code::misplaced, most->span, "`at most` limits a dwell that waits for a condition")
            .remedy("dwell until oxygen < 10 ppm at most 2 h");
        frame_->broken = true;
    }
    if (within != nullptr && until != nullptr) {
        out.error(Code::misplaced, within->span,
                  "a dwell that waits for a condition counts no time, so it has no soak band")
            .remedy("a dwell for a time with the band behind it");
        frame_->broken = true;
    }
}

void Checker::purge(NodeId node, Statement& s) {
    s.kind = StatementKind::purge;
    name_list(node, s);
    clauses(node, s);
    const Clause* ends[] = {has(s, ClauseKind::until), has(s, ClauseKind::duration),
                            has(s, ClauseKind::volumes)};
    const Clause* earlier = nullptr;
    for (const Clause* end : ends) {
        if (end == nullptr) continue;
        if (earlier != nullptr) {
            out.error(Code::misplaced, std::max(earlier->span, end->span), "a purge ends in one way only")
                .also(std::min(earlier->span, end->span), "the other one")
                .remedy("until a condition, `for` a time, or `for 5 volumes`");
            frame_->broken = true;
            break;
        }
        earlier = end;
    }
    const Clause* most = has(s, ClauseKind::at_most);
    if (most != nullptr && ends[0] == nullptr) {
        out.error(Code::misplaced, most->span, "`at most` limits a purge that waits for a condition");
        frame_->broken = true;
    }
}

/// False when the node is no step.
bool Checker::step(NodeId node, Statement& s) {
    const auto zone_step = [&](StatementKind kind_) {
        s.kind = kind_;
        targets(node, s);
        clauses(node, s);
        ramp_clauses(s);
        return true;
    };
    switch (kind(node)) {
    case Node::ramp: return zone_step(StatementKind::ramp);
    case Node::heat: return zone_step(StatementKind::heat);
    case Node::cool: return zone_step(StatementKind::cool);
    case Node::step_to: return zone_step(StatementKind::step_to);
    case Node::dwell: dwell(node, s); return true;
    case Node::purge: purge(node, s); return true;
    case Node::evacuate:
        s.kind = StatementKind::evacuate;
        s.value = value(first(node), Kind::pressure, "`evacuate to`");
        look_at(s.value, first(node), "`evacuate to`");
        clauses(node, s);
        return true;
    case Node::backfill:
        s.kind = StatementKind::backfill;
        name_list(node, s);
        clauses(node, s);
        return true;
    case Node::wait_operator:
        s.kind = StatementKind::wait;
        s.text = text_of(tree().child(node, Node::text));
        s.flag = tree().child(node, Node::with_tube_open) != no_node;
        return true;
    case Node::quench:
        s.kind = StatementKind::quench;
        if (const NodeId medium = tree().child(node, Node::name); medium != no_node) {
            s.text = static_cast<Index>(model.texts.size());
            model.texts.emplace_back(text(medium));
        }
        return true;
    default: return false;
    }
}

} // namespace athanor::check
