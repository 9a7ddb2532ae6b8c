#pragma once
#include "compiler/check/model.hpp"
#include "compiler/plant/plant.hpp"
#include "compiler/timeline/timeline.hpp"

#include <algorithm>
#include <array>
#include <cstddef>
#include <span>
#include <string>
#include <vector>

/// What flows and what it is made of.
namespace athanor::plant {

/// Gas that flows into the tube through its lines. It refers to itself or to its `Substances`: not copied.
struct Inlet {
    Interval flow;      // mol/s, meters' errors included; gas from the load, from none to the greatest
    double evolved = 0; // mol/s of it, greatest, that the load gives off: no supply's pressure bounds it
    bool any() const { return flow.hi > 0; }
    /// Mole fraction of a species in what flows, once something can flow.
    Interval part(std::size_t species) const { return parts->begin()[species]; }

    Inlet() = default;
    Inlet(const Inlet&) = delete;
    Inlet& operator=(const Inlet&) = delete;

private:
    friend class Substances;
    friend class Atmosphere;
    const Composition* parts = nullptr;
    Composition mixed; // what `parts` is, where no line has it
    /// What the contents tend to while they do not contract; empty until it is asked.
    mutable Composition at_rest;
};

class Substances {
public:
    Substances() = default;
    Substances(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline);

    std::size_t count() const { return count_; }
    /// Room air at ambient, dry to saturated.
    const Composition& air() const { return air_; }
    /// mol/s at a set flow in mol/s.
    Interval true_flow(timeline::Index line, double set) const {
        if (set <= 0 || line >= lines_.size()) return 0;
        const Line& l = lines_[line];
        const double error = set * l.of_reading + l.of_full;
        return {std::max(0.0, set - error), set + error};
    }
    /// What the open lines let in, and what the load gives off, into a new `inlet`. `measured`: the temperature
    /// that thresholds see, K; undecided ones flow from none to full. `hottest`: of the load, K.
    ///
    /// A bubbler adds x = saturation * p_sat(bath) / p to the gas of its line, which grows by 1/(1-x); p is the
    /// tube's pressure and at most `head` more. Where more water comes than the coldest wetted part lets pass,
    /// the rest may condense there: bounds hold with and without it.
    ///
    /// Gas from the load spreads into the share of the flow that mixing lets it reach; in the load itself it
    /// may stand pure.
    void inlet(const timeline::State& state, Interval measured, double hottest, Inlet& inlet) const;
    /// mol/s that one line lets in, with what its bubbler adds.
    Interval flow(std::size_t line, const timeline::State& state, Interval measured) const;
    /// Share of water that the bubbler adds at a bath temperature in K: what surely passes, and the most.
    Interval moisture(double bath) const;
    /// Greatest vapour pressure over the bath, Pa.
    double vapour(double bath) const;
    /// Composition of one line's gas.
    const Composition& line(std::size_t index) const { return lines_[index].parts; }

    /// 1 / lower limit in air of a flammable species, 0 for others.
    double flammable(std::size_t species) const { return inverse_limit_[species]; }
    bool any_flammable() const { return any_flammable_; }
    /// Share of gases that feed a fire as oxygen does in what flows in.
    Interval oxidising(const Inlet& inlet) const;
    /// Most of a species that can be there when the tube is opened: opening on more fuel is refused
    /// (`opening_tube`), but for fuel of a gas that is not flammable when cold.
    double opened_on(std::size_t species) const { return opened_on_[species]; }
    std::size_t water() const { return water_; }  // max_species: not in the tube
    double heaviest() const { return heaviest_; } // kg/mol of a gas that may be in the tube
    /// mol/(m s): diffusivity of room air in the lightest gas that may be in the tube times density, at the
    /// warmest room. Whatever the pressure: one falls as the other grows.
    double diffusion() const { return diffusion_; }

    const std::vector<std::string>& names() const { return names_; }
    const std::string& line_gas(std::size_t index) const { return lines_[index].gas; }

private:
    /// What a line's meter and its thresholds let through.
    Interval set_flow(std::size_t line, const timeline::State& state, Interval measured) const {
        const Interval flow = !state.between.empty() ? state.between[line]
                              : state.open[line]
                                  ? true_flow(static_cast<timeline::Index>(line), state.flows[line])
                                  : Interval{0};
        return state.armed == 0 ? flow : switched(flow, line, state, measured);
    }
    Interval switched(Interval flow, std::size_t line, const timeline::State& state, Interval measured) const;
    bool bubbles(std::size_t line, const timeline::State& state, Interval flow) const {
        return state.bubbler && line == bubbler_line_ && water_ < count_ && flow.hi > 0;
    }
    Interval added_water(const timeline::State& state) const;
    struct Source {
        const Composition* parts; // null: the pure gas of `pure`
        std::size_t pure;
        double lo, hi; // mol/s
    };
    void mix(std::span<const Source> sources, Composition& mixed) const;

    struct Line {
        std::string gas;
        Composition parts;
        double of_reading = 0, of_full = 0; // of reading: share; of full scale: mol/s
    };
    std::size_t count_ = 0, water_ = max_species;
    Composition air_;
    std::vector<Line> lines_;
    std::vector<std::string> names_;
    const std::vector<timeline::Threshold>& thresholds_; // the timeline's: it may gain some
    std::vector<timeline::Evolved> evolved_;
    timeline::Index bubbler_line_ = timeline::none;
    double bath_error_ = 0, coldest_ = 0, mixing_ = 0.5; // K, K, share
    Interval saturation_{0, 1}, pressure_;               // share; Pa before the bubbler
    std::array<double, max_species> inverse_limit_{}, opened_on_{};
    Filled<std::size_t, max_species> oxidisers_; // species
    double heaviest_ = 0.02896;                  // air (dry, common practice)
    double diffusion_ = 0;
    bool any_flammable_ = false;
};

} // namespace athanor::plant
