// Actions, which take no time, and what stands from its line to the end of its block.
#include "compiler/check/checker.hpp"
#include "grammar/words.hpp"

#include <fmt/format.h>

namespace athanor::check {

/// `set temperature to 700 degC`: told, and no more said of it.
bool Checker::set_point(NodeId node, NameId name) {
    const NodeId target = second(node);
    if (!is_signal(name) || words_[name].kind != Kind::temperature || target == no_node) return false;
    out.error(Code::unknown_name, span(first(node)), std::string(grammar::set_moves_no_temperature))
        .remedy(fmt::format("write `ramp to {} at RATE`, or `step to {}` at once", text(target), text(target)));
    return true;
}

/// False when the node is no action.
bool Checker::action(NodeId node, Statement& s) {
    const auto named = [&](StatementKind kind_) {
        s.kind = kind_;
        name_list(node, s);
        clauses(node, s);
        return true;
    };
    const auto bare = [&](StatementKind kind_) {
        s.kind = kind_;
        return true;
    };
    switch (kind(node)) {
    case Node::open_line: return named(StatementKind::open);
    case Node::close_lines: return named(StatementKind::close);
    case Node::switch_to: return named(StatementKind::switch_to);
    case Node::humidify: return named(StatementKind::humidify);
    case Node::close_all: return bare(StatementKind::close_all);
    case Node::light_burner: return bare(StatementKind::light);
    case Node::shut_burner: return bare(StatementKind::shut);
    case Node::start_pump: return bare(StatementKind::start_pump);
    case Node::stop_pump: return bare(StatementKind::stop_pump);
    case Node::set_line: {
        s.kind = StatementKind::set;
        s.first_name = static_cast<Index>(model.names_used.size());
        s.names = 1;
        const NameId name = intern(first(node));
        if (set_point(node, name)) {
            model.names_used.push_back({});
            frame_->broken = true;
            return true;
        }
        model.names_used.push_back(line(first(node), name));
        if (model.names_used.back().name == 0) frame_->broken = true;
        flow_line_ = model.names_used.back().name;
        s.value = flow_value(second(node), "`set … to`");
        flow_line_ = 0;
        return true;
    }
    case Node::note:
        s.kind = StatementKind::note;
        s.text = text_of(tree().child(node, Node::text));
        return true;
    case Node::regulate:
        s.kind = StatementKind::regulate;
        s.value = value(first(node), Kind::pressure, "`regulate pressure to`");
        return true;
    case Node::move:
        // Neither name is a line: the sample and a place of the rig's slide.
        s.kind = StatementKind::move;
        s.first_name = static_cast<Index>(model.names_used.size());
        for (NodeId at = first(node); at != no_node; at = next(at)) {
            model.names_used.push_back({intern(at), none, span(at)});
            ++s.names;
        }
        return true;
    case Node::blend: {
        s.kind = StatementKind::blend;
        s.first_target = static_cast<Index>(model.blend_parts.size());
        NodeId rest = no_node;
        for (NodeId at = first(node); at != no_node; at = next(at)) {
            if (kind(at) != Node::part || broken(at)) continue;
            BlendPart part{};
            if (kind(first(at)) == Node::rest) {
                if (rest != no_node)
                    misplaced(at, "two parts of one blend are its `rest`", "state the share of one of them");
                rest = at;
            } else {
                part.share = value(first(at), Kind::fraction, "a part of a blend");
            }
            part.gas = line(second(at));
            if (part.gas.name == 0) frame_->broken = true;
            model.blend_parts.push_back(part);
            ++s.targets;
        }
        clauses(node, s);
        return true;
    }
    default: return false;
    }
}

/// False when the node is none of `keep`, `require`, `expect`.
bool Checker::standing(NodeId node, Statement& s) {
    switch (kind(node)) {
    case Node::keep: {
        s.kind = StatementKind::keep;
        s.first_name = static_cast<Index>(model.names_used.size());
        s.names = 1;
        const NodeId name = first(node), state = next(name);
        model.names_used.push_back(line(name));
        if (model.names_used.back().name == 0) frame_->broken = true;
        s.flag = text(state) == "open";
        NodeId bound = next(state);
        while (bound != no_node && kind(bound) != Node::word) bound = next(bound);
        s.above = bound != no_node && text(bound) == "above";
        s.value =
            value(bound == no_node ? no_node : next(bound), Kind::temperature, s.above ? "`above`" : "`below`");
        look_at(s.value, bound == no_node ? no_node : next(bound), "a threshold");
        clauses(node, s);
        return true;
    }
    case Node::require: {
        s.kind = StatementKind::require;
        s.value = condition(first(node), Reads::signals, "`require`");
        s.first_clause = static_cast<Index>(model.clauses.size());
        if (const NodeId guard = tree().child(node, Node::guard); guard != no_node)
            clause(s, guard, ClauseKind::guard, condition(first(guard), Reads::signals, "`while`"));
        return true;
    }
    case Node::expect:
        s.kind = StatementKind::expect;
        s.value = condition(first(node), Reads::signals, "`expect`");
        return true;
    default: return false;
    }
}

} // namespace athanor::check
