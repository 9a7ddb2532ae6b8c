#pragma once
#include "compiler/check/equipment.hpp"
#include "compiler/quantity/interval.hpp"

#include <vector>

/// Pump-down: V dp/dt = -S_eff (p - p_ult) + Q. 1/S_eff = 1/S + 1/C, C of half the work tube (its bore, empty)
/// and the pipe to the pump in series, each the sum of viscous and molecular conductance of a long round pipe
/// for air at 20 degC (the usual transition estimate):
///   C_viscous = 135 d^4 p_mean / l,  C_molecular = 12.1 d^3 / l   (cm, mbar, L/s; vacuum handbooks).
/// Q: leak plus outgassing, as a pressure times volume flow at room temperature. SI here: Pa, m3, s.
///
/// A short pipe passes less in molecular flow than the long one of that length: Clausing's factors (J. Vac.
/// Sci. Technol. 8 (1971) 636, a reprint of 1932; from memory: 0.672, 0.514, 0.357, 0.191, 0.109 for a length
/// of 0.5, 1, 2, 5, 10 diameters) lie up to 12 % under 1/(1 + 3 l / 4 d), the pipe and its mouth in series. In
/// dense gas the pipe also takes what moves the gas: with v at its beginning, isothermal,
///   p1^2 - p2^2 = p1^2 v^2 M/(R T) (f l/d + 1.5 + 2 ln(p1/p2)),
/// f the greater of 64/Re, which C_viscous holds already, and Blasius' 0.316 Re^-0.25; 1.5 for its ends (both
/// textbook; from memory). So a narrow hose holds a fast pump back even where it is not long.
///
/// In a hot tube the conductance, counted as flow at room temperature, falls as T^-1/2 in molecular and as
/// 1/(viscosity T) in viscous flow. Radiation shields stand in the way as thin orifices, 11.6 L/s for each cm2
/// that is open, one behind the other. Plugs are not in the model: a tube with plugs is not pumped.
///
/// The pressure is the one at the pump's end of the tube. In molecular flow the hot zone's is higher by up to
/// sqrt(T/T_room) (thermal transpiration; Knudsen 1910, from memory).
///
/// Bounds: the least speed takes the pressure in the pipe's middle as half of the tube's and the conductance of
/// the slowest common gas (argon); the greatest speed is the pump's own. p' falls with p, so the slowest and
/// the fastest solution bound all others. Times are tabulated once over the logarithm of pressure.
namespace athanor::plant {

double viscous_conductance(double diameter, double length, double mean_pressure); // m3/s
double molecular_conductance(double diameter, double length);                     // m3/s
double orifice_conductance(double area);                                          // m3/s, molecular, thin

class Vacuum {
public:
    Vacuum() = default;
    /// `hottest`: the least speed is that of a tube no hotter, K; the furnace's range at most.
    explicit Vacuum(const check::Rig& rig, double hottest = infinity);

    bool present() const { return present_; }
    double hottest() const { return hottest_; } // K
    /// Effective speed at the tube, m3/s, at a pressure in Pa: least and greatest.
    Interval speed(double pressure) const;
    /// Pa m3/s that every pump carries off beside leak and walls.
    double carried(double pressure) const;
    /// Where the pump ends: the least for the best rig, the greatest for the worst, Pa.
    Interval lowest() const { return lowest_; }
    /// Greatest pressure anywhere in a tube whose pump's end is at `pressure` Pa.
    double hot_pressure(double pressure, double hottest) const;
    /// Pa m3/s of air from outside and of gas from the walls.
    Interval leak() const { return leak_; }
    Interval outgassing() const { return outgassing_; }

    /// Pressure after pumping for a time a volume in m3 (as gas at room temperature), from `from` Pa.
    /// A tube that warms drives out `expands` m3/s at its pressure, and its content falls by `thinned` at most;
    /// one that cools takes in `contracts`.
    double slowest(double from, double volume, double seconds, double expands = 0, double thinned = 1) const;
    double fastest(double from, double volume, double seconds, double contracts = 0) const;
    /// s that surely suffice; infinite below what every rig reaches, and from a pressure above every table's
    /// top.
    double sufficient(double from, double to, double volume) const;

private:
    double slow_time(double pressure) const; // s per m3, down to the pressure from the table's top
    double through_pipe(double pressure, double conductance) const; // m3/s, the slowest pump's

    bool present_ = false;
    double hottest_ = infinity;
    Interval speed_, ultimate_, leak_, outgassing_, lowest_;
    double viscous_ = 0, molecular_ = 0; // m3/(s Pa) and m3/s: C = viscous * p_mean + molecular; slow side
    double shields_ = infinity;          // m3/s, all of them; slow side
    double pipe_area_ = 0, pipe_bore_ = 0, pipe_length_ = 0; // m2, m, m; 0: no pipe is declared
    double gap_ = 0.05;                                      // m, narrowest on the way to the pump
    Interval room_{293.15};                                  // K
    /// s per m3 of the slowest pump from the table's top down to the pressure, and what it removes there beside
    /// leak and walls, Pa m3/s.
    struct Knot {
        double pressure = 0, time = 0, removal = 0;
    };
    std::vector<Knot>::const_iterator knot_below(double pressure) const;
    std::vector<Knot> knots_; // falling pressure
};

} // namespace athanor::plant
