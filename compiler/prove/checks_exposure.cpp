// A gas that is no poison in a purge, and one in a closed room: its share of the air that people breathe,
// against its exposure limit. What a hood draws off is not counted; toxic gases have a rule of their own.
#include "compiler/prove/checks.hpp"
#include "compiler/prove/room.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

namespace athanor::prove {
namespace {

class Exposure {
public:
    Exposure(Scene& s, check::Index gas) : s_(s), gas_(gas), limit_(s.model.gases[gas].exposure_limit.lo()) {
        for (timeline::Index l = 0; l < s.rig.lines.size(); ++l) {
            if (s.gas(l) == nullptr) continue;
            for (const auto& [part, share] : s.gas(l)->parts)
                if (part == gas_) lines_.emplace_back(l, share.hi);
        }
        for (const timeline::Evolved& e : s.timeline.evolved)
            if (s.timeline.species[e.species] == s.model.gases[gas_].name) evolved_.push_back(&e);
    }

    void judge() {
        if (lines_.empty() && evolved_.empty()) return;
        Room room(s_.rig, 0, true);
        std::size_t at = 0;
        double flow = 0; // m3/s, greatest while the share grows
        for (std::size_t i = 0; i < s_.spans(); ++i) {
            const double before = room.worst, gas = leaves(i);
            room.pass(gas, s_.timeline.spans[i].duration, gas);
            if (room.worst > before) at = i, flow = std::max(flow, gas);
        }
        if (!(room.worst > 0)) return;
        const std::string& name = s_.model.gases[gas_].name;
        const bool holds = room.worst <= limit_, assumed = s_.rig.room_volume.defaulted;
        s_.row("room_exposure", fmt::format("The room's share of {} stays under its exposure limit", name),
               holds,
               fmt::format("at most {}, limit {}{}", to_text(room.worst, Kind::fraction, 3),
                           to_text(limit_, Kind::fraction), assumed ? " (default room)" : ""),
               s_.walk.at_s(at), s_.source(at));
        if (holds) return;
        s_.out
            .error(Code::room_exposure, s_.source(at),
                   fmt::format("the room's air may come to hold {} of {}, its exposure limit is {}",
                               to_text(room.worst, Kind::fraction, 3), name, to_text(limit_, Kind::fraction)))
            .with_label(fmt::format("during the step from {} of the run", to_clock(s_.walk.at_s(at))))
            .also(assumed ? s_.rig.source : s_.rig.room_volume.source,
                  assumed ? "declares no room" : "the room")
            .also(s_.rig.exhaust.source, "no extraction draws it off")
            .cause(fmt::format("{} of it into {} of room with {} of fresh air{}",
                               to_text(flow, Kind::volume_flow, 3), to_text(room.volume, Kind::volume, 3),
                               to_text(room.fresh, Kind::volume_flow, 3), assumed ? " (default)" : ""))
            .remedy("lead the exhaust away:  exhaust into extraction_hood")
            .remedy(fmt::format("or {}: {} keep it under the limit for any time",
                                assumed ? room_as_it_is : "ventilate more",
                                room.air_text(room.enough(flow, flow, limit_))));
    }

private:
    /// m3/s, greatest, at the room's condition.
    double leaves(std::size_t span) const {
        double mol = 0;
        const plant::State state = s_.over(span);
        for (const auto& [l, share] : lines_) mol += share * s_.flow(l, state, s_.discrete(span)).hi;
        for (const timeline::Evolved* e : evolved_)
            if (s_.gives_off(*e, state, s_.discrete(span))) mol += e->flow;
        return mol * Room::per_mol(s_.rig);
    }

    Scene& s_;
    check::Index gas_;
    double limit_;
    std::vector<std::pair<timeline::Index, double>> lines_; // that carry it, and its greatest share there
    std::vector<const timeline::Evolved*> evolved_;
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
