#pragma once
#include "compiler/check/equipment.hpp"
#include "compiler/check/gas_mixture.hpp"
#include "compiler/physics/constants.hpp"
#include "compiler/quantity/interval.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <string_view>

/// The room that a rig stands in, when gas comes out into it.
namespace athanor::prove {

constexpr const char* room_as_it_is = "declare the room as it is, `room 40 m3 ventilated 4 1/h`";

/// Share of oxygen that people need.
constexpr double breathable = check::breathable_share;

/// Share of one gas in a well-mixed room: V dC/dt = Q C_air + O - (Q + G) C, fresh air Q, and a gas G with O of
/// the one in it that pushes out as much (dilution of a ventilated room, textbook).
struct Room {
    Room(const check::Rig& rig, double in_air, bool most)
        : volume(rig.room_volume.lo()), fresh(volume * rig.room_air_changes.lo()),
          unpowered(std::min(fresh, volume * rig.room_air_without_power.lo())), air(in_air), rises(most),
          worst(in_air), now(in_air) {}

    double volume, fresh; // m3, m3/s
    double unpowered;     // m3/s of fresh air that come without power
    double air;           // share in fresh air
    bool rises;           // looks for the most of it, not for the least
    double worst, now;    // share

    /// m3/s at the room's condition for each mol/s.
    static double per_mol(const check::Rig& rig) {
        return physics::gas_constant * rig.ambient_temperature.hi() / rig.ambient_pressure.lo();
    }
    /// m3/s of gas, and what of it is the one that is looked for.
    double steady(double gas, double own) const {
        if (!std::isfinite(gas)) return rises ? 1 : 0; // nothing bounds it
        return fresh + gas > 0 ? (air * fresh + own) / (fresh + gas) : now;
    }
    void pass(double gas, Interval time, double own = 0) {
        const double end = steady(gas, own);
        // While it gets worse a longer time is worse, while it recovers a shorter one.
        const bool worsens = rises ? end > now : end < now;
        const double t = worsens ? time.hi : time.lo;
        now = end + (now - end) * std::exp(-(fresh + gas) * t / volume);
        worst = rises ? std::max(worst, now) : std::min(worst, now);
    }
    /// m3/s of fresh air with which `gas`, of which `own` is the one, rests at a limit.
    double enough(double gas, double own, double limit) const { return (own - limit * gas) / (limit - air); }
    /// Fresh air as a flow and as the rig says it, in changes an hour of its own room; rounded up, so that it
    /// is enough.
    std::string air_text(double needed, std::string_view property = "ventilated") const {
        const std::string flow = to_text(needed, Kind::volume_flow, 3) + " of fresh air";
        const double changes = needed / volume * 3600;
        if (!std::isfinite(changes) || changes <= 0) return flow;
        const double place = std::pow(10, std::floor(std::log10(changes)) - 2);
        return fmt::format("{}, `{} {:.4g} 1/h` in {} of room,", flow, property,
                           std::ceil(changes / place) * place, to_text(volume, Kind::volume, 3));
    }
};

} // namespace athanor::prove
