// What rounding makes of a ramp: tube and furnace judge the set-point that is really keyed. The recipe's own
// ramps were judged when they were elaborated, where the remedy is.
#include "compiler/plant/allowance.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::prove {

void check_rates(Scene& scene) {
    const std::size_t zones = scene.timeline.zones.size();
    // An end may be rounded by 1 K: another row of the material begins behind that.
    constexpr double rounded = 1;
    for (std::size_t i = 0; i < scene.spans(); ++i) {
        const timeline::Law* laws = scene.timeline.laws_of(i);
        for (std::size_t z = 0; z < zones; ++z) {
            const timeline::Law& law = laws[z];
            if (law.kind != timeline::LawKind::line) continue;
            const double rate = std::abs(law.rate);
            const bool up = law.to > law.from;
            const double inset = std::min(rounded, std::abs(law.to - law.from) / 2);
            const double from = law.from + (up ? inset : -inset);
            const double to = law.to - (up ? inset : -inset);
            const check::Figure* row = nullptr;
            const double tube = plant::tube_allowance(scene.model, scene.rig, from, to, &row);
            if (rate > tube * (1 + 1e-9) && (up || tube <= scene.plant.certain_cooling_rate(from, to))) {
                scene.out
                    .error(Code::tube_shock, scene.source(i),
                           fmt::format("the set-point moves at {} and the tube allows {}",
                                       to_text(rate, Kind::rate), to_text(tube, Kind::rate)))
                    .with_label(fmt::format("at {} of the run", to_clock(scene.walk.at_s(i))))
                    .cause(
                        fmt::format("the rate is declared at {}; the ramp was rounded to what the controller "
                                    "can be set to",
                                    scene.place(row->source)))
                    .remedy("a slower ramp, or a controller with finer steps");
                return;
            }
            const double best =
                up ? std::min(scene.plant.capacity(from).heating.hi, scene.plant.capacity(to).heating.hi)
                   : std::min(scene.plant.capacity(from).cooling.hi, scene.plant.capacity(to).cooling.hi);
            if (rate <= best * (1 + 1e-9)) continue;
            scene.out
                .error(up ? Code::rate_beyond_furnace : Code::cooling_beyond_furnace, scene.source(i),
                       fmt::format("the set-point moves at {}, and no furnace inside the stated data "
                                   "follows faster than {}",
                                   to_text(rate, Kind::rate), to_text(std::max(0.0, best), Kind::rate)))
                .with_label(fmt::format("at {} of the run", to_clock(scene.walk.at_s(i))))
                .cause("the ramp was rounded to what the controller can be set to")
                .remedy("a slower ramp, or a controller with finer steps");
            return;
        }
    }
}

} // namespace athanor::prove
