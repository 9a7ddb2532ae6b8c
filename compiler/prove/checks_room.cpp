// Gas that leaves into the room takes the place of its air, or makes it richer in oxygen.
#include "compiler/check/gas_mixture.hpp"
#include "compiler/physics/constants.hpp"
#include "compiler/prove/checks.hpp"
#include "compiler/prove/meter.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

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

/// What too much or too little oxygen in the room is called, and where it begins.
struct Danger {
    bool enriched; // looks for the most oxygen; what else flows, which would thin it, is left out
    double limit;
    Code code;
    const char *rule, *title, *greatest, *may, *beyond, *gas, *inside, *less;

    /// Share of oxygen in a line's gas that counts for it; none: the gas is no danger.
    std::optional<double> brings(const check::Gas& gas, check::Index oxygen) const {
        Interval share = 0;
        for (const auto& [part, fraction] : gas.parts)
            if (part == oxygen) share = fraction;
        if (enriched) return share.hi > limit ? std::optional(share.hi) : std::nullopt;
        return share.lo < limit ? std::optional(0.0) : std::nullopt;
    }
};

constexpr Danger rich{true,
                      too_much,
                      Code::oxygen_enrichment,
                      "oxygen_enrichment",
                      "The room does not grow rich in oxygen when its extraction fails",
                      "most",
                      "rise",
                      "above",
                      "oxygen or a gas rich in it",
                      "under",
                      "oxygen"};
constexpr Danger poor{false,
                      enough,
                      Code::asphyxiation,
                      "asphyxiation",
                      "The room keeps enough oxygen when its extraction fails",
                      "least",
                      "fall",
                      "below",
                      "gas without oxygen",
                      "above",
                      "gas"};

/// With the extraction failed: all that flows in, or that the load gives off, comes out into the room.
void check_danger(Scene& s, const Danger& danger) {
    const double molar = room_gas(s);
    const auto oxygen = s.model.gas_named("oxygen");
    std::vector<std::pair<timeline::Index, double>> lines; // and their share of oxygen
    for (timeline::Index l = 0; l < s.rig.lines.size(); ++l)
        if (s.gas(l) != nullptr)
            if (const auto share = danger.brings(*s.gas(l), oxygen)) lines.emplace_back(l, *share);
    Room room{s.rig.room_volume.lo(), s.rig.room_volume.lo() * s.rig.room_air_changes.lo(), danger.enriched};
    bool applied = false;
    std::size_t at = 0;
    double most = 0, before = room.worst;
    const auto worsened = [&] { return danger.enriched ? room.worst > before : room.worst < before; };
    std::vector<double> held(s.rig.lines.size(), 0); // m3/s, greatest of the run
    for (std::size_t i = 0; i < s.spans(); ++i) {
        double gas = 0, brought = 0;
        const plant::State state = lines.empty() ? plant::State{} : s.over(i);
        for (const auto& [l, share] : lines) {
            const double flow = s.flow(l, state, s.discrete(i)).hi * molar;
            held[l] = std::max(held[l], flow);
            gas += flow;
            brought += flow * share;
        }
        for (const timeline::Evolved& e : s.timeline.evolved) {
            if ((s.timeline.species[e.species] == "oxygen") != danger.enriched) continue;
            if (e.line != timeline::none && !s.may_be_open(e.line, i)) continue;
            gas += e.flow * molar;
            if (danger.enriched) brought += e.flow * molar;
        }
        applied = applied || gas > 0;
        room.pass(gas, s.timeline.spans[i].duration, brought);
        if (worsened()) before = room.worst, at = i, most = gas;
    }
    // What falls open flows on after the end until a person shuts it.
    double after = 0, brought = 0;
    for (const auto& [l, share] : lines) {
        const double flow = after_end(s, l, held[l], molar);
        after += flow;
        brought += flow * share;
    }
    bool at_end = false;
    if (after > 0) {
        room.pass(after, {0, infinity}, brought);
        if (worsened()) at_end = true, at = s.spans() - 1, most = after;
    }
    if (!applied && !at_end) return;
    const double limit = danger.limit;
    const bool holds = danger.enriched ? room.worst <= limit : room.worst >= limit;
    const bool assumed = s.rig.room_volume.defaulted;
    s.row(danger.rule, danger.title, holds,
          fmt::format("oxygen in the room at {} {}, limit {}{}", danger.greatest,
                      to_text(room.worst, Kind::fraction, 4), to_text(limit, Kind::fraction),
                      assumed ? " (default room)" : ""),
          at_end ? s.walk.end_s : s.walk.at_s(at), s.source(at));
    if (holds) return;
    Diagnostic& d = s.out.error(danger.code, s.source(at),
                                fmt::format("with the extraction failed the room's oxygen may {} to {}, {} {}",
                                            danger.may, to_text(room.worst, Kind::fraction, 3), danger.beyond,
                                            to_text(limit, Kind::fraction)));
    d.with_label(at_end ? std::string("after the end, until a person shuts what falls open")
                        : fmt::format("during the step from {} of the run", to_clock(s.walk.at_s(at))));
    d.also(assumed ? s.rig.source : s.rig.room_volume.source, assumed ? "declares no room" : "the room");
    d.cause(fmt::format("{} of {} into {} of room with {} of fresh air{}", to_text(most, Kind::volume_flow, 3),
                        danger.gas, to_text(room.volume, Kind::volume, 3),
                        to_text(room.fresh, Kind::volume_flow, 3), assumed ? " (default)" : ""));
    // Where the room rests at the limit, with nothing but oxygen or with none coming out.
    const double fresh = most * ((danger.enriched ? 1 : 0) - limit) / (limit - physics::oxygen_in_air);
    d.remedy(fmt::format("{}: {} keep it {} the limit for any time", assumed ? as_it_is : "ventilate more",
                         enough_air(room, fresh), danger.inside));
    d.remedy(fmt::format("or less {}; and an oxygen alarm in the room", danger.less));
}

} // namespace

void check_room(Scene& s) {
    if (!s.rig.room_volume.given || !s.rig.room_air_changes.given) return;
    check_danger(s, rich);
    check_danger(s, poor);
}

} // namespace athanor::prove
