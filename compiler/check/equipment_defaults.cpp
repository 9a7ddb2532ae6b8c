#include "compiler/check/equipment_readers.hpp"

#include <algorithm>
#include <fmt/format.h>

namespace athanor::check {

namespace {

ExprId constant(Model& model, const Capture& capture) {
    Expr expr;
    expr.op = Op::constant;
    expr.type = capture.type;
    expr.span = capture.span;
    expr.value = capture.value;
    model.exprs.push_back(expr);
    return static_cast<ExprId>(model.exprs.size() - 1);
}

const Capture* flow_of(const Match& match) {
    const Capture* flow = match.value(Kind::flow);
    return flow != nullptr ? flow : match.value(Kind::volume_flow);
}

} // namespace

Defaults read_rig_defaults(const Reading& reading, Index unit, NodeId node, const Rig& rig) {
    Defaults defaults;
    const Tree& tree = reading.registry.tree(unit);
    defaults.span = tree.span(node);
    const Schema* schema = schema_named(reading.registry.schemas, "defaults");
    if (schema == nullptr) return defaults;
    // A line of defaults has the shape of a property: name, then elements.
    std::vector<Item> items;
    for (NodeId line : tree.children(node))
        if (tree.kind(line) == Node::default_line && tree[line].first != no_node)
            items.push_back({unit, line, reading.registry.text(unit, tree[line].first), {}});
    Property root;
    match_items(reading.registry, items, schema->properties, fmt::format("`defaults` of rig `{}`", rig.name),
                defaults.span, tree[node].broken, root);
    for (const Property& p : root.properties) {
        if (p.poison) continue;
        const Capture* name = p.match.named();
        NameRef line{};
        if (name != nullptr) {
            line.name = reading.model.names.intern(name->text);
            line.span = name->span;
        }
        if (p.name == "heating") defaults.heating = constant(reading.model, *p.match.value(Kind::rate));
        if (p.name == "cooling") {
            defaults.natural_cooling = p.match.has("natural");
            if (const Capture* rate = p.match.value(Kind::rate))
                defaults.cooling_rate = constant(reading.model, *rate);
        }
        if (p.name == "purge") {
            defaults.purge_line = line;
            if (const Capture* flow = flow_of(p.match)) defaults.purge_flow = constant(reading.model, *flow);
        }
        if (p.name == "flow") {
            const auto earlier = std::find_if(defaults.flows.begin(), defaults.flows.end(),
                                              [&](const auto& one) { return one.first.name == line.name; });
            if (earlier != defaults.flows.end()) {
                reading.out()
                    .error(Code::duplicate_name, line.span,
                           fmt::format("default `flow {}` of rig `{}` is given twice", name->text, rig.name))
                    .also(earlier->first.span, "first given here")
                    .remedy("keep one of the two");
                continue;
            }
            defaults.flows.emplace_back(line, constant(reading.model, *flow_of(p.match)));
        }
        if (p.name == "dwell") defaults.soak = constant(reading.model, *p.match.value(Kind::time));
    }
    return defaults;
}

} // namespace athanor::check
