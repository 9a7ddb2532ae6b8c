// Gas that leaves into the room takes the place of its air.
#include "compiler/physics/constants.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::prove {
namespace {

/// Share of oxygen that people need: OSHA 29 CFR 1910.134 and EIGA Doc 44/18.
constexpr double enough = 0.195;

/// Well-mixed room: V dC/dt = Q C_air - (Q + G) C, fresh air Q and a gas G without oxygen that pushes out as
/// much.
struct Room {
    double volume, fresh; // m3, m3/s
    double lowest = physics::oxygen_in_air, now = physics::oxygen_in_air;

    double steady(double gas) const {
        return fresh + gas > 0 ? physics::oxygen_in_air * fresh / (fresh + gas) : now;
    }
    void pass(double gas, Interval time) {
        const double end = steady(gas);
        // While it falls a longer time is worse, while it recovers a shorter one.
        const double t = end < now ? time.hi : time.lo;
        now = end + (now - end) * std::exp(-(fresh + gas) * t / volume);
        lowest = std::min(lowest, now);
    }
};

} // namespace

/// With the extraction failed: all that flows in, or that the load gives off, comes out into the room.
void check_room(Scene& s) {
    if (!s.rig.room_volume.given || !s.rig.room_air_changes.given) return;
    const double molar = physics::gas_constant * s.rig.ambient_temperature.hi() / s.rig.ambient_pressure.lo();
    const auto oxygen = s.model.gas_named("oxygen");
    const auto displaces = [&](timeline::Index l) {
        if (s.gas(l) == nullptr) return false;
        double share = 0;
        for (const auto& [part, fraction] : s.gas(l)->parts)
            if (part == oxygen) share = fraction.lo;
        return share < enough;
    };
    std::vector<timeline::Index> displacing; // lines
    for (timeline::Index l = 0; l < s.rig.lines.size(); ++l)
        if (displaces(l)) displacing.push_back(l);
    Room room{s.rig.room_volume.lo(), s.rig.room_volume.lo() * s.rig.room_air_changes.lo()};
    bool applied = false;
    std::size_t at = 0;
    double worst_gas = 0, before = room.lowest;
    std::vector<double> held(s.rig.lines.size(), 0); // m3/s, greatest of the run
    for (std::size_t i = 0; i < s.spans(); ++i) {
        double gas = 0;
        const plant::State state = s.over(i);
        for (const timeline::Index l : displacing) {
            const double flow = s.flow(l, state, s.discrete(i)).hi * molar;
            held[l] = std::max(held[l], flow);
            gas += flow;
        }
        for (const timeline::Evolved& e : s.timeline.evolved) {
            const bool may = e.line == timeline::none || s.may_be_open(e.line, i);
            if (may && s.timeline.species[e.species] != "oxygen") gas += e.flow * molar;
        }
        applied = applied || gas > 0;
        room.pass(gas, s.timeline.spans[i].duration);
        if (room.lowest < before) before = room.lowest, at = i, worst_gas = gas;
    }
    // What falls open flows on after the end until a person shuts it.
    double after = 0;
    for (timeline::Index l = 0; l < s.rig.lines.size(); ++l) {
        const check::Line& line = s.rig.lines[l];
        if (!s.timeline.lines[l].falls_open() || !displaces(l)) continue;
        // A meter that the run does not set may stand anywhere.
        after += line.meter.controlled      ? line.flow_without_power.hi * molar
                 : s.timeline.lines[l].used ? held[l]
                 : line.meter.range.given   ? line.meter.range.hi() * molar
                                            : infinity;
    }
    bool at_end = false;
    if (after > 0) {
        room.pass(after, {0, infinity});
        if (room.lowest < before) at_end = true, at = s.spans() - 1, worst_gas = after;
    }
    if (!applied && !at_end) return;
    const bool holds = room.lowest >= enough;
    const bool assumed = s.rig.room_volume.defaulted;
    s.row("asphyxiation", "The room keeps enough oxygen when its extraction fails", holds,
          fmt::format("oxygen in the room at least {}, limit {}{}", to_text(room.lowest, Kind::fraction, 4),
                      to_text(enough, Kind::fraction), assumed ? " (default room)" : ""),
          at_end ? s.walk.end_s : s.walk.at_s(at), s.source(at));
    if (holds) return;
    Diagnostic& d =
        s.out.error(Code::asphyxiation, s.source(at),
                    fmt::format("with the extraction failed the room's oxygen may fall to {}, below {}",
                                to_text(room.lowest, Kind::fraction, 3), to_text(enough, Kind::fraction)));
    d.with_label(at_end ? std::string("after the end, until a person shuts what falls open")
                        : fmt::format("during the step from {} of the run", to_clock(s.walk.at_s(at))));
    d.also(assumed ? s.rig.source : s.rig.room_volume.source, assumed ? "declares no room" : "the room");
    d.cause(fmt::format("{} of gas without oxygen into {} of room with {} of fresh air{}",
                        to_text(worst_gas, Kind::volume_flow, 3), to_text(room.volume, Kind::volume, 3),
                        to_text(room.fresh, Kind::volume_flow, 3), assumed ? " (default)" : ""));
    const double fresh = worst_gas * enough / (physics::oxygen_in_air - enough);
    d.remedy(
        fmt::format("{}: {} of fresh air keep it above the limit for any time",
                    assumed ? "declare the room as it is, `room 40 m3 ventilated 4 1/h`" : "ventilate more",
                    to_text(fresh, Kind::volume_flow, 3)));
    d.remedy("or less gas; and an oxygen alarm in the room");
}

} // namespace athanor::prove
