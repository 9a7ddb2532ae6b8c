// Recipes and operations: their parameters, their bodies, and what belongs to a whole recipe.
#include "compiler/check/checker.hpp"
#include "compiler/check/equipment_block.hpp"
#include "compiler/check/evaluate.hpp"

#include <algorithm>
#include <fmt/format.h>

namespace athanor::check {

void Checker::collect_equipment() {
    std::vector<Index> unit_of_file(files.size(), none);
    for (Index u = 0; u < units.size(); ++u) unit_of_file[units[u].file] = u;
    const auto equipment = [&](Declares kind_, const std::string& name, Index index, athanor::Span at) {
        if (name.empty() || at.file >= unit_of_file.size() || unit_of_file[at.file] == none) return;
        // Twins were told by the part that reads equipment.
        declared.add({kind_, model.names.intern(name), unit_of_file[at.file], index, at}, false);
    };
    for (Index i = 0; i < model.gases.size(); ++i)
        equipment(Declares::gas, model.gases[i].name, i, model.gases[i].source);
    for (Index i = 0; i < model.controllers.size(); ++i)
        equipment(Declares::controller, model.controllers[i].name, i, model.controllers[i].source);
    const auto mark = [&](std::vector<char>& marks, const std::string& name) {
        const NameId id = model.names.intern(name);
        if (id >= marks.size()) marks.resize(id + 64, 0);
        marks[id] = 1;
    };
    for (Index i = 0; i < model.rigs.size(); ++i) {
        equipment(Declares::rig, model.rigs[i].name, i, model.rigs[i].source);
        for (const Line& l : model.rigs[i].lines) mark(line_names_, l.name);
        for (const std::string& z : model.rigs[i].furnace.zones) mark(zone_names_, z);
    }
}

void Checker::collect_unit(Index u) {
    enter(u);
    for (NodeId node = first(tree().root); node != no_node; node = next(node)) {
        const NodeId name = first(node);
        if (name == no_node || kind(name) != Node::name) continue;
        const athanor::Span at = span(name);
        switch (kind(node)) {
        case Node::let:
            declared.add({Declares::value, intern(name), u, static_cast<Index>(globals_.size()), at}, true);
            globals_.push_back({u, node, intern(name), at, 0, Global::State::fresh, false});
            break;
        case Node::operation: {
            declared.add(
                {Declares::operation, intern(name), u, static_cast<Index>(operation_nodes_.size()), at}, true);
            operation_nodes_.push_back({u, node});
            Operation& operation = model.operations.emplace_back();
            operation.name = intern(name);
            operation.span = at;
            break;
        }
        case Node::recipe: {
            declared.add({Declares::recipe, intern(name), u, static_cast<Index>(recipe_nodes_.size()), at},
                         true);
            recipe_nodes_.push_back({u, node});
            Recipe& recipe = model.recipes.emplace_back();
            recipe.name = intern(name);
            recipe.span = at;
            if (const NodeId title = tree().child(node, Node::text); title != no_node)
                recipe.title = unquoted(title);
            recipe.documentation = documentation(node);
            break;
        }
        case Node::policy: declared.add({Declares::policy, intern(name), u, 0, at}, true); break;
        default: break;
        }
    }
}

/// Of all operations before any body: a call needs to know what it may give.
void Checker::operation_parameters() {
    for (Index i = 0; i < operation_nodes_.size(); ++i) {
        enter(operation_nodes_[i].unit);
        Scope frame;
        frame_ = &frame;
        const std::size_t before = out.errors();
        parameters(tree().child(operation_nodes_[i].node, Node::parameters), model.operations[i].parameters);
        model.operations[i].broken = frame.broken || out.errors() != before;
        unread_.push_back(frame.unread);
        // Whether a parameter is used is known only behind the body; see `operation`.
        for (const Local& l : frame.locals) local_at_[l.name] = none;
        frame_ = nullptr;
    }
}

/// Every declaration gets its name before any is read: their order does not matter.
void Checker::collect() {
    collect_equipment();
    // Recipes of the files that were named come first.
    for (const bool named : {true, false}) {
        for (Index u = 0; u < units.size(); ++u)
            if (units[u].named == named) collect_unit(u);
        if (named) model.own_recipes = static_cast<Index>(model.recipes.size());
    }
    for (const Global& global : globals_) {
        enter(global.unit);
        taken(global.name, global.span, "a `let`");
    }
    operation_steps_.assign(operation_nodes_.size(), 0);
    operation_parameters();
}

/// The `##` lines above a declaration.
std::string Checker::documentation(NodeId node) const {
    const std::span<const Comment> comments = tree().comments();
    std::uint32_t begin = tree()[node].begin;
    const std::string_view source = files[tree().file].text();
    auto at = std::lower_bound(comments.begin(), comments.end(), begin,
                               [](const Comment& c, std::uint32_t place) { return c.begin < place; });
    std::vector<std::string_view> lines;
    while (at != comments.begin()) {
        --at;
        const std::string_view comment = source.substr(at->begin, at->end - at->begin);
        const std::string_view between = source.substr(at->end, begin - at->end);
        if (!comment.starts_with("##") || between.find_first_not_of(" \t\r\n") != std::string_view::npos ||
            std::count(between.begin(), between.end(), '\n') > 1)
            break;
        lines.push_back(comment.substr(comment.starts_with("## ") ? 3 : 2));
        begin = at->begin;
    }
    std::string whole;
    for (auto line = lines.rbegin(); line != lines.rend(); ++line) {
        if (!whole.empty()) whole += '\n';
        whole += *line;
        while (whole.ends_with('\r') || whole.ends_with(' ')) whole.pop_back();
    }
    return whole;
}

void Checker::parameters(NodeId node, std::vector<Parameter>& into) {
    if (node == no_node) return;
    for (NodeId at = first(node); at != no_node; at = next(at))
        if (kind(at) == Node::parameter) parameter(at, into);
}

/// A default outside the own range helps nobody; what depends on other parameters is judged when they are
/// known.
void Checker::judge_range(const Parameter& p, NodeId range) {
    const auto constant = [&](ExprId id) { return id == 0 || model.exprs[id].op == Op::constant; };
    if (p.lo != 0 && p.hi != 0 && constant(p.lo) && constant(p.hi) && !p.type.poison()) {
        if (model.exprs[p.lo].value.lo > model.exprs[p.hi].value.hi) {
            out.error(Code::parameter_out_of_range, span(range),
                      fmt::format("the range of `{}` is empty: its first limit is the greater",
                                  model.names[p.name]))
                .remedy("write the lower limit first");
        } else if (p.default_value != 0 && constant(p.default_value)) {
            const ExprId id = p.default_value;
            in_range(model, p, {type(id), model.exprs[id].value, none, {}}, {}, model.exprs[id].span, out);
        }
    }
}

/// The type is written, or that of the default, of the range, of the list. Each may use the parameters before
/// it.
void Checker::parameter(NodeId node, std::vector<Parameter>& into) {
    const NodeId name = tree().child(node, Node::name);
    if (name == no_node) {
        frame_->broken = frame_->unread = true;
        return;
    }
    Parameter p;
    p.name = intern(name);
    p.span = span(name);
    const NodeId named = tree().child(node, Node::type_name), range = tree().child(node, Node::in_range),
                 choice = tree().child(node, Node::in_list), preset = tree().child(node, Node::default_value);
    bool known = true;
    if (named != no_node) {
        if (const auto written = type_named(text(named))) {
            p.type = *written;
        } else {
            known = false;
            unknown_type(named);
        }
    }
    const std::string place = fmt::format("parameter `{}`", text(name));
    // Without a written type the first figure decides; `300 K` alone is a difference then.
    const auto figure = [&](NodeId expr) -> ExprId {
        if (expr == no_node) return 0;
        const ExprId id = value(expr, p.type, place);
        if (known && p.type.poison() && !poisoned(id)) p.type = type(id);
        look_at(id, expr, place);
        return id;
    };
    if (preset != no_node) p.default_value = figure(first(preset));
    if (range != no_node) {
        const NodeId lo = first(range), hi = lo == no_node ? no_node : next(lo),
                     step = hi == no_node ? no_node : next(hi);
        p.lo = figure(lo);
        p.hi = figure(hi);
        if (step != no_node) {
            p.step = value(step, point(p.type) ? type_of(Kind::difference) : p.type, "`by`");
        }
    }
    if (choice != no_node && first(choice) != no_node) {
        p.list = list(first(choice), p.type);
        if (known && p.type.poison() && !poisoned(p.list)) p.type = type(p.list);
    }
    const bool figures = p.default_value != 0 || p.lo != 0 || p.list != 0;
    if (named == no_node && !figures && !broken(node)) {
        out.error(Code::value_missing, span(name),
                  fmt::format("parameter `{}` has neither type nor default", text(name)))
            .remedy(fmt::format("`{} : temperature`", text(name)));
    }
    if (broken(node)) {
        frame_->broken = frame_->unread = true;
        if (named == no_node) p.type = {};
    }
    if (range != no_node) judge_range(p, range);
    declare_local(name, p.type, Local::What::parameter);
    into.push_back(p);
}

void Checker::operation(Index index) {
    enter(operation_nodes_[index].unit);
    const NodeId node = operation_nodes_[index].node;
    Scope frame;
    frame.operation = index;
    frame.warn_unused = units[unit_].named;
    frame.slots = static_cast<Index>(model.operations[index].parameters.size());
    frame.unread = unread_[index] != 0;
    // Declared and judged before; here they get their places again. The slot is the number of the parameter.
    const std::vector<Parameter>& list = model.operations[index].parameters;
    for (Index i = 0; i < list.size(); ++i) {
        if (local_at_[list[i].name] != none) continue; // named twice, and told
        local_at_[list[i].name] = static_cast<Index>(frame.locals.size());
        frame.locals.push_back(
            {list[i].name, list[i].type, i, list[i].span, no_node, false, Local::What::parameter});
    }
    frame_ = &frame;
    // A parameter that only a later one reads is used.
    for (const Parameter& p : list)
        for (ExprId id : {p.default_value, p.lo, p.hi, p.step, p.list})
            if (id != 0) use_slots(id);
    const std::size_t before = out.errors();
    StatementId body = 0;
    if (const NodeId steps = tree().child(node, Node::block); steps != no_node) body = block(steps, Where::top);
    frame.broken = frame.broken || broken(node);
    Operation& operation = model.operations[index];
    operation.body = body;
    operation.broken = operation.broken || frame.broken || out.errors() != before;
    frame.warn_unused = frame.warn_unused && !operation.broken;
    leave_block(0);
    operation.slots = frame.slots;
    frame_ = nullptr;
}

void Checker::use_slots(ExprId id) {
    const Expr& e = model.exprs[id];
    if (e.op == Op::slot)
        for (Local& l : frame_->locals)
            if (l.slot == e.index) l.used = true;
    if (e.a != 0) use_slots(e.a);
    if (e.b != 0) use_slots(e.b);
    for (Index i = 0; i < e.count; ++i) use_slots(model.arguments[e.first + i]);
}

void Checker::recipe(Index index) {
    enter(recipe_nodes_[index].unit);
    const NodeId node = recipe_nodes_[index].node;
    Scope frame;
    frame.recipe = true;
    frame.warn_unused = units[unit_].named;
    frame_ = &frame;
    recipe_index_ = index;
    const std::size_t before = out.errors();
    Recipe recipe = std::move(model.recipes[index]);

    const auto named = [&](Node clause_, Declares kind_, NameRef& ref, Index& found) {
        const NodeId at = tree().child(node, clause_);
        if (at == no_node || first(at) == no_node) return;
        ref = {intern(first(at)), none, span(first(at))};
        if (const auto* entry = declared.find(kind_, ref.name, unit_, ref.span)) found = entry->index;
    };
    named(Node::on, Declares::rig, recipe.rig, recipe.rig_index);
    named(Node::for_controller, Declares::controller, recipe.controller, recipe.controller_index);

    frame.unread = broken(node);
    const NodeId steps = tree().child(node, Node::block);
    // Defaults hold for every call of the recipe, so they are read before its parameters exist.
    if (steps != no_node) recipe_parts(steps, recipe);
    parameters(tree().child(node, Node::parameters), recipe.parameters);
    if (steps != no_node) recipe.body = block(steps, Where::top);
    recipe.broken = frame.broken || broken(node) || out.errors() != before;
    frame.warn_unused = frame.warn_unused && !recipe.broken;
    // The slot of a parameter is its number.
    for (const Local& local : frame.locals)
        if (local.what == Local::What::parameter && local.slot < recipe.parameters.size())
            recipe.parameters[local.slot].used = local.used || recipe.broken;
    leave_block(0);
    recipe.slots = frame.slots;
    model.recipes[index] = std::move(recipe);
    recipe_index_ = none;
    frame_ = nullptr;
}

/// `defaults` and `load`, which hold for the whole recipe wherever they stand in it.
void Checker::recipe_parts(NodeId steps, Recipe& recipe) {
    NodeId earlier = no_node;
    for (NodeId at = first(steps); at != no_node; at = next(at)) {
        if (kind(at) == Node::load) evolves(at, recipe);
        if (kind(at) != Node::defaults) continue;
        if (earlier != no_node) {
            out.error(Code::duplicate_name, span(at), "a second `defaults` block in one recipe")
                .also(span(earlier), "the first")
                .remedy("write all defaults into one block");
            continue;
        }
        earlier = at;
        defaults(at, recipe.defaults);
    }
}

} // namespace athanor::check
