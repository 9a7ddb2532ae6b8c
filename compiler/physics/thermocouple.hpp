#pragma once
#include <optional>
#include <string_view>

/// Voltage of thermocouples by the reference functions of ITS-90 (thermocouples.def). K and V; reference
/// junction at 0 degC unless said otherwise.
namespace athanor::physics {

enum class Couple : unsigned char { k, n, s, r, b };
/// "type_k" … "type_b"; nullopt for a type whose function is not known here.
std::optional<Couple> couple_named(std::string_view name);

/// Range of the reference function, K.
double coldest(Couple couple);
double hottest(Couple couple);

/// V, inside the range.
double emf(Couple couple, double temperature);
/// dE/dT, V/K.
double seebeck(Couple couple, double temperature);
/// Below it one voltage has two temperatures: type B has its minimum at 21.02 degC. Elsewhere the range's end.
double coldest_inverse(Couple couple);
/// The temperature of a voltage between those at `coldest_inverse` and `hottest`: the reference function
/// inverted, to 1e-9 K.
double temperature_of(Couple couple, double volts);

} // namespace athanor::physics
