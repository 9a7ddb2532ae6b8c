#include "compiler/prove/meter.hpp"

#include <algorithm>

namespace athanor::prove {

Interval with_error(Interval set, const check::Meter& meter) {
    const double of_reading = meter.accuracy.given ? meter.accuracy.hi() : 0;
    const double of_full = meter.accuracy_full.given ? meter.accuracy_full.hi() * meter.range.hi() : 0;
    return {std::max(0.0, set.lo * (1 - of_reading) - of_full), set.hi * (1 + of_reading) + of_full};
}

double most_flow(const check::Meter& meter) {
    return meter.range.given ? with_error(meter.range.hi(), meter).hi : infinity;
}

} // namespace athanor::prove
