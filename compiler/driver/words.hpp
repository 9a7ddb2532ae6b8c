#pragma once
#include "compiler/source/diagnostic.hpp"
#include "compiler/timeline/timeline.hpp"

namespace athanor::driver {

/// Notes and words to a person that a table's reader takes for an order of the process ("close argon"): the
/// table would say what the recipe does not do. Errors at their statements.
void check_words(const timeline::Timeline& timeline, Diagnostics& out);

} // namespace athanor::driver
