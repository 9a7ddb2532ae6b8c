#include "compiler/quantity/unit.hpp"
#include "compiler/timeline/timeline.hpp"

#include <doctest/doctest.h>
#include <rapidcheck.h>

#include <cmath>

using namespace athanor;

TEST_CASE("a flow is said as every quantity is, whichever way it is worked out") {
    const auto as_said = [](double flow) { return to_text(flow, Kind::flow); };
    const auto by_volume = [](double flow, double per_volume) {
        return to_text(flow / per_volume, Kind::volume_flow);
    };
    timeline::Line amount;
    const Unit& sccm = *unit_named("sccm");
    CHECK(flow_text(amount, to_si(521, sccm)) == "521 sccm");
    CHECK(flow_text(amount, to_si(1000, sccm)) == "1 slm");
    CHECK(flow_text(amount, to_si(1200.5, sccm)) == "1.2 slm"); // 1.2005: a tie that the double decides
    CHECK(flow_text(amount, to_si(99.95, sccm)) == "99.95 sccm");
    for (const double value : {0.0, 1e-9, 0.5, 0.99999, 1.0, 9.9994, 9.99951, 99.995, 999.9499, 999.951, 999.99,
                               1234.5, 9998.4, 9999.6, 12345.0, 1e8, -3.0})
        CHECK(flow_text(amount, to_si(value, sccm)) == as_said(to_si(value, sccm)));
    CHECK(rc::check("flows", [&] {
        const double value = *rc::gen::inRange(1, 2000000) / static_cast<double>(*rc::gen::inRange(1, 2000));
        const double flow = to_si(value, sccm);
        RC_ASSERT(flow_text(amount, flow) == as_said(flow));
        const int digits = *rc::gen::inRange(1, 8);
        RC_ASSERT(flow_text(amount, flow, digits) == to_text(flow, Kind::flow, digits));
        timeline::Line volume;
        volume.per_volume = *rc::gen::inRange(300, 500) / 10.0;
        const double through = to_si(value, *unit_named("mL/min")) * volume.per_volume;
        RC_ASSERT(flow_text(volume, through) == by_volume(through, volume.per_volume));
    }));
}
