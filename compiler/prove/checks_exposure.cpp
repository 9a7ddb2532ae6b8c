// A gas that is no poison in a purge, and one in a closed room: its share of the air that people breathe,
// against its exposure limit. What a hood draws off is not counted, while it draws; toxic gases have a rule of
// their own.
#include "compiler/plant/atmosphere.hpp"
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
    Exposure(Scene& s, check::Index gas)
        : s_(s), gas_(gas), limit_(s.model.gases[gas].exposure_limit.lo()), molar_(Room::per_mol(s.rig)) {
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
        for (std::size_t i = 0; i < s_.spans(); ++i) {
            const plant::State state = s_.over(i);
            pass(room, i, leaves(state, s_.discrete(i)), s_.timeline.spans[i].duration, When::run);
        }
        after_end(room);
        after_failure(room);
        if (!(worst_ > 0)) return;
        const std::string& name = s_.model.gases[gas_].name;
        const bool holds = worst_ <= limit_, assumed = s_.rig.room_volume.defaulted;
        const double at_s = when_ == When::end ? s_.walk.end_s : s_.walk.at_s(at_);
        s_.row("room_exposure", fmt::format("The room's share of {} stays under its exposure limit", name),
               holds,
               fmt::format("at most {}, limit {}{}", to_text(worst_, Kind::fraction, 3),
                           to_text(limit_, Kind::fraction), assumed ? " (default room)" : ""),
               at_s, s_.source(at_));
        if (holds) return;
        Diagnostic& d = s_.out.error(
            Code::room_exposure, s_.source(at_),
            fmt::format("the room's air may come to hold {} of {}, its exposure limit is {}",
                        to_text(worst_, Kind::fraction, 3), name, to_text(limit_, Kind::fraction)));
        const std::string clock = to_clock(at_s);
        d.with_label(when_ == When::run ? "in the step " + s_.moment(at_s)
                     : when_ == When::end
                         ? std::string("after the end, until a person shuts what falls open")
                         : fmt::format("after a power failure in the step from {} of the run, as long as it "
                                       "lasts",
                                       clock));
        d.also(assumed ? s_.rig.source : s_.rig.room_volume.source, assumed ? "declares no room" : "the room");
        const check::Exhaust& exhaust = s_.rig.exhaust;
        const bool blown =
            exhaust.kind == check::ExhaustKind::shut || (exhaust.extraction && when_ == When::run);
        if (blown && s_.rig.relief.given)
            d.also(s_.rig.relief.source, "what the relief lets out goes into the room");
        else
            d.also(exhaust.source == athanor::Span{} ? s_.rig.source : exhaust.source,
                   exhaust.extraction ? "the extraction stands still without power"
                                      : "no extraction draws it off");
        d.cause(fmt::format("{} of it into {} of room with {} of fresh air{}",
                            to_text(flow_, Kind::volume_flow, 3), to_text(room.volume, Kind::volume, 3),
                            to_text(when_ == When::failure ? room.unpowered : room.fresh, Kind::volume_flow, 3),
                            assumed ? " (default)" : ""));
        if (when_ != When::run)
            for (const auto& [l, share] : lines_)
                if (s_.timeline.lines[l].falls_open())
                    d.remedy(fmt::format("let `{}` fall closed:  de_energised closed", s_.rig.lines[l].name));
        const bool drawn = exhaust.extraction && when_ == When::run;
        d.remedy(drawn ? "let the relief open above what the exhaust takes in ordinary work"
                       : "lead the exhaust away:  exhaust into extraction_hood { backup_power yes }");
        const double enough = room.enough(flow_, flow_, limit_);
        if (when_ == When::failure && room.unpowered < room.fresh)
            d.remedy(
                fmt::format("or a fan with backup power, or vents: {} keep it under the limit for any time",
                            room.air_text(enough, "ventilated_without_power")));
        else
            d.remedy(fmt::format("or {}: {} keep it under the limit for any time",
                                 assumed ? room_as_it_is : "ventilate more", room.air_text(enough)));
    }

private:
    enum class When { run, end, failure };

    void pass(Room& room, std::size_t span, double gas, Interval time, When when) {
        room.pass(gas, time, gas);
        if (!(room.worst > worst_)) return;
        worst_ = room.worst;
        flow_ = when == when_ ? std::max(flow_, gas) : gas;
        at_ = span, when_ = when;
    }

    /// What falls open flows on until a person shuts it; an extraction draws on, since the mains are there.
    void after_end(Room& room) {
        const bool holds = s_.controller != nullptr && s_.controller->holds_at_end;
        const timeline::State& last = s_.timeline.states[s_.timeline.end_state];
        Scene::Behind behind = s_.behind_end();
        behind.discrete.powered = true;
        if (!into_room(behind.state, behind.discrete)) return;
        double gas = 0;
        for (const auto& [l, share] : lines_)
            gas += share * (holds ? s_.flow(l, s_.walk.end, last).hi : behind.discrete.between[l].hi);
        if (gas > 0) pass(room, s_.spans() - 1, gas * molar_, {0, infinity}, When::end);
    }

    /// The extraction stands still unless it has power of its own, and what falls open flows for as long as the
    /// failure lasts. The load gives off until it has cooled.
    void after_failure(const Room& run) {
        std::vector<bool> judged(s_.timeline.states.size(), false);
        for (std::size_t i = 0; i < s_.spans(); ++i) {
            const timeline::Index index = s_.timeline.spans[i].state;
            if (judged[index] && evolved_.empty()) continue;
            judged[index] = true;
            const Abort& abort = s_.aborts(s_.discrete(i));
            Room room = run;
            room.fresh = room.unpowered;
            double lines = 0;
            for (const auto& [l, share] : lines_) lines += share * abort.discrete.between[l].hi;
            const plant::Drive drive{abort.laws.data(), &abort.discrete};
            const plant::State from = s_.over(i);
            double piece = 1800;
            for (double t = 0; t < longest_abort && !evolved_.empty(); t += piece, piece *= 1.5) {
                const plant::State state = s_.plant.during(from, drive, {t, t + piece});
                const double load = given_off(state, abort.discrete);
                if (!(load > 0)) break;
                if (into_room(state, abort.discrete))
                    pass(room, i, (lines + load) * molar_, {0, piece}, When::failure);
            }
            const plant::State left = s_.plant.during(from, drive, {0, longest_abort});
            if (lines > 0 && into_room(left, abort.discrete))
                pass(room, i, lines * molar_, {0, infinity}, When::failure);
        }
    }

    /// What leaves the tube comes into the room here: no extraction draws it off, a relief blows it out before
    /// the exhaust takes it, or the exhaust is shut and there is no other way.
    bool into_room(const plant::State& state, const timeline::State& discrete) const {
        const check::Exhaust& exhaust = s_.rig.exhaust;
        const check::Figure& relief = s_.rig.relief;
        if (exhaust.kind == check::ExhaustKind::shut) return relief.given || discrete.pump;
        if (!exhaust.extraction || (!discrete.powered && !exhaust.extraction_backup)) return true;
        if (!relief.given || discrete.pump) return false;
        // Behind a tube with a pump the non-return valve opens after such a relief.
        if (s_.rig.pump.present && relief.lo() <= plant::valve_lift) return true;
        return state.pressure.hi - s_.rig.ambient_pressure.hi() >= relief.lo();
    }
    double given_off(const plant::State& state, const timeline::State& discrete) const { // mol/s
        double mol = 0;
        for (const timeline::Evolved* e : evolved_)
            if (s_.gives_off(*e, state, discrete)) mol += e->flow;
        return mol;
    }
    /// m3/s, greatest, at the room's condition.
    double leaves(const plant::State& state, const timeline::State& discrete) const {
        if (!into_room(state, discrete)) return 0;
        double mol = given_off(state, discrete);
        for (const auto& [l, share] : lines_) mol += share * s_.flow(l, state, discrete).hi;
        return mol * molar_;
    }

    Scene& s_;
    check::Index gas_;
    double limit_, molar_;
    // Where the share in the room was greatest, and the flow into it, m3/s.
    double worst_ = 0, flow_ = 0;
    std::size_t at_ = 0;
    When when_ = When::run;
    std::vector<std::pair<timeline::Index, double>> lines_; // that carry it, and its greatest share there
    std::vector<const timeline::Evolved*> evolved_;
};

} // namespace

void check_exposure(Scene& s) {
    if (!s.rig.room_volume.given || !s.rig.room_air_changes.given) return;
    for (check::Index g = 0; g < s.model.gases.size(); ++g) {
        const check::Gas& gas = s.model.gases[g];
        if (gas.pure && gas.exposure_limit.given && !gas.hazards.toxic) Exposure(s, g).judge();
    }
}

} // namespace athanor::prove
