// Functions of vacuum: leaks, pipes, pumping down.
#include "compiler/check/function_rows.hpp"
#include "compiler/check/gas_properties.hpp"
#include "compiler/physics/vacuum.hpp"

namespace athanor::check {

using namespace rows;

namespace {

constexpr std::string_view subject = "vacuum";
constexpr std::string_view dushman =
    "Dushman & Lafferty, Scientific Foundations of Vacuum Technique (from memory)";

FunctionParameter room() {
    return otherwise(celsius("temperature", -200, 2000), physics::zero_celsius + 20);
}
FunctionParameter bore() {
    return positive("bore", Kind::length);
}
FunctionParameter length() {
    return positive("length", Kind::length);
}

} // namespace

void add_vacuum_functions(Functions& into) {
    into.push_back(
        {"leak_from_rise",
         subject,
         {positive("volume", Kind::volume), not_negative("rise", Kind::pressure), positive("time", Kind::time)},
         0,
         type_of(Kind::leak_rate),
         [](FunctionCall& c) { return physics::leak_from_rise(c[0], c[1], c[2]); },
         "leak from a rate-of-rise test, V dp/dt; only while the pressure rises straight",
         dushman,
         "leak_from_rise(5 L, 0.5 mbar, 10 min)",
         {}});
    into.push_back(
        {"molecular_conductance",
         subject,
         {gas(), bore(), length(), room()},
         0,
         type_of(Kind::conductance),
         [](FunctionCall& c) { return physics::molecular_conductance(c[1], c[2], c[3], molar_mass(c, 0)); },
         "conductance of a round pipe in molecular flow, with its ends; Knudsen number above 0.5",
         dushman,
         "molecular_conductance(air, 25 mm, 1 m)",
         {}});
    into.push_back({"viscous_conductance",
                    subject,
                    {gas(), bore(), length(), positive("mean_pressure", Kind::pressure), room()},
                    0,
                    type_of(Kind::conductance),
                    [](FunctionCall& c) {
                        return physics::viscous_conductance(c[1], c[2], c[3], viscosity(c, 0, c[4], 4));
                    },
                    "conductance of a round pipe in laminar viscous flow; Knudsen number below 0.01",
                    dushman,
                    "viscous_conductance(air, 25 mm, 1 m, 1 mbar)",
                    {}});
    into.push_back(
        {"pipe_conductance",
         subject,
         {gas(), bore(), length(), positive("mean_pressure", Kind::pressure), certain(room())},
         0,
         type_of(Kind::conductance),
         [](FunctionCall& c) {
             const double molecular = physics::molecular_conductance(c[1], c[2], c[4], molar_mass(c, 0));
             return molecular + physics::viscous_conductance(c[1], c[2], c[3], viscosity(c, 0, c[4], 4));
         },
         "sum of both: the usual estimate for every regime",
         dushman,
         "pipe_conductance(air, 25 mm, 1 m, 0.01 mbar)",
         {}});
    into.push_back({"in_series",
                    subject,
                    {positive("first", Kind::conductance), positive("next", Kind::conductance)},
                    1,
                    type_of(Kind::conductance),
                    [](FunctionCall& c) {
                        double result = c[0];
                        for (std::size_t i = 1; i < c.count(); ++i) result = physics::in_series(result, c[i]);
                        return result;
                    },
                    "conductances one behind the other, or a pump's speed behind them: 1/(1/a + 1/b + …)",
                    dushman,
                    "in_series(5 L/s, 1.9 L/s)",
                    {}});
    into.push_back({"mean_free_path",
                    subject,
                    {gas(), positive("pressure", Kind::pressure), room()},
                    0,
                    type_of(Kind::length),
                    [](FunctionCall& c) {
                        return physics::mean_free_path(c[2], c[1], molar_mass(c, 0), viscosity(c, 0, c[2], 2));
                    },
                    "mean free path, from the viscosity",
                    "Kennard, Kinetic Theory of Gases (from memory)",
                    "mean_free_path(air, 1e-3 mbar)",
                    {}});
    into.push_back({"knudsen",
                    subject,
                    {gas(), positive("pressure", Kind::pressure), bore(), room()},
                    0,
                    type_of(Kind::count),
                    [](FunctionCall& c) {
                        return physics::mean_free_path(c[3], c[1], molar_mass(c, 0), viscosity(c, 0, c[3], 3)) /
                               c[2];
                    },
                    "Knudsen number, mean free path over bore: viscous below 0.01, molecular above 0.5",
                    dushman,
                    "knudsen(air, 0.1 mbar, 25 mm)",
                    {}});
    into.push_back(
        {"pump_down_time",
         subject,
         {positive("volume", Kind::volume), positive("speed", Kind::pumping_speed),
          positive("initial", Kind::pressure), positive("target", Kind::pressure),
          otherwise(not_negative("ultimate", Kind::pressure), 0)},
         0,
         type_of(Kind::time),
         [](FunctionCall& c) {
             if (c[3] >= c[2]) return c.refuse(3, "the target is not below the pressure at the start");
             if (c[3] <= c[4])
                 return c.refuse(3, "the target is not above the pump's ultimate pressure: it is never "
                                    "reached");
             return physics::pump_down_time(c[0], c[1], c[2], c[3], c[4]);
         },
         "time to pump a volume down at constant speed: V/S ln((initial - ultimate)/(target - ultimate))",
         dushman,
         "pump_down_time(5 L, 1 L/s, 1 atm, 1 mbar)",
         {}});
    into.push_back({"base_pressure",
                    subject,
                    {not_negative("load", Kind::leak_rate), positive("speed", Kind::pumping_speed)},
                    0,
                    type_of(Kind::pressure),
                    [](FunctionCall& c) { return physics::base_pressure(c[0], c[1]); },
                    "pressure at which a pump carries off a leak or what surfaces give off: q/S",
                    dushman,
                    "base_pressure(2e-5 mbar*L/s, 1 L/s)",
                    {}});
}

} // namespace athanor::check
