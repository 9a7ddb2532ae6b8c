// Oxygen, or another oxidiser, out of the load: no line brings it, so no rule of a line asks what it meets.
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <string>

namespace athanor::prove {

using timeline::SignalKind;

void check_load_oxidiser(Scene& s) {
    for (const timeline::Evolved& e : s.timeline.evolved) {
        const check::Index index = s.model.gas_named(s.timeline.species[e.species]);
        if (index == check::none || !s.model.gases[index].oxidises()) continue;
        const auto flows = [&](const plant::State& state, const timeline::State& discrete) {
            return s.gives_off(e, state, discrete);
        };
        const auto start = s.first(flows);
        if (!start) continue;
        const auto ignitable = [&](const plant::State& state, const timeline::State& discrete) {
            return s.plant.signal({SignalKind::ignitability, timeline::none}, state, discrete).hi;
        };
        const auto found = s.first([&](const plant::State& state, const timeline::State& discrete) {
            return flows(state, discrete) && ignitable(state, discrete) >= 1;
        });
        const std::string& name = s.timeline.species[e.species];
        s.row("flammable_mixture", fmt::format("No fuel meets the {} that the load gives off", name), !found,
              "", found ? found->at_s : start->at_s, s.source(found ? found->span : start->span));
        if (!found || s.out.has_error(Code::flammable_mixture)) return;
        s.out
            .error(Code::flammable_mixture, s.source(found->span),
                   fmt::format("the load gives off {} here, and with it ignitability may be {}; needed: under "
                               "100 %",
                               name,
                               to_text(ignitable(found->state, s.discrete(found->span)), Kind::fraction, 3)))
            .with_label(fmt::format("at {} of the run", to_clock(found->at_s)))
            .cause("the recipe's `load` declares it; gas from the load obeys every rule of its hazard")
            .remedy("heat this load in an inert gas, and let in fuel when it gives nothing off any more");
        return;
    }
}

} // namespace athanor::prove
