#pragma once
#include "compiler/check/functions.hpp"
#include "compiler/physics/flammability.hpp"
#include "compiler/physics/substance.hpp"

#include <vector>

/// What the functions ask of a declared gas. Each refuses at the argument that names the gas, and then gives
/// NaN or null.
namespace athanor::check {

/// kg/mol.
double molar_mass(FunctionCall& call, std::size_t gas);
/// The one pure gas that it is.
const physics::Substance* substance(FunctionCall& call, std::size_t gas);
/// Pa s, of a pure gas or a mixture; `at` is the argument with the temperature.
double viscosity(FunctionCall& call, std::size_t gas, double temperature, std::size_t at);
/// Z, of a pure gas or by Amagat's rule of a mixture.
double compressibility(FunctionCall& call, std::size_t gas, double temperature, std::size_t temperature_at,
                       double pressure, std::size_t pressure_at);
/// Mol of oxygen that one mol of the gas takes to burn; its own oxygen counts.
double oxygen_demand(FunctionCall& call, std::size_t gas);

} // namespace athanor::check
