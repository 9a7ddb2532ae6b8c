#pragma once

namespace athanor::plant {

/// Two numbers that take the same steps.
using Pair = double __attribute__((vector_size(2 * sizeof(double))));

} // namespace athanor::plant
