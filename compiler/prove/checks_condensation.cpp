// Water that lines and bubbler bring stays vapour wherever the gas goes.
#include "compiler/physics/constants.hpp"
#include "compiler/physics/moisture.hpp"
#include "compiler/plant/given.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::prove {
namespace {

constexpr double margin = 5; // K above the dew point (common practice, no source)

/// Greatest vapour pressure over the bubbler's bath, Pa; 0: no gas goes through it.
double vapour(const Scene& s, const timeline::State& discrete) {
    if (!discrete.bubbler || !(discrete.bath > 0)) return 0;
    const check::Bubbler& b = s.rig.bubbler;
    const double error = std::max(0.0, plant::given(b.bath_error).hi);
    return plant::given(b.saturation).hi * physics::saturation_pressure(discrete.bath + error);
}

/// Whether any gas of the rig holds water at all; most rigs have none, and then no span need be looked at.
bool may_be_wet(const Scene& s, check::Index water) {
    if (s.timeline.bubbler_line != timeline::none) return true;
    for (timeline::Index l = 0; l < s.rig.lines.size(); ++l) {
        if (s.gas(l) == nullptr) continue;
        for (const auto& [part, fraction] : s.gas(l)->parts)
            if (part == water && fraction.hi > 0) return true;
    }
    return false;
}

/// Greatest partial pressure of water in what flows in, Pa: the lines richer than the mixture at their greatest
/// flow, the others at their least; never more than in the wettest of them.
double wettest(const Scene& s, check::Index water, const plant::State& state, const timeline::State& discrete) {
    struct Part {
        Interval flow;
        double water;
    };
    std::vector<Part> parts;
    double most = 0;
    for (timeline::Index l = 0; l < s.rig.lines.size(); ++l) {
        if (s.gas(l) == nullptr) continue;
        const Interval flow = s.flow(l, state, discrete);
        if (!(flow.hi > 0)) continue;
        double share = 0;
        for (const auto& [part, fraction] : s.gas(l)->parts)
            if (part == water) share = fraction.hi;
        most = std::max(most, share * state.pressure.hi);
        if (l == s.timeline.bubbler_line)
            if (const double e = vapour(s, discrete); e > 0) {
                share = std::min(1.0, share + e / state.pressure.lo);
                most += e;
            }
        parts.push_back({flow, share});
    }
    double share = 0;
    for (std::size_t round = 0; round <= parts.size() + 1; ++round) {
        double wet = 0, total = 0;
        for (const Part& p : parts) {
            const double flow = p.water > share ? p.flow.hi : p.flow.lo;
            wet += flow * p.water;
            total += flow;
        }
        if (total <= 0 || wet / total <= share) break;
        share = wet / total;
    }
    return std::min(most, share * state.pressure.hi);
}

} // namespace

/// The room's own moisture is not judged: where it condenses it does so in the room too.
void check_condensation(Scene& s) {
    const check::Index water = s.model.gas_named("water");
    if (water == check::none) return;
    if (!may_be_wet(s, water)) return;
    const double coldest = s.rig.heated_lines.given
                               ? std::max(s.rig.heated_lines.lo(), s.rig.ambient_temperature.lo())
                               : s.rig.ambient_temperature.lo();
    double worst = 0;
    std::optional<std::size_t> at, wet;
    for (std::size_t i = 0; i < s.spans(); ++i) {
        const double vapour = wettest(s, water, s.over(i), s.discrete(i));
        if (!(vapour > 0)) continue;
        const double dew = physics::dew_points(vapour).hi;
        if (!at || dew > worst) worst = dew, at = i;
        if (!wet && dew > coldest - margin) wet = i;
    }
    if (!at) return;
    const bool holds = !wet;
    if (wet) at = wet;
    s.row("condensation", "No water condenses outside the furnace", holds,
          fmt::format("dew point at most {}, coldest wetted part {}", to_text(worst, Kind::temperature, 3),
                      to_text(coldest, Kind::temperature, 3)),
          s.walk.at_s(*at), s.entered_by(*at));
    if (holds) return;
    const check::Figure& wall = s.rig.heated_lines.given ? s.rig.heated_lines : s.rig.ambient_temperature;
    s.out
        .error(Code::condensation, s.entered_by(*at),
               fmt::format("the gas may have a dew point of {}; the coldest part it wets may have {}",
                           to_text(worst, Kind::temperature, 3), to_text(coldest, Kind::temperature, 3)))
        .with_label(fmt::format("at {} of the run", to_clock(s.walk.at_s(*at))))
        .also(wall.source, s.rig.heated_lines.given ? "heated lines" : "the room")
        .cause("5 K between them are needed; water in a pipe holds the gas back, and on a hot ceramic tube "
               "it cracks it")
        .remedy(fmt::format("drier gas, or heat all that it wets and declare it:  heated_lines {} degC",
                            shortest(std::ceil(worst + margin - physics::zero_celsius))));
}

} // namespace athanor::prove
