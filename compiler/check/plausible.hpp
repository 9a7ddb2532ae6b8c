#pragma once
#include "compiler/quantity/type.hpp"

#include <optional>
#include <string>
#include <string_view>

namespace athanor::check {

/// A written value that is most likely a slip of the pen, and what was probably meant.
struct Slip {
    std::string message;
    std::string repaired; // as text of the language; empty when nothing can be guessed
};

/// Few, clear cases; each is a warning, since somebody may mean it. Limits are common practice, no source.
///   temperature  3000 degC or more: one digit too many (`10500 degC` for `1050 degC`)
///   rate         more than 100 K/min, unless written per second: K/h was meant (`300 K/min`)
///                a rate per hour or day of 273 above a round number: a difference put into kelvins like a
///                temperature (`473 K/h` for 200 degC/h)
///   time         more than 60 d: a larger unit than meant (`90 d` for `90 h`)
///   pressure     10 Torr or more as the aim of a pump, written in Torr: mTorr was meant
/// `number` and `unit` as written; `si` the value; `pumped` for the aim of `evacuate`.
std::optional<Slip> slip_in(Kind kind, double si, std::string_view number, std::string_view unit, bool pumped);

} // namespace athanor::check
