#pragma once
#include "compiler/check/equipment.hpp"

#include <stdexcept>

namespace athanor::plant {

/// A figure that `recipes/standard/schema.ath` requires or has a default for, so that every rig has it. A
/// second default here could differ from the one that people read.
inline Interval given(const check::Figure& figure) {
    if (!figure.given) throw std::logic_error("a rig lacks a figure that the schema gives");
    return figure.value;
}

} // namespace athanor::plant
