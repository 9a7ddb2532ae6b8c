#pragma once
#include "compiler/check/equipment.hpp"
#include "compiler/quantity/interval.hpp"

/// What the outlet's flow resistance adds to the room's pressure: a round pipe, gas at room temperature and at
/// the pressure behind it (thinner than inside, so faster).
///   laminar: 128 eta L Q / (pi d^4) (Hagen-Poiseuille); turbulent: 0.316 Re^-0.25 (L/d) rho v^2 / 2 (Blasius,
///   Re up to 100 000; from memory); the greater of both, as the viscosity is the greatest and the gas the
///   heaviest;
///   its ends: 0.5 for the sharp edge and 1 for the jet, of rho v^2 / 2 (textbook; from memory).
namespace athanor::plant {

class Outlet {
public:
    Outlet() = default;
    /// `room`: K; `heaviest`: kg/mol of a gas that may leave.
    Outlet(const check::Rig& rig, Interval room, double heaviest);

    /// Pa, greatest, at mol/s.
    double drop(double flow) const {
        return ends_ * flow * flow + (flow <= laminar_ ? resistance_ * flow : turbulent(flow));
    }
    /// m3, greatest.
    double volume() const { return volume_; }
    /// m: what diffusivity times density is multiplied with.
    double area_per_length() const { return area_per_length_; }

private:
    double turbulent(double flow) const;

    double resistance_ = 0;      // Pa s/mol
    double ends_ = 0;            // Pa s2/mol2
    double laminar_ = infinity;  // mol/s
    double area_per_length_ = 0; // m
    double volume_ = 0;          // m3
};

} // namespace athanor::plant
