#pragma once
#include "compiler/check/functions.hpp"
#include "compiler/physics/constants.hpp"

/// Words of the tables of functions, private to functions_*.cpp.
namespace athanor::check {

using Functions = std::vector<Function>;

void add_exchange_functions(Functions& into);     // functions_exchange.cpp
void add_flow_functions(Functions& into);         // functions_flow.cpp
void add_vacuum_functions(Functions& into);       // functions_vacuum.cpp
void add_atmosphere_functions(Functions& into);   // functions_atmosphere.cpp
void add_flammable_functions(Functions& into);    // functions_flammable.cpp
void add_cylinder_functions(Functions& into);     // functions_cylinder.cpp
void add_heat_functions(Functions& into);         // functions_heat.cpp
void add_dose_functions(Functions& into);         // functions_dose.cpp
void add_thermocouple_functions(Functions& into); // functions_thermocouple.cpp

namespace rows {

inline FunctionParameter quantity(std::string_view name, Type type, double least, double most) {
    FunctionParameter p;
    p.name = name;
    p.type = type;
    p.least = least;
    p.most = most;
    return p;
}
inline FunctionParameter quantity(std::string_view name, Kind kind, double least, double most) {
    return quantity(name, type_of(kind), least, most);
}
inline FunctionParameter positive(std::string_view name, Kind kind, double most = infinity) {
    FunctionParameter p = quantity(name, kind, 0, most);
    p.above = true;
    return p;
}
inline FunctionParameter not_negative(std::string_view name, Kind kind) {
    return quantity(name, kind, 0, infinity);
}
inline FunctionParameter share(std::string_view name) {
    return quantity(name, Kind::fraction, 0, 1);
}
inline FunctionParameter celsius(std::string_view name, double least, double most) {
    return quantity(name, Kind::temperature, least + physics::zero_celsius, most + physics::zero_celsius);
}
inline FunctionParameter word(std::string_view name, Takes takes) {
    FunctionParameter p;
    p.name = name;
    p.takes = takes;
    p.type = type_of(takes == Takes::gas ? Kind::gas : takes == Takes::text ? Kind::text : Kind::count);
    return p;
}
inline FunctionParameter gas(std::string_view name = "medium") {
    return word(name, Takes::gas);
}
inline FunctionParameter otherwise(FunctionParameter p, double value) {
    p.otherwise = value;
    return p;
}
inline FunctionParameter certain(FunctionParameter p) {
    p.certain = true;
    return p;
}
inline Type derived(Dimension dimension) {
    return {Kind::derived, dimension};
}
inline constexpr Dimension joule_per_mole{2, 1, -2, 0, -1}, mole{0, 0, 0, 0, 1},
    square_metre_per_second{2, 0, -1}, pascal_second{-1, 1, -1}, second_per_kelvin{0, 0, 1, -1},
    volt_per_kelvin{2, 1, -3, -1, 0, -1};

} // namespace rows

} // namespace athanor::check
