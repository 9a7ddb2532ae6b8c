#pragma once

/// What heat does over time: diffusion, tempering, creep, sintering. SI; activation energies in J/mol.
namespace athanor::physics {

/// D = D0 exp(-Q/RT), m2/s.
double diffusion_coefficient(double d0, double activation, double temperature);
/// sqrt(D t), m; some texts take twice that.
double diffusion_length(double d0, double activation, double temperature, double time);
/// Integral of exp(-Q/RT) dt over a straight ramp, s; `rate` K/s, positive. To 1e-9.
double ramp_dose(double activation, double from, double to, double rate);
/// The time at `other` that does what `time` does at `temperature`: t exp[Q/R (1/T2 - 1/T1)].
double equivalent_time(double activation, double temperature, double time, double other);

/// T (C + log10 t), t in hours, T in K: Hollomon & Jaffe (Trans. AIME 162 (1945) 223) for tempering, Larson &
/// Miller (Trans. ASME 74 (1952) 765) for creep. Never compare figures of different C or unit of time.
double time_temperature_parameter(double temperature, double time, double constant);
/// Its inverse, s.
double parameter_time(double parameter, double temperature, double constant);

/// Work of sintering, integral of exp(-Q/RT)/T dt, s/K (master sintering curve: Su & Johnson, J. Am. Ceram.
/// Soc. 79 (1996) 3211). Hold, and straight ramp.
double sintering_work(double activation, double temperature, double time);
double sintering_work_of_ramp(double activation, double from, double to, double rate);

} // namespace athanor::physics
