#pragma once

/// Vacuum: leaks, pipes, pumping down. SI units; leak rates in Pa m3/s. Sources: Dushman & Lafferty, Scientific
/// Foundations of Vacuum Technique (from memory); O'Hanlon, A User's Guide to Vacuum Technology (from memory).
namespace athanor::physics {

/// Rate of rise: q = V dp/dt. A leak rises straight; what flattens is outgassing and must be left out.
double leak_from_rise(double volume, double rise, double time);

/// Mean speed of molecules, sqrt(8 R T / (pi M)), m/s.
double mean_speed(double temperature, double molar_mass);
/// Round pipe, molecular flow: (pi/12) v d3/l divided by 1 + 4 d/(3 l) for its ends. Knudsen number above 0.5.
double molecular_conductance(double bore, double length, double temperature, double molar_mass);
/// Round pipe, laminar viscous flow (Poiseuille): pi d4 pm / (128 eta l). Knudsen number below 0.01, Reynolds
/// number below 2000; end effects are left out.
double viscous_conductance(double bore, double length, double mean_pressure, double viscosity);
/// 1 / (1/a + 1/b): two conductances, or a pump's speed behind a conductance. None passes nothing.
double in_series(double a, double b);

/// Mean free path from the viscosity: (eta/p) sqrt(pi R T / (2 M)) (Maxwell; Kennard, Kinetic Theory of Gases).
double mean_free_path(double temperature, double pressure, double molar_mass, double viscosity);

/// Constant speed, no gas load: (V/S) ln((p0 - pu) / (p - pu)). `to` lies strictly between `ultimate` and
/// `from`.
double pump_down_time(double volume, double speed, double from, double to, double ultimate);
/// Pressure at which the pump carries off a gas load: q/S.
double base_pressure(double load, double speed);

} // namespace athanor::physics
