#pragma once
#include "grammar/syntax.hpp"

#include <string>

namespace athanor {

/// The one canonical layout. Idempotent; keeps every token, comment and at most one blank line in a row;
/// copies `error` nodes verbatim. No options.
std::string format(const Tree& tree, const Files& files);

} // namespace athanor
