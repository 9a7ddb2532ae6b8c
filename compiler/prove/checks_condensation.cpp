// Water that lines, bubbler and load bring stays vapour wherever the gas goes.
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

constexpr double margin = 5;     // K above the dew point (common practice, no source)
constexpr double coldest_by = 1; // K: what is no colder than the lines by that is as cold as they are

/// Greatest vapour pressure over the bubbler's bath, Pa; 0: no gas goes through it.
double vapour(const Scene& s, const timeline::State& discrete) {
    if (!discrete.bubbler || !(discrete.bath > 0)) return 0;
    const check::Bubbler& b = s.rig.bubbler;
    const double error = std::max(0.0, plant::given(b.bath_error).hi);
    return plant::given(b.saturation).hi * physics::saturation_pressure(discrete.bath + error);
}

/// mol/s of water that the load may give off, and more of it where what flows mixes badly. Out of open ends it
/// goes into the room, and condenses there.
double evolved(const Scene& s, const plant::State& state, const timeline::State& discrete) {
    if (s.open_tube().applies()) return 0;
    double flow = 0;
    for (const timeline::Evolved& e : s.timeline.evolved)
        if (s.timeline.species[e.species] == "water" && s.gives_off(e, state, discrete)) flow += e.flow;
    return flow / std::max(plant::given(s.rig.mixing).lo, 1e-3);
}

/// Whether any gas of the rig holds water at all; most rigs have none, and then no span need be looked at.
bool may_be_wet(const Scene& s, check::Index water) {
    if (s.timeline.bubbler_line != timeline::none) return true;
    for (const timeline::Evolved& e : s.timeline.evolved)
        if (s.timeline.species[e.species] == "water") return true;
    for (timeline::Index l = 0; l < s.rig.lines.size(); ++l) {
        if (s.gas(l) == nullptr) continue;
        for (const auto& [part, fraction] : s.gas(l)->parts)
            if (part == water && fraction.hi > 0) return true;
    }
    return false;
}

/// Greatest partial pressure of water in what flows in, Pa: what is richer than the mixture at its greatest
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
    if (const double flow = evolved(s, state, discrete); flow > 0) {
        parts.push_back({{0, flow}, 1});
        most = state.pressure.hi;
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
    const double lines = s.rig.heated_lines.given
                             ? std::max(s.rig.heated_lines.lo(), s.rig.ambient_temperature.lo())
                             : s.rig.ambient_temperature.lo();
    struct Wet {
        std::size_t span;
        double dew, coldest; // K
        bool in_zone;        // what is coldest is the hot zone itself, or its load
        bool from_load;      // the load gives water off here
        double room() const { return coldest - dew; }
    };
    std::optional<Wet> worst, found; // the nearest to its dew point; the first that is too near
    double found_at = 0;             // s
    const auto look = [&](std::size_t i, const plant::State& state) -> std::optional<Wet> {
        const double vapour = wettest(s, water, state, s.discrete(i));
        if (!(vapour > 0)) return std::nullopt;
        double zone = infinity;
        for (const plant::ZoneState& z : state.zones) zone = std::min({zone, z.control.lo, z.load.lo});
        const bool in_zone = zone < lines - coldest_by;
        const bool from_load = evolved(s, state, s.discrete(i)) > 0;
        return Wet{i, physics::dew_points(vapour).hi, std::min(lines, zone), in_zone, from_load};
    };
    for (std::size_t i = 0; i < s.spans(); ++i) {
        std::optional<Wet> wet = look(i, s.over(i));
        if (!wet) continue;
        if (wet->room() < margin) {
            // The wettest and the coldest instant of a step need not be one.
            const auto near = s.first_in(i, [&](const plant::State& state, const timeline::State&) {
                const std::optional<Wet> piece = look(i, state);
                return piece && piece->room() < margin;
            });
            if (!near) continue;
            wet = look(i, near->state);
            if (!found) found = wet, found_at = near->at_s;
        }
        if (!worst || wet->room() < worst->room()) worst = wet;
    }
    if (!worst) return;
    const Wet& at = found ? *found : *worst;
    const athanor::Span place = at.from_load ? s.source(at.span) : s.entered_by(at.span);
    Row& row =
        s.row("condensation", "No water condenses where the gas goes", !found,
              fmt::format("dew point at most {}, coldest wetted part {}", to_text(at.dew, Kind::temperature, 3),
                          to_text(at.coldest, Kind::temperature, 3)),
              found ? found_at : s.walk.at_s(at.span), place);
    row.conceded = found && s.model.conceded(row.rule);
    if (!found || row.conceded) return;
    const check::Figure& wall = s.rig.heated_lines.given ? s.rig.heated_lines : s.rig.ambient_temperature;
    Diagnostic& d = s.out.error(
        Code::condensation, place,
        fmt::format("the gas may have a dew point of {}; the coldest part it wets may have {}",
                    to_text(at.dew, Kind::temperature, 3), to_text(at.coldest, Kind::temperature, 3)));
    d.with_label(s.moment(found_at));
    if (!at.in_zone) d.also(wall.source, s.rig.heated_lines.given ? "heated lines" : "the room");
    d.cause("5 K between them are needed; water in a pipe holds the gas back, and on a hot ceramic tube it "
            "cracks it");
    if (at.from_load)
        d.cause("the recipe's `load` gives off water here; gas from the load obeys every rule")
            .remedy(
                "more dry gas while it comes off; or heat more slowly, and declare the smaller flow that then "
                "comes off at a time");
    const double needed = std::ceil(at.dew + margin - physics::zero_celsius);
    if (at.in_zone)
        d.cause("the hot zone itself is as cold in this step")
            .remedy(fmt::format("moist gas only while the zone is above {} degC, with its errors",
                                shortest(needed)));
    else
        d.remedy(fmt::format("drier gas, or heat all that it wets and declare it:  heated_lines {} degC",
                             shortest(needed)));
}

} // namespace athanor::prove
