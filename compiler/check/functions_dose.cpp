// Functions of heat over time: diffusion, tempering, creep, sintering.
#include "compiler/check/function_rows.hpp"
#include "compiler/physics/dose.hpp"

#include <cmath>

namespace athanor::check {

using namespace rows;

namespace {

constexpr std::string_view subject = "dose";
constexpr std::string_view callister = "Callister, Materials Science and Engineering, ch. 5";
constexpr std::string_view hollomon = "Hollomon & Jaffe, Trans. AIME 162 (1945) 223";
constexpr std::string_view su = "Su & Johnson, J. Am. Ceram. Soc. 79 (1996) 3211 (from memory)";

FunctionParameter temperature(std::string_view name = "temperature") {
    return celsius(name, 0, 2700);
}
FunctionParameter activation() {
    // From 30 kJ/mol on the work of sintering rises with temperature throughout.
    return quantity("activation", derived(joule_per_mole), 3e4, 2e6);
}
FunctionParameter d0() {
    FunctionParameter p = quantity("d0", derived(square_metre_per_second), 0, 1);
    p.above = true;
    return p;
}
FunctionParameter time() {
    return quantity("time", Kind::time, 1, infinity);
}
FunctionParameter constant() {
    return otherwise(quantity("constant", Kind::count, 5, 60), 20);
}
FunctionParameter rate() {
    return positive("rate", Kind::rate);
}

} // namespace

void add_dose_functions(Functions& into) {
    into.push_back({"diffusion_coefficient",
                    subject,
                    {d0(), activation(), temperature()},
                    0,
                    derived(square_metre_per_second),
                    [](FunctionCall& c) { return physics::diffusion_coefficient(c[0], c[1], c[2]); },
                    "D0 exp(-Q/(R T))",
                    callister,
                    "diffusion_coefficient(2.3e-5 m2/s, 148 kJ/mol, 1000 degC)",
                    {}});
    into.push_back({"diffusion_length",
                    subject,
                    {d0(), activation(), temperature(), time()},
                    0,
                    type_of(Kind::length),
                    [](FunctionCall& c) { return physics::diffusion_length(c[0], c[1], c[2], c[3]); },
                    "sqrt(D t) of a hold; some texts take twice that",
                    callister,
                    "diffusion_length(2.3e-5 m2/s, 148 kJ/mol, 1000 degC, 4 h)",
                    {}});
    into.push_back({"ramp_diffusion_length",
                    subject,
                    {d0(), activation(), temperature("initial"), temperature("final"), rate()},
                    0,
                    type_of(Kind::length),
                    [](FunctionCall& c) {
                        if (c[3] < c[2])
                            return c.refuse(3, "it is below `initial`; a cooling ramp does the same upwards");
                        return std::sqrt(c[0] * physics::ramp_dose(c[1], c[2], c[3], c[4]));
                    },
                    "sqrt of the integral of D dt over a straight ramp",
                    callister,
                    "ramp_diffusion_length(2.3e-5 m2/s, 148 kJ/mol, 912 degC, 1000 degC, 10 K/min)",
                    {}});
    into.push_back({"equivalent_time",
                    subject,
                    {activation(), temperature(), time(), temperature("other")},
                    0,
                    type_of(Kind::time),
                    [](FunctionCall& c) { return physics::equivalent_time(c[0], c[1], c[2], c[3]); },
                    "time at another temperature that does the same: t exp(Q/R (1/T2 - 1/T1))",
                    callister,
                    "equivalent_time(148 kJ/mol, 1000 degC, 1 h, 950 degC)",
                    {}});
    into.push_back(
        {"hollomon_jaffe",
         subject,
         {temperature(), time(), constant()},
         0,
         type_of(Kind::count),
         [](FunctionCall& c) { return physics::time_temperature_parameter(c[0], c[1], c[2]); },
         "tempering parameter T (C + log10 t), T in K and t in hours: never compare with one of minutes",
         hollomon,
         "hollomon_jaffe(600 degC, 2 h)",
         {}});
    into.push_back({"hollomon_jaffe_time",
                    subject,
                    {quantity("parameter", Kind::count, 1000, 1e5), temperature(), constant()},
                    0,
                    type_of(Kind::time),
                    [](FunctionCall& c) { return physics::parameter_time(c[0], c[1], c[2]); },
                    "time at a temperature that gives the tempering parameter",
                    hollomon,
                    "hollomon_jaffe_time(17725.8, 580 degC)",
                    {}});
    into.push_back({"larson_miller",
                    subject,
                    {temperature(), time(), constant()},
                    0,
                    type_of(Kind::count),
                    [](FunctionCall& c) { return physics::time_temperature_parameter(c[0], c[1], c[2]); },
                    "creep parameter T (C + log10 t), T in K and t in hours",
                    "Larson & Miller, Trans. ASME 74 (1952) 765",
                    "larson_miller(800 degC, 232.9 h)",
                    {}});
    into.push_back({"larson_miller_time",
                    subject,
                    {quantity("parameter", Kind::count, 1000, 1e5), temperature(), constant()},
                    0,
                    type_of(Kind::time),
                    [](FunctionCall& c) { return physics::parameter_time(c[0], c[1], c[2]); },
                    "time to rupture at a temperature from the creep parameter",
                    "Larson & Miller, Trans. ASME 74 (1952) 765",
                    "larson_miller_time(24000, 800 degC)",
                    {}});
    into.push_back(
        {"sintering_work",
         subject,
         {activation(), temperature(), time()},
         0,
         derived(second_per_kelvin),
         [](FunctionCall& c) { return physics::sintering_work(c[0], c[1], c[2]); },
         "work of sintering of a hold, t/T exp(-Q/(R T)) (master sintering curve); Q belongs to the powder",
         su,
         "sintering_work(440 kJ/mol, 1400 degC, 2 h)",
         {}});
    into.push_back({"ramp_sintering_work",
                    subject,
                    {activation(), temperature("initial"), temperature("final"), rate()},
                    0,
                    derived(second_per_kelvin),
                    [](FunctionCall& c) {
                        if (c[2] < c[1])
                            return c.refuse(2, "it is below `initial`; a cooling ramp does the same upwards");
                        return physics::sintering_work_of_ramp(c[0], c[1], c[2], c[3]);
                    },
                    "work of sintering of a straight ramp",
                    su,
                    "ramp_sintering_work(440 kJ/mol, 20 degC, 1400 degC, 10 K/min)",
                    {}});
}

} // namespace athanor::check
