// Sums, products, comparisons and logic, with dimensions carried through.
#include "compiler/check/checker.hpp"

#include <fmt/format.h>

namespace athanor::check {

namespace {

bool point(Type type) {
    return type.kind == Kind::temperature || type.kind == Kind::dew_point;
}

std::string_view sign_of(Node kind) {
    switch (kind) {
    case Node::add: return "+";
    case Node::subtract: return "-";
    case Node::multiply: return "*";
    case Node::divide: return "/";
    case Node::less: return "<";
    case Node::less_equal: return "<=";
    case Node::greater: return ">";
    case Node::greater_equal: return ">=";
    case Node::plus_minus: return "±";
    default: return "is";
    }
}

} // namespace

ExprId Checker::sum(NodeId node, Type hint) {
    const NodeId left = first(node), right = second(node);
    const bool adds = kind(node) == Node::add;
    ExprId a = 0, b = 0;
    if (adds && kelvin_literal(left)) {
        // `300 K + …`: a temperature that stands first where one is due, unless the temperature stands behind
        // it by its name. `300 K + 20 degC` is 320 degC to one reader and 320 K to another.
        b = infer(right, type_of(Kind::difference));
        if (point(type(b)) && writes_temperature(right)) return absolute_added(node);
        a = infer(left, point(type(b)) ? type_of(Kind::difference) : hint);
    } else if (pliant(left) && !kelvin_literal(left) && !pliant(right)) {
        b = infer(right, hint);
        a = infer(left, type(b));
    } else {
        a = infer(left, hint);
        b = infer(right, point(type(a)) ? type_of(Kind::difference) : type(a));
    }
    if (poisoned(a) || poisoned(b)) return poison(span(node));
    for (auto [hole, other] : {std::pair(a, b), std::pair(b, a)})
        if (model.exprs[hole].op == Op::hole && type(hole).poison())
            model.exprs[hole].type = point(type(other)) ? type_of(Kind::difference) : type(other);
    if (type(a).poison() || type(b).poison()) return poison(span(node));
    if (power_of_ten(node)) return poison(span(node));
    // A number beside a quantity lacks its unit; beside a share it may be meant (`1 - 5 %`).
    for (auto [side, other] : {std::pair(left, b), std::pair(right, a)})
        if (plain_number(side) && type(other).quantity() && type(other).kind != Kind::count &&
            type(other).kind != Kind::fraction)
            return missing_unit(side, point(type(other)) ? type_of(Kind::difference) : type(other));
    const auto result = adds ? add(type(a), type(b)) : subtract(type(a), type(b));
    if (result) return make(adds ? Op::add : Op::subtract, *result, span(node), a, b);
    if (point(type(a)) && point(type(b))) return absolute_added(node);
    return cannot_add(node, a, b);
}

/// `10-3 mbar`, written for 10⁻³ mbar: told, and never mended by itself, since it may as well lack a unit.
bool Checker::power_of_ten(NodeId node) {
    const NodeId left = first(node), right = second(node);
    if (kind(left) != Node::number || text(left) != "10" || kind(right) != Node::quantity) return false;
    const NodeId exponent = first(right);
    const std::string_view digits = text(exponent), all = text(node);
    const bool whole = digits.find_first_not_of("0123456789") == std::string_view::npos && digits.size() <= 2;
    // No blank around the sign.
    if (!whole || span(exponent).begin != span(left).end + 1) return false;
    const std::string_view sign = kind(node) == Node::subtract ? "-" : "";
    out.error(Code::missing_unit, span(node), fmt::format("`10` of `{}` has no unit", all))
        .remedy(fmt::format("a power of ten is written `1e{}{}`: perhaps `1e{}{}`", sign, digits, sign,
                            text(right)));
    return true;
}

ExprId Checker::absolute_added(NodeId node) {
    const NodeId left = first(node), right = second(node);
    Diagnostic& d = out.error(
        Code::absolute_added, span(node),
        fmt::format("`{}` and `{}` are absolute temperatures, which cannot be added", text(left), text(right)));
    if (kelvin_literal(left)) {
        d.remedy(fmt::format("where `{0}` is a difference, write `{1} + {0}`", text(left), text(right)))
            .remedy(fmt::format("where `{}` is a difference, write it in kelvin", text(right)));
        return poison(span(node));
    }
    // Whichever is written as a number is the one meant as a step.
    NodeId literal = no_node;
    for (NodeId side : {left, right})
        if (kind(inner(side)) == Node::quantity) literal = inner(side);
    if (literal == no_node) {
        d.remedy("make one of them a `difference`");
    } else {
        const std::string number(text(first(literal)));
        const athanor::Span at = span(literal), whole = span(node);
        std::string repaired(files.text(whole));
        repaired.replace(at.begin - whole.begin, at.end - at.begin, number + " K");
        d.remedy(fmt::format("a step is a difference: `{}`", repaired)).mend(at, number + " K");
    }
    return poison(span(node));
}

ExprId Checker::cannot_add(NodeId node, ExprId a, ExprId b) {
    const bool adds = kind(node) == Node::add;
    // `peak + 30` and `peak - 10 min` are told by what the left side could take.
    Diagnostic& d = out.error(Code::unit_mismatch, span(node),
                              fmt::format("`{}` is {} and `{}` is {}: they cannot be {}", text(first(node)),
                                          describe(type(a)), text(second(node)), describe(type(b)),
                                          adds ? "added" : "subtracted"));
    const auto mixed = [&](Kind x, Kind y) {
        return (type(a).kind == x && type(b).kind == y) || (type(a).kind == y && type(b).kind == x);
    };
    if (mixed(Kind::pressure, Kind::overpressure))
        d.remedy("an overpressure becomes absolute by the room's pressure: `ambient + 20 mbar`");
    if (mixed(Kind::flow, Kind::volume_flow))
        d.remedy("write both as an amount of gas (`sccm`, `slm`) or both as a volume (`L/min`)");
    return poison(span(node));
}

ExprId Checker::product(NodeId node, Type) {
    const NodeId left = first(node), right = second(node);
    const ExprId a = infer(left, {}), b = infer(right, {});
    if (poisoned(a) || poisoned(b)) return poison(span(node));
    if (type(a).poison() || type(b).poison()) {
        // A hole has no type of its own here: it is missing whatever it would be.
        out.error(Code::value_missing, span(node),
                  "a value left open with `?` cannot be a factor: give it a name and a type");
        return poison(span(node));
    }
    const bool times = kind(node) == Node::multiply;
    const auto result = times ? multiply(type(a), type(b)) : divide(type(a), type(b));
    if (result) return make(times ? Op::multiply : Op::divide, *result, span(node), a, b);
    const bool left_point = point(type(a));
    const ExprId guilty = left_point || !type(a).quantity() ? a : b;
    Diagnostic& d = out.error(Code::unit_mismatch, span(node),
                              fmt::format("`{}` is {}, which cannot be {}", text(guilty == a ? left : right),
                                          describe(type(guilty)), times ? "multiplied" : "divided"));
    if (point(type(guilty)))
        d.remedy("take the difference to another temperature first: `(peak - 600 degC) / 40 min`");
    return poison(span(node));
}

ExprId Checker::plus_minus(NodeId node, Type hint) {
    const NodeId left = first(node), right = second(node);
    const ExprId a = infer(left, hint);
    if (poisoned(a)) return a;
    if (type(a).poison() || !type(a).quantity()) {
        out.error(Code::unit_mismatch, span(node), fmt::format("`{}` has no uncertainty", text(left)));
        return poison(span(node));
    }
    const Type own = point(type(a)) ? type_of(Kind::difference) : type(a);
    const ExprId b = infer(right, own);
    if (poisoned(b)) return b;
    if (plain_number(right) && type(a).kind != Kind::count) return missing_unit(right, own);
    const bool relative = type(b).kind == Kind::fraction;
    if (relative && point(type(a))) {
        out.error(Code::unit_mismatch, span(node),
                  fmt::format("a share of an absolute temperature has no meaning: `{}`", text(node)))
            .remedy(fmt::format("state it in kelvin: `{} ± 5 K`", text(left)));
        return poison(span(node));
    }
    if (!relative && own.kind == Kind::difference && point(type(b))) return difference_due(right, "`±`");
    if (!relative && !converts(type(b), own)) return mismatch(b, right, own, "`±`");
    return make(Op::plus_minus, type(a), span(node), a, b);
}

ExprId Checker::compare(NodeId node) {
    const NodeId left = first(node), right = second(node);
    ExprId a = 0, b = 0;
    if (pliant(left) && !pliant(right)) {
        b = infer(right, {});
        a = infer(left, type(b));
    } else {
        a = infer(left, {});
        b = infer(right, type(a));
    }
    if (poisoned(a) || poisoned(b)) return poison(span(node));
    for (auto [hole, other] : {std::pair(a, b), std::pair(b, a)})
        if (model.exprs[hole].op == Op::hole && type(hole).poison()) model.exprs[hole].type = type(other);
    for (auto [side, other] : {std::pair(left, b), std::pair(right, a)})
        if (plain_number(side) && type(other).quantity() && type(other).kind != Kind::count)
            return missing_unit(side, type(other));
    if (type(a).kind == Kind::gas || type(b).kind == Kind::gas) {
        const NodeId gas = type(a).kind == Kind::gas ? left : right;
        if (reads_ == Reads::values && type(a).kind != type(b).kind)
            return not_known_yet(gas, "a choice made before the run");
        out.error(Code::unit_mismatch, span(node),
                  fmt::format("gases are compared with `is`, not with `{}`", sign_of(kind(node))));
        return poison(span(node));
    }
    const auto flows = [&](Kind x, Kind y) { return type(a).kind == x && type(b).kind == y; };
    const bool fits = model.exprs[a].op != Op::list && model.exprs[b].op != Op::list &&
                      (comparable(type(a), type(b)) || flows(Kind::flow, Kind::volume_flow) ||
                       flows(Kind::volume_flow, Kind::flow));
    if (!fits) {
        const bool step = point(type(a)) && type(b).kind == Kind::difference;
        Diagnostic& d = out.error(Code::unit_mismatch, span(node),
                                  fmt::format("`{}` is {} and `{}` is {}: they cannot be compared", text(left),
                                              describe(type(a)), text(right), describe(type(b))));
        if (step) d.remedy("compare two temperatures, or the difference of two");
        return poison(span(node));
    }
    const Op op = kind(node) == Node::less         ? Op::less
                  : kind(node) == Node::less_equal ? Op::less_equal
                  : kind(node) == Node::greater    ? Op::greater
                                                   : Op::greater_equal;
    return make(op, type_of(Kind::boolean), span(node), a, b);
}

ExprId Checker::is(NodeId node) {
    const NodeId left = first(node), right = second(node);
    if (kind(right) == Node::name) {
        const std::string_view state = text(right);
        if ((state == "open" || state == "closed") && local(intern(right)) == nullptr)
            return state_of(node, left, state);
        if (state == "shut") {
            out.error(Code::unknown_name, span(right), "a line is `open` or `closed`")
                .remedy("write `closed`")
                .mend(span(right), "closed");
            return poison(span(node));
        }
    }
    const ExprId a = infer(left, type_of(Kind::gas));
    const ExprId b = infer(right, type_of(Kind::gas));
    if (poisoned(a) || poisoned(b)) return poison(span(node));
    const Kind ka = type(a).kind, kb = type(b).kind;
    const auto plain = [](Kind k) {
        return k == Kind::gas || k == Kind::text || k == Kind::boolean || k == Kind::count;
    };
    if (ka != kb || !plain(ka)) {
        Diagnostic& d = out.error(
            Code::unit_mismatch, span(node),
            fmt::format("`{}` is {} and `{}` is {}: `is` compares two gases, texts, counts or yes and no",
                        text(left), describe(type(a)), text(right), describe(type(b))));
        if (type(a).quantity() && type(b).quantity()) d.remedy("quantities are compared with <, <=, > and >=");
        return poison(span(node));
    }
    // `burner is no` reads a signal: it becomes the signal itself, or its opposite.
    if (ka == Kind::boolean && model.exprs[a].op == Op::signal && model.exprs[b].op == Op::constant)
        return model.exprs[b].value.lo > 0 ? a : make(Op::not_, type_of(Kind::boolean), span(node), a);
    return make(Op::equal, type_of(Kind::boolean), span(node), a, b);
}

/// `dwell 5 min and 30 s`: two figures are joined by no word.
bool Checker::joined_figures(NodeId node) {
    const NodeId left = first(node), right = second(node);
    if (kind(node) != Node::and_ || kind(left) != Node::quantity || kind(right) != Node::quantity) return false;
    if (broken(left) || broken(right)) return true; // told
    Diagnostic& d =
        out.error(Code::unit_mismatch, span(node),
                  fmt::format("`and` joins conditions; `{}` and `{}` are figures", text(left), text(right)));
    const std::string whole = fmt::format("{} {}", text(left), text(right));
    if (type(infer(left, {})).kind == Kind::time && type(infer(right, {})).kind == Kind::time)
        d.remedy(fmt::format("one time is written `{}`", whole)).mend(span(node), whole);
    return true;
}

ExprId Checker::logic(NodeId node) {
    if (joined_figures(node)) return poison(span(node));
    const std::string_view place = kind(node) == Node::and_ ? "`and`" : "`or`";
    const ExprId a = value(first(node), Kind::boolean, place);
    const ExprId b = value(second(node), Kind::boolean, place);
    if (poisoned(a) || poisoned(b)) return poison(span(node));
    return make(kind(node) == Node::and_ ? Op::and_ : Op::or_, type_of(Kind::boolean), span(node), a, b);
}

} // namespace athanor::check
