#pragma once

/// Heat and what it does to tubes. SI.
namespace athanor::physics {

/// Grey body of emissivity e in black surroundings: e sigma A (T4 - Ta4), W.
double radiated_power(double area, double emissivity, double temperature, double surroundings);

/// What a tube is made of.
struct Wall {
    double modulus, poisson, expansion, conductivity, density, heat_capacity;
    double diffusivity() const { return conductivity / (density * heat_capacity); }
};
/// Hollow cylinder heated from outside at a steady rate (K/s), bore adiabatic, quasi-steady (after about half
/// of wall^2/diffusivity): T(b) - T(a) = (rate/4 kappa) [b2 - a2 - 2 a2 ln(b/a)] (Carslaw & Jaeger, Conduction
/// of Heat in Solids, ch. 7, from memory).
double wall_difference(double outer_diameter, double wall, double rate, double diffusivity);
/// Thermal stress at the surfaces far from the ends, E alpha/(1-nu) (T_mean - T_surface): tension positive
/// (Timoshenko & Goodier, Theory of Elasticity, ch. 13, from memory). Ends, clamps and jets of gas stress a
/// tube far more.
double outer_stress(const Wall& wall, double outer_diameter, double thickness, double rate);
double inner_stress(const Wall& wall, double outer_diameter, double thickness, double rate);
/// First parameter of thermal shock, R = sigma (1-nu) / (E alpha), K (Kingery, Bowen & Uhlmann, Introduction to
/// Ceramics, ch. 16, from memory).
double thermal_shock(double strength, double poisson, double modulus, double expansion);

/// Greatest hoop stress of a thick tube (Lame), at the bore: inner overpressure p (b2+a2)/(b2-a2), tension;
/// outer overpressure (vacuum inside) 2 p b2/(b2-a2), compression, here positive. No buckling is considered.
double hoop_stress_inside(double outer_diameter, double wall, double overpressure);
double hoop_stress_outside(double outer_diameter, double wall, double overpressure);

/// Pa outside above inside at which a round tube of mean diameter D and wall t collapses, the greater of two
/// elastic forms. A long one: 2 E/(1-nu2) (t/D)3 (Bresse, Bryan; Timoshenko & Gere, Theory of Elastic
/// Stability, ch. 7, from memory). One whose ends are held round at a distance L: 2.42 E (t/D)^2.5 /
/// [(1-nu2)^0.75 (L/D - 0.45 (t/D)^0.5)] (Windenburg & Trilling, Trans. ASME 56 (1934) 819, from memory);
/// without bound where L is too short for it. No wall is quite round: ask for a multiple.
double collapse_pressure(double modulus, double poisson, double outer_diameter, double wall, double length);

} // namespace athanor::physics
