// A tube that is opened while its gas is richer in oxygen than air.
#include "compiler/check/gas_mixture.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace athanor::prove {
namespace {

/// Oxygen, and what feeds a fire as it does.
double oxidising(const Scene& s, const plant::State& state, const timeline::State& discrete) {
    double sum = 0;
    for (timeline::Index i = 0; i < s.timeline.species.size(); ++i) {
        const check::Index index = s.model.gas_named(s.timeline.species[i]);
        if (index != check::none && s.model.gases[index].oxidises()) sum += s.share(i, state, discrete);
    }
    return std::min(sum, 1.0);
}

/// Some oxidiser that is not air's can be there at all.
bool any_rich(const Scene& s) {
    for (timeline::Index l = 0; l < s.rig.lines.size(); ++l)
        if (s.timeline.lines[l].ever_open() && s.gas(l) != nullptr && s.gas(l)->hazards.enriched) return true;
    return std::any_of(s.timeline.evolved.begin(), s.timeline.evolved.end(), [&](const timeline::Evolved& e) {
        const check::Index index = s.model.gas_named(s.timeline.species[e.species]);
        return index != check::none && s.model.gases[index].oxidises();
    });
}

} // namespace

/// Hot it is refused, as fuel in a hot tube is: sleeves, gloves and grease catch fire at the glow and burn
/// fiercely (EIGA Doc 04, fire hazards of oxygen; from memory). Cold it is a warning.
void check_enriched(Scene& s) {
    if (!any_rich(s)) return;
    const auto heat_of = [&](const plant::State& state, const timeline::State& discrete) {
        return s.plant.signal({timeline::SignalKind::temperature, timeline::none}, state, discrete).hi;
    };
    bool opened = false;
    std::size_t at = 0;
    double most = 0, hottest = 0;
    for (std::size_t i = 0; i < s.spans(); ++i) {
        if (!s.discrete(i).tube_open) continue;
        double rich = oxidising(s, s.over(i), s.discrete(i));
        double heat = heat_of(s.over(i), s.discrete(i));
        if (const std::optional<Scene::Opening> met = s.opening(i)) {
            rich =
                std::max({rich, oxidising(s, met->before, met->was), oxidising(s, met->meanwhile, met->shut)});
            heat = std::max({heat, heat_of(met->before, met->was), heat_of(met->meanwhile, met->shut)});
        }
        // What stands there hot goes before what stands there cold.
        const bool danger = rich > check::enriched_share, hotter = heat > plant::left_alone;
        const bool before = most > check::enriched_share && hottest > plant::left_alone;
        if (!opened || (danger && (most <= check::enriched_share || (hotter && !before))))
            at = i, most = rich, hottest = heat;
        opened = true;
    }
    if (!opened) return;
    const bool holds = most <= check::enriched_share, hot = hottest > plant::left_alone;
    Row& row = s.row("opening_tube", "The tube is opened only without more oxygen than air has", holds,
                     fmt::format("at most {}, limit {}", to_text(most, Kind::fraction, 3),
                                 to_text(check::enriched_share, Kind::fraction)),
                     s.walk.at_s(at), s.source(at));
    row.warned = !holds && !hot;
    if (holds) return;
    const std::string message =
        fmt::format("the tube is opened at up to {} while its gas may hold {} oxygen, above {}",
                    to_text(hottest, Kind::temperature), to_text(most, Kind::fraction, 3),
                    to_text(check::enriched_share, Kind::fraction));
    Diagnostic& d = hot ? s.out.error(Code::opening_tube, s.source(at), message)
                        : s.out.warning(Code::opening_tube, s.source(at), message);
    d.with_label(fmt::format("at {} of the run", to_clock(s.walk.at_s(at))));
    d.cause("cloth, hair and grease burn fiercely in it, and light at what glows");
    const std::string inert = s.inert_line();
    d.remedy(inert.empty() ? "shut the oxygen and sweep the tube with another gas first"
                           : fmt::format("sweep it first:  switch to {} ; dwell until oxygen < 21 %", inert));
    if (hot) d.remedy("and cool it before it is opened");
}

} // namespace athanor::prove
