#pragma once
#include <doctest/doctest.h>

/// Equal to within a share of the value. doctest's own `Approx` adds 1 to the scale, so that it passes anything
/// small.
inline doctest::Approx about(double value, double within = 1e-9) {
    return doctest::Approx(value).scale(0).epsilon(within);
}
