#pragma once
#include "compiler/quantity/dimension.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace athanor {

/// What a value is. Several kinds share one dimension (temperature and difference, flow of volume and
/// pumping speed); the kind keeps them apart. `derived` is any other product or quotient of quantities.
enum class Kind : std::uint8_t {
    poison, // an error was reported for this value; every later check stays silent
    boolean,
    text,
    gas,
    count,
    fraction,
    temperature,
    difference,
    rate,
    time,
    pressure,
    overpressure,
    flow,
    volume_flow,
    length,
    area,
    volume,
    mass,
    power,
    energy,
    leak_rate,
    pumping_speed,
    conductance,
    dew_point,
    frequency,
    molar_mass,
    density,
    stress,
    conductivity,
    heat_capacity,
    expansivity,
    outgassing,
    voltage,
    derived
};

struct Type {
    Kind kind = Kind::poison;
    Dimension dimension{};

    constexpr bool operator==(const Type&) const = default;
    constexpr bool poison() const { return kind == Kind::poison; }
    constexpr bool quantity() const { return kind > Kind::gas; }
};

/// A point on a scale whose zero is chosen: differences have a meaning, sums and products have none.
constexpr bool point(Kind kind) {
    return kind == Kind::temperature || kind == Kind::dew_point;
}
constexpr bool point(Type type) {
    return point(type.kind);
}

/// None for what has no dimension, and for `derived`, which may have any.
constexpr Dimension dimension_of(Kind kind) {
    switch (kind) {
    case Kind::poison:
    case Kind::boolean:
    case Kind::text:
    case Kind::gas:
    case Kind::count:
    case Kind::fraction:
    case Kind::derived: return {};
    case Kind::temperature:
    case Kind::difference:
    case Kind::dew_point: return {0, 0, 0, 1};
    case Kind::rate: return {0, 0, -1, 1};
    case Kind::time: return {0, 0, 1};
    case Kind::pressure:
    case Kind::overpressure:
    case Kind::stress: return {-1, 1, -2};
    case Kind::flow: return {0, 0, -1, 0, 1};
    case Kind::volume_flow:
    case Kind::pumping_speed:
    case Kind::conductance: return {3, 0, -1};
    case Kind::length: return {1};
    case Kind::area: return {2};
    case Kind::volume: return {3};
    case Kind::mass: return {0, 1};
    case Kind::power:
    case Kind::leak_rate: return {2, 1, -3};
    case Kind::energy: return {2, 1, -2};
    case Kind::frequency: return {0, 0, -1};
    case Kind::molar_mass: return {0, 1, 0, 0, -1};
    case Kind::density: return {-3, 1};
    case Kind::conductivity: return {1, 1, -3, -1};
    case Kind::heat_capacity: return {2, 0, -2, -1};
    case Kind::expansivity: return {0, 0, 0, -1};
    case Kind::outgassing: return {0, 1, -3};
    case Kind::voltage: return {2, 1, -3, 0, 0, -1};
    }
    return {};
}

/// The named type ("temperature", "flow", …) of the language, with its dimension.
constexpr Type type_of(Kind kind) {
    return {kind, dimension_of(kind)};
}
std::optional<Type> type_named(std::string_view name);
std::string_view name(Kind kind);
/// "a temperature", "a rate (temperature per time)", "kg m^-1 s^-2" for derived ones; used in messages.
std::string describe(Type type);
/// Every kind that a recipe can name as a type, in the order of the reference.
const std::vector<Kind>& named_kinds();

// --- the algebra of kinds; nullopt when the operation has no meaning ---------------------------------
/// temperature - temperature = difference; temperature + difference = temperature; pressure + pressure =
/// pressure; overpressure and pressure never mix; otherwise both sides must have the same type. A dew point
/// counts as a temperature; a `derived` side takes the other side's kind. A count and a fraction never mix.
std::optional<Type> add(Type a, Type b);
std::optional<Type> subtract(Type a, Type b);
/// Products and quotients take the one named kind with that dimension where there is exactly one
/// (difference / time = rate, flow * time = derived amount), else `derived`. Siblings count as one, the first
/// wins (volume / time = volume_flow); absolute temperatures, dew points and overpressures never result.
/// A factor without dimension leaves the other's kind; a ratio is `derived`. A temperature is no factor:
/// nullopt.
std::optional<Type> multiply(Type a, Type b);
std::optional<Type> divide(Type a, Type b);
std::optional<Type> negate(Type a);
/// May a value of type `from` stand where `to` is expected? Equal types, or `derived`/sibling kinds of equal
/// dimension where no meaning is lost (volume_flow, pumping_speed, conductance; pressure and stress;
/// temperature and dew_point). Never from or to overpressure, never count to fraction or difference to point.
bool converts(Type from, Type to);
bool comparable(Type a, Type b);

} // namespace athanor
