#pragma once

/// Exchange of the gas in a volume: by flow, by evacuating and filling, by a leak, by cooling.
/// SI units. Shares are mole fractions; a mixing factor is the effective share of ideal mixing, 0 … 1
/// (ventilation handbooks use its inverse). Sources: Crowl & Louvar, Chemical Process Safety, ch. 7 (from
/// memory); NFPA 69, annex on purging (from memory).
namespace athanor::physics {

/// Well-mixed sweep: C = s + (C0 - s) exp(-K Q t / V). `flow` is the actual volume flow at the temperature and
/// pressure of the volume, m3/s. Holds while the flow is steady and the volume has no dead ends.
double swept_share(double volume, double flow, double time, double from, double mixing, double supply);
/// The time until `to` is reached. `to` lies strictly between `supply` and `from`.
double sweep_time(double volume, double flow, double from, double to, double mixing, double supply);
/// Q t / V for the same.
double sweep_volumes(double from, double to, double mixing, double supply);

/// After `cycles` of evacuating to `low` and filling to `high` (pressure purge: filling to `high` and venting
/// to `low`): s + (C0 - s) (low/high)^cycles. Both ends at one temperature, good mixing.
double diluted_share(double from, double cycles, double low, double high, double supply);
/// Whole cycles that reach `to`.
double dilution_cycles(double from, double to, double low, double high, double supply);

/// Share of oxygen in a flow of F mol/s of gas without any that a leak of q mol/s of air has joined (given as
/// Pa m3/s of air at 20 degC): 0.2095 q/(q + F), by the balance of a steady flow. A gas that brings oxygen
/// itself gains less: the leak takes its place.
double oxygen_from_leak(double leak_rate, double flow);

/// Pressure of a closed volume taken from T1 to T2, p T2/T1 (ideal gas, the whole volume at one temperature).
double sealed_pressure(double pressure, double from, double to);
/// Flow (mol/s) that keeps the pressure while the volume cools at `rate` (K/s): p V rate / (R T2).
double make_up_flow(double volume, double pressure, double temperature, double rate);

} // namespace athanor::physics
