// A low pressure that a throttle holds while gas flows.
#include "compiler/elaborate/elaborator.hpp"

#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

namespace athanor::elaborate {

void Elaborator::regulate(const Statement& s) {
    check::Value p = value(s.value);
    if (p.poison()) return void(blind = true);
    if (!rig->has_throttle) {
        if (Diagnostic* d =
                error(Code::rig_inconsistent, s.span,
                      fmt::format("rig `{}` has no throttle that could hold a pressure", rig->name)))
            d->cause(fmt::format("the rig is declared at {}", place(rig->source)))
                .remedy("declare it in the rig: `throttle 1 mbar to 100 mbar`");
        return void(blind = true);
    }
    const double held = p.number.middle();
    if (rig->throttle.given && (p.number.lo < rig->throttle.lo() || p.number.hi > rig->throttle.hi())) {
        if (Diagnostic* d = error(Code::pressure_unreachable, span_of(s.value),
                                  fmt::format("the throttle does not hold {}", to_text(held, Kind::pressure))))
            d->cause(fmt::format("it holds {} ({})", to_text(rig->throttle.value, Kind::pressure),
                                 place(rig->throttle.source)));
        return void(blind = true);
    }
    if (!now.pump) {
        if (Diagnostic* d = error(Code::misplaced, s.span,
                                  "a pressure is held against the pump, and the pump does not run here"))
            d->remedy(fmt::format("evacuate to {} before it", to_text(held, Kind::pressure)));
        return void(blind = true);
    }
    now.regulated = held;
    commit(timeline::ActionKind::regulate, s, none, held);
    check_held_pressure(s.span);
}

/// The pump must carry off at the held pressure whatever may flow in.
void Elaborator::check_held_pressure(athanor::Span at) {
    if (blind || !(now.regulated > 0)) return;
    double flow = 0;
    for (Index l = 0; l < rig->lines.size(); ++l) {
        const timeline::Threshold* follows = armed_for(l); // the temperature: open or not
        if (now.open[l] || follows != nullptr)
            flow += plant->true_flow(l, follows != nullptr ? follows->flow : now.flows[l]).hi;
    }
    for (const timeline::Evolved& e : t->evolved) flow += e.flow;
    const double most = plant->held_flow(now.regulated);
    if (flow <= most) return;
    if (Diagnostic* d =
            error(Code::pressure_unreachable, at,
                  fmt::format("{} may flow in, and at {} the pump is certain to carry off no more than {}",
                              to_text(flow, Kind::flow, 3), to_text(now.regulated, Kind::pressure),
                              to_text(most, Kind::flow, 3))))
        d->cause(
             fmt::format("pump, pipe, tube and shields leave {} at that pressure; leak and walls take a part",
                         to_text(plant->least_pump_speed(now.regulated), Kind::pumping_speed, 3)))
            .remedy("less gas, or a higher pressure");
}

} // namespace athanor::elaborate
