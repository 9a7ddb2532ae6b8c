// What a name means: a local value, a `let`, a signal, a gas, a line, a zone.
#include "compiler/check/checker.hpp"
#include "compiler/check/equipment_block.hpp"
#include "compiler/quantity/unit.hpp"
#include "grammar/words.hpp"

#include <algorithm>
#include <fmt/format.h>
#include <iterator>
#include <utility>

namespace athanor::check {

using timeline::SignalKind;

const Checker::Local* Checker::local(NameId name) const {
    if (frame_ == nullptr || name >= local_at_.size() || local_at_[name] == none) return nullptr;
    return &frame_->locals[local_at_[name]];
}

Checker::Local* Checker::local(NameId name) {
    return const_cast<Local*>(static_cast<const Checker*>(this)->local(name));
}

/// A value may carry no name that already means something in every expression.
bool Checker::taken(NameId name, athanor::Span at, std::string_view what) {
    const std::string_view word = model.names[name];
    std::string because;
    if (is_signal(name))
        because = "a signal";
    else if (name == ambient_)
        because = "the pressure of the room";
    else if (unit_named(word) != nullptr)
        because = "a unit";
    else if (declared.peek(Declares::gas, name, unit_) != nullptr)
        because = "a gas, and so a signal";
    else
        return false;
    out.error(Code::duplicate_name, at,
              fmt::format("{} cannot be called `{}`: that is {}", what, word, because))
        .remedy(fmt::format("another name, such as `{}_value`", word));
    return true;
}

Index Checker::declare_local(NodeId name_node, Type type, Local::What what) {
    const NameId name = intern(name_node);
    if (name >= local_at_.size()) local_at_.resize(name + 64, none);
    constexpr std::string_view words[] = {"a parameter", "a `let`", "a loop name"};
    const std::string_view word = words[static_cast<std::size_t>(what)];
    const Index slot = frame_->slots++;
    if (what != Local::What::parameter || !frame_->unread) taken(name, span(name_node), word);
    if (const Local* earlier = local(name)) {
        out.error(Code::duplicate_name, span(name_node),
                  fmt::format("`{}` is declared already", model.names[name]))
            .also(earlier->span, "first declared here")
            .remedy("give one of them another name");
        return slot;
    }
    if (const Declarations::Entry* global = declared.peek(Declares::value, name, unit_);
        global != nullptr && global->unit == unit_) {
        out.error(Code::duplicate_name, span(name_node),
                  fmt::format("`{}` is declared already, for the whole file", model.names[name]))
            .also(global->span, "first declared here")
            .remedy("give one of them another name");
    }
    local_at_[name] = static_cast<Index>(frame_->locals.size());
    frame_->locals.push_back({name, type, slot, span(name_node), name_node, false, what});
    return slot;
}

void Checker::leave_block(std::size_t locals) {
    while (frame_->locals.size() > locals) {
        const Local& last = frame_->locals.back();
        unused_local(last);
        local_at_[last.name] = none;
        frame_->locals.pop_back();
    }
}

ExprId Checker::signal(SignalKind kind_, Type type, athanor::Span at, NameId name, Index slot) {
    const ExprId id = make(Op::signal, type, at);
    Expr& e = model.exprs[id];
    e.signal = kind_;
    e.name = name;
    e.index = slot;
    return id;
}

/// A signal in a place that is decided before the run.
ExprId Checker::not_known_yet(NodeId node, std::string_view what) {
    out.error(Code::misplaced, span(node),
              fmt::format("`{}` is known only while the recipe runs; {} depends on parameters only", text(node),
                          what.empty() ? "this value" : what))
        .remedy("a condition of the process stands in `require`, `expect` or behind `until`");
    return poison(span(node));
}

ExprId Checker::name_value(NodeId node, Type hint) {
    const NameId name = intern(node);
    if (Local* found = local(name)) {
        found->used = true;
        const bool as_signal =
            found->type.kind == Kind::gas && hint.kind != Kind::gas && reads_ != Reads::values;
        if (as_signal)
            return signal(SignalKind::fraction, type_of(Kind::fraction), span(node), name, found->slot);
        if (found->type.poison()) return poison(span(node));
        const ExprId id = make(Op::slot, found->type, span(node));
        model.exprs[id].index = found->slot;
        return id;
    }
    if (is_signal(name)) {
        if (reads_ == Reads::values) return not_known_yet(node, {});
        const Word& word = words_[name];
        return signal(word.signal, type_of(word.kind), span(node));
    }
    if (name == ambient_) return make(Op::ambient, type_of(Kind::pressure), span(node));
    const Declarations::Entry* value = declared.peek(Declares::value, name, unit_);
    if (value != nullptr) return global_value(value->index, span(node));
    if (const Declarations::Entry* gas = declared.peek(Declares::gas, name, unit_)) {
        if (hint.kind != Kind::gas && reads_ != Reads::values)
            return signal(SignalKind::fraction, type_of(Kind::fraction), span(node), name);
        const ExprId id = make(Op::gas, type_of(Kind::gas), span(node));
        model.exprs[id].index = gas->index;
        return id;
    }
    constexpr std::string_view rooms[] = {"rt", "room", "room_temperature", "ambient_temperature"};
    if (hint.kind == Kind::temperature && reads_ == Reads::values &&
        std::find(std::begin(rooms), std::end(rooms), text(node)) != std::end(rooms))
        return room_target(node);
    return unknown_value(node, name);
}

ExprId Checker::unknown_value(NodeId node, NameId name) {
    if (grammar::has_capital(text(node))) return poison(span(node)); // told by the grammar
    // Two imports may both declare it: that is told as such.
    std::vector<std::string_view> known;
    for (Declares kind_ : {Declares::value, Declares::gas}) {
        known.clear();
        declared.visible_names(kind_, unit_, known);
        for (std::string_view word : known)
            if (word == model.names[name]) {
                declared.find(kind_, name, unit_, span(node));
                return poison(span(node));
            }
    }
    if (units[unit_].lacks || (frame_ != nullptr && frame_->unread)) return poison(span(node));
    Diagnostic& d =
        out.error(Code::unknown_name, span(node), fmt::format("nothing is called `{}`", text(node)));
    known.clear();
    if (frame_ != nullptr)
        for (const Local& l : frame_->locals) known.push_back(model.names[l.name]);
    if (reads_ != Reads::values)
        for (NameId s = 1; s < signals_end_; ++s) known.push_back(model.names[s]);
    declared.visible_names(Declares::value, unit_, known);
    declared.visible_names(Declares::gas, unit_, known);
    if (const std::string_view gas = grammar::gas_of_formula(text(node)); !gas.empty())
        d.remedy(fmt::format("a gas is called by its name: `{}`", gas)).mend(span(node), std::string(gas));
    else if (const std::string_view said = text(node); said == "false" || said == "true") {
        const std::string truth = said == "true" ? "yes" : "no";
        d.remedy(fmt::format("a truth is `yes` or `no`: `{}`", truth)).mend(span(node), truth);
    } else if (is_hazard(name))
        d.remedy(fmt::format("`{}` stands for lines in the rules of a policy only", text(node)));
    else if (const std::string near = nearest(text(node), known); !near.empty() && text(node).size() > 1)
        mend_name(d.remedy(fmt::format("`{}` is declared", near)), span(node), text(node), near);
    else if (unit_named(text(node)) != nullptr)
        d.remedy(fmt::format("`{}` is a unit: it follows a number, such as `1 {}`", text(node), text(node)));
    else
        d.remedy(fmt::format("declare it as a parameter, or with `let {} = …`", text(node)));
    return poison(span(node));
}

constexpr std::size_t most_lets = 300; // of files, one inside another: each takes a piece of the stack
constexpr std::size_t most_work = 100000;

ExprId Checker::written_value(const Global& global) {
    const NodeId node = global.node;
    const NodeId type_node = tree().child(node, Node::type_name);
    const NodeId expr = type_node == no_node ? second(node) : next(type_node);
    if (broken(node) || expr == no_node) return poison(span(node));
    if (type_node == no_node) return infer(expr, {});
    if (const auto named = type_named(text(type_node)))
        return value(expr, *named, fmt::format("`{}`", model.names[global.name]));
    unknown_type(type_node);
    return poison(span(node));
}

void Checker::lower_global(Global& global) {
    global.state = Global::State::open;
    const std::size_t work = std::exchange(work_, 0), nested = std::exchange(nested_, 0),
                      begin = model.exprs.size();
    ++lets_;
    const Index unit = unit_;
    const Reads reads = reads_;
    Scope* frame = frame_;
    enter(global.unit);
    reads_ = Reads::values;
    frame_ = nullptr;
    ExprId result = written_value(global);
    --lets_;
    const std::size_t made = model.exprs.size() - begin;
    global.work = work_ + made - nested_;
    work_ = work;
    nested_ = nested + made;
    if (global.work > most_work) {
        out.error(Code::too_large, global.span,
                  fmt::format("`{}` takes more than {} operations", model.names[global.name], most_work))
            .remedy("write its value, or compute it from fewer of them");
        result = poison(global.span);
    }
    global.value = result;
    global.state = Global::State::done;
    enter(unit);
    reads_ = reads;
    frame_ = frame;
}

/// A `let` of a file is lowered where it is first read, in its own file and without any local names.
ExprId Checker::global_value(Index index, athanor::Span at) {
    Global& global = globals_[index];
    global.used = true;
    if (global.state == Global::State::open) {
        out.error(Code::recursion, global.span,
                  fmt::format("`{}` is computed from itself", model.names[global.name]));
        return poison(at);
    }
    if (global.state == Global::State::fresh && lets_ == most_lets) {
        out.error(Code::too_large, global.span,
                  fmt::format("more than {} `let`s hang on one another here", most_lets))
            .remedy("write its value, or compute it from fewer of them");
        global.value = poison(global.span);
        global.state = Global::State::done;
    }
    if (global.state == Global::State::fresh) lower_global(global);
    work_ += global.work;
    const ExprId written = global.value;
    if (poisoned(written)) return poison(at);
    // The same value at the place where it is used, so that messages point there.
    Expr copy = model.exprs[written];
    copy.span = at;
    model.exprs.push_back(copy);
    return static_cast<ExprId>(model.exprs.size() - 1);
}

void Checker::unknown_type(NodeId node) {
    Diagnostic& d =
        out.error(Code::unknown_name, span(node), fmt::format("no type is called `{}`", text(node)));
    std::vector<std::string_view> types;
    for (Kind k : named_kinds()) types.push_back(athanor::name(k));
    if (const std::string near = nearest(text(node), types); !near.empty())
        mend_name(d.remedy(fmt::format("`{}` is a type", near)), span(node), text(node), near);
}

/// `temperature of load`
ExprId Checker::property_of(NodeId node) {
    const NodeId property = first(node), owner = second(node);
    const NameId name = intern(property);
    if (name == safety_temperature_) {
        const NameId hazard = intern(owner);
        if (reads_ != Reads::rules || !is_hazard(hazard)) {
            out.error(
                Code::misplaced, span(node),
                fmt::format("`{}` belongs to the rules of a policy, as in `safety_temperature of flammable`",
                            text(property)));
            return poison(span(node));
        }
        const ExprId id = make(Op::hazard_safety_temperature, type_of(Kind::temperature), span(node));
        model.exprs[id].index = hazard - flammable_;
        return id;
    }
    const SignalKind kind_ = is_signal(name) ? words_[name].signal : SignalKind::constant;
    if (kind_ != SignalKind::temperature && kind_ != SignalKind::setpoint && kind_ != SignalKind::flow) {
        out.error(Code::unknown_name, span(property),
                  fmt::format("nothing has a property `{}`", text(property)))
            .remedy("what can be read of one thing: `temperature of load`, `temperature of ZONE`, `setpoint of "
                    "ZONE`, `flow of LINE`");
        return poison(span(node));
    }
    if (reads_ == Reads::values) return not_known_yet(node, {});
    if (kind_ == SignalKind::flow) {
        if (const NameId hazard = intern(owner); reads_ == Reads::rules && is_hazard(hazard)) {
            const ExprId id = signal(SignalKind::hazard_flow, type_of(Kind::flow), span(node));
            model.exprs[id].index = hazard - flammable_;
            return id;
        }
        const NameRef ref = line(owner);
        if (ref.name == 0) return poison(span(node));
        return signal(SignalKind::flow, type_of(Kind::flow), span(node), ref.name, ref.slot);
    }
    if (kind_ == SignalKind::temperature && intern(owner) == load_)
        return signal(SignalKind::load_temperature, type_of(Kind::temperature), span(node));
    const NameRef ref = zone(owner);
    if (ref.name == 0) return poison(span(node));
    return signal(kind_ == SignalKind::setpoint ? SignalKind::setpoint : SignalKind::zone_temperature,
                  type_of(Kind::temperature), span(node), ref.name);
}

/// `argon is open`, `flammable is closed`
ExprId Checker::state_of(NodeId node, NodeId left, std::string_view state) {
    if (reads_ == Reads::values) return not_known_yet(node, {});
    const bool opened = state == "open";
    if (kind(left) != Node::name) {
        out.error(Code::syntax, span(left), fmt::format("only a gas line is {}", state))
            .remedy("write the name of a line or gas before `is`");
        return poison(span(node));
    }
    const NameId name = intern(left);
    if (reads_ == Reads::rules && is_hazard(name)) {
        const ExprId id =
            make(opened ? Op::hazard_open : Op::hazard_closed, type_of(Kind::boolean), span(node));
        model.exprs[id].index = name - flammable_;
        return id;
    }
    if (is_signal(name) && words_[name].kind == Kind::boolean) {
        out.error(Code::unit_mismatch, span(node),
                  fmt::format("`{}` is no line: it is a condition by itself", text(left)))
            .remedy(fmt::format("write `{}`, or `not {}`", text(left), text(left)));
        return poison(span(node));
    }
    const NameRef ref = line(left);
    if (ref.name == 0) return poison(span(node));
    const ExprId id = signal(SignalKind::line_open, type_of(Kind::boolean), span(node), ref.name, ref.slot);
    return opened ? id : make(Op::not_, type_of(Kind::boolean), span(node), id);
}

/// A line by its own name or by its gas, or a local value of type gas. name 0: reported.
NameRef Checker::line(NodeId node, NameId name) {
    if (Local* found = local(name)) {
        found->used = true;
        if (found->type.kind == Kind::gas) return {name, found->slot, span(node)};
        if (!found->type.poison())
            out.error(Code::unit_mismatch, span(node),
                      fmt::format("a gas or a line is due here; `{}` is {}", text(node), describe(found->type)))
                .also(found->span, "declared here");
        return {};
    }
    const bool rigs_line = name < line_names_.size() && line_names_[name] != 0;
    if (rigs_line || declared.peek(Declares::gas, name, unit_) != nullptr) return {name, none, span(node)};
    if (grammar::has_capital(text(node)) || units[unit_].lacks) return {}; // told already
    Diagnostic& d =
        out.error(Code::unknown_name, span(node), fmt::format("no line and no gas is called `{}`", text(node)));
    if (const std::string_view gas = grammar::gas_of_formula(text(node)); !gas.empty()) {
        d.remedy(fmt::format("a gas is called by its name: `{}`", gas)).mend(span(node), std::string(gas));
        return {};
    }
    if (text(node) == "burner" || text(node) == "pump") {
        d.remedy(text(node) == "burner"
                     ? "the burner is lit with `light burner`, and shut with `shut burner`"
                     : "the pump is started with `start pump`, and stopped with `stop pump`");
        return {};
    }
    std::vector<std::string_view> known;
    for (const Rig& rig : model.rigs)
        for (const Line& l : rig.lines) known.push_back(l.name);
    declared.visible_names(Declares::gas, unit_, known);
    if (const std::string near = nearest(text(node), known); !near.empty())
        mend_name(d.remedy(fmt::format("`{}` is declared", near)), span(node), text(node), near);
    else
        d.remedy("a line is declared in the rig, a gas with `gas NAME { … }` in a file that this one imports");
    return {};
}

bool Checker::zone_known(NameId name) const {
    return name < zone_names_.size() && zone_names_[name] != 0;
}

NameRef Checker::zone(NodeId node) {
    const NameId name = intern(node);
    // Without any rig nothing can be said about its zones.
    if (model.rigs.empty() || zone_known(name)) return {name, none, span(node)};
    if (grammar::has_capital(text(node))) return {}; // told by the grammar
    Diagnostic& d =
        out.error(Code::unknown_name, span(node), fmt::format("no rig has a zone `{}`", text(node)));
    constexpr std::string_view no_zones[] = {"up",      "down", "naturally", "linearly",
                                             "furnace", "oven", "tube",      "temperature"};
    if (std::find(std::begin(no_zones), std::end(no_zones), text(node)) != std::end(no_zones)) {
        const athanor::Span at = span(node);
        d.cause(fmt::format("a name before `to` is one of the furnace's zones, and `{}` is none", text(node)))
            .remedy(fmt::format("leave `{}` out", text(node)))
            .mend({at.file, at.begin, at.end + 1}, "");
        return {};
    }
    std::vector<std::string_view> known;
    for (const Rig& rig : model.rigs)
        for (const std::string& z : rig.furnace.zones) known.push_back(z);
    if (const std::string near = nearest(text(node), known); !near.empty())
        mend_name(d.remedy(fmt::format("`{}` is declared", near)), span(node), text(node), near);
    return {};
}

} // namespace athanor::check
