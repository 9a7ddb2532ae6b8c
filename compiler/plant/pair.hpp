#pragma once
#include <cstdint>

namespace athanor::plant {

/// Two numbers that take the same steps.
using Pair = double __attribute__((vector_size(2 * sizeof(double))));

/// exp(x) of x <= 0, each within two units in the last place; below -708 the value at -708.
Pair decay(Pair x);

} // namespace athanor::plant
