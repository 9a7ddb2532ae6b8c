#pragma once
#include "compiler/quantity/interval.hpp"
#include "compiler/quantity/type.hpp"

#include <optional>
#include <span>
#include <string_view>

/// Functions that expressions can call. A new one is a row of the table: its type rule and its value.
namespace athanor::check {

struct Function {
    std::string_view name;
    unsigned least = 1, most = 1; // number of arguments
    /// The type of the result; nullopt when the arguments do not fit together. None of them is poison.
    std::optional<Type> (*type)(std::span<const Type> arguments);
    Interval (*value)(std::span<const Interval> arguments);
    std::string_view takes; // for the message: "values of one quantity"
};

std::span<const Function> functions();
/// Index into `functions()`, which `Expr::index` of a call holds; nullopt when there is none of that name.
std::optional<std::size_t> function_named(std::string_view name);

} // namespace athanor::check
