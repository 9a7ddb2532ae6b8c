#include "compiler/plant/outlet.hpp"

#include "compiler/physics/constants.hpp"
#include "compiler/plant/given.hpp"
#include "compiler/plant/pipe.hpp"

#include <cmath>
#include <numbers>

namespace athanor::plant {

Outlet::Outlet(const check::Rig& rig, Interval room, double heaviest) {
    const double d = given(rig.outlet_diameter).lo, length = given(rig.outlet_length).hi;
    const double area = 0.25 * std::numbers::pi * d * d;
    const double molar = physics::gas_constant * room.hi / rig.ambient_pressure.lo(); // m3/mol
    resistance_ = 128 * pipe::thickest * length / (std::numbers::pi * d * d * d * d) * molar;
    ends_ = pipe::of_ends * 0.5 * heaviest * molar / (area * area);
    // Where 64 / Re = blasius Re^-power.
    const double reynolds = std::pow(pipe::laminar / pipe::blasius, 1 / (1 - pipe::power));
    laminar_ = 0.25 * reynolds * std::numbers::pi * d * pipe::thickest / heaviest;
    area_per_length_ = area / length;
    const double widest = given(rig.outlet_diameter).hi;
    volume_ = 0.25 * std::numbers::pi * widest * widest * length;
}

double Outlet::turbulent(double flow) const {
    return resistance_ * laminar_ * std::pow(flow / laminar_, 2 - pipe::power);
}

} // namespace athanor::plant
