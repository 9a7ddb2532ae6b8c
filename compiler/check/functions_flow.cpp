// Functions of flowing gas: amounts and volumes, meters, density, viscosity, diffusion.
#include "compiler/check/function_rows.hpp"
#include "compiler/check/gas_properties.hpp"
#include "compiler/physics/transport.hpp"

#include <fmt/format.h>

namespace athanor::check {

using namespace rows;

namespace {

constexpr std::string_view subject = "flow";

FunctionParameter temperature(double least = -200, double most = 3000) {
    return celsius("temperature", least, most);
}
FunctionParameter pressure() {
    return positive("pressure", Kind::pressure, 10 * physics::bar);
}

/// The factor of a thermal meter; NaN after a refusal.
double factor(FunctionCall& c, std::size_t i) {
    const Gas& gas = c.gas(i);
    if (gas.meter_factor.given) return gas.meter_factor.value.middle();
    if (gas.broken) return c.silent();
    return c.refuse(i, fmt::format("`{}` declares no `meter_factor`", gas.name));
}

double pair_diffusivity(FunctionCall& c, std::size_t a, std::size_t b, double t, double p) {
    const physics::Substance* x = substance(c, a);
    const physics::Substance* y = substance(c, b);
    if (x == nullptr || y == nullptr) return std::numeric_limits<double>::quiet_NaN();
    if (x == y) return c.refuse(b, "two different gases are due: the equation is for one in another");
    return physics::diffusivity(t, p, molar_mass(c, a), x->diffusion_volume, molar_mass(c, b),
                                y->diffusion_volume);
}

} // namespace

void add_flow_functions(Functions& into) {
    into.push_back({"actual_flow",
                    subject,
                    {not_negative("flow", Kind::flow), temperature(), pressure()},
                    0,
                    type_of(Kind::volume_flow),
                    [](FunctionCall& c) { return physics::actual_flow(c[0], c[1], c[2]); },
                    "volume that an amount of gas takes at a temperature and pressure: n R T/p",
                    "ideal gas law",
                    "actual_flow(1 slm, 900 degC, 1 atm)",
                    {}});
    into.push_back({"amount_flow",
                    subject,
                    {not_negative("flow", Kind::volume_flow), temperature(), pressure()},
                    0,
                    type_of(Kind::flow),
                    [](FunctionCall& c) { return physics::amount_flow(c[0], c[1], c[2]); },
                    "amount of gas in a volume flow at a temperature and pressure: p Q/(R T)",
                    "ideal gas law",
                    "amount_flow(1.5 L/min, 20 degC, 1 bar)",
                    {}});
    into.push_back(
        {"at_reference",
         subject,
         {not_negative("flow", Kind::volume_flow), temperature(), pressure(),
          celsius("to_temperature", -200, 3000), positive("to_pressure", Kind::pressure, 10 * physics::bar)},
         0,
         type_of(Kind::volume_flow),
         [](FunctionCall& c) { return physics::at_reference(c[0], c[1], c[2], c[3], c[4]); },
         "the same amount of gas referred to another temperature and pressure",
         "ideal gas law",
         "at_reference(1 L/min, 0 degC, 1 atm, 20 degC, 1 atm)",
         {}});
    into.push_back(
        {"thermal_meter_flow",
         subject,
         {not_negative("reading", Kind::flow), gas("calibrated_for"), gas("flowing")},
         0,
         type_of(Kind::flow),
         [](FunctionCall& c) { return physics::thermal_meter_flow(c[0], factor(c, 2), factor(c, 1)); },
         "flow of a gas through a thermal meter that was calibrated for another: reading F/F_cal",
         "declared `meter_factor`s; mixtures 1/F = sum x/F",
         "thermal_meter_flow(100 sccm, nitrogen, argon)",
         {}});
    into.push_back(
        {"rotameter_flow",
         subject,
         {not_negative("reading", Kind::volume_flow), gas("calibrated_for"), gas("flowing"),
          otherwise(temperature(-50, 200), physics::zero_celsius + 20),
          otherwise(pressure(), physics::atmosphere),
          otherwise(celsius("calibrated_temperature", -50, 200), physics::zero_celsius + 20),
          otherwise(positive("calibrated_pressure", Kind::pressure, 10 * physics::bar), physics::atmosphere)},
         0,
         type_of(Kind::volume_flow),
         [](FunctionCall& c) {
             const double calibrated = molar_mass(c, 1), flowing = molar_mass(c, 2);
             return physics::rotameter_flow(c[0], flowing, c[3], c[4], calibrated, c[5], c[6]);
         },
         "flow through a variable-area meter read for another gas, both at the scale's reference: reading "
         "sqrt(M_cal/M p/p_cal T_cal/T)",
         "VDI/VDE 3513 (from memory)",
         "rotameter_flow(1 L/min, nitrogen, hydrogen)",
         {}});
    into.push_back({"gas_density",
                    subject,
                    {gas(), temperature(), pressure()},
                    0,
                    type_of(Kind::density),
                    [](FunctionCall& c) { return physics::gas_density(c[1], c[2], molar_mass(c, 0)); },
                    "density of a gas: p M/(R T)",
                    "ideal gas law",
                    "gas_density(argon, 20 degC, 1 atm)",
                    {}});
    into.push_back({"viscosity",
                    subject,
                    {gas(), temperature()},
                    0,
                    derived(pascal_second),
                    [](FunctionCall& c) { return viscosity(c, 0, c[1], 1); },
                    "viscosity of a gas, C1 T^C2/(1 + C3/T + C4/T^2); mixtures by Wilke",
                    "Perry's Chemical Engineers' Handbook, table 2-312; Wilke, J. Chem. Phys. 18 (1950) 517",
                    "viscosity(nitrogen, 20 degC)",
                    {}});
    into.push_back({"diffusivity",
                    subject,
                    {gas(), gas("through"), temperature(-75, 2000), pressure()},
                    0,
                    derived(square_metre_per_second),
                    [](FunctionCall& c) { return pair_diffusivity(c, 0, 1, c[2], c[3]); },
                    "diffusion of one gas in another",
                    "Fuller, Schettler & Giddings 1966 (from memory: Poling, "
                    "Prausnitz & O'Connell, ch. 11)",
                    "diffusivity(oxygen, nitrogen, 20 degC, 1 atm)",
                    {}});
    into.push_back({"reynolds",
                    subject,
                    {gas(), not_negative("flow", Kind::flow), positive("bore", Kind::length), temperature()},
                    0,
                    type_of(Kind::count),
                    [](FunctionCall& c) {
                        return physics::reynolds(c[1], molar_mass(c, 0), c[2], viscosity(c, 0, c[3], 3));
                    },
                    "Reynolds number of a gas in a pipe, 4 n M/(pi d eta); laminar below about 2300",
                    "definition",
                    "reynolds(argon, 2 slm, 60 mm, 20 degC)",
                    {}});
    into.push_back({"peclet",
                    subject,
                    {not_negative("flow", Kind::volume_flow), positive("bore", Kind::length),
                     not_negative("length", Kind::length),
                     quantity("diffusivity", derived(square_metre_per_second), 1e-9, 1)},
                    0,
                    type_of(Kind::count),
                    [](FunctionCall& c) { return physics::peclet(c[0], c[1], c[2], c[3]); },
                    "Peclet number of a pipe, v L/D: flow against diffusion",
                    "definition",
                    "peclet(1 L/min, 6 mm, 1 m, 0.2 cm2/s)",
                    {}});
    into.push_back(
        {"back_diffusion",
         subject,
         {not_negative("flow", Kind::volume_flow), positive("bore", Kind::length),
          not_negative("length", Kind::length),
          quantity("diffusivity", derived(square_metre_per_second), 1e-9, 1)},
         0,
         type_of(Kind::fraction),
         [](FunctionCall& c) { return physics::back_diffusion(physics::peclet(c[0], c[1], c[2], c[3])); },
         "share of what stands outside that diffuses in through an outlet against the flow: "
         "exp(-Pe), plug flow",
         "steady convection and diffusion in one dimension",
         "back_diffusion(1 mL/min, 6 mm, 200 mm, 0.2 cm2/s)",
         {}});
}

} // namespace athanor::check
