#pragma once
#include "grammar/syntax.hpp"
#include "targets/target.hpp"

#include <string>
#include <vector>

namespace athanor::targets {

/// A back end that a user declares in the language with `layout NAME for CONTROLLER { … }`.
struct Declared {
    Target target;          // without functions where the declaration has an error, which was reported
    std::string family;     // "layout" or "registers"
    std::string controller; // empty: for any
    athanor::Span span;
    athanor::Span controller_span; // of that name
};

/// Every declaration of a file, in order; reports what is wrong with them.
std::vector<Declared> declared_targets(const Tree& tree, const Files& files, Diagnostics& out);

} // namespace athanor::targets
