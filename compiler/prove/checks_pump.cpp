// The pump, and the tube it empties.
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace athanor::prove {
namespace {

/// More oxygen than this makes an oil-sealed pump burn: common practice, no source; suppliers of pumps say 25
/// %. Any other gas that feeds a fire counts as oxygen.
constexpr double most_oxygen = 0.25;

/// The tube under external pressure. The set-point is judged, as every limit of a tube is, and a tube that may
/// be hotter than a set-point brings about, as one that is still hot from before; elaboration reports a
/// set-point where it is written.
void tube_under_vacuum(Scene& s) {
    if (s.rig.tube.material == check::none) return;
    const check::Material& tube = s.model.materials[s.rig.tube.material];
    if (!tube.limit_vacuum.given) return;
    // The controller's grid may lie half a step beside what was written, and elaboration has judged that.
    const double limit = tube.limit_vacuum.lo() + 1, strays = s.plant.above_setpoint(tube.limit_vacuum.lo());
    const auto warmest = [&](const plant::State& state) {
        double most = 0;
        for (const plant::ZoneState& zone : state.zones) most = std::max(most, zone.control.hi);
        return most;
    };
    double hottest = 0, reached = 0; // of the set-points; of the tube, with what the furnace and its sensor add
    std::size_t at = 0;
    bool still_hot = false;
    for (std::size_t i = 0; i < s.spans(); ++i) {
        const plant::State state = s.over(i);
        if (!s.evacuated(state, s.discrete(i))) continue;
        for (const plant::ZoneState& zone : state.zones)
            reached = std::max({reached, zone.control.hi, zone.load.hi});
        still_hot = still_hot || warmest(state) - strays > limit;
        for (std::size_t z = 0; z < s.timeline.zones.size(); ++z)
            if (const double t = laws_of(s.timeline, i, z).highest(); t > hottest) hottest = t, at = i;
    }
    if (!(hottest > 0)) return;
    const bool set_too_hot = hottest > limit;
    std::optional<Scene::Found> found;
    if (!set_too_hot && still_hot)
        found = s.first([&](const plant::State& state, const timeline::State& discrete) {
            return s.evacuated(state, discrete) && warmest(state) - strays > limit;
        });
    if (found) hottest = warmest(found->state), at = found->span;
    s.row("tube_vacuum_limit", "The evacuated tube is not too hot", !set_too_hot && !found,
          found ? fmt::format("at most {}, limit {}", to_text(hottest, Kind::temperature),
                              to_text(tube.limit_vacuum.lo(), Kind::temperature))
                : fmt::format(
                      "set to at most {}, limit {} of a set-point; with overshoot and errors the hot zone "
                      "is at most at {}",
                      to_text(hottest, Kind::temperature), to_text(tube.limit_vacuum.lo(), Kind::temperature),
                      to_text(std::max(reached, hottest), Kind::temperature, 4)),
          found ? found->at_s : s.walk.at_s(at), s.source(at));
    if (found && !s.out.has(Code::tube_vacuum_limit))
        s.out
            .error(Code::tube_vacuum_limit, s.source(at),
                   fmt::format("the tube may still be at {} while it is evacuated; one of {} stands {} then",
                               to_text(hottest, Kind::temperature), tube.name,
                               to_text(tube.limit_vacuum.lo(), Kind::temperature)))
            .with_label(fmt::format("at {} of the run", to_clock(found->at_s)))
            .also(s.rig.tube.source, "the tube")
            .cause("the set-point is lower, and the tube is hot from before")
            .remedy(fmt::format(
                "come down by `cool to {}` or lower before it is pumped, which waits for the furnace",
                to_text(tube.limit_vacuum.lo(), Kind::temperature)));
    if (!set_too_hot || s.out.has(Code::tube_vacuum_limit)) return;
    s.out
        .error(Code::tube_vacuum_limit, s.source(at),
               fmt::format("{} under vacuum is above what an evacuated tube of {} stands, {}",
                           to_text(hottest, Kind::temperature), tube.name,
                           to_text(tube.limit_vacuum.lo(), Kind::temperature)))
        .also(s.rig.tube.source, "the tube");
}

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
    tube_under_vacuum(scene);
    oxygen(scene);
    vents_back(scene);
}

} // namespace athanor::prove
