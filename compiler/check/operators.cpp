// Sums, products, comparisons and logic, with dimensions carried through.
#include "compiler/check/checker.hpp"
#include "compiler/check/equipment_literal.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

namespace athanor::check {

namespace {

/// A count, or a ratio of two quantities.
bool plain(Type type) {
    return type.quantity() && type.dimension.none() && type.kind != Kind::fraction;
}

constexpr std::string_view one_kind_of_flow =
    "write both as an amount of gas (`sccm`, `slm`) or both as a volume (`L/min`)";

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
    if (adds && kelvin_only(left)) {
        // `300 K + …`: a temperature that stands first where one is due, unless the temperature stands behind
        // it by its name. `300 K + 20 degC` is 320 degC to one reader and 320 K to another, and so it is where
        // kelvins alone make up the left side: `5 K + 5 K + 500 degC`.
        b = infer(right, type_of(Kind::difference));
        if (point(type(b)) && writes_temperature(right)) return absolute_added(node);
        a = infer(left, point(type(b)) ? type_of(Kind::difference) : hint);
    } else if (pliant(left) && !pliant(right)) {
        b = infer(right, hint);
        a = infer(left, adds && point(type(b)) ? type_of(Kind::difference) : type(b));
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
    // A number beside a quantity lacks its unit; beside a share, 1 is the whole (`1 - 5 %`).
    for (auto [side, own, other] : {std::tuple(left, a, b), std::tuple(right, b, a)}) {
        if (!plain_number(side) || !type(other).quantity()) continue;
        if (type(other).kind == Kind::fraction && model.exprs[own].value == Interval(1))
            model.exprs[own].type = type(other);
        else if (type(other).kind == Kind::fraction || !type(other).dimension.none())
            return missing_unit(side, point(type(other)) ? type_of(Kind::difference) : type(other));
    }
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
    if (kelvin_only(left)) {
        d.remedy(fmt::format("where `{0}` is a difference, write `{1} + {0}`", text(left), text(right)));
        if (kind(inner(right)) == Node::quantity)
            d.remedy(fmt::format("where `{}` is a difference, write it in kelvin", text(right)));
        return poison(span(node));
    }
    // Whichever is written as a number is the one meant as a step.
    const bool right_step = kind(inner(right)) == Node::quantity;
    const NodeId step = right_step ? right : left, base = right_step ? left : right;
    if (kind(inner(step)) != Node::quantity) {
        d.remedy("make one of them a `difference`");
        return poison(span(node));
    }
    const std::string kelvin = as_difference(inner(step));
    if (kelvin.empty() || !one_scale(base, step)) {
        d.remedy("write the one that is a step as a difference, in kelvin");
        return poison(span(node));
    }
    if (!right_step && writes_temperature(base)) {
        // Kelvins in front of a temperature that is written out would be refused in their turn.
        const std::string repaired = fmt::format("{} + {}", text(base), kelvin);
        d.remedy(fmt::format("a step is a difference: `{}`", repaired)).mend(span(node), repaired);
        return poison(span(node));
    }
    const athanor::Span at = span(inner(step)), whole = span(node);
    std::string repaired(files.text(whole));
    repaired.replace(at.begin - whole.begin, at.end - at.begin, kelvin);
    d.remedy(fmt::format("a step is a difference: `{}`", repaired)).mend(at, kelvin);
    return poison(span(node));
}

/// `20 degC` as the step that it is meant for: `20 K`. Empty where it is no temperature of one number.
std::string Checker::as_difference(NodeId literal) const {
    const NodeId number = first(literal), unit = number == no_node ? no_node : next(number);
    if (kind(literal) != Node::quantity || unit == no_node || kind(unit) != Node::unit || next(unit) != no_node)
        return {};
    const athanor::Unit* row = unit_named(text(unit));
    return row == nullptr || row->kind != Kind::temperature ? std::string() : in_kelvin(text(number), *row);
}

/// `50 K` of `peak - 50 degC`: two temperatures whose difference stands where a temperature is due.
std::string Checker::lower_by(NodeId node) const {
    if (kind(node) != Node::subtract || kelvin_only(first(node))) return {};
    return as_difference(inner(second(node)));
}

/// Is the sum of both numbers one temperature, whichever of the two is the step? `500 degC + 20 degC` is;
/// `68 degF + 500 degC` is not, nor a temperature that kelvins make up.
bool Checker::one_scale(NodeId base, NodeId step) const {
    base = inner(base);
    switch (kind(base)) {
    case Node::name: return true;
    case Node::quantity: return !broken(base) && text(second(base)) == text(second(inner(step)));
    case Node::add:
        // The temperature of the sum is one of its sides; the other is a step.
        if (kelvin_only(first(base))) return one_scale(second(base), step);
        return one_scale(first(base), step);
    case Node::subtract: return one_scale(first(base), step);
    default: return false;
    }
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
    if (mixed(Kind::flow, Kind::volume_flow)) d.remedy(std::string(one_kind_of_flow));
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
    if (plain_number(right) && !plain(type(a))) return missing_unit(right, own);
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

/// The flow of a line, or one with a value added or taken off.
bool Checker::reads_flow(ExprId id) const {
    const Expr& e = model.exprs[id];
    if (e.op == Op::add || e.op == Op::subtract) return reads_flow(e.a) || reads_flow(e.b);
    return e.op == Op::signal && e.signal == timeline::SignalKind::flow;
}

ExprId Checker::compare(NodeId node) {
    const NodeId left = first(node), right = second(node);
    ExprId a = 0, b = 0;
    const auto follows = [&](NodeId side) { return pliant(side) || kelvin_only(side); };
    if (follows(left) && !follows(right)) {
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
        if (plain_number(side) && type(other).quantity() && !plain(type(other)))
            return missing_unit(side, type(other));
    if (type(a).kind == Kind::gas || type(b).kind == Kind::gas) {
        const NodeId gas = type(a).kind == Kind::gas ? left : right;
        if (reads_ == Reads::values && type(a).kind != type(b).kind)
            return not_known_yet(gas, "a choice made before the run");
        out.error(Code::unit_mismatch, span(node),
                  fmt::format("gases are compared with `is`, not with `{}`", sign_of(kind(node))));
        return poison(span(node));
    }
    // The meter of the line whose flow is read says at which temperature and pressure its volume is meant.
    const auto at_meter = [&](ExprId x, ExprId y) {
        return reads_flow(x) && !reads_flow(y) && type(y).kind == Kind::volume_flow;
    };
    const bool fits = model.exprs[a].op != Op::list && model.exprs[b].op != Op::list &&
                      (comparable(type(a), type(b)) || at_meter(a, b) || at_meter(b, a));
    if (!fits) {
        const bool step = point(type(a)) && type(b).kind == Kind::difference;
        Diagnostic& d = out.error(Code::unit_mismatch, span(node),
                                  fmt::format("`{}` is {} and `{}` is {}: they cannot be compared", text(left),
                                              describe(type(a)), text(right), describe(type(b))));
        if (step) d.remedy("compare two temperatures, or the difference of two");
        const auto mixed = [&](Kind x, Kind y) {
            return (type(a).kind == x && type(b).kind == y) || (type(a).kind == y && type(b).kind == x);
        };
        if (mixed(Kind::flow, Kind::volume_flow)) d.remedy(std::string(one_kind_of_flow));
        for (ExprId side : {a, b})
            if (model.exprs[side].op == Op::signal && model.exprs[side].signal == timeline::SignalKind::swept)
                d.remedy("`swept` counts tube volumes: compare it with a number of them, such as `5 volumes`");
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
    const bool numbers = plain(type(a)) && plain(type(b));
    if (!numbers && (ka != kb || (ka != Kind::gas && ka != Kind::text && ka != Kind::boolean))) {
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
