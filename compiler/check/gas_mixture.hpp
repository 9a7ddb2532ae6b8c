#pragma once
#include "compiler/check/equipment.hpp"

#include <string>
#include <vector>

/// What a mixture is, from what its parts are. Shares are mole fractions.
namespace athanor::check {

/// Share of oxidising gas from which a line counts as oxidiser: at and above the limiting oxygen of hydrogen
/// (NFPA 69: 5.0 % of the flammability tube times 0.85) it can burn what the tube holds. Air counts.
inline constexpr double oxidiser_share = 0.0425;
/// Share of oxygen from which a gas that flows in takes no air out: a purge with it never ends under what
/// `no_inert_purge_first` allows in the tube, 1 % (common practice, no source).
inline constexpr double purging_oxygen = 0.01;
/// Share of the lower limit under which a rest of fuel counts as cleared (common practice, no source), as in
/// the standard policy.
inline constexpr double cleared_fuel = 0.25;
/// Enriched atmosphere: things burn in it that do not in air (OSHA and EIGA Doc 44/18: 23.5 %).
inline constexpr double enriched_share = 0.235;
/// Share of oxygen that people need: OSHA 29 CFR 1910.134 and EIGA Doc 44/18.
inline constexpr double breathable_share = 0.195;
/// Share up to which a gas that lights by itself counts as a trace (common practice, no source): an eighth of
/// the lowest limit of such gases, 0.8 % of diborane.
inline constexpr double pyrophoric_trace = 1e-3;
/// Share of inert gases from which a mixture counts as inert (common practice, no source).
inline constexpr double inert_share = 0.99;
/// Kk of a gas for which ISO 10156 is not known here: below the lowest that is (argon 0.55).
inline constexpr double least_inert_equivalence = 0.5;

/// ISO 10156:2017: sum of A'_i / Tci, A'_i = A_i / (sum A + sum Kk B). Above 1 the mixture is flammable in air.
/// For mixtures without an oxidiser.
double flammability_sum(const std::vector<Gas>& gases, const std::vector<std::pair<Index, Interval>>& parts);

/// Limits of the whole mixture in air: Le Chatelier on the fuels, corrected for the inert parts as in ISO
/// 10156:2017, L = 1 / sum(z_i / (f L_i)), f = (1 - L' - (1 - K) (B/F) L') / (1 - L'). Above 1: no mixture with
/// air burns.
double lower_limit(const std::vector<Gas>& gases, const std::vector<std::pair<Index, Interval>>& parts);
/// Le Chatelier without the correction, at most 1. Less accurate than the lower limit.
double upper_limit(const std::vector<Gas>& gases, const std::vector<std::pair<Index, Interval>>& parts);

/// Fills hazards and figures of a mixture from its parts.
void derive_mixture(const std::vector<Gas>& gases, Gas& mixture);

} // namespace athanor::check
