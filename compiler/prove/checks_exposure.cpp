// A gas that is no poison in a purge, and one in a closed room: its share of the air that people breathe,
// against its exposure limit. What a hood draws off is not counted; toxic gases have a rule of their own.
#include "compiler/physics/constants.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::prove {
namespace {

/// Well-mixed room: V dC/dt = G - (Q + G) C, fresh air Q and a gas G that pushes out as much.
struct Air {
    double volume, fresh;     // m3, m3/s
    double now = 0, most = 0; // share of the gas

    double steady(double gas) const { return gas > 0 ? gas / (fresh + gas) : 0; }
    void pass(double gas, Interval time) {
        const double end = steady(gas);
        // It gathers longest in the longest time, and is carried off least in the shortest.
        const double t = end > now ? time.hi : time.lo;
        now = end + (now - end) * std::exp(-(fresh + gas) * t / volume);
        most = std::max(most, now);
    }
};

class Exposure {
public:
    Exposure(Scene& s, check::Index gas) : s_(s), gas_(gas), limit_(s.model.gases[gas].exposure_limit.lo()) {}

    void judge() {
        Air air{s_.rig.room_volume.lo(), s_.rig.room_volume.lo() * s_.rig.room_air_changes.lo()};
        std::size_t at = 0;
        double flow = 0; // m3/s at the greatest share
        for (std::size_t i = 0; i < s_.spans(); ++i) {
            const double before = air.most, gas = leaves(i);
            air.pass(gas, s_.timeline.spans[i].duration);
            if (air.most > before) at = i, flow = std::max(flow, gas);
        }
        if (!(air.most > 0)) return;
        const std::string& name = s_.model.gases[gas_].name;
        const bool holds = air.most <= limit_, assumed = s_.rig.room_volume.defaulted;
        s_.row("room_exposure", fmt::format("The room's share of {} stays under its exposure limit", name),
               holds,
               fmt::format("at most {}, limit {}{}", to_text(air.most, Kind::fraction, 3),
                           to_text(limit_, Kind::fraction), assumed ? " (default room)" : ""),
               s_.walk.at_s(at), s_.source(at));
        if (holds) return;
        s_.out
            .error(Code::room_exposure, s_.source(at),
                   fmt::format("the room's air may come to hold {} of {}, its exposure limit is {}",
                               to_text(air.most, Kind::fraction, 3), name, to_text(limit_, Kind::fraction)))
            .with_label(fmt::format("during the step from {} of the run", to_clock(s_.walk.at_s(at))))
            .also(assumed ? s_.rig.source : s_.rig.room_volume.source,
                  assumed ? "declares no room" : "the room")
            .also(s_.rig.exhaust.source, "no extraction draws it off")
            .cause(fmt::format("{} of it into {} of room with {} of fresh air{}",
                               to_text(flow, Kind::volume_flow, 3), to_text(air.volume, Kind::volume, 3),
                               to_text(air.fresh, Kind::volume_flow, 3), assumed ? " (default)" : ""))
            .remedy("lead the exhaust away:  exhaust into extraction_hood")
            .remedy(fmt::format("or ventilate: {} of fresh air keep it under the limit for any time",
                                to_text(flow * (1 - limit_) / limit_, Kind::volume_flow, 3)));
    }

private:
    /// m3/s, greatest, at the room's condition.
    double leaves(std::size_t span) const {
        double mol = 0;
        const plant::State state = s_.over(span);
        for (timeline::Index l = 0; l < s_.rig.lines.size(); ++l) {
            if (s_.gas(l) == nullptr) continue;
            for (const auto& [part, share] : s_.gas(l)->parts)
                if (part == gas_) mol += share.hi * s_.flow(l, state, s_.discrete(span)).hi;
        }
        for (const timeline::Evolved& e : s_.timeline.evolved)
            if (s_.timeline.species[e.species] == s_.model.gases[gas_].name &&
                (e.line == timeline::none || s_.may_be_open(e.line, span)))
                mol += e.flow;
        return mol * physics::gas_constant * s_.rig.ambient_temperature.hi() / s_.rig.ambient_pressure.lo();
    }

    Scene& s_;
    check::Index gas_;
    double limit_;
};

} // namespace

void check_exposure(Scene& s) {
    if (!s.rig.room_volume.given || !s.rig.room_air_changes.given || s.rig.exhaust.extraction) return;
    if (s.rig.exhaust.kind == check::ExhaustKind::shut) return;
    for (check::Index g = 0; g < s.model.gases.size(); ++g) {
        const check::Gas& gas = s.model.gases[g];
        if (gas.pure && gas.exposure_limit.given && !gas.hazards.toxic) Exposure(s, g).judge();
    }
}

} // namespace athanor::prove
