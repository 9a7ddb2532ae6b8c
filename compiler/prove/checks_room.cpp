// Gas that leaves into the room takes the place of its air, or makes it richer in oxygen.
#include "compiler/check/gas_mixture.hpp"
#include "compiler/physics/constants.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/prove/meter.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::prove {
namespace {

constexpr const char* as_it_is = "declare the room as it is, `room 40 m3 ventilated 4 1/h`";

/// Share of oxygen that people need: OSHA 29 CFR 1910.134 and EIGA Doc 44/18.
constexpr double enough = 0.195;
/// Share of oxygen from which cloth and hair burn fiercely: OSHA 29 CFR 1910.146, "hazardous atmosphere" (from
/// memory).
constexpr double too_much = check::enriched_share;

/// Well-mixed room: V dC/dt = Q C_air + O - (Q + G) C, fresh air Q and a gas G with its oxygen O that pushes
/// out as much.
struct Room {
    double volume, fresh;  // m3, m3/s
    bool enriched = false; // looks for the most oxygen, not for the least
    double worst = physics::oxygen_in_air, now = physics::oxygen_in_air;

    double steady(double gas, double oxygen) const {
        if (!std::isfinite(gas)) return enriched ? 1 : 0; // nothing bounds it
        return fresh + gas > 0 ? (physics::oxygen_in_air * fresh + oxygen) / (fresh + gas) : now;
    }
    void pass(double gas, Interval time, double oxygen = 0) {
        const double end = steady(gas, oxygen);
        // While it gets worse a longer time is worse, while it recovers a shorter one.
        const bool worsens = enriched ? end > now : end < now;
        const double t = worsens ? time.hi : time.lo;
        now = end + (now - end) * std::exp(-(fresh + gas) * t / volume);
        worst = enriched ? std::max(worst, now) : std::min(worst, now);
    }
};

/// m3/s at the room's condition for each mol/s.
double room_gas(const Scene& s) {
    return physics::gas_constant * s.rig.ambient_temperature.hi() / s.rig.ambient_pressure.lo();
}

/// m3/s, greatest, that flows on behind the end: as it stands on a controller that holds, else 0 but for a line
/// that falls open. `held`: its greatest of the run; a meter that the run does not set may stand anywhere.
double after_end(const Scene& s, timeline::Index l, double held, double molar) {
    const check::Line& line = s.rig.lines[l];
    if (s.controller != nullptr && s.controller->holds_at_end)
        return s.flow(l, s.walk.end, s.timeline.states[s.timeline.end_state]).hi * molar;
    if (!s.timeline.lines[l].falls_open()) return 0;
    if (line.meter.controlled) return line.flow_without_power.hi * molar;
    if (s.timeline.lines[l].used) return held;
    return most_flow(line.meter) * molar;
}

/// As a flow and as the rig says it, in changes an hour of its own room; rounded up, so that it is enough.
std::string enough_air(const Room& room, double fresh) {
    const std::string flow = to_text(fresh, Kind::volume_flow, 3) + " of fresh air";
    const double changes = fresh / room.volume * 3600;
    if (!std::isfinite(changes) || changes <= 0) return flow;
    const double place = std::pow(10, std::floor(std::log10(changes)) - 2);
    return fmt::format("{}, `ventilated {:.4g} 1/h` in {} of room,", flow, std::ceil(changes / place) * place,
                       to_text(room.volume, Kind::volume, 3));
}

/// Oxygen that comes out into the room; what else flows, which would thin it, is left out.
void enrichment(Scene& s) {
    const double molar = room_gas(s);
    const auto oxygen = s.model.gas_named("oxygen");
    std::vector<std::pair<timeline::Index, double>> rich; // lines, and their share of oxygen
    for (timeline::Index l = 0; l < s.rig.lines.size(); ++l) {
        if (s.gas(l) == nullptr) continue;
        for (const auto& [part, fraction] : s.gas(l)->parts)
            if (part == oxygen && fraction.hi > too_much) rich.emplace_back(l, fraction.hi);
    }
    Room room{s.rig.room_volume.lo(), s.rig.room_volume.lo() * s.rig.room_air_changes.lo(), true};
    bool applied = false;
    std::size_t at = 0;
    double most = 0, before = room.worst;
    std::vector<double> held(s.rig.lines.size(), 0); // m3/s, greatest of the run
    for (std::size_t i = 0; i < s.spans(); ++i) {
        double gas = 0, brought = 0;
        const plant::State state = rich.empty() ? plant::State{} : s.over(i);
        for (const auto& [l, share] : rich) {
            const double flow = s.flow(l, state, s.discrete(i)).hi * molar;
            held[l] = std::max(held[l], flow);
            gas += flow;
            brought += flow * share;
        }
        for (const timeline::Evolved& e : s.timeline.evolved) {
            if (s.timeline.species[e.species] != "oxygen") continue;
            if (e.line != timeline::none && !s.may_be_open(e.line, i)) continue;
            gas += e.flow * molar;
            brought += e.flow * molar;
        }
        applied = applied || gas > 0;
        room.pass(gas, s.timeline.spans[i].duration, brought);
        if (room.worst > before) before = room.worst, at = i, most = gas;
    }
    double after = 0, brought = 0;
    for (const auto& [l, share] : rich) {
        const double flow = after_end(s, l, held[l], molar);
        after += flow;
        brought += flow * share;
    }
    bool at_end = false;
    if (after > 0) {
        room.pass(after, {0, infinity}, brought);
        if (room.worst > before) at_end = true, at = s.spans() - 1, most = after;
    }
    if (!applied && !at_end) return;
    const bool holds = room.worst <= too_much, assumed = s.rig.room_volume.defaulted;
    s.row("oxygen_enrichment", "The room does not grow rich in oxygen when its extraction fails", holds,
          fmt::format("oxygen in the room at most {}, limit {}{}", to_text(room.worst, Kind::fraction, 4),
                      to_text(too_much, Kind::fraction), assumed ? " (default room)" : ""),
          at_end ? s.walk.end_s : s.walk.at_s(at), s.source(at));
    if (holds) return;
    Diagnostic& d =
        s.out.error(Code::oxygen_enrichment, s.source(at),
                    fmt::format("with the extraction failed the room's oxygen may rise to {}, above {}",
                                to_text(room.worst, Kind::fraction, 3), to_text(too_much, Kind::fraction)));
    d.with_label(at_end ? std::string("after the end, until a person shuts what falls open")
                        : fmt::format("during the step from {} of the run", to_clock(s.walk.at_s(at))));
    d.also(assumed ? s.rig.source : s.rig.room_volume.source, assumed ? "declares no room" : "the room");
    d.cause(fmt::format("{} of oxygen or a gas rich in it into {} of room with {} of fresh air{}",
                        to_text(most, Kind::volume_flow, 3), to_text(room.volume, Kind::volume, 3),
                        to_text(room.fresh, Kind::volume_flow, 3), assumed ? " (default)" : ""));
    const double fresh = most * (1 - too_much) / (too_much - physics::oxygen_in_air);
    d.remedy(fmt::format("{}: {} keep it under the limit for any time", assumed ? as_it_is : "ventilate more",
                         enough_air(room, fresh)));
    d.remedy("or less oxygen; and an oxygen alarm in the room");
}

} // namespace

/// With the extraction failed: all that flows in, or that the load gives off, comes out into the room.
void check_room(Scene& s) {
    if (!s.rig.room_volume.given || !s.rig.room_air_changes.given) return;
    enrichment(s);
    const double molar = room_gas(s);
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
    double worst_gas = 0, before = room.worst;
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
        if (room.worst < before) before = room.worst, at = i, worst_gas = gas;
    }
    // What falls open flows on after the end until a person shuts it.
    double after = 0;
    for (const timeline::Index l : displacing) after += after_end(s, l, held[l], molar);
    bool at_end = false;
    if (after > 0) {
        room.pass(after, {0, infinity});
        if (room.worst < before) at_end = true, at = s.spans() - 1, worst_gas = after;
    }
    if (!applied && !at_end) return;
    const bool holds = room.worst >= enough;
    const bool assumed = s.rig.room_volume.defaulted;
    s.row("asphyxiation", "The room keeps enough oxygen when its extraction fails", holds,
          fmt::format("oxygen in the room at least {}, limit {}{}", to_text(room.worst, Kind::fraction, 4),
                      to_text(enough, Kind::fraction), assumed ? " (default room)" : ""),
          at_end ? s.walk.end_s : s.walk.at_s(at), s.source(at));
    if (holds) return;
    Diagnostic& d =
        s.out.error(Code::asphyxiation, s.source(at),
                    fmt::format("with the extraction failed the room's oxygen may fall to {}, below {}",
                                to_text(room.worst, Kind::fraction, 3), to_text(enough, Kind::fraction)));
    d.with_label(at_end ? std::string("after the end, until a person shuts what falls open")
                        : fmt::format("during the step from {} of the run", to_clock(s.walk.at_s(at))));
    d.also(assumed ? s.rig.source : s.rig.room_volume.source, assumed ? "declares no room" : "the room");
    d.cause(fmt::format("{} of gas without oxygen into {} of room with {} of fresh air{}",
                        to_text(worst_gas, Kind::volume_flow, 3), to_text(room.volume, Kind::volume, 3),
                        to_text(room.fresh, Kind::volume_flow, 3), assumed ? " (default)" : ""));
    const double fresh = worst_gas * enough / (physics::oxygen_in_air - enough);
    d.remedy(fmt::format("{}: {} keep it above the limit for any time", assumed ? as_it_is : "ventilate more",
                         enough_air(room, fresh)));
    d.remedy("or less gas; and an oxygen alarm in the room");
}

} // namespace athanor::prove
