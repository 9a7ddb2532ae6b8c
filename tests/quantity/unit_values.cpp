// Conversions against published figures; the source stands beside each. The figures of NIST SP 811 are printed
// with seven digits, so they are met to half a unit of the seventh.
#include "compiler/quantity/unit.hpp"
#include "tests/quantity/property.hpp"

#include <charconv>
#include <cmath>
#include <doctest/doctest.h>
#include <string>

using namespace athanor;

namespace {

double si(double number, std::string_view unit) {
    const Unit* row = unit_named(unit);
    REQUIRE(row != nullptr);
    return to_si(number, *row);
}

struct Published {
    const char* unit;
    double factor;
};

void check(const Published& p, double relative) {
    CAPTURE(p.unit);
    CHECK(std::abs(si(1, p.unit) / p.factor - 1) <= relative);
}

} // namespace

TEST_CASE("factors of NIST SP 811 (2008), appendix B.8") {
    // Entries printed in bold there are exact.
    for (Published p : {Published{"bar", 1e5},
                        {"mbar", 1e2},
                        {"atm", 101325},
                        {"in", 2.54e-2},
                        {"kWh", 3.6e6},
                        {"Wh", 3.6e3},
                        {"L", 1e-3},
                        {"h", 3600},
                        {"d", 86400},
                        {"min", 60},
                        {"g/cm3", 1e3}})
        check(p, 1e-15);
    for (Published p : {Published{"Torr", 1.333224e2}, {"mmHg", 1.333224e2}, {"psi", 6.894757e3}})
        check(p, 4e-7);
    CHECK(si(1, "degF/h") * 3600 ==
          doctest::Approx(5.555556e-1).scale(0).epsilon(1e-7)); // degree Fahrenheit (interval)
    CHECK(difference_to_si(9, *unit_named("degF")) == doctest::Approx(5).scale(0).epsilon(1e-15));
    CHECK(difference_to_si(5, *unit_named("degC")) == 5);
}

TEST_CASE("fixed points of the temperature scales") {
    CHECK(si(0, "degC") == 273.15); // SI Brochure, 9th ed., 2.3.1
    CHECK(si(-273.15, "degC") == 0);
    CHECK(std::abs(si(32, "degF") - 273.15) < 1e-12); // NIST SP 811, B.8: T/K = (t/degF + 459.67)/1.8
    CHECK(std::abs(si(212, "degF") - 373.15) < 1e-12);
    CHECK(std::abs(si(-40, "degF") - si(-40, "degC")) < 1e-12);
    CHECK(std::abs(si(-459.67, "degF")) < 1e-12);
    CHECK(si(1400, "degF") ==
          doctest::Approx(273.15 + 760).scale(0).epsilon(1e-15)); // 1400 degF is exactly 760 degC
    // ITS-90 (Preston-Thomas 1990), freezing points of gold and copper in both scales.
    CHECK(from_si(1337.33, *unit_named("degC")) == doctest::Approx(1064.18).scale(0).epsilon(1e-12));
    CHECK(from_si(1357.77, *unit_named("°C")) == doctest::Approx(1084.62).scale(0).epsilon(1e-12));
}

TEST_CASE("an amount of gas is what its reference condition says") {
    // Molar volume of an ideal gas at 273.15 K and 101.325 kPa: 22.41396954e-3 m3/mol (CODATA 2018).
    CHECK(1 / (si(1, "sccs") * 1e6) == doctest::Approx(22.41396954e-3).scale(0).epsilon(1e-9));
    // 1 sccm = 101325 Pa * 1e-6 m3 / (R * 273.15 K) per minute, R = N_A k exactly (SI Brochure, 9th ed., table
    // 1).
    const long double R = 6.02214076e23L * 1.380649e-23L;
    const long double sccm = 101325e-6L / (R * 273.15L) / 60;
    CHECK(std::abs(si(1, "sccm") / static_cast<double>(sccm) - 1) < 1e-15);
    CHECK(si(1, "sccm") ==
          doctest::Approx(7.43584e-7).scale(0).epsilon(5e-7)); // worked by hand from the same constants
    // The same condition in SEMI E12 and DIN 1343, in other sizes.
    CHECK(si(1, "slm") == doctest::Approx(si(1000, "sccm")).scale(0).epsilon(1e-15));
    CHECK(si(1, "NL/min") == doctest::Approx(si(1, "slm")).scale(0).epsilon(1e-15));
    CHECK(si(60, "NL/h") == doctest::Approx(si(1, "slm")).scale(0).epsilon(1e-15));
    CHECK(si(1, "NmL/min") == si(1, "sccm"));
    CHECK(si(1, "Ncm3/min") == si(1, "sccm"));
    CHECK(si(0.06, "Nm3/h") == doctest::Approx(si(1, "slm")).scale(0).epsilon(1e-15));
    CHECK(si(1, "sccs") == doctest::Approx(si(60, "sccm")).scale(0).epsilon(1e-15));
    CHECK(si(60, "mmol/min") == doctest::Approx(1e-3).scale(0).epsilon(1e-15));
}

TEST_CASE("a leak in the units in use") {
    // 1 mbar L/s = 0.1 Pa m3/s and 1 atm cm3/s = 1.01325 mbar L/s by definition; 0.750062 Torr L/s from 1 Torr
    // = 101325/760 Pa (NIST SP 811, B.8).
    CHECK(si(1, "mbar*L/s") == 0.1);
    CHECK(si(1, "atm*cm3/s") == doctest::Approx(1.01325 * si(1, "mbar*L/s")).scale(0).epsilon(1e-15));
    CHECK(from_si(si(1, "mbar*L/s"), *unit_named("Torr*L/s")) ==
          doctest::Approx(0.750062).scale(0).epsilon(1e-6));
    CHECK(si(1, "mbar*L/s/cm2") == doctest::Approx(1000).scale(0).epsilon(1e-15)); // 0.1 Pa m3/s on 1e-4 m2
    CHECK(si(1, "Torr*L/s/cm2") == doctest::Approx(si(1, "Torr*L/s") * 1e4).scale(0).epsilon(1e-14));
}

TEST_CASE("compound units are their parts") {
    struct Compound {
        const char *unit, *above, *below;
    };
    for (Compound c : {Compound{"K/min", "K", "min"}, {"K/h", "K", "h"},     {"K/d", "K", "d"},
                       {"L/min", "L", "min"},         {"L/h", "L", "h"},     {"L/s", "L", "s"},
                       {"mL/min", "mL", "min"},       {"mL/h", "mL", "h"},   {"cm3/min", "cm3", "min"},
                       {"cm3/s", "cm3", "s"},         {"m3/h", "m3", "h"},   {"m3/min", "m3", "min"},
                       {"mol/min", "mol", "min"},     {"mol/h", "mol", "h"}, {"mmol/min", "mmol", "min"},
                       {"mmol/s", "mmol", "s"},       {"g/mol", "g", "mol"}, {"kg/mol", "kg", "mol"},
                       {"g/cm3", "g", "cm3"},         {"kg/m3", "kg", "m3"}, {"mg/m3", "mg", "m3"},
                       {"kJ/mol", "kJ", "mol"},       {"J/mol", "J", "mol"}, {"J/K", "J", "K"},
                       {"kJ/K", "kJ", "K"},           {"W/K", "W", "K"},     {"m2/s", "m2", "s"},
                       {"cm2/s", "cm2", "s"},         {"K/m", "K", "m"},     {"K/cm", "K", "cm"}}) {
        CAPTURE(c.unit);
        CHECK(si(1, c.unit) == doctest::Approx(si(1, c.above) / si(1, c.below)).scale(0).epsilon(1e-15));
        CHECK(unit_named(c.unit)->dimension == unit_named(c.above)->dimension / unit_named(c.below)->dimension);
    }
    CHECK(si(1, "kJ/kg/K") == si(1, "J/g/K"));
    CHECK(si(1, "degC/min") == si(1, "K/min"));
    CHECK(unit_named("J/mol/K")->dimension == unit_named("J/mol")->dimension / unit_named("K")->dimension);
    CHECK(si(1, "uV/K") == 1e-6);
    CHECK(unit_named("uV/K")->dimension == unit_named("V")->dimension / unit_named("K")->dimension);
    CHECK(si(1, "mV/K") == 1e-3);
    CHECK(si(1, "uPa*s") == 1e-6);
    CHECK(unit_named("s/K")->dimension == unit_named("s")->dimension / unit_named("K")->dimension);
    CHECK(unit_named("Pa*s")->dimension == unit_named("Pa")->dimension * unit_named("s")->dimension);
}

TEST_CASE("prefixes of the SI Brochure, 9th ed., table 7") {
    struct Prefixed {
        const char *unit, *base;
        double power;
    };
    for (Prefixed p :
         {Prefixed{"mK", "K", 1e-3}, {"ms", "s", 1e-3},       {"hPa", "Pa", 1e2},    {"kPa", "Pa", 1e3},
          {"MPa", "Pa", 1e6},        {"GPa", "Pa", 1e9},      {"mPa", "Pa", 1e-3},   {"mbar", "bar", 1e-3},
          {"ubar", "bar", 1e-6},     {"mTorr", "Torr", 1e-3}, {"mm", "m", 1e-3},     {"um", "m", 1e-6},
          {"nm", "m", 1e-9},         {"cm", "m", 1e-2},       {"mg", "g", 1e-3},     {"ug", "g", 1e-6},
          {"kg", "g", 1e3},          {"mW", "W", 1e-3},       {"kW", "W", 1e3},      {"MW", "W", 1e6},
          {"kJ", "J", 1e3},          {"MJ", "J", 1e6},        {"kWh", "Wh", 1e3},    {"mV", "V", 1e-3},
          {"uV", "V", 1e-6},         {"mL", "L", 1e-3},       {"mmol", "mol", 1e-3}, {"ppb", "ppm", 1e-3},
          {"ppm", "%", 1e-4}}) {
        CAPTURE(p.unit);
        CHECK(si(1, p.unit) == doctest::Approx(p.power * si(1, p.base)).scale(0).epsilon(1e-15));
        CHECK(unit_named(p.unit)->dimension == unit_named(p.base)->dimension);
    }
    CHECK(si(1, "mm2") == doctest::Approx(std::pow(si(1, "mm"), 2)).scale(0).epsilon(1e-15));
    CHECK(si(1, "cm2") == doctest::Approx(std::pow(si(1, "cm"), 2)).scale(0).epsilon(1e-15));
    CHECK(si(1, "cm3") == doctest::Approx(std::pow(si(1, "cm"), 3)).scale(0).epsilon(1e-15));
    CHECK(si(1, "mm3") == doctest::Approx(std::pow(si(1, "mm"), 3)).scale(0).epsilon(1e-15));
}

TEST_CASE("a decimal literal takes the double nearest to its value in SI") {
    CHECK(si(10, "ppm") == 1e-5);
    CHECK(si(3, "ppm") == 3e-6);
    CHECK(si(7, "%") == 0.07);
    CHECK(si(4, "K/min") == 4.0 / 60);
    CHECK(si(60, "mm") == 0.06);
    CHECK(si(90, "min") == 5400);
    CHECK(si(150, "mbar") == 15000);
    CHECK(si(3.4, "L") == 3.4e-3);
}

TEST_CASE("numbers are read as the language writes them") {
    const auto read = [](std::string_view text) {
        double value = -1;
        return parse_number(text, value) ? value : std::nan("");
    };
    CHECK(read("4") == 4);
    CHECK(read("-40") == -40);
    CHECK(read("+40") == 40);
    CHECK(read("0.1") == 0.1);
    CHECK(read("5e-2") == 0.05);
    CHECK(read("1E+3") == 1000);
    CHECK(read("007") == 7);
    CHECK(read("1.7976931348623157e308") == 1.7976931348623157e308);
    for (std::string_view bad :
         {"",    "-",    "+",   ".5",  "5.",    "1e",  "1e+", "1e999", "-1e999", "1e-999", "inf",
          "nan", "0x10", "1,5", "1 2", "1_000", "--1", "+-1", "1.2.3", "4K",     "1e5.0"}) {
        CAPTURE(bad);
        CHECK(std::isnan(read(bad)));
    }
}

TEST_CASE("a short number is read to the same double as the standard library reads it to") {
    CHECK(holds_always("short numbers", [] {
        // Up to 18 figures: some are read by one division, some handed on.
        const std::string whole = std::to_string(*rc::gen::inRange<std::int64_t>(-999'999'999, 1'000'000'000));
        std::string decimals = std::to_string(*rc::gen::inRange<std::int64_t>(0, 1'000'000'000));
        decimals.insert(0, *rc::gen::inRange<std::size_t>(0, 4), '0');
        const std::string text = *rc::gen::arbitrary<bool>() ? whole : whole + '.' + decimals;
        double value = 0, expected = 0;
        RC_ASSERT(parse_number(text, value));
        std::from_chars(text.data(), text.data() + text.size(), expected);
        RC_ASSERT(value == expected);
    }));
    double zero = 1;
    CHECK(parse_number("-0.0", zero));
    CHECK(std::signbit(zero));
}
