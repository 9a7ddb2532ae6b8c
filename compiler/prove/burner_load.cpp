#include "compiler/prove/burner_load.hpp"
#include "compiler/quantity/unit.hpp"

#include <algorithm>
#include <fmt/format.h>

namespace athanor::prove {
namespace {

/// Three digits, in the unit that meters of this size show.
std::string sccm(double flow) {
    const double value = from_si(flow, *unit_named("sccm"));
    return value < 1000 ? fmt::format("{:.3g} sccm", value) : fmt::format("{:.0f} sccm", value);
}

} // namespace

std::string burner_load(const Hazards& h, const Walk& walk) {
    const timeline::Timeline& t = h.timeline;
    if (!h.rig.exhaust.has_burner()) return {};
    double most = 0, heat = 0, least = infinity;
    std::string unknown; // a fuel whose heat is not
    for (std::size_t i = 0; i < t.spans.size(); ++i) {
        const timeline::State& discrete = t.states[t.spans[i].state];
        if (!discrete.burner) continue;
        const plant::State state = walk.over(i);
        if (!h.flammable(state, discrete)) continue;
        double share = 0, joules = 0;
        for (timeline::Index s = 0; s < t.species.size(); ++s) {
            const check::Index index = h.model.gas_named(t.species[s]);
            if (index == check::none || !h.model.gases[index].hazards.flammable) continue;
            const double part = h.plant.signal({timeline::SignalKind::fraction, s}, state, discrete).hi;
            const check::Figure& burns = h.model.gases[index].heat_of_combustion;
            if (!(part > 0)) continue;
            share += part;
            joules += part * (burns.given ? burns.hi() : 0);
            if (!burns.given) unknown = h.model.gases[index].name;
        }
        // Upper bounds of several fuels may add to more than all there is.
        const double all = std::max(1.0, share);
        most = std::max(most, state.inflow.hi * share / all);
        heat = std::max(heat, state.inflow.hi * joules / all);
        least = std::min(least, std::max(0.0, state.inflow.lo - state.taken.hi));
    }
    if (!(most > 0)) return {};
    const std::string power =
        unknown.empty() ? fmt::format("{:.2g} kW, lower heating value", heat / 1000)
                        : fmt::format("its heat is not known: `{}` declares no `heat_of_combustion`", unknown);
    return fmt::format(
        "the burner burns all fuel that reaches it in this run: up to {} of fuel ({}), and in as little "
        "as {} of gas",
        sccm(most), power, sccm(least));
}

} // namespace athanor::prove
