#include "compiler/check/functions.hpp"

#include <array>

namespace athanor::check {

namespace {

bool point(Type type) {
    return type.kind == Kind::temperature || type.kind == Kind::dew_point;
}

/// All of one quantity: `min(5 %, 200 ppm)`, `max(peak, 900 degC)`.
std::optional<Type> one_quantity(std::span<const Type> arguments) {
    Type result = arguments.front();
    if (!result.quantity()) return std::nullopt;
    for (Type type : arguments.subspan(1)) {
        if (!comparable(result, type)) return std::nullopt;
        if (result.kind == Kind::derived || result.kind == Kind::count) result = type;
    }
    return result;
}

std::optional<Type> magnitude(std::span<const Type> arguments) {
    const Type type = arguments.front();
    if (!type.quantity() || point(type)) return std::nullopt;
    return type;
}

Interval least(std::span<const Interval> arguments) {
    Interval result = arguments.front();
    for (Interval x : arguments.subspan(1)) result = min(result, x);
    return result;
}

Interval greatest(std::span<const Interval> arguments) {
    Interval result = arguments.front();
    for (Interval x : arguments.subspan(1)) result = max(result, x);
    return result;
}

Interval absolute_value(std::span<const Interval> arguments) {
    return abs(arguments.front());
}

constexpr std::array table{
    Function{"min", 1, 64, one_quantity, least, "values of one quantity"},
    Function{"max", 1, 64, one_quantity, greatest, "values of one quantity"},
    Function{"abs", 1, 1, magnitude, absolute_value, "a quantity that is no absolute temperature"},
};

} // namespace

std::span<const Function> functions() {
    return table;
}

std::optional<std::size_t> function_named(std::string_view name) {
    for (std::size_t i = 0; i < table.size(); ++i)
        if (table[i].name == name) return i;
    return std::nullopt;
}

} // namespace athanor::check
