#include "compiler/quantity/type.hpp"

#include <array>

namespace athanor {

namespace {

struct Description {
    Kind kind;
    std::string_view name, text;
};

// In the order of `Kind`.
constexpr std::array<Description, 34> descriptions{{
    {Kind::poison, "poison", "a value with an error"},
    {Kind::boolean, "boolean", "a yes or no"},
    {Kind::text, "text", "a text"},
    {Kind::gas, "gas", "a gas"},
    {Kind::count, "count", "a plain number"},
    {Kind::fraction, "fraction", "a fraction"},
    {Kind::temperature, "temperature", "a temperature"},
    {Kind::difference, "difference", "a difference of temperature"},
    {Kind::rate, "rate", "a rate (temperature per time)"},
    {Kind::time, "time", "a time"},
    {Kind::pressure, "pressure", "an absolute pressure"},
    {Kind::overpressure, "overpressure", "an overpressure (gauge)"},
    {Kind::flow, "flow", "a flow (amount of gas per time)"},
    {Kind::volume_flow, "volume_flow", "a volume flow (volume per time at the meter)"},
    {Kind::length, "length", "a length"},
    {Kind::area, "area", "an area"},
    {Kind::volume, "volume", "a volume"},
    {Kind::mass, "mass", "a mass"},
    {Kind::power, "power", "a power"},
    {Kind::energy, "energy", "an energy"},
    {Kind::leak_rate, "leak_rate", "a leak rate (pressure times volume per time)"},
    {Kind::pumping_speed, "pumping_speed", "a pumping speed (volume per time)"},
    {Kind::conductance, "conductance", "a conductance (volume per time)"},
    {Kind::dew_point, "dew_point", "a dew point"},
    {Kind::frequency, "frequency", "a frequency (number per time)"},
    {Kind::molar_mass, "molar_mass", "a molar mass"},
    {Kind::density, "density", "a density"},
    {Kind::stress, "stress", "a stress"},
    {Kind::conductivity, "conductivity", "a thermal conductivity"},
    {Kind::heat_capacity, "heat_capacity", "a heat capacity (energy per mass and kelvin)"},
    {Kind::expansivity, "expansivity", "an expansivity (one per kelvin)"},
    {Kind::outgassing, "outgassing", "an outgassing rate (leak rate per area)"},
    {Kind::voltage, "voltage", "a voltage"},
    {Kind::derived, "derived", "a derived quantity"},
}};

const Description& description(Kind kind) {
    return descriptions[static_cast<std::size_t>(kind)];
}

/// Kinds that differ in name only; the first of the family stands for all.
Kind family(Kind kind) {
    switch (kind) {
    case Kind::pumping_speed:
    case Kind::conductance: return Kind::volume_flow;
    case Kind::stress: return Kind::pressure;
    case Kind::dew_point: return Kind::temperature;
    default: return kind;
    }
}

/// The kind that a product of this dimension takes.
Type product(Dimension dimension) {
    if (dimension.none()) return {Kind::derived, {}};
    Kind found = Kind::derived;
    for (const Description& d : descriptions) {
        if (d.kind < Kind::count || d.kind == Kind::derived || point(d.kind) || d.kind == Kind::overpressure)
            continue;
        if (dimension_of(d.kind) != dimension || family(d.kind) == found) continue;
        if (found != Kind::derived) return {Kind::derived, dimension}; // power and leak rate
        found = family(d.kind);
    }
    return {found, dimension};
}

bool any_poison(Type a, Type b) {
    return a.poison() || b.poison();
}

/// Sum or difference of two quantities that are no points; both signs have the same type.
std::optional<Type> sum(Type a, Type b) {
    if (a.dimension != b.dimension) return std::nullopt;
    if (a == b) return a;
    if (a.kind == Kind::overpressure || b.kind == Kind::overpressure) return std::nullopt;
    if (a.kind == Kind::derived) return b;
    if (b.kind == Kind::derived) return a;
    if (family(a.kind) == family(b.kind)) return type_of(family(a.kind));
    return std::nullopt;
}

} // namespace

std::string_view name(Kind kind) {
    return description(kind).name;
}

const std::vector<Kind>& named_kinds() {
    static const std::vector<Kind> kinds{
        Kind::temperature,  Kind::difference,    Kind::rate,         Kind::time,          Kind::pressure,
        Kind::overpressure, Kind::flow,          Kind::volume_flow,  Kind::fraction,      Kind::length,
        Kind::area,         Kind::volume,        Kind::mass,         Kind::power,         Kind::energy,
        Kind::leak_rate,    Kind::pumping_speed, Kind::conductance,  Kind::dew_point,     Kind::count,
        Kind::text,         Kind::boolean,       Kind::gas,          Kind::frequency,     Kind::molar_mass,
        Kind::density,      Kind::stress,        Kind::conductivity, Kind::heat_capacity, Kind::expansivity,
        Kind::outgassing,   Kind::voltage};
    return kinds;
}

std::optional<Type> type_named(std::string_view name_) {
    for (Kind kind : named_kinds())
        if (name(kind) == name_) return type_of(kind);
    return std::nullopt;
}

std::string describe(Type type) {
    if (type.kind != Kind::derived) return std::string(description(type.kind).text);
    return type.dimension.none() ? "a plain number" : to_text(type.dimension);
}

std::optional<Type> add(Type a, Type b) {
    if (any_poison(a, b)) return Type{};
    if (!a.quantity() || !b.quantity()) return std::nullopt;
    if (point(a.kind) && b.kind == Kind::difference) return a;
    if (point(b.kind) && a.kind == Kind::difference) return b;
    if (point(a.kind) || point(b.kind)) return std::nullopt;
    return sum(a, b);
}

std::optional<Type> subtract(Type a, Type b) {
    if (any_poison(a, b)) return Type{};
    if (!a.quantity() || !b.quantity()) return std::nullopt;
    if (point(a.kind) && point(b.kind)) return type_of(Kind::difference);
    if (point(a.kind) && b.kind == Kind::difference) return a;
    if (point(a.kind) || point(b.kind)) return std::nullopt;
    return sum(a, b);
}

std::optional<Type> multiply(Type a, Type b) {
    if (any_poison(a, b)) return Type{};
    if (!a.quantity() || !b.quantity() || point(a.kind) || point(b.kind)) return std::nullopt;
    if (a.dimension.none() && b.dimension.none()) {
        if (a.kind == Kind::fraction || b.kind == Kind::fraction) return type_of(Kind::fraction);
        return a.kind == Kind::count ? b : a;
    }
    if (a.dimension.none()) return b;
    if (b.dimension.none()) return a;
    return product(a.dimension * b.dimension);
}

std::optional<Type> divide(Type a, Type b) {
    if (any_poison(a, b)) return Type{};
    if (!a.quantity() || !b.quantity() || point(a.kind) || point(b.kind)) return std::nullopt;
    if (b.dimension.none()) {
        if (!a.dimension.none()) return a;
        if (a.kind == Kind::fraction && b.kind != Kind::fraction) return a;
        if (a.kind == Kind::count && b.kind == Kind::count) return a;
    }
    return product(a.dimension / b.dimension);
}

std::optional<Type> negate(Type a) {
    if (a.poison()) return a;
    if (!a.quantity() || point(a.kind)) return std::nullopt;
    return a;
}

bool converts(Type from, Type to) {
    if (any_poison(from, to) || from == to) return true;
    if (!from.quantity() || !to.quantity() || from.dimension != to.dimension) return false;
    if (family(from.kind) == family(to.kind)) return true;
    const auto plain = [](Kind kind) { return !point(kind) && kind != Kind::overpressure; };
    return plain(from.kind) && plain(to.kind) && (from.kind == Kind::derived || to.kind == Kind::derived);
}

bool comparable(Type a, Type b) {
    if (any_poison(a, b)) return true;
    return a.quantity() && b.quantity() && converts(a, b);
}

} // namespace athanor
