#pragma once
#include "compiler/physics/substance.hpp"

#include <span>

/// Gases in motion: amount and volume, density, viscosity, diffusion, and what a flow carries or lets back in.
/// SI.
namespace athanor::physics {

/// Volume flow (m3/s) of an amount of gas (mol/s) at T and p: n R T/p, ideal gas.
double actual_flow(double flow, double temperature, double pressure);
/// Its inverse.
double amount_flow(double volume_flow, double temperature, double pressure);
/// p M / (R T), ideal gas: within 0.2 % of the real one for H2, N2, Ar, O2, CO near 1 bar, within 1.5 % for
/// NH3.
double gas_density(double temperature, double pressure, double molar_mass);

/// Inside the range of the fit only.
double viscosity(const ViscosityFit& fit, double temperature);
/// A part of a mixture of gases.
struct Share {
    double fraction, molar_mass, viscosity;
};
/// Wilke (J. Chem. Phys. 18 (1950) 517), as printed in Poling, Prausnitz & O'Connell, ch. 9 (from memory); a
/// few per cent, worse for hydrogen among heavy gases.
double mixture_viscosity(std::span<const Share> parts);

/// Binary diffusion, Fuller, Schettler & Giddings (1966): 0.00143 T^1.75 / (p M12^0.5 (v1^1/3 + v2^1/3)^2)
/// cm2/s, p in bar, M12 = 2 / (1/M1 + 1/M2) in g/mol (from memory: Poling, Prausnitz & O'Connell, ch. 11; about
/// 5 %). m2/s.
double diffusivity(double temperature, double pressure, double molar_mass_a, double volume_a,
                   double molar_mass_b, double volume_b);

/// Re = 4 n M / (pi d eta); laminar in a pipe below about 2300.
double reynolds(double flow, double molar_mass, double bore, double viscosity);
/// Pe = v L / D of a round pipe; v = Q / area.
double peclet(double volume_flow, double bore, double length, double diffusivity);
/// Share of what stands outside that diffuses in against the flow: exp(-Pe) (steady one-dimensional convection
/// and diffusion without a sink: c' D = v c). Plug flow: a parabolic profile lets more in near the wall.
double back_diffusion(double peclet);

/// Thermal meter: reading times F of the flowing gas over F of the gas it was calibrated for (nitrogen = 1).
/// Factors differ by design of the meter.
double thermal_meter_flow(double reading, double factor, double calibrated_factor);
/// Variable-area meter: reading times sqrt(M_cal/M) sqrt(p/p_cal) sqrt(T_cal/T), both volumes referred to the
/// same reference condition (VDI/VDE 3513, from memory). Buoyancy of the float and viscosity must be
/// negligible.
double rotameter_flow(double reading, double molar_mass, double temperature, double pressure,
                      double calibrated_molar_mass, double calibrated_temperature, double calibrated_pressure);
/// The same amount of gas at another reference condition: Q (p1/p2) (T2/T1), ideal gas.
double at_reference(double volume_flow, double temperature, double pressure, double to_temperature,
                    double to_pressure);

} // namespace athanor::physics
