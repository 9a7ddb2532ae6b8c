#pragma once
#include "compiler/check/model.hpp"
#include "compiler/plant/substances.hpp"

/// Can what is in the tube burn? Limits are known at room temperature and fall as the gas gets hotter.
///
/// Lower limit: 0.9 of the declared one at 20 degC, falling in a straight line to nothing at 600 degC. That
/// lies below what was measured for hydrogen (3.9, 3.4, 2.9, 2.1, 1.5 % at 20, 100, 200, 300, 400 degC:
/// Schroeder and Holtappels, BAM, 2005; from memory), the gas whose limit falls fastest. The Burgess-Wheeler
/// law (US Bureau of Mines Bulletin 627, from memory) puts the zero near 1300 degC, other measurements near 900
/// degC: both lie above the line and are not used. Limiting oxygen follows the same line, as it is about the
/// lower limit times the oxygen that a mole of fuel takes (Crowl and Louvar, ch. 6; from memory); no table for
/// a hot tube was found. A rest of argon or helium quenches less than nitrogen: both limits are multiplied by
/// the least inert equivalence (ISO 10156) of what may be in the tube.
///
/// Above 600 degC every trace of fuel reacts where it meets oxygen, so no limit is left. There, and everywhere,
/// gas counts as harmless whose oxygen is below 1 % (what a tube is purged to before hydrogen enters: common
/// practice, trade literature on NFPA 86) or whose fuel is below a quarter of its lower limit at 20 degC
/// (common practice).
///
/// Valid up to about 2 bar; lower pressures are safer for these gases, and not credited.
namespace athanor::plant {

/// Share of a limit at 20 degC that a gas of a temperature in K is certain not to burn below.
double limit_share(double temperature);

class Ignition {
public:
    Ignition() = default;
    Ignition(const check::Model& model, const timeline::Timeline& timeline);

    /// The smaller of fuel and oxygen, each over what it takes to burn, in a gas that nowhere is hotter than
    /// `hottest` K: limits only fall with temperature. hi < 1: nothing in this gas can burn so as to matter. lo
    /// holds no careful factor: at or above 1 the gas lies over both limits that are published for room
    /// temperature.
    Interval mixture(const Composition& gas, double hottest) const;

private:
    struct Species {
        double lower_limit = 0;     // fraction; 0: no fuel
        double limiting_oxygen = 0; // fraction; 0: none is known
        bool fuel = false, oxidiser = false;
        double equivalence = 1; // Kk of an inert gas
    };
    double quenching(const Composition& gas) const;

    std::size_t count_ = 0;
    std::array<Species, max_species> species_{};
    bool any_fuel_ = false;
};

} // namespace athanor::plant
