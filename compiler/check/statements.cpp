// Blocks and the statements that hold blocks.
#include "compiler/check/checker.hpp"

#include <fmt/format.h>

namespace athanor::check {

void Checker::misplaced(NodeId node, std::string message, std::string_view remedy) {
    Diagnostic& d = out.error(Code::misplaced, span(node), std::move(message));
    if (!remedy.empty()) d.remedy(std::string(remedy));
    if (frame_ != nullptr) frame_->broken = true;
}

std::string Checker::unquoted(NodeId node) const {
    std::string_view whole = text(node);
    if (whole.starts_with('"')) whole.remove_prefix(1);
    if (whole.ends_with('"')) whole.remove_suffix(1);
    return std::string(whole);
}

Index Checker::text_of(NodeId node) {
    if (node == no_node) return none;
    model.texts.push_back(unquoted(node));
    return static_cast<Index>(model.texts.size() - 1);
}

Statement Checker::start(StatementKind kind_, NodeId node, NodeId body) const {
    Statement s{};
    s.kind = kind_;
    s.span = span(node);
    if (body != no_node) {
        // A statement's own text ends before its block.
        s.span.end = (*tree_)[body].begin;
        const auto blank = [](char c) { return c == ' ' || c == '\t' || c == '\n' || c == '\r'; };
        while (s.span.end > s.span.begin && blank(source_[s.span.end - 1])) --s.span.end;
    }
    return s;
}

StatementId Checker::finish(const Statement& s) {
    model.statements.push_back(s);
    return static_cast<StatementId>(model.statements.size() - 1);
}

StatementId Checker::block(NodeId node, Where where) {
    if (broken(node)) frame_->broken = true;
    const unsigned outer = unclosed_;
    if (broken(node)) ++unclosed_;
    const std::size_t locals = frame_->locals.size();
    StatementId begin = 0, last = 0;
    for (NodeId at = first(node); at != no_node; at = next(at)) {
        const StatementId id = statement(at, where);
        if (id == 0) continue;
        if (last == 0)
            begin = id;
        else
            model.statements[last].next = id;
        last = id;
    }
    leave_block(locals);
    unclosed_ = outer;
    return begin;
}

StatementId Checker::statement(NodeId node, Where where) {
    const Node k = kind(node);
    if (k == Node::error) {
        frame_->broken = true;
        // A `let` that could not be read still declares its name, so that its uses are no second error.
        std::string_view rest = text(node);
        if (!rest.starts_with("let ")) return 0;
        rest.remove_prefix(4);
        const NameId name = model.names.intern(rest.substr(0, rest.find_first_of(" \t:=\n")));
        if (name == 0 || local(name) != nullptr) return 0;
        if (name >= local_at_.size()) local_at_.resize(name + 64, none);
        local_at_[name] = static_cast<Index>(frame_->locals.size());
        frame_->locals.push_back({name, {}, frame_->slots++, span(node), no_node, true, Local::What::let});
        return 0;
    }
    if (broken(node)) frame_->broken = true;
    if (k == Node::at_action || k == Node::after_action) {
        if (where == Where::step) return placed(node);
        misplaced(node,
                  fmt::format("`{}` places an action inside a step", k == Node::at_action ? "at" : "after"),
                  "put it into the block of a step: `ramp to 900 degC at 5 K/min { at 400 degC open argon }`");
        return 0;
    }
    const NodeId body = tree().child(node, Node::block);
    if (where == Where::step) {
        Statement ignored = start(StatementKind::note, node, body);
        const bool acts = action(node, ignored);
        if (unclosed_ != 0) return 0; // it is the step's block that lacks its `}`: told
        misplaced(node,
                  acts ? "an action inside a step needs its place in it"
                       : "a step's block holds only actions with their place",
                  acts ? fmt::format("at 400 degC {}", text(node)) : "end the step's block before this line");
        return 0;
    }
    Statement s = start(StatementKind::note, node, body);
    if (step(node, s)) {
        if (body != no_node) s.body = block(body, Where::step); // `{ at T action … }`
        if (frame_->operation != none) operation_steps_[frame_->operation] = 1;
        return finish(s);
    }
    if (action(node, s)) return finish(s);
    if (standing(node, s)) {
        if (frame_->operation != none) operation_steps_[frame_->operation] = 1;
        return finish(s);
    }
    return structure(node, where);
}

void Checker::repeat(NodeId node, NodeId body, Statement& s) {
    const bool until = kind(node) == Node::repeat_until;
    s.kind = until ? StatementKind::repeat_until : StatementKind::repeat;
    if (until && first(node) != no_node) s.text = text_of(first(node));
    const NodeId count = until ? second(node) : first(node);
    if (count != no_node && count != body && kind(count) != Node::loop_name)
        s.value = value(count, Kind::count, "`repeat`");
    else
        frame_->broken = true;
    if (until && frame_->operation != none) operation_steps_[frame_->operation] = 1;
    if (const NodeId loop = tree().child(node, Node::loop_name); loop != no_node)
        s.slot = declare_local(first(loop), type_of(Kind::count), Local::What::loop);
}

void Checker::for_each(NodeId node, Statement& s) {
    s.kind = StatementKind::for_each;
    const NodeId name = first(node), items = name == no_node ? no_node : next(name);
    Type item{};
    if (items != no_node && kind(items) == Node::list) {
        s.value = value(items, Type{}, "`for`");
        if (!poisoned(s.value)) item = type(s.value);
    } else {
        frame_->broken = true;
    }
    if (name != no_node && kind(name) == Node::name) s.slot = declare_local(name, item, Local::What::loop);
}

StatementId Checker::local_let(NodeId node, Statement& s) {
    s.kind = StatementKind::let;
    const NodeId name = first(node), named = tree().child(node, Node::type_name);
    if (name == no_node) return 0;
    const NodeId expr = named == no_node ? next(name) : next(named);
    Type wanted{};
    if (named != no_node) {
        if (const auto known = type_named(text(named)))
            wanted = *known;
        else
            unknown_type(named);
    }
    s.value = expr == no_node ? 0 : value(expr, wanted, fmt::format("`{}`", text(name)));
    const Type own = s.value == 0 ? wanted : type(s.value);
    s.slot = declare_local(name, wanted.poison() ? own : wanted, Local::What::let);
    return finish(s);
}

StatementId Checker::structure(NodeId node, Where where) {
    const NodeId body = tree().child(node, Node::block);
    Statement s = start(StatementKind::let, node, body);
    const std::size_t locals = frame_->locals.size();
    const auto inner_block = [&] {
        if (body != no_node) s.body = block(body, Where::block);
        leave_block(locals);
        return finish(s);
    };
    switch (kind(node)) {
    case Node::repeat:
    case Node::repeat_until: repeat(node, body, s); return inner_block();
    case Node::for_each: for_each(node, s); return inner_block();
    case Node::if_else: {
        s.kind = StatementKind::if_else;
        const NodeId test = first(node);
        if (test != no_node && test != body) s.value = condition(test, Reads::values, "`if`");
        if (body != no_node) s.body = block(body, Where::block);
        if (const NodeId otherwise = body == no_node ? no_node : next(body); otherwise != no_node)
            s.otherwise = kind(otherwise) == Node::block ? block(otherwise, Where::block)
                                                         : structure(otherwise, Where::block);
        return finish(s);
    }
    case Node::call: return call(node, false);
    case Node::let: return local_let(node, s);
    case Node::run:
        s.kind = StatementKind::run;
        if (!frame_->recipe || where != Where::top) {
            misplaced(node,
                      frame_->operation != none ? "a run inside an operation" : "a run inside another block",
                      "a run is a programme of its own: it stands in the recipe itself");
            return 0;
        }
        s.text = text_of(tree().child(node, Node::text));
        return inner_block();
    case Node::defaults:
    case Node::load:
        // At the head of a recipe they were read before its steps.
        if (!frame_->recipe || where != Where::top)
            misplaced(
                node,
                fmt::format("`{}` belongs to a whole recipe", kind(node) == Node::load ? "load" : "defaults"),
                "write it in the recipe itself, outside any other block");
        return 0;
    default: return 0; // a declaration where a statement stands: the parser told it
    }
}

/// `at 400 degC open argon`
StatementId Checker::placed(NodeId node) {
    Statement s =
        start(kind(node) == Node::at_action ? StatementKind::at_action : StatementKind::after_action, node);
    const NodeId place = first(node), what = place == no_node ? no_node : next(place);
    s.value = s.kind == StatementKind::at_action ? value(place, Kind::temperature, "`at`")
                                                 : value(place, Kind::time, "`after`");
    if (what == no_node) return 0;
    if (kind(what) == Node::call) {
        s.body = call(what, true);
    } else {
        Statement act = start(StatementKind::note, what);
        if (action(what, act)) s.body = finish(act);
    }
    if (s.body == 0) {
        frame_->broken = true;
        return 0;
    }
    return finish(s);
}

} // namespace athanor::check
