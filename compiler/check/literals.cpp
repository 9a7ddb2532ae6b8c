// Numbers and quantities, and what they mean by their place.
#include "compiler/check/checker.hpp"
#include "compiler/quantity/unit.hpp"

#include <cmath>
#include <fmt/format.h>

namespace athanor::check {

NodeId Checker::inner(NodeId node) const {
    while (kind(node) == Node::paren && first(node) != no_node) node = first(node);
    return node;
}

bool Checker::plain_number(NodeId node) const {
    return kind(inner(node)) == Node::number;
}

bool Checker::kelvin_literal(NodeId node) const {
    node = inner(node);
    if (kind(node) != Node::quantity || broken(node)) return false;
    const NodeId unit = second(node);
    return unit != no_node && kind(unit) == Node::unit && (text(unit) == "K" || text(unit) == "mK");
}

bool Checker::kelvin_only(NodeId node) const {
    node = inner(node);
    if (broken(node)) return false;
    switch (kind(node)) {
    case Node::quantity: return kelvin_literal(node);
    case Node::add:
    case Node::subtract: return kelvin_only(first(node)) && kelvin_only(second(node));
    case Node::negate:
    case Node::plus_minus: return kelvin_only(first(node));
    case Node::call: { // `max(5 K, 10 K)`: of what it is given
        const auto index = function_named(text(first(node)));
        if (!index || functions()[*index].compute != nullptr || next(first(node)) == no_node) return false;
        for (NodeId argument = next(first(node)); argument != no_node; argument = next(argument))
            if (first(argument) == no_node || !kelvin_only(first(argument))) return false;
        return true;
    }
    default: return false;
    }
}

bool Checker::writes_temperature(NodeId node) const {
    node = inner(node);
    switch (kind(node)) {
    case Node::quantity: {
        const NodeId unit = second(node);
        const athanor::Unit* row = unit == no_node || broken(node) ? nullptr : unit_named(text(unit));
        return row != nullptr && row->kind == Kind::temperature;
    }
    case Node::add:
    case Node::subtract: return writes_temperature(first(node)) || writes_temperature(second(node));
    case Node::plus_minus: return writes_temperature(first(node));
    case Node::call: { // `max(20 degC, 60 degC)`
        bool writes = false;
        for (NodeId argument = next(first(node)); argument != no_node; argument = next(argument)) {
            const NodeId value = first(argument);
            if (value == no_node || (!writes_temperature(value) && !kelvin_only(value))) return false;
            writes = writes || writes_temperature(value);
        }
        return writes;
    }
    default: return false;
    }
}

bool Checker::pliant(NodeId node) const {
    node = inner(node);
    switch (kind(node)) {
    case Node::number:
    case Node::hole: return true;
    case Node::quantity: return kelvin_literal(node);
    case Node::add:
    case Node::subtract: return pliant(first(node)) && pliant(second(node));
    default: return false;
    }
}

ExprId Checker::number_literal(NodeId node) {
    double number = 0;
    if (!parse_number(text(node), number)) {
        out.error(Code::too_large, span(node), fmt::format("`{}` is beyond what a number can be", text(node)));
        return poison(span(node));
    }
    return constant(type_of(Kind::count), span(node), number);
}

ExprId Checker::quantity_literal(NodeId node, const Type& hint) {
    if (broken(node)) return poison(span(node));
    const SyntaxNode &only = tree()[first(node)], &its = tree()[only.next];
    double figure = 0;
    if (its.unit != 0 && its.next == no_node && !only.broken &&
        parse_number(source_.substr(only.begin, only.end - only.begin), figure)) {
        const athanor::Unit& unit = *unit_row(its.unit);
        return literal(node, to_si(figure, unit), unit.type(), hint); // as most are written
    }
    const athanor::Unit* largest = nullptr; // of the first pair, whose kind is that of the whole
    bool gauge = false;
    double sum = 0, sign = 1, number = 0;
    for (NodeId part = first(node); part != no_node; part = next(part)) {
        if (broken(part)) return poison(span(node));
        switch (kind(part)) {
        case Node::number: {
            std::string_view digits = text(part);
            // The sign of `-1 h 30 min` belongs to the whole.
            if (digits.starts_with('-') && largest == nullptr && next(next(part)) != no_node) {
                sign = -1;
                digits.remove_prefix(1);
            }
            if (!parse_number(digits, number)) {
                out.error(Code::too_large, span(part),
                          fmt::format("`{}` is beyond what a number can be", digits));
                return poison(span(node));
            }
            break;
        }
        case Node::unit: {
            const athanor::Unit* unit = unit_row(tree()[part].unit);
            if (unit == nullptr) return poison(span(node)); // the parser takes units of the table only
            if (largest == nullptr) largest = unit;
            sum += to_si(number, *unit);
            break;
        }
        case Node::gauge:
            if (largest == nullptr || largest->kind != Kind::pressure) {
                out.error(Code::unit_mismatch, span(part),
                          fmt::format("`gauge` belongs to a pressure, not to {}",
                                      describe(largest == nullptr ? Type{} : largest->type())));
                return poison(span(node));
            }
            gauge = true;
            break;
        default: break;
        }
    }
    Type own;
    if (largest != nullptr) own = largest->type();
    if (gauge) own.kind = Kind::overpressure; // of the same dimension
    return literal(node, sign * sum, own, hint);
}

/// What a quantity that was read comes to, of its own type or, where its place decides, of that.
ExprId Checker::literal(NodeId node, double si, Type own, const Type& hint) {
    if (!std::isfinite(si)) {
        out.error(Code::too_large, span(node), fmt::format("`{}` is beyond what a number can be", text(node)));
        return poison(span(node));
    }
    // `300 K` is a temperature where one is due; `-40 degC` is a dew point beside one.
    const bool by_place = point(hint) && (own.kind == Kind::difference || own.kind == Kind::temperature);
    const Type& type = by_place ? hint : own;
    if (point(type) && si < 0) {
        out.error(Code::implausible_value, span(node), fmt::format("`{}` is below absolute zero", text(node)));
        return poison(span(node));
    }
    return constant(type, span(node), si);
}

/// The number in the unit of the meter of the line whose flow is read, where it lies within that meter's range.
std::string Checker::flow_of_meter(std::string_view number) const {
    double value = 0;
    if (flow_line_ == 0 || !parse_number(number, value)) return {};
    const std::string_view name = model.names[flow_line_];
    for (const Rig& rig : model.rigs)
        for (const Line& line : rig.lines) {
            const bool by_gas =
                line.gas != none && std::string_view(model.gases[line.gas].name).starts_with(name);
            if (line.name != name && !by_gas) continue;
            const bool by_volume = line.meter.has_reference;
            for (const char* unit : {by_volume ? "L/min" : "slm", by_volume ? "mL/min" : "sccm"}) {
                const double si = to_si(value, *unit_named(unit));
                if (line.meter.range.value.contains(by_volume ? line.meter.molar(si) : si))
                    return fmt::format("{} {}", number, unit);
            }
        }
    return {};
}

/// The unit that is most likely meant: the one in which people read that kind first. It is a guess, so no edit
/// writes it.
ExprId Checker::missing_unit(NodeId node, Type wanted) {
    const NodeId literal = inner(node);
    const std::string_view number = text(literal);
    std::string repaired;
    std::string_view unit = display_unit(wanted.kind).spelling;
    double share = 0;
    switch (wanted.kind) {
    case Kind::fraction:
        // 0.05 is meant as 5 %; whether 10 is per cent or ppm only the author knows.
        unit = {};
        if (parse_number(number, share) && std::fabs(share) < 1) repaired = shortest(share * 100) + " %";
        break;
    case Kind::time: unit = "min"; break;
    case Kind::flow:
        repaired = flow_of_meter(number);
        if (!repaired.empty()) unit = {};
        break;
    case Kind::volume_flow: unit = "L/min"; break;
    case Kind::overpressure: unit = "mbar gauge"; break;
    default: break;
    }
    if (!unit.empty()) repaired = fmt::format("{} {}", number, unit);
    Diagnostic& d = out.error(Code::missing_unit, span(literal),
                              fmt::format("`{}` has no unit; {} is due here", number, describe(wanted)));
    if (!repaired.empty())
        d.remedy(fmt::format("perhaps `{}`", repaired));
    else if (wanted.kind == Kind::fraction)
        d.remedy(fmt::format("perhaps `{} ppm`, or `{} %`", number, number));
    return poison(span(node));
}

/// `within 5 degC`: a temperature where only a difference has a meaning.
ExprId Checker::difference_due(NodeId node, std::string_view place) {
    const NodeId literal = inner(node);
    Diagnostic& d = out.error(Code::unit_mismatch, span(literal),
                              fmt::format("{} takes {}; `{}` is a temperature", place,
                                          describe(type_of(Kind::difference)), text(literal)));
    if (const std::string kelvin = as_difference(literal); !kelvin.empty())
        d.remedy(fmt::format("a difference is written `{}`", kelvin)).mend(span(literal), kelvin);
    return poison(span(node));
}

} // namespace athanor::check
