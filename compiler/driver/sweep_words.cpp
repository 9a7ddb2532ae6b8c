#include "compiler/driver/sweep_words.hpp"

#include "compiler/prove/hazards.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

namespace athanor::driver {

SweepWords::SweepWords(const Session& session, const Compiled& compiled, const RecipeText& text)
    : model_(session.model), rig_(compiled.rig < model_.rigs.size() ? &model_.rigs[compiled.rig] : nullptr),
      text_(text), limits_(prove::sweep_limits(model_)), purging_(operation("inert_purge")),
      clearing_(operation("clear_flammable")) {
    if (rig_ == nullptr) return;
    const timeline::Timeline* timeline = compiled.elaborated.timeline.get();
    for (std::size_t l = 0; l < rig_->lines.size(); ++l) {
        if (!prove::inert_without_fuel(model_, rig_->lines[l])) continue;
        const bool used = timeline != nullptr && l < timeline->lines.size() && timeline->lines[l].used;
        if (inert_ == nullptr || used) inert_ = &rig_->lines[l];
        if (used) break;
    }
}

const check::Line* SweepWords::line_named(std::string_view name) const {
    if (rig_ == nullptr) return nullptr;
    const std::vector<check::Index> lines = model_.lines_named(*rig_, name);
    return lines.size() == 1 ? &rig_->lines[lines.front()] : nullptr;
}

SweepWords::Operation SweepWords::operation(std::string_view name) const {
    Operation found{std::string(name), {}, {}, nullptr};
    for (const check::Operation& operation : model_.operations) {
        if (model_.names[operation.name] != name) continue;
        for (const check::Parameter& p : operation.parameters) {
            if (p.type.kind == Kind::flow) found.flow = model_.names[p.name];
            if (p.type.kind != Kind::gas) continue;
            found.gas = model_.names[p.name];
            const check::Expr& usual = model_.exprs[p.default_value];
            if (usual.op == check::Op::gas) found.line = line_named(model_.gases[usual.index].name);
        }
    }
    return found;
}

std::vector<NodeId> SweepWords::flows_of(const check::Line& line) const {
    std::vector<NodeId> list;
    const Tree& tree = text_.tree();
    for (NodeId id :
         text_.all({Node::open_line, Node::purge, Node::switch_to, Node::set_line, Node::backfill})) {
        const NodeId name = tree.child(id, Node::name);
        if (name == no_node || line_named(text_.text(name)) != &line) continue;
        const NodeId at = text_.kind(id) == Node::set_line ? id : tree.child(id, Node::at);
        const NodeId flow = at == no_node ? no_node : tree.child(at, Node::quantity);
        if (flow != no_node) list.push_back(flow);
    }
    for (NodeId id : text_.all({Node::call}))
        for (const Operation& operation : {purging_, clearing_}) {
            if (!text_.calls(id, operation.name)) continue;
            NodeId flow = no_node;
            const check::Line* works = operation.line;
            for (NodeId argument : tree.children(id)) {
                if (text_.kind(argument) != Node::argument) continue;
                const NodeId name = tree.child(argument, 0U);
                const NodeId value = name == no_node ? no_node : tree[name].next;
                if (value == no_node) continue;
                if (text_.text(name) == operation.flow && text_.kind(value) == Node::quantity) flow = value;
                if (text_.text(name) == operation.gas) works = line_named(text_.text(value));
            }
            if (works == &line && flow != no_node) list.push_back(flow);
        }
    return list;
}

bool SweepWords::calls_clearing(NodeId step) const {
    return text_.calls(step, clearing_.name);
}

std::string SweepWords::flow_text(const check::Line& line) const {
    const std::vector<NodeId> known = flows_of(line);
    if (!known.empty()) return std::string(text_.text(known.front()));
    return flow_in_slm(line.meter.range.given ? 0.95 * line.meter.range.hi() : to_si(1, *unit_named("slm")));
}

std::string SweepWords::flow() const {
    return flow_text(*inert_);
}

std::string SweepWords::switch_over() const {
    return fmt::format("switch to {} at {}", inert_->name, flow());
}

std::string SweepWords::purge(std::string_view until) const {
    return fmt::format("purge {} at {} until {}", inert_->name, flow(), until);
}

/// The operations take an amount of gas, not a volume at the meter.
std::string SweepWords::call(const Operation& operation) const {
    const std::string flow = flow_text(*inert_);
    const std::size_t space = flow.find(' ');
    const athanor::Unit* unit = space == std::string::npos ? nullptr : unit_named(flow.substr(space + 1));
    if (operation.line != inert_ || operation.flow.empty() || unit == nullptr || unit->kind != Kind::flow)
        return {};
    return fmt::format("{}({} = {})", operation.name, operation.flow, flow);
}

std::string SweepWords::inert_purge() const {
    const std::string operation = call(purging_);
    return operation.empty() ? purge() : operation;
}

std::vector<std::string> SweepWords::clear() const {
    const std::string operation = call(clearing_);
    if (!operation.empty()) return {operation};
    return {switch_over(), fuel_gone()};
}

} // namespace athanor::driver
