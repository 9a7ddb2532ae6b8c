#include "compiler/check/functions.hpp"

#include "compiler/check/function_rows.hpp"

#include <unordered_map>

namespace athanor::check {

namespace {

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

Function of_any(std::string_view name, unsigned most, std::optional<Type> (*type)(std::span<const Type>),
                Interval (*value)(std::span<const Interval>), std::string_view takes, std::string_view does,
                std::string_view example) {
    Function f;
    f.name = name;
    f.subject = "any quantity";
    f.most = most;
    f.type = type;
    f.value = value;
    f.takes = takes;
    f.does = does;
    f.source = "arithmetic";
    f.example = example;
    return f;
}

struct Table {
    Functions rows;
    std::unordered_map<std::string_view, std::size_t> by_name;
    Table() {
        rows.push_back(of_any("min", 64, one_quantity, least, "values of one quantity",
                              "the least of its values", "min(5 %, 200 ppm)"));
        rows.push_back(of_any("max", 64, one_quantity, greatest, "values of one quantity",
                              "the greatest of its values", "max(45 min, 1 h)"));
        rows.push_back(of_any("abs", 1, magnitude, absolute_value, "a quantity that is no absolute temperature",
                              "the value without its sign", "abs(-5 K)"));
        add_exchange_functions(rows);
        add_flow_functions(rows);
        add_vacuum_functions(rows);
        add_atmosphere_functions(rows);
        add_flammable_functions(rows);
        add_cylinder_functions(rows);
        add_heat_functions(rows);
        add_dose_functions(rows);
        add_thermocouple_functions(rows);
        for (std::size_t i = 0; i < rows.size(); ++i) by_name.emplace(rows[i].name, i);
    }
};

const Table& table() {
    static const Table all;
    return all;
}

} // namespace

std::span<const Function> functions() {
    return table().rows;
}

std::optional<std::size_t> function_named(std::string_view name) {
    const auto found = table().by_name.find(name);
    if (found == table().by_name.end()) return std::nullopt;
    return found->second;
}

} // namespace athanor::check
