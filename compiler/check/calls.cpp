// Calls of operations, and what follows from who calls whom.
#include "compiler/check/checker.hpp"
#include "compiler/check/equipment_block.hpp"
#include "grammar/words.hpp"

#include <algorithm>
#include <fmt/format.h>

namespace athanor::check {

/// Arguments by position, then by name, each to its place. False where something was reported.
bool Checker::place_arguments(NodeId node, const Places& places) {
    std::vector<athanor::Span> given; // by place
    std::size_t position = 0;
    bool by_name = false, good = true;
    const auto takes = [&](NodeId argument) {
        NodeId expr = first(argument);
        if (broken(argument) || expr == no_node) return false;
        std::size_t place = position;
        if (next(expr) != no_node) {
            by_name = true;
            const std::optional<std::size_t> named = places.named(expr);
            if (!named) return false;
            place = *named;
            expr = next(expr);
        } else if (by_name) {
            out.error(Code::misplaced, span(argument), "a value by position behind one by name")
                .remedy("values by position come first; name this one");
            return false;
        } else if (position++ >= places.most) {
            if (position == places.most + 1) places.too_many(argument);
            return false;
        }
        if (place >= given.size()) given.resize(place + 1);
        if (given[place] != athanor::Span{}) {
            out.error(Code::duplicate_name, span(argument),
                      fmt::format("`{}` is given twice", places.name(place)))
                .also(given[place], "first given here");
            return false;
        }
        given[place] = span(argument);
        return places.take(place, expr);
    };
    for (NodeId at = next(first(node)); at != no_node; at = next(at))
        if (kind(at) == Node::argument) good = takes(at) && good;
    return good;
}

/// `callee` with its article: "`purge`", "function `max`".
Diagnostic& Checker::unknown_parameter(NodeId name, std::string_view callee,
                                       const std::vector<std::string_view>& known) {
    Diagnostic& d =
        out.error(Code::unknown_name, span(name), fmt::format("{} has no parameter `{}`", callee, text(name)));
    if (const std::string near = nearest(text(name), known); !near.empty())
        mend_name(d.remedy(fmt::format("`{}` is one", near)), span(name), text(name), near);
    else if (!known.empty())
        d.remedy(fmt::format("its parameters are {}", fmt::join(known, ", ")));
    return d;
}

/// One expression per parameter (0: its default).
void Checker::arguments(NodeId node, std::string_view callee, const std::vector<Parameter>& parameters,
                        athanor::Span declared_at, std::vector<ExprId>& values, bool unread) {
    values.assign(parameters.size(), 0);
    std::vector<char> given(parameters.size(), 0);
    std::vector<std::string_view> names;
    for (const Parameter& p : parameters) names.push_back(model.names[p.name]);
    Places places;
    places.most = parameters.size();
    places.named = [&](NodeId name) -> std::optional<std::size_t> {
        const auto at = std::find(names.begin(), names.end(), text(name));
        if (at != names.end()) return at - names.begin();
        if (!unread) // else it may be one of those that nobody could read
            unknown_parameter(name, fmt::format("`{}`", callee), names).also(declared_at, "declared here");
        return std::nullopt;
    };
    places.too_many = [&](NodeId argument) {
        out.error(Code::misplaced, span(argument),
                  fmt::format("`{}` takes {} value{}", callee, names.size(), names.size() == 1 ? "" : "s"))
            .also(declared_at, "declared here");
    };
    places.name = [&](std::size_t place) { return names[place]; };
    places.take = [&](std::size_t place, NodeId expr) {
        given[place] = 1;
        const std::string what = fmt::format("`{}`", names[place]);
        values[place] = value(expr, parameters[place].type, what);
        if (values[place] != 0) look_at(values[place], expr, what);
        return true;
    };
    if (!place_arguments(node, places)) {
        if (frame_ != nullptr) frame_->broken = true;
        return;
    }
    for (std::size_t i = 0; i < parameters.size(); ++i) {
        const Parameter& p = parameters[i];
        if (given[i] != 0 || p.default_value != 0 || p.type.poison()) continue;
        out.error(Code::value_missing, span(node),
                  fmt::format("`{}` needs a value for `{}`, {}", callee, names[i], describe(p.type)))
            .also(p.span, "declared here")
            .remedy(fmt::format("give it: `{} = …`", names[i]));
        if (frame_ != nullptr) frame_->broken = true;
    }
}

StatementId Checker::call(NodeId node, bool placed) {
    const NodeId name = first(node);
    if (name == no_node) return 0;
    const Declarations::Entry* found = nullptr;
    if (function_named(text(name)) && declared.peek(Declares::operation, intern(name), unit_) == nullptr) {
        misplaced(node, fmt::format("`{}` is a function: its value is used by nothing here", text(name)));
        return 0;
    }
    if (declared.peek(Declares::operation, intern(name), unit_) == nullptr &&
        declared.peek(Declares::recipe, intern(name), unit_) != nullptr) {
        misplaced(node, fmt::format("`{}` is a recipe; only operations are called", text(name)),
                  "move the shared steps into an `operation`");
        return 0;
    }
    if (!grammar::has_capital(text(name))) // told by the grammar
        found = declared.find(Declares::operation, intern(name), unit_, span(name));
    if (found == nullptr) {
        frame_->broken = true;
        // What stands in the brackets is judged all the same.
        for (NodeId at = next(name); at != no_node; at = next(at)) {
            NodeId expr = first(at);
            if (expr != no_node && next(expr) != no_node) expr = next(expr);
            if (kind(at) == Node::argument && expr != no_node && !broken(at)) infer(expr, type_of(Kind::gas));
        }
        return 0;
    }
    Statement s = start(StatementKind::call, node);
    s.operation = found->index;
    Operation& operation = model.operations[found->index];
    operation.used = true;
    calls_.push_back({frame_->operation, recipe_index_, found->index, span(node), placed});
    std::vector<ExprId> values;
    arguments(node, text(name), operation.parameters, operation.span, values, unread_[found->index] != 0);
    s.first_argument = static_cast<Index>(model.arguments.size());
    s.arguments = static_cast<Index>(values.size());
    model.arguments.insert(model.arguments.end(), values.begin(), values.end());
    return finish(s);
}

/// An operation that reaches itself has no end. The call that closes the ring is told, with the whole ring.
void Checker::refuse_recursion() {
    const std::size_t n = model.operations.size();
    std::vector<std::vector<const Call*>> from(n);
    for (const Call& c : calls_)
        if (c.caller != none) from[c.caller].push_back(&c);
    enum class State : std::uint8_t { fresh, open, done };
    std::vector<State> states(n, State::fresh);
    std::vector<std::size_t> at(n, 0);
    for (Index start_ = 0; start_ < n; ++start_) {
        if (states[start_] != State::fresh) continue;
        std::vector<Index> path{start_};
        states[start_] = State::open;
        while (!path.empty()) {
            const Index here = path.back();
            if (at[here] == from[here].size()) {
                states[here] = State::done;
                // What it calls is judged by now.
                for (const Call* c : from[here]) {
                    if (model.operations[c->callee].broken) model.operations[here].broken = true;
                    if (operation_steps_[c->callee] != 0) operation_steps_[here] = 1;
                }
                path.pop_back();
                continue;
            }
            const Call& c = *from[here][at[here]++];
            if (states[c.callee] == State::fresh) {
                states[c.callee] = State::open;
                path.push_back(c.callee);
            } else if (states[c.callee] == State::open) {
                std::string ring;
                for (auto i = std::find(path.begin(), path.end(), c.callee); i != path.end(); ++i)
                    ring += fmt::format("{} -> ", model.names[model.operations[*i].name]);
                const std::string_view name = model.names[model.operations[c.callee].name];
                out.error(Code::recursion, c.span, fmt::format("`{}` calls itself: {}{}", name, ring, name))
                    .remedy("`repeat N times { … }` says how often");
                model.operations[here].broken = true;
            }
        }
    }
    break_callers();
}

/// Of what is broken; one may be judged before what it calls: until nothing changes.
void Checker::break_callers() {
    for (bool changed = true; changed;) {
        changed = false;
        for (const Call& c : calls_) {
            if (c.caller == none || !model.operations[c.callee].broken || model.operations[c.caller].broken)
                continue;
            model.operations[c.caller].broken = changed = true;
        }
    }
    for (const Call& c : calls_)
        if (c.recipe != none && model.operations[c.callee].broken) model.recipes[c.recipe].broken = true;
}

void Checker::judge_placed_calls() {
    for (const Call& c : calls_) {
        if (!c.placed || operation_steps_[c.callee] == 0) continue;
        const Operation& operation = model.operations[c.callee];
        out.error(Code::misplaced, c.span,
                  fmt::format("`{}` has steps, which take time; inside a step only actions are placed",
                              model.names[operation.name]))
            .also(operation.span, "declared here")
            .remedy("call it between two steps");
        if (c.recipe != none) model.recipes[c.recipe].broken = true;
        if (c.caller != none) model.operations[c.caller].broken = true;
    }
    break_callers();
}

} // namespace athanor::check
