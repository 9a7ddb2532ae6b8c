// `test "…" { copper_sinter(peak = 980 degC) is proven }`
#include "compiler/check/checker.hpp"
#include "compiler/check/evaluate.hpp"

#include <fmt/format.h>

namespace athanor::check {

void Checker::test(NodeId node) {
    Test test;
    test.span = span(node);
    if (const NodeId title = tree().child(node, Node::text); title != no_node) {
        test.title = unquoted(title);
        for (const Test& earlier : model.tests) {
            if (earlier.span.file != test.span.file || earlier.title != test.title) continue;
            out.error(Code::duplicate_name, span(title),
                      fmt::format("a test \"{}\" is declared already", test.title))
                .also(earlier.span, "first declared here")
                .remedy("give one of them another title: reports tell tests apart by it");
            break;
        }
    }
    for (NodeId at = first(node); at != no_node; at = next(at)) {
        if (kind(at) != Node::test_line) continue;
        TestLine line;
        line.span = span(at);
        // Without a recipe it is a line that nobody can judge.
        if (broken(at) || !test_line(at, line)) line.recipe = none;
        test.lines.push_back(std::move(line));
    }
    model.tests.push_back(std::move(test));
}

/// False when something in it was reported.
bool Checker::test_line(NodeId node, TestLine& line) {
    const NodeId subject = first(node);
    const bool called = kind(subject) == Node::call;
    const NodeId name = called ? first(subject) : subject;
    Scope frame;
    frame_ = &frame;
    const std::size_t before = out.errors();
    const NodeId on = tree().child(node, Node::on), for_controller = tree().child(node, Node::for_controller);
    const auto named = [&](NodeId at, Declares kind_, NameRef& ref) {
        if (at == no_node) return;
        ref = {intern(first(at)), none, span(first(at))};
        declared.find(kind_, ref.name, unit_, ref.span);
    };
    named(on, Declares::rig, line.rig);
    named(for_controller, Declares::controller, line.controller);
    const auto* recipe = declared.peek(Declares::recipe, intern(name), unit_);
    const auto* operation = declared.peek(Declares::operation, intern(name), unit_);
    if (recipe != nullptr) {
        line.recipe = recipe->index;
        if (called) {
            const Recipe& r = model.recipes[recipe->index];
            std::vector<ExprId> values;
            const std::vector<Parameter> parameters = r.parameters;
            arguments(subject, text(name), parameters, r.span, values, r.broken);
            for (std::size_t i = 0; i < values.size(); ++i)
                if (values[i] != 0) line.arguments.emplace_back(parameters[i].name, values[i]);
        }
    } else if (operation != nullptr) {
        if (!called) {
            out.error(Code::misplaced, span(name), fmt::format("an operation is called: `{}()`", text(name)));
        } else if (on == no_node) {
            out.error(Code::value_missing, span(subject),
                      fmt::format("operation `{}` runs on no rig here", text(name)))
                .remedy(fmt::format("{} on RIG is proven", text(subject)));
        } else {
            line.recipe = wrapped(subject, on, for_controller, operation->index);
        }
    } else {
        declared.find(Declares::recipe, intern(name), unit_, span(name));
    }
    for (NodeId at = first(node); at != no_node; at = next(at))
        if (kind(at) == Node::verdict) verdict(at, line);
    const bool good = out.errors() == before && !frame.broken;
    frame_ = nullptr;
    return good;
}

/// A recipe that consists of one call: an operation by itself has no rig.
Index Checker::wrapped(NodeId call_node, NodeId on, NodeId for_controller, Index operation) {
    const auto index = static_cast<Index>(model.recipes.size());
    Recipe recipe;
    recipe.name = model.operations[operation].name;
    recipe.title = fmt::format("Operation {} by itself", model.names[recipe.name]);
    recipe.span = span(call_node);
    const auto named = [&](NodeId at, Declares kind_, NameRef& ref, Index& found) {
        if (at == no_node) return;
        ref = {intern(first(at)), none, span(first(at))};
        if (const auto* entry = declared.peek(kind_, ref.name, unit_)) found = entry->index;
    };
    named(on, Declares::rig, recipe.rig, recipe.rig_index);
    named(for_controller, Declares::controller, recipe.controller, recipe.controller_index);
    model.recipes.push_back(recipe);
    const Index outer = recipe_index_;
    recipe_index_ = index;
    const StatementId body = call(call_node, false);
    recipe_index_ = outer;
    model.recipes[index].body = body;
    model.recipes[index].broken = body == 0 || frame_->broken;
    return index;
}

void Checker::verdict(NodeId node, TestLine& line) {
    TestVerdict v;
    v.span = span(node);
    const NodeId what = first(node);
    if (what == no_node) return;
    switch (kind(what)) {
    case Node::word:
        if (text(what) == "proven") {
            v.kind = TestVerdict::Kind::proven;
        } else {
            v.kind = TestVerdict::Kind::refused;
            if (const NodeId rule = next(what); rule != no_node) {
                v.rule = text(rule);
                bool known = code_named(v.rule).has_value();
                for (const Rule& r : model.rules) known = known || r.name == v.rule;
                if (!known)
                    out.error(Code::unknown_name, span(rule),
                              fmt::format("no rule and no check is called `{}`", v.rule));
            }
        }
        line.verdicts.push_back(std::move(v));
        return;
    case Node::less:
    case Node::less_equal:
    case Node::greater:
    case Node::greater_equal: {
        v.kind = TestVerdict::Kind::compare;
        const NodeId left = first(what), right = second(what);
        const NameId measure = kind(left) == Node::name ? intern(left) : 0;
        if (measure == duration_)
            v.measure = TestVerdict::Measure::duration;
        else if (measure == segments_)
            v.measure = TestVerdict::Measure::segments;
        else if (measure == programs_)
            v.measure = TestVerdict::Measure::programs;
        else {
            out.error(Code::unknown_name, span(left), fmt::format("a test does not measure `{}`", text(left)))
                .remedy("a test measures duration, segments and programs");
            return;
        }
        using C = timeline::Comparison;
        v.comparison = kind(what) == Node::less         ? C::less
                       : kind(what) == Node::less_equal ? C::less_equal
                       : kind(what) == Node::greater    ? C::greater
                                                        : C::greater_equal;
        const Kind takes = v.measure == TestVerdict::Measure::duration ? Kind::time : Kind::count;
        const ExprId limit = value(right, takes, fmt::format("`{}`", text(left)));
        if (poisoned(limit)) return;
        const Value number = evaluate(model, limit, Frame{}, out);
        if (number.poison()) return;
        v.value = number.number.middle();
        line.verdicts.push_back(std::move(v));
        return;
    }
    default:
        if (!broken(what))
            out.error(Code::syntax, span(what),
                      "a verdict is `proven`, `refused`, or a comparison such as `duration < 30 h`");
    }
}

} // namespace athanor::check
