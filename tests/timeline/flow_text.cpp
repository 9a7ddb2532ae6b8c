#include "compiler/quantity/unit.hpp"
#include "compiler/timeline/timeline.hpp"

#include <doctest/doctest.h>

using namespace athanor;

TEST_CASE("a flow is said in the unit of its meter") {
    // 1 mol at 0 degC and 101325 Pa is 22414 cm3 (CODATA 2018: 22.41396954 L/mol).
    const auto sccm = [](double value) { return value / 60 / 22413.96954; };
    timeline::Line amount;
    CHECK(flow_text(amount, sccm(521)) == "521 sccm");
    CHECK(flow_text(amount, sccm(99.95)) == "99.95 sccm");
    CHECK(flow_text(amount, sccm(1000)) == "1 slm");
    CHECK(flow_text(amount, sccm(1234.5), 2) == "1.2 slm");
    // At 20 degC and 1 bar a litre holds 41.03 mmol (R = 8.314462618 J/(mol K)).
    timeline::Line volume;
    volume.per_volume = 1e5 / (8.314462618 * 293.15);
    CHECK(flow_text(volume, 1.5e-3 / 60 * volume.per_volume) == "1.5 L/min");
    CHECK(flow_text(volume, 50e-6 / 60 * volume.per_volume) == "50 mL/min");
}
