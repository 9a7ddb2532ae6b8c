#pragma once
#include <cstdint>
#include <string>

namespace athanor {

/// Exponents of the SI base units that furnaces need. Amount of substance is its own base,
/// so that a flow of gas (mol/s) can never pass for a flow of volume (m3/s).
struct Dimension {
    std::int8_t length = 0, mass = 0, time = 0, temperature = 0, amount = 0, current = 0;

    constexpr bool operator==(const Dimension&) const = default;
    constexpr bool none() const { return *this == Dimension{}; }
    constexpr Dimension operator*(Dimension o) const {
        return {add(length, o.length),           add(mass, o.mass),     add(time, o.time),
                add(temperature, o.temperature), add(amount, o.amount), add(current, o.current)};
    }
    constexpr Dimension inverse() const {
        return {add(0, -length),      add(0, -mass),   add(0, -time),
                add(0, -temperature), add(0, -amount), add(0, -current)};
    }
    constexpr Dimension operator/(Dimension o) const { return *this * o.inverse(); }

private:
    static constexpr std::int8_t add(int a, int b) { return static_cast<std::int8_t>(a + b); }
};

/// "kg m^-1 s^-2", in the order kg m s K mol A; "1" when there is none.
std::string to_text(Dimension dimension);

} // namespace athanor
