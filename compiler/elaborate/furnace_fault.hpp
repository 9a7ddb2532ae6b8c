#pragma once
#include "compiler/check/equipment.hpp"
#include "compiler/source/diagnostic.hpp"

#include <string>

namespace athanor::elaborate {

/// Reports that no furnace meets a rig's rows, and why; `fault` is the plant's own words.
void report_fault(const check::Rig& rig, const std::string& fault, Diagnostics& out);

} // namespace athanor::elaborate
