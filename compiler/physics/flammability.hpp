#pragma once
#include <span>

/// Flammable gases and mixtures in air. Shares are mole fractions, temperatures K, heats J/mol.
namespace athanor::physics {

/// A part of a mixture, as ISO 10156 sees it.
struct Component {
    double share = 0;
    bool fuel = false;
    double lower = 0, upper = 0; // fuel: limits in air
    double threshold = 0;        // fuel: Tci, the greatest share in nitrogen that does not burn in air
    double equivalence = 1;      // others: Kk, nitrogen = 1
};

/// Le Chatelier: L = sum x / sum (x/L), of the fuels alone. Infinite without fuel.
double le_chatelier_lower(std::span<const Component> parts);
/// ISO 10156:2017: sum of A'/Tci, A' = A / (sum A + sum Kk B). Above 1 the mixture burns in air. For mixtures
/// without oxidiser, at ambient temperature: no rule for a furnace.
double flammability_sum(std::span<const Component> parts);
/// Limits of the whole mixture in air. Lower: Le Chatelier corrected for the inert parts as in ISO 10156:2017,
/// L = 1 / sum(z/(f L)), f = (1 - L' - (1-K)(B/F) L') / (1 - L'). Upper: without the correction, at most 1.
double mixture_lower_limit(std::span<const Component> parts);
double mixture_upper_limit(std::span<const Component> parts);
/// The greatest share of a fuel in an inert gas that ISO 10156 lets pass: K T / (1 - T + K T).
double greatest_fuel(double threshold, double equivalence);

/// Range of the two below: 20 degC to 400 degC.
inline constexpr double hottest_limit = 673.15;
/// Limits at a temperature as factors of those at 20 degC; the factor of the lower one may reach zero. `heat`:
/// net heat of combustion, 0 when not known. Lower: the lesser of the line to zero at 880 degC (the lower end
/// of 900 +/- 20 degC that a test of Burgess & Wheeler's law found for hydrogen, methane, methanol and
/// formaldehyde; abstract at m.mathnet.ru/eng/fgv985) and Burgess-Wheeler as modified by Zabetakis, L - 0.75/dH
/// (t - 25) (US Bureau of Mines Bulletin 627, from memory). Upper: the greater of the latter's two forms.
double lower_limit_factor(double limit, double heat, double temperature);
double upper_limit_factor(double limit, double heat, double temperature);
/// Hydrogen departs from both laws; measured by Schroeder & Holtappels (BAM, 2005), figures from
/// memory: 3.9, 3.4, 2.9, 2.1, 1.5 % and 75.2, 77.6, 81.3, 83.9, 87.6 % at 20, 100, 200, 300, 400 degC,
/// straight between. As factors; no lower limit that is above what was measured when hot, whatever `limit` (a
/// fraction) stands for at 20 degC.
double hydrogen_lower_factor(double limit, double temperature);
double hydrogen_upper_factor(double temperature);

/// Share of a fuel in air that burns completely: 1 / (1 + demand / 0.2095).
double stoichiometric_share(double oxygen_demand);
/// Air (mol/s) that burns a flow of fuel (mol/s), with an excess as a share.
double air_demand(double flow, double oxygen_demand, double excess);

} // namespace athanor::physics
