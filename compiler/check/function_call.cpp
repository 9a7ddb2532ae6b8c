// Calls of functions in expressions.
#include "compiler/check/checker.hpp"
#include "compiler/check/equipment_readers.hpp"
#include "grammar/words.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace athanor::check {

ExprId Checker::unknown_function(NodeId node) {
    const NodeId name = first(node);
    if (declared.peek(Declares::operation, intern(name), unit_) != nullptr) {
        out.error(Code::misplaced, span(node),
                  fmt::format("`{}` is an operation: it has steps, no value", text(name)))
            .remedy("call it as a line of its own");
        return poison(span(node));
    }
    if (grammar::has_capital(text(name))) return poison(span(node)); // told by the grammar
    Diagnostic& d =
        out.error(Code::unknown_name, span(name), fmt::format("no function is called `{}`", text(name)));
    std::vector<std::string_view> known;
    for (const Function& f : functions()) known.push_back(f.name);
    if (const std::string near = nearest(text(name), known); !near.empty())
        mend_name(d.remedy(fmt::format("`{}` is a function", near)), span(name), text(name), near);
    else
        d.remedy("`athanor functions` lists those that there are");
    return poison(span(node));
}

ExprId Checker::function_call(NodeId node, Type hint) {
    const auto index = function_named(text(first(node)));
    if (!index) return unknown_function(node);
    if (functions()[*index].compute != nullptr) return described_call(node, *index);
    const Function& function = functions()[*index];
    const NodeId name = first(node);
    const athanor::Span at = span(node);
    const std::size_t from = scratch_.size();
    std::vector<Type> types;
    bool bad = false;
    // Kelvins take their meaning from what stands beside them, whichever stands first.
    ExprId lead = 0;
    NodeId leads = next(name);
    while (leads != no_node && (first(leads) == no_node || broken(leads) || kelvin_only(first(leads))))
        leads = next(leads);
    if (leads != no_node && next(first(leads)) == no_node) lead = infer(first(leads), hint);
    for (NodeId argument = next(name); argument != no_node; argument = next(argument)) {
        NodeId expr = first(argument);
        if (expr != no_node && next(expr) != no_node) {
            out.error(Code::unknown_name, span(expr),
                      fmt::format("function `{}` takes its values by their order, not by name", function.name));
            bad = true;
            expr = next(expr);
        }
        if (expr == no_node || broken(argument)) {
            bad = true;
            continue;
        }
        const ExprId id = lead != 0 && argument == leads ? lead : infer(expr, lead != 0 ? type(lead) : hint);
        bad = bad || poisoned(id);
        scratch_.push_back(id);
        types.push_back(type(id));
    }
    const auto count = static_cast<Index>(scratch_.size() - from);
    const Index begin = append_arguments(from);
    if (bad) return poison(at);
    if (count < function.least || count > function.most) {
        out.error(Code::value_missing, at,
                  fmt::format("function `{}` takes {}, not {}", function.name,
                              function.most == 1 ? "1 value" : fmt::format("{} value or more", function.least),
                              count));
        return poison(at);
    }
    std::optional<Type> result = function.type(types);
    if (!result) {
        std::vector<std::string> kinds;
        for (Type t : types) kinds.push_back(describe(t));
        out.error(Code::unit_mismatch, at,
                  fmt::format("function `{}` takes {}, not {}", function.name, function.takes,
                              fmt::join(kinds, ", ")));
        return poison(at);
    }
    const ExprId id = make(Op::call, *result, at);
    model.exprs[id].index = static_cast<Index>(*index);
    model.exprs[id].first = begin;
    model.exprs[id].count = count;
    return id;
}

/// The name of a thermocouple or a material, as its place in the model.
ExprId Checker::equipment_name(NodeId node, Takes takes, std::string_view place) {
    const bool couple = takes == Takes::thermocouple;
    const std::string_view what = couple ? "a thermocouple" : "a material";
    std::vector<std::string_view> known;
    Index found = none;
    bool twice = false;
    const auto look = [&](const auto& list) {
        for (Index i = 0; i < list.size(); ++i) {
            known.push_back(list[i].name);
            if (list[i].name != text(inner(node))) continue;
            twice = twice || found != none;
            found = i;
        }
    };
    if (couple)
        look(model.thermocouples);
    else
        look(model.materials);
    if (kind(inner(node)) != Node::name) {
        out.error(Code::unit_mismatch, span(node), fmt::format("{} takes the name of {}", place, what))
            .remedy(fmt::format("known are {}", fmt::join(known, ", ")));
        return poison(span(node));
    }
    if (twice) {
        out.error(Code::duplicate_name, span(node),
                  fmt::format("`{}` is declared in two of the files", text(node)));
        return poison(span(node));
    }
    if (found == none && grammar::has_capital(text(node))) return poison(span(node)); // told by the grammar
    if (found == none) {
        Diagnostic& d =
            out.error(Code::unknown_name, span(node),
                      fmt::format("{} takes the name of {}; none is called `{}`", place, what, text(node)));
        if (const std::string near = nearest(text(node), known); !near.empty())
            mend_name(d.remedy(fmt::format("`{}` is declared", near)), span(node), text(node), near);
        else
            d.remedy(fmt::format("known are {}", fmt::join(known, ", ")));
        return poison(span(node));
    }
    equipment_->complete(couple ? Node::thermocouple : Node::material, found);
    const ExprId id = make(Op::constant, type_of(Kind::count), span(node));
    model.exprs[id].value = found;
    model.exprs[id].index = found;
    return id;
}

/// A function that gives names is for reading, not for steps.
ExprId Checker::list_of_names(ExprId call) {
    const athanor::Span at = model.exprs[call].span;
    out.error(Code::misplaced, at, "a list of names has no place here")
        .remedy("`athanor evaluate` prints it; a recipe asks for one: `reduces(\"NiO\", …)`");
    return poison(at);
}

/// One expression per place, as many as stand there; what is left out takes its default.
bool Checker::function_values(NodeId node, const Function& f, std::vector<ExprId>& values) {
    const std::size_t own = f.parameters.size();
    const auto parameter_at = [&](std::size_t place) -> const FunctionParameter& {
        return f.parameters[place < own ? place : own - f.repeats + (place - own) % f.repeats];
    };
    values.assign(own, 0);
    Places places;
    places.most = f.repeats != 0 ? max_function_values : own;
    places.named = [&](NodeId name) -> std::optional<std::size_t> {
        std::vector<std::string_view> known;
        for (const FunctionParameter& p : f.parameters) known.push_back(p.name);
        const auto at = std::find(known.begin(), known.end(), text(name));
        if (at != known.end() && f.repeats == 0) return at - known.begin();
        const std::string callee = fmt::format("function `{}`", f.name);
        if (f.repeats == 0)
            unknown_parameter(name, callee, known);
        else
            unknown_parameter(name, callee, {}).remedy("its values stand by their order");
        return std::nullopt;
    };
    places.too_many = [&](NodeId argument) {
        out.error(Code::misplaced, span(argument),
                  fmt::format("function `{}` takes at most {} values", f.name, places.most))
            .remedy(signature(f));
    };
    places.name = [&](std::size_t place) { return parameter_at(place).name; };
    places.take = [&](std::size_t place, NodeId expr) {
        if (place >= values.size()) values.resize(place + 1, 0);
        const FunctionParameter& p = parameter_at(place);
        const std::string what = fmt::format("`{}` of `{}`", p.name, f.name);
        const bool named = p.takes == Takes::thermocouple || p.takes == Takes::material;
        values[place] = named ? equipment_name(expr, p.takes, what) : value(expr, p.type, what);
        return !poisoned(values[place]);
    };
    return place_arguments(node, places) && all_given(node, f, values);
}

bool Checker::all_given(NodeId node, const Function& f, const std::vector<ExprId>& values) {
    bool good = true;
    for (std::size_t i = 0; i < values.size() && good; ++i) {
        if (values[i] != 0 || (i < f.parameters.size() && f.parameters[i].optional())) continue;
        out.error(Code::value_missing, span(node),
                  fmt::format("function `{}` needs a value for `{}`", f.name, f.parameters[i].name))
            .remedy(signature(f));
        good = false;
    }
    if (good && f.repeats > 1 && values.size() % f.repeats != 0) {
        out.error(Code::value_missing, span(node),
                  fmt::format("function `{}` takes its values {} by {}", f.name, f.repeats, f.repeats))
            .remedy(signature(f));
        good = false;
    }
    return good;
}

/// What a function can give that gives texts, as a list of them.
ExprId Checker::choices_of(const Function& f, athanor::Span at) {
    const auto begin = static_cast<Index>(model.arguments.size());
    for (std::string_view choice : f.choices) {
        const ExprId id = make(Op::text, type_of(Kind::text), at);
        model.exprs[id].index = static_cast<Index>(model.texts.size());
        model.texts.emplace_back(choice);
        model.arguments.push_back(id);
    }
    const ExprId list = make(Op::list, type_of(Kind::text), at);
    model.exprs[list].first = begin;
    model.exprs[list].count = static_cast<Index>(f.choices.size());
    return list;
}

ExprId Checker::described_call(NodeId node, std::size_t index) {
    const Function& f = functions()[index];
    const athanor::Span at = span(node);
    std::vector<ExprId> values;
    if (!function_values(node, f, values)) return poison(at);
    if (!f.choices.empty() && frame_ != nullptr) return list_of_names(make(Op::call, {}, at));
    const ExprId choices = f.choices.empty() ? 0 : choices_of(f, at);
    const auto begin = static_cast<Index>(model.arguments.size());
    model.arguments.insert(model.arguments.end(), values.begin(), values.end());
    const ExprId id = make(Op::call, f.choices.empty() ? f.result : type_of(Kind::text), at, choices);
    model.exprs[id].index = static_cast<Index>(index);
    model.exprs[id].first = begin;
    model.exprs[id].count = static_cast<Index>(values.size());
    return id;
}

} // namespace athanor::check
