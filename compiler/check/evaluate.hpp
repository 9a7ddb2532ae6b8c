#pragma once
#include "compiler/check/model.hpp"
#include "compiler/source/diagnostic.hpp"

#include <optional>
#include <vector>

namespace athanor::check {

/// A value at elaboration time.
struct Value {
    Type type;          // poison: an error was reported
    Interval number;    // SI; booleans are 0 or 1
    Index index = none; // gas or text
    std::vector<Value> list;
    bool poison() const { return type.poison(); }
};

/// What the value of an expression can depend on.
struct Frame {
    std::vector<Value> slots;
    Interval ambient_pressure;
    bool has_ambient = false;
};

/// Evaluates an expression without signals, outward rounded; short sums and products of short numbers stay
/// points. Booleans that an uncertain value decides are [0, 1]. A slot that the frame does not hold is poison;
/// a division by zero, an overflow or a hole is reported and poisons.
Value evaluate(const Model& model, ExprId expr, const Frame& frame, Diagnostics& out);

/// Does the value lie within the parameter's `in`, limits included? Reports `parameter_out_of_range` at `at`
/// with the limits when not; a poison value, or a limit that cannot be evaluated (reported), counts as inside.
/// A count whose range has whole ends must be whole.
bool in_range(const Model& model, const Parameter& parameter, const Value& value, const Frame& frame,
              athanor::Span at, Diagnostics& out);

/// The numbers of a count's range that `in` stands for, in order, at most `most` + 1 of them; empty where it is
/// no such range: an end or a step that is no whole number makes it one of any numbers.
std::vector<double> counts_of(const Model& model, const Parameter& parameter, const Frame& frame,
                              std::size_t most, Diagnostics& out);

} // namespace athanor::check
