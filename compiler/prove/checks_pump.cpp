// The pump: what it may draw, and what comes back through it.
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace athanor::prove {
namespace {

/// More oxygen than this makes an oil-sealed pump burn: common practice, no source; suppliers of pumps say 25
/// %. Any other gas that feeds a fire counts as oxygen.
constexpr double most_oxygen = 0.25;

void oxygen(Scene& s) {
    if (!s.rig.pump.oil_sealed) return;
    std::vector<timeline::Index> oxidisers; // species
    for (timeline::Index i = 0; i < s.timeline.species.size(); ++i) {
        const check::Index index = s.model.gas_named(s.timeline.species[i]);
        if (index == check::none) continue;
        if (s.model.gases[index].oxidises()) oxidisers.push_back(i);
    }
    if (oxidisers.empty()) return;
    std::string what; // "oxygen and nitrous_oxide"
    for (const timeline::Index i : oxidisers) what += (what.empty() ? "" : " and ") + s.timeline.species[i];
    std::optional<std::size_t> at;
    double most = 0;
    for (std::size_t i = 0; i < s.spans(); ++i) {
        if (!s.discrete(i).pump) continue;
        const plant::State state = s.over(i);
        double x = 0;
        for (const timeline::Index k : oxidisers)
            x += s.plant.signal({timeline::SignalKind::fraction, k}, state, s.discrete(i)).hi;
        x = std::min(x, 1.0);
        if (!at || x > most) most = x, at = i;
    }
    if (!at) return;
    timeline::Index richest = oxidisers[0];
    const auto share = [&](timeline::Index k) {
        return s.plant.signal({timeline::SignalKind::fraction, k}, s.over(*at), s.discrete(*at)).hi;
    };
    for (const timeline::Index k : oxidisers)
        if (share(k) > share(richest)) richest = k;
    const bool holds = most <= most_oxygen;
    s.row("oxygen_to_pump", "No oxygen to an oil-sealed pump", holds,
          fmt::format("{} at most {}, limit {}", what, to_text(most, Kind::fraction, 3),
                      to_text(most_oxygen, Kind::fraction)),
          s.walk.at_s(*at), s.source(*at));
    if (holds) return;
    s.out
        .error(Code::oxygen_to_pump, s.source(*at),
               fmt::format("the pump may draw {} {}; an oil-sealed pump stands {}",
                           to_text(most, Kind::fraction, 3), what, to_text(most_oxygen, Kind::fraction)))
        .with_label(fmt::format("at {} of the run", to_clock(s.walk.at_s(*at))))
        .also(s.rig.pump.source, "sealed with oil, as far as it says")
        .cause("oil and compressed oxygen ignite in the pump")
        .remedy(fmt::format("sweep the tube with an inert gas before pumping:  dwell until {} < 20 %",
                            s.timeline.species[richest]))
        .remedy("or declare a pump without oil in its working space:  sealing dry");
}

void vents_back(Scene& s) {
    std::optional<std::size_t> at;
    for (std::size_t i = 0; i < s.spans() && !at; ++i)
        if (s.discrete(i).pump) at = i;
    if (!at) return;
    const bool holds = !s.rig.pump.open_without_power;
    s.row("pump_vents_back", "The pump's valve falls closed", holds, holds ? "falls closed" : "falls open",
          s.walk.at_s(*at), s.source(*at));
    if (holds) return;
    s.out
        .error(Code::pump_vents_back, s.source(*at),
               "the pump's valve stays open when power fails: air and oil go back into the evacuated tube")
        .also(s.rig.pump.source, "falls open")
        .remedy("fit a valve that falls closed and declare it:  de_energised closed");
}

} // namespace

void check_pump(Scene& scene) {
    if (!scene.rig.pump.present) return;
    oxygen(scene);
    vents_back(scene);
}

} // namespace athanor::prove
