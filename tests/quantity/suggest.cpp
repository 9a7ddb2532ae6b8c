// Repairs of units that are not in the table.
#include "compiler/quantity/unit.hpp"

#include <doctest/doctest.h>
#include <string>

using namespace athanor;

TEST_CASE("slips of the pen find their unit") {
    struct Slip {
        const char *wrong, *right;
    };
    for (Slip slip : {Slip{"C", "degC"},
                      {"F", "degF"},
                      {"celsius", "degC"},
                      {"Kelvin", "K"},
                      {"°K", "K"},
                      {"k", "K"},
                      {"C/min", "degC/min"},
                      {"F/hr", "degF/h"},
                      {"K/hr", "K/h"},
                      {"K/sec", "K/s"},
                      {"k/min", "K/min"},
                      {"°C/hr", "°C/h"},
                      {"lpm", "L/min"},
                      {"L/m", "L/min"},
                      {"l/min", "L/min"},
                      {"ml/min", "mL/min"},
                      {"cc/min", "cm3/min"},
                      {"ccm", "cm3/min"},
                      {"SLM", "slm"},
                      {"slpm", "slm"},
                      {"SCCM", "sccm"},
                      {"Nl/h", "NL/h"},
                      {"mT", "mTorr"},
                      {"torr", "Torr"},
                      {"hr", "h"},
                      {"hrs", "h"},
                      {"sec", "s"},
                      {"mins", "min"},
                      {"days", "d"},
                      {"kw", "kW"},
                      {"pa", "Pa"},
                      {"kpa", "kPa"},
                      {"mbarg", "mbar gauge"},
                      {"bara", "bar"},
                      {"percent", "%"},
                      {"PPM", "ppm"},
                      {"ppmv", "ppm"},
                      {"mbar*l/s", "mbar*L/s"},
                      {"m^3/h", "m3/h"},
                      {"mln/min", "NmL/min"},
                      {"ln/min", "NL/min"},
                      {"Nml/min", "NmL/min"},
                      {"Nm^3/h", "Nm3/h"},
                      {"Ncc/min", "Ncm3/min"},
                      {"inch", "in"},
                      {"litres", "L"},
                      {"/h", "1/h"},
                      {"K·min⁻¹", "K/min"},
                      {"mbar·L/s", "mbar*L/s"},
                      {"L·min⁻¹", "L/min"},
                      {"degCelsius", "degC"},
                      // one letter wrong, missing, doubled or exchanged
                      {"sscm", "sccm"},
                      {"mbr", "mbar"},
                      {"K/mn", "K/min"},
                      {"mmbar", "mbar"},
                      {"tor", "Torr"},
                      {"degc", "degC"},
                      {"dgeC", "degC"}}) {
        CAPTURE(slip.wrong);
        CHECK(unit_named(slip.wrong) == nullptr);
        CHECK(suggest_unit(slip.wrong) == slip.right);
    }
}

TEST_CASE("nothing near gives no suggestion") {
    // Of the flows only a letter is near: the one that says at which temperature and pressure they are
    // measured, or in which time.
    for (std::string_view wrong :
         {"", "argon", "furlong", "q", "xy", "cfm", "hydrogen", "scfm", "scfh", "acfm", "Nm3/min", "Nm³/min",
          "mls/min", "sm3/h", "scm3/min", "ncm3/s", "NL/s", "L/d"}) {
        CAPTURE(wrong);
        CHECK(suggest_unit(wrong).empty());
    }
}

TEST_CASE("another spelling of a unit is sure, a unit that is one letter away is a guess") {
    for (std::string_view same :
         {"C/min", "lpm", "SCCM", "slpm", "mln/min", "torr", "mbarg", "°C/hr", "K·min⁻¹", "degCelsius"}) {
        CAPTURE(same);
        CHECK(surely_unit(same));
    }
    // "mw" is mW or MW; a micron is a length, or a pressure of mercury.
    for (std::string_view near : {"sscm", "mmbar", "kw/h", "mw", "MPA", "M", "micron", "furlong"}) {
        CAPTURE(near);
        CHECK(!surely_unit(near));
    }
}

TEST_CASE("a normal cubic metre is one with a raised three as well") {
    CHECK(unit_named("Nm³/h")->factor == unit_named("Nm3/h")->factor);
    CHECK(unit_named("Ncm³/min")->factor == unit_named("Ncm3/min")->factor);
    CHECK(unit_named("Nm³/h")->kind == Kind::flow);
}

TEST_CASE("a suggestion is always a unit, with `gauge` at most") {
    // Every misspelling by one letter of every unit, and every unit in capitals.
    const auto check = [](const std::string& wrong) {
        const std::string_view right = suggest_unit(wrong);
        if (right.empty()) return;
        const std::string_view unit = right.substr(0, right.find(' '));
        CAPTURE(wrong);
        REQUIRE(unit_named(unit) != nullptr);
        REQUIRE((unit == right || right.substr(unit.size()) == " gauge"));
    };
    for (const Unit& unit : units()) {
        const std::string spelling(unit.spelling);
        for (std::size_t i = 0; i < spelling.size(); ++i) {
            check(std::string(spelling).erase(i, 1));
            for (char c : {'a', 'C', 'l', 'm', 'r', 'g', '/', '*'}) {
                check(std::string(spelling).insert(i, 1, c));
                std::string replaced = spelling;
                replaced[i] = c;
                check(replaced);
            }
        }
    }
    CHECK(suggest_unit("psig") == "psi gauge");
}
