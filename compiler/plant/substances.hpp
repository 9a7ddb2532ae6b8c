#pragma once
#include "compiler/check/model.hpp"
#include "compiler/plant/plant.hpp"
#include "compiler/timeline/timeline.hpp"

#include <array>
#include <cstddef>
#include <string>
#include <vector>

/// What flows and what it is made of.
namespace athanor::plant {

using Composition = std::array<Interval, max_species>;

/// Gas that flows into the tube through its lines.
struct Inlet {
    Interval flow;       // mol/s, meters' errors included
    Composition parts{}; // mole fractions of what flows; unset while nothing can flow
    bool any() const { return flow.hi > 0; }
};

class Substances {
public:
    Substances() = default;
    Substances(const check::Model& model, const check::Rig& rig, const timeline::Timeline& timeline);

    std::size_t count() const { return count_; }
    /// Room air at ambient, dry to saturated.
    const Composition& air() const { return air_; }
    /// mol/s at a set flow in mol/s.
    Interval true_flow(timeline::Index line, double set) const;
    /// What the open lines let in. `measured`: the temperature that thresholds see, K; undecided ones flow from
    /// none to full.
    Inlet inlet(const timeline::State& state, Interval measured) const;
    /// Composition of one line's gas.
    const Composition& line(std::size_t index) const { return lines_[index].parts; }

    /// 1 / lower limit in air of a flammable species, 0 for others.
    double flammable(std::size_t species) const { return inverse_limit_[species]; }
    bool any_flammable() const { return any_flammable_; }
    std::size_t water() const { return water_; } // max_species: not in the tube

    const std::vector<std::string>& names() const { return names_; }
    const std::string& line_gas(std::size_t index) const { return lines_[index].gas; }

private:
    struct Line {
        std::string gas;
        Composition parts{};
        double of_reading = 0, of_full = 0; // of reading: share; of full scale: mol/s
    };
    std::size_t count_ = 0, water_ = max_species;
    Composition air_{};
    std::vector<Line> lines_;
    std::vector<std::string> names_;
    std::vector<timeline::Threshold> thresholds_;
    std::array<double, max_species> inverse_limit_{};
    bool any_flammable_ = false;
};

} // namespace athanor::plant
