// `defaults { … }` and `load { … }` of a recipe.
#include "compiler/check/checker.hpp"
#include "compiler/check/equipment_block.hpp"

#include <algorithm>
#include <fmt/format.h>

namespace athanor::check {

/// Lines of a `defaults` block have the shape of properties; their values are those of the steps they stand
/// for.
void Checker::defaults(NodeId node, Defaults& into) {
    into.span = span(node);
    std::vector<std::pair<std::string, athanor::Span>> given; // `heating`, `flow argon`
    for (NodeId at = first(node); at != no_node; at = next(at)) {
        const NodeId name = first(at);
        if (kind(at) != Node::default_line || broken(at) || name == no_node) continue;
        std::string what(text(name));
        if (what == "flow" && next(name) != no_node) what.append(" ").append(text(next(name)));
        const auto earlier =
            std::find_if(given.begin(), given.end(), [&](const auto& one) { return one.first == what; });
        if (earlier != given.end()) {
            out.error(Code::duplicate_name, span(at), fmt::format("default `{}` is given twice", what))
                .also(earlier->second, "first given here")
                .remedy("keep one of the two");
            continue;
        }
        given.emplace_back(std::move(what), span(at));
        default_line(at, into);
    }
}

void Checker::default_line(NodeId at, Defaults& into) {
    const NodeId name = first(at);
    const std::string_view word = text(name);
    std::vector<NodeId> elements;
    for (NodeId e = next(name); e != no_node; e = next(e)) elements.push_back(e);
    const std::string place = fmt::format("default `{}`", word);
    const auto is_word = [&](std::size_t i, std::string_view wanted) {
        return i < elements.size() && (kind(elements[i]) == Node::name || kind(elements[i]) == Node::word) &&
               text(elements[i]) == wanted;
    };
    const auto is_value = [&](std::size_t i) {
        return i < elements.size() && (kind(elements[i]) == Node::quantity ||
                                       kind(elements[i]) == Node::number || kind(elements[i]) == Node::hole);
    };
    const auto is_name = [&](std::size_t i) { return i < elements.size() && kind(elements[i]) == Node::name; };
    std::string_view shape;
    if (word == "heating") {
        shape = "heating 5 K/min";
        if (elements.size() == 1 && is_value(0)) {
            into.heating = value(elements[0], Kind::rate, place);
            look_at(into.heating, elements[0], place);
            return;
        }
    } else if (word == "cooling") {
        shape = "cooling natural";
        if (elements.size() == 1 && is_word(0, "natural")) {
            into.natural_cooling = true;
            return;
        }
        if (elements.size() == 1 && is_value(0)) {
            into.cooling_rate = value(elements[0], Kind::rate, place);
            look_at(into.cooling_rate, elements[0], place);
            return;
        }
    } else if (word == "purge") {
        shape = "purge argon at 1 L/min";
        const bool bare = elements.size() == 1 && is_name(0);
        if (bare || (elements.size() == 3 && is_name(0) && is_word(1, "at") && is_value(2))) {
            into.purge_line = line(elements[0]);
            if (!bare) into.purge_flow = flow_value(elements[2], place);
            return;
        }
    } else if (word == "flow") {
        shape = "flow argon 1 L/min";
        if (elements.size() == 2 && is_name(0) && is_value(1)) {
            const NameRef ref = line(elements[0]);
            into.flows.emplace_back(ref, flow_value(elements[1], place));
            return;
        }
    } else if (word == "dwell") {
        shape = "dwell 1 h";
        if (elements.size() == 1 && is_value(0)) {
            into.soak = value(elements[0], Kind::time, place);
            look_at(into.soak, elements[0], place);
            return;
        }
    } else {
        Diagnostic& d =
            out.error(Code::unknown_property, span(name), fmt::format("no default is called `{}`", word));
        const std::string near = nearest(word, {"heating", "cooling", "purge", "flow", "dwell"});
        if (!near.empty())
            mend_name(d.remedy(fmt::format("`{}` is one", near)), span(name), word, near);
        else
            d.remedy("defaults are heating, cooling, purge, flow and dwell");
        return;
    }
    out.error(Code::unknown_property, span(at), fmt::format("default `{}` has another shape", word))
        .remedy(fmt::format("write it as `{}`", shape));
}

/// `evolves carbon_monoxide 0 sccm to 800 sccm [while carbon_dioxide is open] [above 650 degC]`
void Checker::evolves(NodeId load, Recipe& recipe) {
    const NodeId block_ = tree().child(load, Node::property_block);
    if (block_ == no_node) return;
    for (NodeId at = first(block_); at != no_node; at = next(at)) {
        const NodeId head = first(at);
        if (kind(at) != Node::property || broken(at) || head == no_node) continue;
        if (text(head) != "evolves") {
            out.error(Code::unknown_property, span(head),
                      fmt::format("a load has no property `{}`", text(head)))
                .remedy("evolves carbon_monoxide 0 sccm to 800 sccm above 650 degC");
            continue;
        }
        std::vector<NodeId> rest;
        for (NodeId e = next(head); e != no_node; e = next(e)) rest.push_back(e);
        Recipe::Evolves gas{none, {}, {}, 0, span(at)};
        std::size_t i = 0;
        const auto word = [&](std::string_view wanted) {
            if (i >= rest.size() || text(rest[i]) != wanted) return false;
            ++i;
            return true;
        };
        NodeId negative = no_node;
        const auto figure = [&](Kind wanted, Interval& into) {
            if (i >= rest.size() || kind(rest[i]) != Node::quantity) return false;
            const NodeId at_figure = rest[i];
            const ExprId id = value(rest[i++], wanted, "`evolves`");
            if (!poisoned(id)) into = model.exprs[id].value;
            if (wanted == Kind::flow && into.lo < 0) negative = at_figure;
            return true;
        };
        bool good = i < rest.size() && kind(rest[i]) == Node::name;
        if (good) {
            const auto* found = declared.find(Declares::gas, intern(rest[i]), unit_, span(rest[i]));
            ++i;
            if (found == nullptr) continue;
            gas.gas = found->index;
        }
        Interval low, high;
        good = good && figure(Kind::flow, low);
        high = low;
        if (good && word("to")) good = figure(Kind::flow, high);
        gas.flow = hull(low, high);
        if (good && word("while")) {
            good = i < rest.size() && kind(rest[i]) == Node::name;
            if (good) gas.while_open = line(rest[i++]);
            good = good && word("is") && word("open");
        }
        Interval above;
        if (good && word("above")) good = figure(Kind::temperature, above);
        gas.above = above.lo;
        if (!good || i != rest.size()) {
            out.error(Code::unknown_property, span(at), "`evolves` has another shape")
                .remedy(
                    "evolves carbon_monoxide 0 sccm to 800 sccm while carbon_dioxide is open above 650 degC");
            continue;
        }
        if (negative != no_node) {
            out.error(
                   Code::implausible_value, span(negative),
                   fmt::format("{} of gas cannot come off a load: it gives off 0 sccm or more", text(negative)))
                .remedy("write the flow without its sign");
            continue;
        }
        recipe.evolves.push_back(gas);
    }
}

} // namespace athanor::check
