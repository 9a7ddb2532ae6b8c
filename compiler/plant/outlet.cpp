#include "compiler/plant/outlet.hpp"

#include "compiler/physics/constants.hpp"
#include "compiler/plant/given.hpp"

#include <cmath>
#include <numbers>

namespace athanor::plant {

namespace {

/// Pa s, more than argon or oxygen at 30 degC (Perry, tables 2-312 and 2-314).
constexpr double thickest = 2.4e-5;
constexpr double of_ends = 1.5;
constexpr double blasius = 0.316, power = 0.25; // f = blasius Re^-power

} // namespace

Outlet::Outlet(const check::Rig& rig, Interval room, double heaviest) {
    const double d = given(rig.outlet_diameter).lo, length = given(rig.outlet_length).hi;
    const double area = 0.25 * std::numbers::pi * d * d;
    const double molar = physics::gas_constant * room.hi / rig.ambient_pressure.lo(); // m3/mol
    resistance_ = 128 * thickest * length / (std::numbers::pi * d * d * d * d) * molar;
    ends_ = of_ends * 0.5 * heaviest * molar / (area * area);
    // Where 64 / Re = blasius Re^-power.
    const double reynolds = std::pow(64 / blasius, 1 / (1 - power));
    laminar_ = 0.25 * reynolds * std::numbers::pi * d * thickest / heaviest;
    area_per_length_ = area / length;
}

double Outlet::turbulent(double flow) const {
    return resistance_ * laminar_ * std::pow(flow / laminar_, 2 - power);
}

} // namespace athanor::plant
