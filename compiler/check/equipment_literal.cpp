#include "compiler/check/equipment_literal.hpp"

#include <cmath>
#include <fmt/format.h>

namespace athanor::check {

Literal read_literal(const Tree& tree, NodeId node, const Files& files) {
    if (tree[node].broken) return {};
    double number = 0;
    if (tree.kind(node) == Node::number) {
        if (!parse_number(tree.text(node, files), number)) return {};
        return {type_of(Kind::count), number};
    }
    Literal result;
    for (NodeId part : tree.children(node)) {
        if (tree.kind(part) == Node::number) {
            if (!parse_number(tree.text(part, files), number)) return {};
        } else if (tree.kind(part) == Node::unit) {
            const athanor::Unit* unit = unit_row(tree[part].unit);
            if (unit == nullptr) return {};
            result.type = {unit->kind, unit->dimension};
            result.value += to_si(number, *unit);
        } else if (tree.kind(part) == Node::gauge) {
            result.type = type_of(Kind::overpressure);
        }
    }
    return result;
}

bool fits(const Literal& literal, Type wanted, double& si) {
    si = literal.value;
    const Kind kind = literal.type.kind;
    if (kind == wanted.kind) return kind != Kind::derived || literal.type.dimension == wanted.dimension;
    switch (wanted.kind) {
    case Kind::temperature:
    case Kind::dew_point: return point(kind) || kind == Kind::difference;
    case Kind::fraction: return kind == Kind::count;
    case Kind::count:
    case Kind::difference:
    case Kind::pressure:
    case Kind::overpressure: return false;
    default: return converts(literal.type, wanted);
    }
}

std::string in_kelvin(std::string_view number, const athanor::Unit& unit) {
    double value = 0;
    // A degree Celsius is a kelvin: its number stays as written.
    if (unit.factor == 1 || !parse_number(number, value)) return fmt::format("{} K", number);
    return fmt::format("{:.4g} K", difference_to_si(value, unit));
}

bool uncertain_value(double value, Type type, const Literal& margin, Interval& result) {
    double half = 0;
    if (point(type.kind)) {
        if (margin.type.kind != Kind::difference) return false;
        half = margin.value;
    } else if (margin.type.kind == Kind::fraction && type.kind != Kind::fraction) {
        half = std::abs(value) * margin.value;
    } else if (!fits(margin, type, half)) {
        return false;
    }
    if (half < 0) return false;
    const Interval m = Interval(value) + Interval(-half, half);
    // The rounding of a decimal number is no uncertainty: ± 0 stays a point.
    result = half == 0 ? Interval(value) : m;
    return true;
}

} // namespace athanor::check
