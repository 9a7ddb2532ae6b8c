#pragma once
#include "compiler/check/gas_mixture.hpp"
#include "compiler/check/model.hpp"
#include "compiler/plant/plant.hpp"
#include "compiler/timeline/timeline.hpp"

#include <optional>
#include <string>
#include <string_view>

namespace athanor::prove {

/// A flammable rest counts until it is certain under this share of the lower limit.
inline constexpr double flammable_rest = check::cleared_fuel;

/// K, 400 degC, from which hydrogen and carbon dioxide turn into carbon monoxide and water on a hot wall
/// without a catalyst (common practice, no source), and the share of each up to which nobody asks for a hood
/// for what they make (common practice, no source).
inline constexpr double reacts = 673.15, trace = 1e-3;

/// What carries the fuel of a load out of a tube with open ends: diffusion alone, or the draught that its rig
/// declares. Convection is not credited.
class OpenTube {
public:
    OpenTube(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline)
        : model_(model), rig_(rig), timeline_(timeline) {}
    bool applies() const { return !rig_.seals.gas_tight && rig_.ends.kind == check::EndsKind::open_ends; }
    /// All fuel of the load over its lower limit, at most, at any time.
    double most() const;
    /// mol/s of air that would keep it below `flammable_rest`.
    double draught() const;
    /// Greatest share of one gas in the tube, at any time, where the load alone brings it.
    double share(timeline::Index species) const;
    /// s in which a cold load's gas goes out by diffusion alone, from a full tube down to a share.
    double clears(timeline::Index species, double share) const;

private:
    double spreads(const check::Gas& gas) const; // mol/s at a share of one

    const check::Model& model_;
    const check::Rig& rig_;
    const timeline::Timeline& timeline_;
};

/// The fuel in a gas over its lower limit, each part for itself, whether the whole can burn in air or not.
double fuel_in(const check::Model& model, const check::Gas& gas);
/// K from which the fuel in a gas lights itself where it meets air: the least of its parts, of one that
/// declares nothing what a hand can bear.
double ignites_at(const check::Model& model, const check::Gas& gas);
/// Its gas sweeps a tube until it counts as clear of fuel: it is inert and brings no more than that itself.
bool inert_without_fuel(const check::Model& model, const check::Line& line);

/// A line of the rig without fuel to fill or sweep the tube through, and a flow that it takes, to be named in
/// advice: of a hand meter the one that the run sets, of another its greatest. Empty: there is none.
std::string inert_line(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline);
/// Advice for a line that falls open, or that an interlock opens, and whose meter nobody has set by then.
std::string flows_by_itself(const check::Rig& rig, const timeline::Timeline& timeline, timeline::Index line);

/// What in a state of the rig is a danger to people. `timeline`: its lines, species and what its load gives
/// off.
struct Hazards {
    const check::Model& model;
    const check::Rig& rig;
    const timeline::Timeline& timeline;
    const plant::Plant& plant;

    const check::Gas* gas(timeline::Index line) const;
    bool inert_without_fuel(timeline::Index line) const {
        return prove::inert_without_fuel(model, rig.lines[line]);
    }
    bool may_be_open(timeline::Index line, const plant::State& state, const timeline::State& discrete) const;
    /// Some of the load may be hot enough, and the line that it takes may be open.
    bool gives_off(const timeline::Evolved& gas, const plant::State& state,
                   const timeline::State& discrete) const;
    bool uses(check::Hazard hazard) const; // some used line carries it, or the load gives it off
    bool flammable(const plant::State& state, const timeline::State& discrete) const; // open, or a rest
    OpenTube open_tube() const { return {model, rig, timeline}; }
    /// Fuel over its lower limit, at most.
    double fuel(const plant::State& state, const timeline::State& discrete) const;
    bool toxic(const plant::State& state, const timeline::State& discrete) const; // open, or above its limit
    /// Greatest share of a gas in the tube; out of open ends what the load gives off goes with its draught.
    double share(timeline::Index species, const plant::State& state, const timeline::State& discrete) const;
    /// A toxic gas that nothing brings and that what is in the hot tube may become.
    struct Made {
        std::string gas, of; // "carbon_monoxide", "hydrogen and carbon_dioxide"
        double most = 0;     // share
    };
    std::optional<Made> made(const plant::State& state, const timeline::State& discrete) const;
    /// Carbon monoxide that was made while the tube was hot, over its exposure limit: what made it is swept out
    /// with it, hot or cold, so that the bound of its share holds for the rest as well.
    std::optional<Made> made_before(const plant::State& state, const timeline::State& discrete) const;
    std::optional<Made> carbon_monoxide(const plant::State& state, const timeline::State& discrete,
                                        double each) const;
    bool comes(check::Index substance) const; // a line that may be open brings it, or the load
    /// Toxic gas may come up at all.
    bool any_toxic() const;
    bool evacuated(Interval pressure, const timeline::State& discrete) const {
        return discrete.pump || pressure.lo < rig.ambient_pressure.lo() - plant::evacuated_below;
    }
    /// Why nobody may be away from a state for long; empty: no reason.
    std::string_view unattended(const plant::State& state, const timeline::State& discrete) const;
};

} // namespace athanor::prove
