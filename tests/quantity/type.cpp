#include "compiler/quantity/type.hpp"

#include <doctest/doctest.h>
#include <set>
#include <string>

using namespace athanor;

namespace {

Type t(Kind kind) {
    return type_of(kind);
}
std::string kind_of(std::optional<Type> type) {
    return type ? std::string(name(type->kind)) : "none";
}

} // namespace

TEST_CASE("every kind has a name, and every nameable one is found by it") {
    std::set<std::string_view> names;
    for (int i = 0; i <= static_cast<int>(Kind::derived); ++i) {
        const auto kind = static_cast<Kind>(i);
        CHECK_FALSE(name(kind).empty());
        CHECK(names.insert(name(kind)).second);
        CHECK(type_of(kind).kind == kind);
        CHECK_FALSE(describe(type_of(kind)).empty());
        const bool nameable = kind != Kind::poison && kind != Kind::derived;
        CHECK(type_named(name(kind)).has_value() == nameable);
        if (nameable) CHECK(type_named(name(kind)) == type_of(kind));
    }
    CHECK(named_kinds().size() == names.size() - 2);
    CHECK_FALSE(type_named("poison"));
    CHECK_FALSE(type_named("Temperature"));
    CHECK_FALSE(type_named(""));
}

TEST_CASE("the dimensions of the kinds fit together") {
    // SI Brochure, 9th ed. (2019), tables 4 and 5: the units in terms of base units.
    const Dimension m{1}, kg{0, 1}, s{0, 0, 1}, K{0, 0, 0, 1}, mol{0, 0, 0, 0, 1}, A{0, 0, 0, 0, 0, 1};
    const Dimension N = kg * m / (s * s), Pa = N / (m * m), J = N * m, W = J / s;
    CHECK(t(Kind::pressure).dimension == Pa);
    CHECK(t(Kind::overpressure).dimension == Pa);
    CHECK(t(Kind::stress).dimension == Pa);
    CHECK(t(Kind::energy).dimension == J);
    CHECK(t(Kind::power).dimension == W);
    CHECK(t(Kind::voltage).dimension == W / A);
    CHECK(t(Kind::conductivity).dimension == W / m / K);
    CHECK(t(Kind::heat_capacity).dimension == J / kg / K);
    CHECK(t(Kind::leak_rate).dimension == Pa * m * m * m / s);
    CHECK(t(Kind::outgassing).dimension == Pa * m * m * m / s / (m * m));
    CHECK(t(Kind::volume_flow).dimension == m * m * m / s);
    CHECK(t(Kind::pumping_speed).dimension == t(Kind::conductance).dimension);
    CHECK(t(Kind::flow).dimension == mol / s);
    CHECK(t(Kind::molar_mass).dimension == kg / mol);
    CHECK(t(Kind::density).dimension == kg / (m * m * m));
    CHECK(t(Kind::expansivity).dimension == K.inverse());
    CHECK(t(Kind::frequency).dimension == s.inverse());
    CHECK(t(Kind::rate).dimension == K / s);
    CHECK(t(Kind::fraction).dimension.none());
    CHECK(to_text(Pa) == "kg m^-1 s^-2");
    CHECK(to_text(J / mol / K) == "kg m^2 s^-2 K^-1 mol^-1");
    CHECK(to_text(t(Kind::voltage).dimension) == "kg m^2 s^-3 A^-1");
    CHECK(to_text(Dimension{}) == "1");
}

TEST_CASE("sums and differences") {
    const Type point = t(Kind::temperature), step = t(Kind::difference), dew = t(Kind::dew_point);
    CHECK(kind_of(subtract(point, point)) == "difference");
    CHECK(kind_of(add(point, step)) == "temperature");
    CHECK(kind_of(add(step, point)) == "temperature");
    CHECK(kind_of(subtract(point, step)) == "temperature");
    CHECK(kind_of(subtract(step, point)) == "none");
    CHECK(kind_of(subtract(point, t(Kind::time))) == "none");
    CHECK(kind_of(subtract(t(Kind::time), step)) == "none");
    CHECK(kind_of(add(point, point)) == "none");
    CHECK(kind_of(add(step, step)) == "difference");
    CHECK(kind_of(add(dew, step)) == "dew_point");
    CHECK(kind_of(add(dew, point)) == "none");
    CHECK(kind_of(subtract(point, dew)) == "difference");

    CHECK(kind_of(add(t(Kind::pressure), t(Kind::pressure))) == "pressure");
    CHECK(kind_of(add(t(Kind::overpressure), t(Kind::overpressure))) == "overpressure");
    CHECK(kind_of(add(t(Kind::pressure), t(Kind::overpressure))) == "none");
    CHECK(kind_of(subtract(t(Kind::overpressure), t(Kind::pressure))) == "none");
    CHECK(kind_of(add(t(Kind::time), t(Kind::time))) == "time");
    CHECK(kind_of(add(t(Kind::time), t(Kind::length))) == "none");
    CHECK(kind_of(add(t(Kind::flow), t(Kind::volume_flow))) == "none");
    CHECK(kind_of(add(t(Kind::power), t(Kind::leak_rate))) == "none");
    CHECK(kind_of(add(t(Kind::volume_flow), t(Kind::pumping_speed))) == "volume_flow");
    CHECK(kind_of(subtract(t(Kind::count), t(Kind::fraction))) == "none");
    CHECK(kind_of(add(t(Kind::gas), t(Kind::gas))) == "none");
    CHECK(kind_of(add(t(Kind::boolean), t(Kind::count))) == "none");
    const Type derived{Kind::derived, t(Kind::power).dimension};
    CHECK(kind_of(add(derived, t(Kind::power))) == "power");
    CHECK(kind_of(add(t(Kind::leak_rate), derived)) == "leak_rate");
    CHECK(kind_of(add(derived, derived)) == "derived");
}

TEST_CASE("products and quotients") {
    const auto divided = [](Kind a, Kind b) { return kind_of(divide(t(a), t(b))); };
    const auto multiplied = [](Kind a, Kind b) {
        CHECK(multiply(t(a), t(b)) == multiply(t(b), t(a)));
        return kind_of(multiply(t(a), t(b)));
    };
    CHECK(divided(Kind::difference, Kind::time) == "rate");
    CHECK(multiplied(Kind::rate, Kind::time) == "difference");
    CHECK(divided(Kind::difference, Kind::rate) == "time");
    CHECK(multiplied(Kind::flow, Kind::time) == "derived");
    CHECK(to_text(multiply(t(Kind::flow), t(Kind::time))->dimension) == "mol");
    CHECK(divided(Kind::volume, Kind::time) == "volume_flow");
    CHECK(divided(Kind::volume, Kind::volume_flow) == "time");
    CHECK(multiplied(Kind::power, Kind::time) == "energy");
    CHECK(divided(Kind::energy, Kind::time) == "derived"); // power or leak rate
    CHECK(multiplied(Kind::pressure, Kind::pumping_speed) == "derived");
    CHECK(multiplied(Kind::length, Kind::length) == "area");
    CHECK(multiplied(Kind::area, Kind::length) == "volume");
    CHECK(divided(Kind::mass, Kind::volume) == "density");
    CHECK(divided(Kind::count, Kind::time) == "frequency");
    CHECK(multiplied(Kind::expansivity, Kind::difference) == "derived");
    CHECK(multiplied(Kind::count, Kind::count) == "count");
    CHECK(multiplied(Kind::count, Kind::time) == "time");
    CHECK(multiplied(Kind::pressure, Kind::count) == "pressure");
    CHECK(multiplied(Kind::overpressure, Kind::count) == "overpressure");
    CHECK(multiplied(Kind::difference, Kind::fraction) == "difference");
    CHECK(divided(Kind::stress, Kind::count) == "stress");
    CHECK(divided(Kind::time, Kind::time) == "derived");
    CHECK(divided(Kind::count, Kind::count) == "count");
    CHECK(multiplied(Kind::fraction, Kind::fraction) == "fraction");
    CHECK(divided(Kind::fraction, Kind::fraction) == "derived");
    CHECK(divided(Kind::fraction, Kind::count) == "fraction");
    // Twice 300 degC has no meaning, nor has 900 degC in 40 min.
    CHECK(multiplied(Kind::temperature, Kind::count) == "none");
    CHECK(divided(Kind::temperature, Kind::time) == "none");
    CHECK(divided(Kind::dew_point, Kind::count) == "none");
    CHECK(multiplied(Kind::gas, Kind::count) == "none");
}

TEST_CASE("a ratio may stand for a number and for a share, and neither stands for the other") {
    const Type ratio = *divide(t(Kind::time), t(Kind::time));
    CHECK(describe(ratio) == "a plain number");
    CHECK(converts(ratio, t(Kind::count)));
    CHECK(converts(ratio, t(Kind::fraction)));
    CHECK_FALSE(converts(t(Kind::count), t(Kind::fraction)));
    CHECK(kind_of(add(ratio, t(Kind::fraction))) == "fraction");
    CHECK(kind_of(add(ratio, t(Kind::count))) == "count");
    CHECK(multiply(ratio, t(Kind::count)) == ratio);
    CHECK(kind_of(multiply(ratio, t(Kind::fraction))) == "fraction");
    CHECK(kind_of(multiply(ratio, t(Kind::time))) == "time");
    CHECK(divide(ratio, t(Kind::count)) == ratio);
    CHECK(divide(t(Kind::count), ratio) == ratio);
}

TEST_CASE("negation") {
    CHECK(negate(t(Kind::difference)) == t(Kind::difference));
    CHECK_FALSE(negate(t(Kind::temperature)));
    CHECK_FALSE(negate(t(Kind::dew_point)));
    CHECK_FALSE(negate(t(Kind::text)));
}

TEST_CASE("conversion and comparison") {
    const auto both = [](Kind a, Kind b) {
        CHECK(converts(t(a), t(b)) == converts(t(b), t(a)));
        CHECK(comparable(t(a), t(b)) == converts(t(a), t(b)));
        return converts(t(a), t(b));
    };
    CHECK(both(Kind::volume_flow, Kind::pumping_speed));
    CHECK(both(Kind::conductance, Kind::pumping_speed));
    CHECK_FALSE(both(Kind::count, Kind::fraction));
    CHECK(both(Kind::pressure, Kind::stress));
    CHECK(both(Kind::temperature, Kind::dew_point));
    CHECK_FALSE(both(Kind::temperature, Kind::difference));
    CHECK_FALSE(both(Kind::pressure, Kind::overpressure));
    CHECK_FALSE(both(Kind::flow, Kind::volume_flow));
    CHECK_FALSE(both(Kind::power, Kind::leak_rate));
    CHECK_FALSE(both(Kind::time, Kind::count));
    const Type derived{Kind::derived, t(Kind::power).dimension};
    CHECK(converts(derived, t(Kind::power)));
    CHECK(converts(derived, t(Kind::leak_rate)));
    CHECK(converts(t(Kind::power), derived));
    CHECK_FALSE(converts(derived, t(Kind::energy)));
    const Type kelvin{Kind::derived, t(Kind::temperature).dimension},
        pascal{Kind::derived, t(Kind::pressure).dimension};
    CHECK(converts(kelvin, t(Kind::difference)));
    CHECK_FALSE(converts(kelvin, t(Kind::temperature)));
    CHECK(converts(pascal, t(Kind::pressure)));
    CHECK_FALSE(converts(pascal, t(Kind::overpressure)));
    CHECK(converts(t(Kind::gas), t(Kind::gas)));
    CHECK_FALSE(converts(t(Kind::gas), t(Kind::text)));
    CHECK_FALSE(comparable(t(Kind::gas), t(Kind::gas))); // no order among gases
    CHECK(comparable(t(Kind::rate), t(Kind::rate)));
}

TEST_CASE("the algebra is symmetric where it must be, and poison stays silent") {
    for (int i = 0; i <= static_cast<int>(Kind::derived); ++i)
        for (int j = 0; j <= static_cast<int>(Kind::derived); ++j) {
            const Type a = t(static_cast<Kind>(i)), b = t(static_cast<Kind>(j));
            REQUIRE(add(a, b).has_value() == add(b, a).has_value());
            if (add(a, b)) REQUIRE(add(a, b)->dimension == add(b, a)->dimension);
            REQUIRE(multiply(a, b) == multiply(b, a));
            REQUIRE(converts(a, b) == converts(b, a));
            REQUIRE(comparable(a, b) == comparable(b, a));
            if (!a.poison() && !b.poison()) {
                if (const auto product = multiply(a, b))
                    REQUIRE(product->dimension == a.dimension * b.dimension);
                if (const auto quotient = divide(a, b))
                    REQUIRE(quotient->dimension == a.dimension / b.dimension);
                if (const auto sum = add(a, b)) REQUIRE(sum->dimension == a.dimension);
            }
        }
    for (int i = 0; i <= static_cast<int>(Kind::derived); ++i) {
        const Type a = t(static_cast<Kind>(i)), poison{};
        CHECK(kind_of(add(a, poison)) == "poison");
        CHECK(kind_of(subtract(poison, a)) == "poison");
        CHECK(kind_of(multiply(a, poison)) == "poison");
        CHECK(kind_of(divide(poison, a)) == "poison");
        CHECK(converts(a, poison));
        CHECK(converts(poison, a));
        CHECK(comparable(a, poison));
    }
    CHECK(kind_of(negate(Type{})) == "poison");
}

TEST_CASE("words for messages") {
    CHECK(describe(t(Kind::rate)) == "a rate (temperature per time)");
    CHECK(describe(t(Kind::temperature)) == "a temperature");
    CHECK(describe({Kind::derived, t(Kind::pressure).dimension}) == "kg m^-1 s^-2");
    CHECK(describe({Kind::derived, {}}) == "a plain number");
}
