#pragma once
#include <string_view>

namespace athanor::timeline {

/// What stands before the author's text at a wait where a person may end a repeat.
inline constexpr std::string_view accepting = "accept, then end the repeat, or go on with the next pass: ";

} // namespace athanor::timeline
