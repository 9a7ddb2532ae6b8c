// What must hold for every row of the table of units.
#include "compiler/quantity/unit.hpp"

#include <cmath>
#include <doctest/doctest.h>
#include <set>
#include <string>

using namespace athanor;

namespace {

bool near(double a, double b, double relative) {
    return std::abs(a - b) <= relative * std::abs(b);
}

/// Units that UCUM has no code for: torr as 1/760 atm (its mm[Hg] is another value) and gas at a reference
/// condition, which UCUM keeps out of units.
bool without_code(std::string_view spelling) {
    return spelling.find("Torr") != std::string_view::npos || spelling.starts_with("scc") ||
           spelling == "slm" || spelling.starts_with("N");
}

} // namespace

TEST_CASE("every unit is found by its spelling and converts there and back") {
    REQUIRE(units().size() > 150);
    for (const Unit& unit : units()) {
        CAPTURE(unit.spelling);
        CHECK(unit_named(unit.spelling) == &unit); // also: no spelling twice
        CHECK(unit_at(unit.spelling) == &unit);
        CHECK(unit_at(std::string(unit.spelling) + " until oxygen") == &unit);
        CHECK(unit_at(std::string(unit.spelling) + "±1") == &unit);
        CHECK(unit_at(std::string(unit.spelling) + ")") == &unit);
        for (const char* behind : {"", " until oxygen", ")", "±1", "/s", "*s", "^2", "_"}) {
            const std::string text = std::string(unit.spelling) + behind;
            const Unit* whole = whole_unit_at(text);
            CHECK((whole == nullptr || whole == unit_at(text)));
        }
        if (unit.spelling.size() <= 8) CHECK(whole_unit_at(std::string(unit.spelling) + " ") == &unit);
        CHECK(unit.factor > 0);
        CHECK(std::isfinite(unit.factor));
        for (double x : {0.0, 1.0, 7.3, 950.0, -40.0, 1e-5, 2.5e6}) {
            const double si = to_si(x, unit);
            CHECK(std::abs(from_si(si, unit) - x) <= 4e-16 * (std::abs(x) + unit.offset / unit.factor));
            // Both conversions are the factor and offset of the row, however they are rounded.
            CHECK(near(si - unit.offset, unit.factor * x,
                       4e-16 * (1 + unit.offset / std::max(1e-5, std::abs(unit.factor * x)))));
            CHECK(near(difference_to_si(x, unit), unit.factor * x, 4e-16));
        }
    }
}

TEST_CASE("every unit has a source, a dimension of its kind, and a UCUM code where there is one") {
    for (const Unit& unit : units()) {
        CAPTURE(unit.spelling);
        CHECK_FALSE(unit.source.empty());
        CHECK(unit.ucum.empty() == without_code(unit.spelling));
        CHECK(unit.ucum.find(' ') == std::string_view::npos);
        CHECK(unit.ucum.find('*') == std::string_view::npos); // a product is a full stop in UCUM
        if (unit.kind == Kind::derived) {
            CHECK_FALSE(unit.dimension.none());
        } else {
            CHECK(unit.type() == type_of(unit.kind));
        }
        CHECK((unit.offset != 0) == (unit.kind == Kind::temperature));
    }
}

TEST_CASE("special units of UCUM stand alone") {
    // UCUM v2.2, section 21: units on special scales take no part in products or quotients.
    for (const Unit& unit : units()) {
        CAPTURE(unit.spelling);
        for (std::string_view special : {"Cel", "[degF]"})
            CHECK((unit.ucum.find(special) == std::string_view::npos || unit.ucum == special));
    }
}

TEST_CASE("spellings fit the scanner: no blank, no parenthesis, one unit each") {
    std::set<std::string_view> spellings;
    for (const Unit& unit : units()) {
        CAPTURE(unit.spelling);
        CHECK(spellings.insert(unit.spelling).second);
        CHECK(unit.spelling.find_first_of(" \t\n()[]{},;#\"") == std::string_view::npos);
    }
    for (std::string_view word : {"gauge", "times", "passes", "level", "to", "by", "at", "of", "from", "rest",
                                  "over", "is", "and", "or"})
        CHECK(unit_named(word) == nullptr);
}

TEST_CASE("alternative spellings are their row, and the table is grouped by kind") {
    std::set<Kind> closed;
    Kind current = Kind::poison;
    const Unit* main = nullptr;
    for (const Unit& unit : units()) {
        CAPTURE(unit.spelling);
        if (unit.kind != current) {
            CHECK(closed.insert(unit.kind).second);
            current = unit.kind;
            CHECK_FALSE(unit.alternative);
        }
        if (!unit.alternative) {
            main = &unit;
            continue;
        }
        REQUIRE(main != nullptr);
        CHECK(unit.factor == main->factor);
        CHECK(unit.offset == main->offset);
        CHECK(unit.dimension == main->dimension);
        CHECK(unit.ucum == main->ucum);
    }
}

TEST_CASE("every quantity has a unit in which it is shown") {
    for (Kind kind : named_kinds()) {
        CAPTURE(name(kind));
        const Unit& unit = display_unit(kind);
        const bool plain = kind <= Kind::count;
        CHECK(unit.spelling.empty() == plain);
        if (!plain) CHECK(unit.dimension == type_of(kind).dimension);
    }
    CHECK(display_unit(Kind::temperature).spelling == "degC");
    CHECK(display_unit(Kind::rate).spelling == "K/min");
    CHECK(display_unit(Kind::pressure).spelling == "mbar");
    CHECK(display_unit(Kind::flow).spelling == "sccm");
    CHECK(display_unit(Kind::derived).factor == 1);
}

TEST_CASE("a unit ends where the language says") {
    const auto at = [](std::string_view text) {
        return unit_at(text) ? unit_at(text)->spelling : std::string_view();
    };
    CHECK(at("K/min until") == "K/min");
    CHECK(at("K / min") == "K");
    CHECK(at("K/(2 min)") == "K");
    CHECK(at("min\n") == "min");
    CHECK(at("minutes").empty());
    CHECK(at("m") == "m");
    CHECK(at("m2") == "m2");
    CHECK(at("m4").empty());
    CHECK(at("h_2").empty());
    CHECK(at("mbar*L/s") == "mbar*L/s");
    CHECK(at("mbar*L/s/cm2") == "mbar*L/s/cm2");
    CHECK(at("mbar*x") == "mbar");
    CHECK(at("%") == "%");
    CHECK(at("%hydrogen").empty());
    CHECK(at("°C,") == "°C");
    CHECK(at("µm") == "µm");
    CHECK(at("mm²") == "mm²");
    CHECK(at("mm⁴").empty());
    CHECK(at("K±2 K") == "K");
    CHECK(at("1/h }") == "1/h");
    CHECK(at("1/hour").empty());
    CHECK(at("").empty());
    CHECK(at(" K").empty());
    CHECK(unit_named("") == nullptr);
}
