// Expressions: from nodes to typed values.
#include "compiler/check/checker.hpp"
#include "compiler/check/equipment_block.hpp"
#include "compiler/quantity/unit.hpp"
#include "grammar/words.hpp"

#include <fmt/format.h>

namespace athanor::check {

ExprId Checker::make(Op op, const Type& type, athanor::Span at, ExprId a, ExprId b) {
    Expr& e = model.exprs.emplace_back();
    e.op = op;
    e.type = type;
    e.span = at;
    e.a = a;
    e.b = b;
    return static_cast<ExprId>(model.exprs.size() - 1);
}

ExprId Checker::constant(const Type& type, athanor::Span at, double value) {
    Expr& e = model.exprs.emplace_back();
    e.op = Op::constant;
    e.type = type;
    e.span = at;
    e.value = value;
    return static_cast<ExprId>(model.exprs.size() - 1);
}

ExprId Checker::poison(athanor::Span at) {
    if (frame_ != nullptr) frame_->broken = true;
    return make(Op::poison, {}, at);
}

/// Moves what stands in `scratch_` from place `from` on behind the model's arguments.
Index Checker::append_arguments(std::size_t from) {
    const auto begin = static_cast<Index>(model.arguments.size());
    model.arguments.insert(model.arguments.end(), scratch_.begin() + static_cast<std::ptrdiff_t>(from),
                           scratch_.end());
    scratch_.resize(from);
    return begin;
}

ExprId Checker::infer(NodeId node, const Type& hint) {
    if (broken(node)) return poison(span(node));
    switch (kind(node)) {
    case Node::number: return number_literal(node);
    case Node::quantity: return quantity_literal(node, hint);
    case Node::hole: return make(Op::hole, hint, span(node));
    case Node::text: {
        const ExprId id = make(Op::text, type_of(Kind::text), span(node));
        model.exprs[id].index = text_of(node);
        return id;
    }
    case Node::yes:
    case Node::no: return constant(type_of(Kind::boolean), span(node), kind(node) == Node::yes ? 1 : 0);
    case Node::name: return name_value(node, hint);
    case Node::list: return list(node, hint);
    case Node::paren: return infer(first(node), hint);
    case Node::add:
    case Node::subtract: return sum(node, hint);
    case Node::multiply:
    case Node::divide: return product(node, hint);
    case Node::plus_minus: return plus_minus(node, hint);
    case Node::negate: {
        const ExprId a = infer(first(node), hint);
        if (poisoned(a)) return a;
        const auto result = negate(type(a));
        if (result) return make(Op::negate, *result, span(node), a);
        if (!type(a).quantity()) {
            out.error(Code::unit_mismatch, span(node), fmt::format("{} has no sign", describe(type(a))));
        } else {
            out.error(
                   Code::absolute_added, span(node),
                   fmt::format("`{}` is an absolute temperature, which cannot be negated", text(first(node))))
                .remedy(fmt::format("a step down is a difference: `{} - 50 K`", some_temperature()));
        }
        return poison(span(node));
    }
    case Node::not_: {
        const ExprId a = value(first(node), Kind::boolean, "`not`");
        if (poisoned(a)) return a;
        return make(Op::not_, type_of(Kind::boolean), span(node), a);
    }
    case Node::less:
    case Node::less_equal:
    case Node::greater:
    case Node::greater_equal: return compare(node);
    case Node::is: return is(node);
    case Node::and_:
    case Node::or_: return logic(node);
    case Node::of: return property_of(node);
    case Node::call: return function_call(node, hint);
    default: return poison(span(node)); // the parser reported what it could not read
    }
}

ExprId Checker::value(NodeId node, const Type& wanted, std::string_view place) {
    if (node == no_node) return 0;
    const ExprId id = kind(node) == Node::quantity ? quantity_literal(node, wanted) : infer(node, wanted);
    if (poisoned(id) || wanted.poison()) return id;
    Expr& e = model.exprs[id];
    if (e.op == Op::hole) {
        e.type = wanted;
        return id;
    }
    if (e.op == Op::list) return mismatch(id, node, wanted, place);
    if (e.op == Op::call && e.a != 0) return list_of_names(id);
    if (e.type == wanted) return id;
    // A number must say which share it is.
    if (e.type.kind == Kind::count && wanted.kind == Kind::fraction && plain_number(node))
        return missing_unit(node, wanted);
    if (converts(e.type, wanted)) return id;
    return mismatch(id, node, wanted, place);
}

ExprId Checker::flow_value(NodeId node, std::string_view place) {
    if (node == no_node) return 0;
    const ExprId id = infer(node, type_of(Kind::flow));
    if (poisoned(id) || model.exprs[id].op == Op::list)
        return poisoned(id) ? id : mismatch(id, node, type_of(Kind::flow), place);
    if (model.exprs[id].op == Op::hole || type(id).kind == Kind::flow ||
        converts(type(id), type_of(Kind::volume_flow)))
        return id;
    if (converts(type(id), type_of(Kind::flow))) return id;
    return mismatch(id, node, type_of(Kind::flow), place);
}

ExprId Checker::condition(NodeId node, Reads reads, std::string_view place) {
    if (node == no_node) return 0;
    const Reads outer = reads_;
    reads_ = reads;
    const ExprId id = value(node, Kind::boolean, place);
    reads_ = outer;
    return id;
}

/// `cool to RT`, `cool to ambient`
ExprId Checker::room_target(NodeId node) {
    out.error(Code::unit_mismatch, span(node), std::string(grammar::room_is_no_target))
        .remedy(std::string(grammar::room_remedy));
    return poison(span(node));
}

/// Where the literal is a length and a time is due, `90m`, or kelvins in a metre in place of a rate, `3 K/m`,
/// minutes were meant: told with its edit. True where it is so.
bool Checker::metres_for_minutes(Diagnostic& d, NodeId literal, Type wanted) const {
    if (kind(literal) != Node::quantity || next(next(first(literal))) != no_node) return false;
    const NodeId unit = next(first(literal));
    const std::string_view right = text(unit) == "m" && wanted.kind == Kind::time     ? "min"
                                   : text(unit) == "K/m" && wanted.kind == Kind::rate ? "K/min"
                                                                                      : "";
    if (right.empty()) return false;
    d.cause(std::string(grammar::metre_and_minute));
    d.remedy(fmt::format("write `{} {}`", text(first(literal)), right));
    d.mend(span(literal), fmt::format("{} {}", text(first(literal)), right));
    return true;
}

/// The figure that a person writes so, in the units of the place: `1/2 h`, `at 5 K`; empty where none is
/// near.
std::string Checker::other_figure(NodeId node, Type wanted, Type got) const {
    if (wanted.kind == Kind::rate && got.kind == Kind::difference && kind(node) == Node::quantity)
        return fmt::format("{}/min", text(node));
    if (wanted.kind != Kind::time) return {};
    const auto unit_of = [&](NodeId quantity) { return text(next(first(quantity))); };
    if (kind(node) != Node::divide) return {};
    const NodeId share = first(node), whole = second(node);
    double above = 0, below = 0;
    if (kind(share) != Node::number || kind(whole) != Node::quantity || !parse_number(text(share), above) ||
        !parse_number(text(first(whole)), below) || below == 0 || unit_named(unit_of(whole)) == nullptr ||
        unit_named(unit_of(whole))->kind != Kind::time)
        return {};
    return fmt::format("{} {}", shortest(above / below), unit_of(whole));
}

ExprId Checker::no_condition(NodeId node, Type got, std::string_view place) {
    Diagnostic& d =
        out.error(Code::unit_mismatch, span(node),
                  fmt::format("{} takes a condition; `{}` is {}", place, text(node), describe(got)));
    std::string_view example = got.kind == Kind::fraction      ? "10 ppm"
                               : got.kind == Kind::temperature ? "200 degC"
                               : got.kind == Kind::pressure    ? "1 mbar"
                               : got.kind == Kind::time        ? "1 h"
                                                               : "";
    if (!example.empty() && kind(inner(node)) == Node::name)
        d.remedy(fmt::format("compare it: `{} < {}`", text(node), example));
    const std::string_view signal = got.kind == Kind::temperature ? "temperature >"
                                    : got.kind == Kind::pressure  ? "pressure <"
                                                                  : "";
    if (!signal.empty() && kind(inner(node)) == Node::quantity)
        d.remedy(fmt::format("say what is compared with it: `{} {}`", signal, text(node)));
    return poison(span(node));
}

/// A temperature that an example may name: one that is declared here, else one in figures.
std::string Checker::some_temperature() const {
    if (frame_ != nullptr)
        for (const Local& local : frame_->locals)
            if (local.type.kind == Kind::temperature) return std::string(model.names[local.name]);
    return "500 degC";
}

/// `let top : temperature = 773 K` for a name whose declaration says `let top = 773 K`: kelvins alone are a
/// difference. Empty for any other name.
std::string Checker::typed_as_temperature(NodeId node) {
    if (kind(node) != Node::name) return {};
    const NameId name = intern(node);
    NodeId declared_at = no_node;
    std::string_view word = "let ";
    if (const Local* own = local(name)) {
        if (own->what == Local::What::loop) return {};
        if (own->what == Local::What::parameter) word = "";
        declared_at = own->node;
    } else {
        for (const Global& global : globals_)
            if (global.name == name && global.unit == unit_)
                declared_at = tree().child(global.node, Node::name);
    }
    const NodeId given = declared_at == no_node ? no_node : next(declared_at);
    if (given == no_node) return {};
    const NodeId figure = kind(given) == Node::default_value ? first(given) : given;
    if (figure == no_node || !kelvin_only(figure)) return {};
    return fmt::format("{}{} : temperature = {}", word, text(node), text(figure));
}

/// What people mean who write the one for the other.
void Checker::meant_instead(Diagnostic& d, NodeId node, Type wanted, Type got, std::string_view place) {
    const NodeId literal = inner(node);
    const bool gauge = kind(literal) == Node::quantity && tree().child(literal, Node::gauge) != no_node;
    if (wanted.kind == Kind::pressure && gauge) {
        std::string absolute(text(literal).substr(0, text(literal).rfind("gauge")));
        while (absolute.ends_with(' ')) absolute.pop_back();
        // Behind a gauge of a pump people read an absolute pressure, behind one of a cylinder an overpressure.
        if (place == "`evacuate to`") {
            d.remedy(fmt::format("a pump is stopped at an absolute pressure: is `{}` meant?", absolute));
        } else {
            const std::string repaired = "ambient + " + absolute;
            d.remedy(fmt::format("above the room's pressure: `{}`", repaired)).mend(span(literal), repaired);
        }
    } else if (wanted.kind == Kind::overpressure && got.kind == Kind::pressure &&
               kind(literal) == Node::quantity) {
        d.remedy(fmt::format("`{} gauge` is a pressure above the room's", text(literal)));
    } else if (const std::string lower = lower_by(literal);
               wanted.kind == Kind::temperature && !lower.empty()) {
        const NodeId left = first(literal), right = inner(second(literal));
        d.remedy(fmt::format("a step is a difference: `{} - {}`", text(left), lower));
        if (one_scale(left, right)) d.mend(span(right), lower);
    } else if (wanted.kind == Kind::temperature && got.kind == Kind::difference) {
        if (const std::string typed = typed_as_temperature(literal); !typed.empty())
            d.remedy(fmt::format("where it is a temperature, say so where it is declared: `{}`", typed));
        else
            d.remedy(fmt::format("a difference needs a temperature to start from: `{} + {}`",
                                 some_temperature(), text(node)));
    } else if (wanted.kind == Kind::flow && got.kind == Kind::volume_flow) {
        d.remedy("state an amount of gas (`sccm`, `slm`), or make the place a `volume_flow`");
    } else if (wanted.kind == Kind::time && got.kind == Kind::rate) {
        d.remedy(fmt::format("a rate stands behind `at`: `at {}`", text(node)));
    } else if (wanted.kind == Kind::difference && got.kind == Kind::time) {
        d.remedy(fmt::format("the time of a ramp stands behind `over`: `over {}`", text(node)));
    } else if (wanted.kind == Kind::rate && got.kind == Kind::time) {
        d.remedy(fmt::format("a time stands behind `over`: `over {}`", text(node)));
    }
}

/// Says what stands in the place and what the place takes, with the repair that the pair suggests.
ExprId Checker::mismatch(ExprId id, NodeId node, Type wanted, std::string_view place) {
    const Type got = type(id);
    const NodeId literal = inner(node);
    if (model.exprs[id].op == Op::list) {
        out.error(Code::unit_mismatch, span(node),
                  fmt::format("{} takes {}, not a list", place, describe(wanted)));
        return poison(span(node));
    }
    if (got.kind == Kind::count && wanted.quantity() && plain_number(node)) return missing_unit(node, wanted);
    if (wanted.kind == Kind::difference && got.kind == Kind::temperature && kind(literal) == Node::quantity)
        return difference_due(node, place);
    if (wanted.kind == Kind::boolean) return no_condition(node, got, place);
    if (wanted.kind == Kind::temperature && model.exprs[id].op == Op::ambient) return room_target(node);
    Diagnostic& d =
        out.error(Code::unit_mismatch, span(node),
                  fmt::format("{} takes {}; `{}` is {}", place, describe(wanted), text(node), describe(got)));
    if (metres_for_minutes(d, literal, wanted)) return poison(span(node));
    if (const std::string meant = other_figure(literal, wanted, got); !meant.empty())
        d.remedy(fmt::format("perhaps `{}`", meant));
    meant_instead(d, node, wanted, got, place);
    return poison(span(node));
}

/// `[473.15 K, 400 degC]`: two temperatures, or two differences? Nobody can tell, so nothing is put in its
/// place.
ExprId Checker::kelvin_beside_degrees(NodeId kelvin, NodeId degrees) {
    out.error(Code::unit_mismatch, span(degrees),
              fmt::format("the list begins with `{}`, a difference, and `{}` is a temperature", text(kelvin),
                          text(degrees)))
        .also(span(kelvin), "the first of the list")
        .remedy("write all of them as temperatures, in degC, or all as differences, in K");
    return poison(span(degrees));
}

/// Elements of one type. The type of a list is that of its elements.
ExprId Checker::list(NodeId node, Type hint) {
    const std::size_t from = scratch_.size();
    const athanor::Span at = span(node);
    Type element = hint;
    bool bad = false;
    for (NodeId item = first(node); item != no_node; item = next(item)) {
        if (kind(inner(item)) == Node::list) {
            out.error(Code::unit_mismatch, span(item), "a list inside a list");
            bad = true;
            break;
        }
        const bool either =
            hint.poison() && element.kind == Kind::difference && !as_difference(inner(item)).empty();
        const ExprId id = either             ? kelvin_beside_degrees(first(node), item)
                          : element.poison() ? infer(item, type_of(Kind::gas))
                                             : value(item, element, "the list");
        if (poisoned(id))
            bad = true;
        else if (element.poison())
            element = type(id);
        scratch_.push_back(id);
    }
    const auto count = static_cast<Index>(scratch_.size() - from);
    const Index begin = append_arguments(from);
    if (bad) return poison(at);
    if (count == 0) {
        out.error(Code::value_missing, at, "an empty list");
        return poison(at);
    }
    const ExprId id = make(Op::list, element, at);
    model.exprs[id].first = begin;
    model.exprs[id].count = count;
    return id;
}

} // namespace athanor::check
