#pragma once
#include <cstddef>

namespace athanor::driver {

/// Says how long the text is that is about to be compiled, in bytes. What is built from it takes memory in
/// proportion, and a fresh page at a time costs a quarter of a long check: the system is asked to give that
/// memory in large pages. It changes nothing but the time, and only where the C library and the system can.
void expect_text(std::size_t bytes);

} // namespace athanor::driver
