#pragma once
#include "grammar/build.hpp"

namespace athanor::grammar {

// Expressions are read by precedence climbing rather than by one rule a level: it is faster, and the order of
// the operators stands in one place. Each function reads at `at`, advances it and leaves one node on the stack;
// on failure it returns false with `at` and the stack undefined (the caller's rule restores both).

/// What may follow a number, and so how a word behind it that is no unit is judged.
enum class NumberPlace : std::uint8_t {
    value,  // a word behind the number is a unit, or a slip
    part,   // a gas may follow at once ("0.05 hydrogen")
    element // a word of its own may follow ("1 level"): only what clearly means a unit is a slip
};

/// `or` and `and`, then `not`, then comparisons, then + -, then * /, then ±, then signs and operands.
bool expression(Build& build, std::uint32_t& at);
/// An expression without `and` and `or` outside brackets.
bool comparison(Build& build, std::uint32_t& at);
/// One operand: a number or quantity, a name, a call, a text, `yes`, `no`, `?`, a list, or an expression in (
/// ).
bool operand(Build& build, std::uint32_t& at);
/// A number and its unit, and nothing more: so most quantities are written. The token behind it; nullptr, and
/// nothing done, for others.
const Token* plain_quantity(Build& build, std::uint32_t& at);
bool any_quantity(Build& build, std::uint32_t& at, NumberPlace place);
/// A number, or a quantity of one or several pairs; a sign may stand directly before it.
inline bool quantity(Build& build, std::uint32_t& at, NumberPlace place) {
    return plain_quantity(build, at) != nullptr || any_quantity(build, at, place);
}
/// `[a, b, c]`
bool list(Build& build, std::uint32_t& at);
/// `NAME(argument, …)`; the name has not been read.
bool call(Build& build, std::uint32_t& at);
/// Is the token at `at` a number, perhaps with its sign?
bool number_ahead(Build& build, std::uint32_t at);

/// Moves behind a token. Behind an operator, a comma and some words the statement goes on in the next line.
void take(Build& build, std::uint32_t& at, const Token& token);

/// Counts one level of nesting while it lives; `ok` is false, and told, beyond the limit.
class Nesting {
public:
    Nesting(Build& build, std::uint32_t begin, std::uint32_t end);
    ~Nesting();
    Nesting(const Nesting&) = delete;
    Nesting& operator=(const Nesting&) = delete;
    bool ok;

private:
    Build& build_;
};

} // namespace athanor::grammar
