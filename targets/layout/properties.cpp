#include "targets/layout/properties.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace athanor::targets::layout {

std::vector<Properties::Property> Properties::of(NodeId parent) const {
    std::vector<Property> list;
    for (NodeId id : tree_.children(parent)) {
        if (tree_.kind(id) != Node::property || tree_[id].broken) continue;
        Property property;
        property.id = id;
        for (NodeId child : tree_.children(id)) {
            if (tree_.kind(child) == Node::property_block)
                property.block = child;
            else if (property.name.empty())
                property.name = text(child);
            else if (tree_.kind(child) != Node::source)
                property.elements.push_back(child);
        }
        list.push_back(std::move(property));
    }
    return list;
}

std::string Properties::text(NodeId id) const {
    std::string_view text = tree_.text(id, files_);
    if (tree_.kind(id) == Node::text && text.size() >= 2) text = text.substr(1, text.size() - 2);
    return std::string(text);
}

void Properties::wrong(athanor::Span span, Code code, std::string message) {
    out_.error(code, span, std::move(message));
    failed_ = true;
}

bool Properties::single(const Property& property, std::string_view what) {
    if (property.elements.size() == 1) return true;
    wrong(span(property.id), Code::unknown_property, fmt::format("`{}` takes {}", property.name, what));
    return false;
}

std::optional<std::string> Properties::quoted(const Property& property) {
    if (!single(property, "one text in quotes")) return std::nullopt;
    if (tree_.kind(property.elements[0]) == Node::text) return text(property.elements[0]);
    wrong(span(property.elements[0]), Code::unknown_property,
          fmt::format("`{}` takes one text in quotes", property.name));
    return std::nullopt;
}

std::optional<std::string> Properties::word(const Property& property,
                                            std::initializer_list<std::string_view> allowed) {
    std::string list;
    for (std::string_view each : allowed) list += (list.empty() ? "" : " or ") + std::string(each);
    if (!single(property, list)) return std::nullopt;
    std::string found = text(property.elements[0]);
    if (std::find(allowed.begin(), allowed.end(), found) != allowed.end()) return found;
    wrong(span(property.elements[0]), Code::unknown_property,
          fmt::format("`{}` takes {}, not {}", property.name, list, found));
    return std::nullopt;
}

std::optional<Decimal> Properties::number(const Property& property) {
    if (!single(property, "one number")) return std::nullopt;
    std::optional<Decimal> value;
    if (tree_.kind(property.elements[0]) == Node::number) value = Decimal::parse(text(property.elements[0]));
    if (!value)
        wrong(span(property.elements[0]), Code::unknown_property,
              fmt::format("`{}` takes one number", property.name));
    return value;
}

std::optional<std::int64_t> Properties::whole(const Property& property, std::int64_t lo, std::int64_t hi) {
    std::optional<Decimal> value = number(property);
    if (!value) return std::nullopt;
    if (value->exponent == 0 && value->mantissa >= lo && value->mantissa <= hi) return value->mantissa;
    wrong(span(property.elements[0]), Code::unknown_property,
          fmt::format("`{}` takes a whole number from {} to {}, not {}", property.name, lo, hi, value->text()));
    return std::nullopt;
}

std::optional<Scale> Properties::scale(const Property& property, Measure measure) {
    if (!single(property, "a step with its unit, such as `0.1 degC`")) return std::nullopt;
    return scale_of(property.elements[0], measure);
}

std::optional<Scale> Properties::scale_of(NodeId quantity, Measure measure) {
    NodeId number = tree_.child(quantity, Node::number), unit = tree_.child(quantity, Node::unit);
    if (tree_.kind(quantity) != Node::quantity || number == no_node || unit == no_node) {
        wrong(span(quantity), Code::missing_unit, "a step with its unit is needed here, such as `0.1 degC`");
        return std::nullopt;
    }
    const Unit* known = unit_named(tree_.text(unit, files_));
    std::optional<Scale> found = known ? scale_in(*known, measure) : std::nullopt;
    std::optional<Decimal> step = Decimal::parse(text(number));
    if (!found) {
        wrong(span(unit), Code::unit_mismatch,
              fmt::format("{} has no exact ratio to {}, the unit of the table", tree_.text(unit, files_),
                          table_unit(measure)));
        return std::nullopt;
    }
    if (!step || step->mantissa <= 0) {
        wrong(span(number), Code::unknown_property, "a step is a number above 0");
        return std::nullopt;
    }
    found->step = step;
    return found;
}

} // namespace athanor::targets::layout
