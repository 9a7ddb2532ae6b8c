#pragma once
#include "compiler/quantity/interval.hpp"
#include "compiler/quantity/type.hpp"
#include "compiler/quantity/unit.hpp"
#include "grammar/syntax.hpp"

#include <string>

namespace athanor::check {

/// A written value before its place decides what it is: `300 K` is a difference until a temperature is due.
struct Literal {
    Type type;        // poison: unreadable, and reported by the parser
    double value = 0; // SI
};

/// Reads a `number` or `quantity` node.
Literal read_literal(const Tree& tree, NodeId node, const Files& files);

/// May the literal stand where `wanted` is expected? Sets its SI value there.
/// Unlike an expression, equipment takes a bare number for a fraction and `5 K` for nothing but a difference or
/// 5 K.
bool fits(const Literal& literal, Type wanted, double& si);

/// The step of so many degrees, in kelvin: "20 K" of 20 degC, "5 K" of 9 degF.
std::string in_kelvin(std::string_view number, const athanor::Unit& unit);

/// `a ± b` in SI; false when b cannot belong to a (a relative part of an absolute temperature, another
/// quantity).
bool uncertain_value(double value, Type type, const Literal& margin, Interval& result);

} // namespace athanor::check
