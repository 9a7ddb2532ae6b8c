#pragma once

/// Gas in a round pipe: figures that the outlet and the pump's pipe share.
namespace athanor::plant::pipe {

/// Pa s, more than argon or oxygen at 30 degC (Perry, tables 2-312 and 2-314).
inline constexpr double thickest = 2.4e-5;
/// Heads rho v^2 / 2 that its ends take: 0.5 for the sharp edge and 1 for the jet (textbook; from memory).
inline constexpr double of_ends = 1.5;
/// Friction: laminar / Re (Hagen-Poiseuille), and blasius Re^-power where that is more (Blasius, Re up to
/// 100 000; from memory).
inline constexpr double laminar = 64, blasius = 0.316, power = 0.25;

} // namespace athanor::plant::pipe
