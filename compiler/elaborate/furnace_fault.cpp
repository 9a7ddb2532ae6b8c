#include "compiler/elaborate/furnace_fault.hpp"

#include <fmt/format.h>

namespace athanor::elaborate {

void report_fault(const check::Rig& rig, const std::string& fault, Diagnostics& out) {
    out.error(Code::rig_inconsistent, rig.furnace.source,
              fmt::format("the furnace of rig `{}` cannot be modelled: {}", rig.name, fault))
        .cause("every temperature, rate and time follows from heat_up, holding_power and cool_down")
        .remedy("measure the rows again, or widen the tolerance of those that are less certain");
}

} // namespace athanor::elaborate
