#pragma once
#include "compiler/check/evaluate.hpp"
#include "compiler/quantity/interval.hpp"
#include "compiler/quantity/type.hpp"

#include <limits>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// Functions that expressions can call. A new one is a row of a table (functions_*.cpp): what it takes and
/// within which limits, what it gives, where its equation is published. The equations themselves are in
/// compiler/physics.
namespace athanor::check {

/// What stands in one place of a call.
enum class Takes : std::uint8_t { quantity, gas, text, thermocouple, material };

struct FunctionParameter {
    std::string_view name;
    Takes takes = Takes::quantity;
    Type type;                                 // of a quantity
    double least = -infinity, most = infinity; // SI, where the equation holds
    bool above = false;                        // `least` itself is outside
    bool certain = false;                      // the result is not monotone in it: no ± here
    /// Where the result turns from falling to rising, if it does: judged beside the ends of an interval.
    double turning = std::numeric_limits<double>::quiet_NaN();
    double otherwise = std::numeric_limits<double>::quiet_NaN(); // SI; a number makes the place optional
    bool optional() const { return otherwise == otherwise; }
};

/// One evaluation at certain numbers.
class FunctionCall {
public:
    FunctionCall(const Model& model, std::span<const Value> values) : model_(model), values_(values) {}
    double operator[](std::size_t i) const { return values_[i].number.lo; }
    std::size_t count() const { return values_.size(); }
    const Model& model() const { return model_; }
    const Gas& gas(std::size_t i) const { return model_.gases[values_[i].index]; }
    const std::string& text(std::size_t i) const { return model_.texts[values_[i].index]; }
    const Thermocouple& thermocouple(std::size_t i) const { return model_.thermocouples[values_[i].index]; }
    const Material& material(std::size_t i) const { return model_.materials[values_[i].index]; }
    /// Which of `Function::choices` is asked for.
    std::size_t choice = 0;

    /// The equation does not hold because of this argument; only the first reason is told.
    double refuse(std::size_t argument, std::string why);
    /// As `refuse`, but the declaration that the argument names was reported already.
    double silent();
    bool refused() const { return refused_; }
    std::size_t argument = 0;
    std::string why; // empty: reported already

private:
    const Model& model_;
    std::span<const Value> values_;
    bool refused_ = false;
};

struct Function {
    std::string_view name, subject;
    std::vector<FunctionParameter> parameters;
    /// The last `repeats` places may stand again, up to 8 values in all.
    unsigned repeats = 0;
    Type result;
    /// Monotone in each number by itself (others fixed) wherever its parameter is not `certain`, on both sides
    /// of its `turning`: extremes over a box stand at its corners. NaN after `refuse`.
    double (*compute)(FunctionCall&) = nullptr;
    std::string_view does;   // one line: what it gives, by which equation
    std::string_view source; // where that is published
    std::string_view example;
    /// A function that picks texts: those for which `compute` gives 1.
    std::vector<std::string_view> choices;

    // Functions of any quantity (min, max, abs) know their types by rule instead.
    unsigned least = 1, most = 1; // number of values
    /// The type of the result; nullopt when the arguments do not fit together. None of them is poison.
    std::optional<Type> (*type)(std::span<const Type> arguments) = nullptr;
    Interval (*value)(std::span<const Interval> arguments) = nullptr;
    std::string_view takes = {}; // for the message: "values of one quantity"
};

inline constexpr std::size_t max_function_values = 8;

/// By subject.
std::span<const Function> functions();
/// Index into `functions()`, which `Expr::index` of a call holds; nullopt when there is none of that name.
std::optional<std::size_t> function_named(std::string_view name);

/// "purge_time(volume : volume, …, mixing : count = 1) : time"
std::string signature(const Function& function);
/// "flow above 0 mL/min; mixing 0.05 to 1"; empty when it holds everywhere.
std::string validity(const Function& function);

/// A value in the unit in which a person reads it; a derived one in a unit of its dimension where there is one.
std::string readable(Interval si, Type type, int digits);

/// What a described function gives; the findings stand at its arguments. `e` is the call.
Value call_function(const Model& model, const Expr& e, std::vector<Value> values, Diagnostics& out);

} // namespace athanor::check
