// Functions of moisture and oxygen: dew points, oxygen pressure, what an atmosphere reduces.
#include "compiler/check/function_rows.hpp"
#include "compiler/physics/moisture.hpp"
#include "compiler/physics/oxides.hpp"

#include <fmt/format.h>

namespace athanor::check {

using namespace rows;

namespace {

constexpr std::string_view subject = "atmosphere";
constexpr std::string_view sonntag = "Sonntag, Z. Meteorol. 70 (1990) 340";
constexpr std::string_view janaf = "NIST-JANAF thermochemical tables";
constexpr std::string_view oxide_source =
    "NIST-JANAF thermochemical tables; NiO Hemingway, Am. Mineral. 75 (1990) 781; MnO Kubaschewski & Evans";

FunctionParameter dew() {
    return quantity("dew_point", Kind::dew_point, physics::coldest_frost, physics::hottest_dew);
}
FunctionParameter pressure() {
    return otherwise(positive("pressure", Kind::pressure, 100 * physics::bar), physics::atmosphere);
}
FunctionParameter temperature() {
    return quantity("temperature", Kind::temperature, physics::coldest_equilibrium,
                    physics::hottest_equilibrium);
}
FunctionParameter hydrogen() {
    FunctionParameter p = share("hydrogen");
    p.above = true;
    return otherwise(p, 1);
}
FunctionParameter ratio_part(std::string_view name) {
    FunctionParameter p = share(name);
    p.above = true;
    return p;
}

/// Null after a refusal.
const physics::Oxide* oxide(FunctionCall& c, std::size_t i, double t, std::size_t at) {
    const physics::Oxide* found = physics::oxide(c.text(i));
    if (found == nullptr) {
        std::string known;
        for (const physics::Oxide& o : physics::oxides())
            known += fmt::format("{}{}", known.empty() ? "" : ", ", o.formula);
        c.refuse(i, fmt::format("no oxide \"{}\" is known here; there are {}", c.text(i), known));
        return nullptr;
    }
    if (t < found->coldest * (1 - 1e-12) || t > found->hottest * (1 + 1e-12)) {
        c.refuse(at, fmt::format("{} is outside {} to {}, where the figures of {} hold",
                                 readable(t, type_of(Kind::temperature), 5),
                                 readable(found->coldest, type_of(Kind::temperature), 5),
                                 readable(found->hottest, type_of(Kind::temperature), 5), found->formula));
        return nullptr;
    }
    return found;
}

/// pH2O/pH2 of a gas with `hydrogen` as a share of its dry part.
double water_ratio(FunctionCall& c, double dew_point, double hydrogen, double pressure, std::size_t at) {
    const double water = physics::saturation_pressure(dew_point) / pressure;
    if (water >= 1) return c.refuse(at, "the dew point's vapour pressure is not below the pressure of the gas");
    return water / (hydrogen * (1 - water));
}

double nothing() {
    return std::numeric_limits<double>::quiet_NaN();
}

} // namespace

void add_atmosphere_functions(Functions& into) {
    into.push_back({"saturation_pressure",
                    subject,
                    {quantity("temperature", Kind::temperature, physics::coldest_frost, physics::hottest_dew)},
                    0,
                    type_of(Kind::pressure),
                    [](FunctionCall& c) { return physics::saturation_pressure(c[0]); },
                    "vapour pressure of water, over ice below 0 degC",
                    sonntag,
                    "saturation_pressure(20 degC)",
                    {}});
    into.push_back({"dew_point_of",
                    subject,
                    {ratio_part("water"), pressure()},
                    0,
                    type_of(Kind::dew_point),
                    [](FunctionCall& c) {
                        const double e = c[0] * c[1];
                        const double least = physics::saturation_pressure(physics::coldest_frost),
                                     most = physics::saturation_pressure(physics::hottest_dew);
                        if (e < least || e > most)
                            return c.refuse(0, fmt::format("a vapour pressure of {} is outside {} to {}, frost "
                                                           "point -100 °C to dew point 100 °C",
                                                           readable(e, type_of(Kind::pressure), 4),
                                                           readable(least, type_of(Kind::pressure), 4),
                                                           readable(most, type_of(Kind::pressure), 5)));
                        return physics::dew_point(e);
                    },
                    "dew point of a share of water; below 0 degC the frost point",
                    sonntag,
                    "dew_point_of(127 ppm, 1 bar)",
                    {}});
    into.push_back({"water_at",
                    subject,
                    {dew(), pressure()},
                    0,
                    type_of(Kind::fraction),
                    [](FunctionCall& c) {
                        const double x = physics::saturation_pressure(c[0]) / c[1];
                        if (x > 1) return c.refuse(0, "the vapour pressure is above the pressure of the gas");
                        return x;
                    },
                    "share of water at a dew point (frost point below 0 degC)",
                    sonntag,
                    "water_at(-40 degC, 1 atm)",
                    {}});
    into.push_back({"oxygen_in_hydrogen",
                    subject,
                    {ratio_part("hydrogen"), ratio_part("water"), temperature()},
                    0,
                    type_of(Kind::pressure),
                    [](FunctionCall& c) { return physics::oxygen_over_hydrogen(c[1] / c[0], c[2]); },
                    "oxygen pressure of hydrogen and water in equilibrium: (pH2O/(pH2 K))^2 bar",
                    janaf,
                    "oxygen_in_hydrogen(100 %, 127 ppm, 1000 degC)",
                    {}});
    into.push_back({"oxygen_in_carbon_monoxide",
                    subject,
                    {ratio_part("carbon_monoxide"), ratio_part("carbon_dioxide"), temperature()},
                    0,
                    type_of(Kind::pressure),
                    [](FunctionCall& c) { return physics::oxygen_over_carbon_monoxide(c[1] / c[0], c[2]); },
                    "oxygen pressure of carbon monoxide and dioxide in equilibrium, soot left out",
                    janaf,
                    "oxygen_in_carbon_monoxide(50 %, 50 %, 1000 degC)",
                    {}});
    into.push_back({"oxygen_potential",
                    subject,
                    {positive("oxygen", Kind::pressure), celsius("temperature", 0, 3000)},
                    0,
                    derived(joule_per_mole),
                    [](FunctionCall& c) { return physics::oxygen_potential(c[0], c[1]); },
                    "R T ln(p(O2)/1 bar), the ordinate of Ellingham's diagram",
                    "definition",
                    "oxygen_potential(1e-15 bar, 1000 degC)",
                    {}});
    // T ln p is not monotone in T where the pressure is above 1 bar: no gas of a furnace is, but the bound must
    // hold.
    into.back().parameters[0].most = physics::bar;
    into.push_back({"dissociation_pressure",
                    subject,
                    {word("oxide", Takes::text), temperature()},
                    0,
                    type_of(Kind::pressure),
                    [](FunctionCall& c) {
                        const physics::Oxide* o = oxide(c, 0, c[1], 1);
                        return o == nullptr ? nothing() : physics::dissociation_pressure(*o, c[1]);
                    },
                    "oxygen pressure over a pure metal and its oxide; below it the oxide is reduced",
                    oxide_source,
                    "dissociation_pressure(\"NiO\", 1000 degC)",
                    {}});
    into.push_back({"critical_water_ratio",
                    subject,
                    {word("oxide", Takes::text), temperature()},
                    0,
                    type_of(Kind::count),
                    [](FunctionCall& c) {
                        const physics::Oxide* o = oxide(c, 0, c[1], 1);
                        return o == nullptr ? nothing() : physics::critical_water_ratio(*o, c[1]);
                    },
                    "pH2O/pH2 over metal and oxide; a drier gas reduces the oxide",
                    oxide_source,
                    "critical_water_ratio(\"Cr2O3\", 1000 degC)",
                    {}});
    into.push_back(
        {"critical_dew_point",
         subject,
         {word("oxide", Takes::text), temperature(), hydrogen(), pressure()},
         0,
         type_of(Kind::dew_point),
         [](FunctionCall& c) {
             const physics::Oxide* o = oxide(c, 0, c[1], 1);
             if (o == nullptr) return nothing();
             const double part = physics::critical_water_ratio(*o, c[1]) * c[2];
             const double e = part / (1 + part) * c[3];
             if (e < physics::saturation_pressure(physics::coldest_frost))
                 return c.refuse(0, fmt::format("{} is reduced there only by a gas drier than a frost "
                                                "point of -100 °C",
                                                o->formula));
             if (e > physics::saturation_pressure(physics::hottest_dew))
                 return c.refuse(
                     0, fmt::format("{} is reduced there at every dew point up to 100 °C", o->formula));
             return physics::dew_point(e);
         },
         "dew point below which a gas with hydrogen, given as a share of its dry part, reduces the oxide",
         "NIST-JANAF thermochemical tables; Sonntag 1990",
         "critical_dew_point(\"Cr2O3\", 1000 degC)",
         {}});
    into.push_back({"reduces",
                    subject,
                    {word("oxide", Takes::text), temperature(), dew(), hydrogen(), pressure()},
                    0,
                    type_of(Kind::boolean),
                    [](FunctionCall& c) {
                        const physics::Oxide* o = oxide(c, 0, c[1], 1);
                        if (o == nullptr) return nothing();
                        const double ratio = water_ratio(c, c[2], c[3], c[4], 2);
                        return ratio < physics::critical_water_ratio(*o, c[1]) ? 1.0 : 0.0;
                    },
                    "does a gas of this dew point and share of hydrogen reduce the pure metal's oxide",
                    oxide_source,
                    "reduces(\"NiO\", 600 degC, -40 degC, 5 %)",
                    {}});
    std::vector<std::string_view> formulas;
    for (const physics::Oxide& o : physics::oxides()) formulas.push_back(o.formula);
    into.push_back({"reduced_oxides",
                    subject,
                    {temperature(), dew(), hydrogen(), pressure()},
                    0,
                    type_of(Kind::text),
                    [](FunctionCall& c) {
                        const physics::Oxide& o = physics::oxides()[c.choice];
                        // An oxide whose figures do not reach this temperature is not promised.
                        if (c[0] < o.coldest || c[0] > o.hottest) return 0.0;
                        const double ratio = water_ratio(c, c[1], c[2], c[3], 1);
                        return ratio < physics::critical_water_ratio(o, c[0]) ? 1.0 : 0.0;
                    },
                    "every known oxide that such a gas surely reduces",
                    oxide_source,
                    "reduced_oxides(1000 degC, -40 degC, 5 %)",
                    formulas});
}

} // namespace athanor::check
