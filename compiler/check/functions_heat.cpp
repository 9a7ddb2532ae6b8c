// Functions of heat: energy, radiation, stress of a tube's wall.
#include "compiler/check/function_rows.hpp"
#include "compiler/physics/heat.hpp"

#include <algorithm>
#include <cmath>
#include <fmt/format.h>

namespace athanor::check {

using namespace rows;

namespace {

constexpr std::string_view subject = "heat and walls";
constexpr std::string_view lame = "Lame; Timoshenko & Goodier, Theory of Elasticity (from memory)";
constexpr std::string_view wall_source =
    "Carslaw & Jaeger, ch. 7; Timoshenko & Goodier, ch. 13 (from memory); the material's own figures";

FunctionParameter outer() {
    return positive("outer_diameter", Kind::length, 10);
}
FunctionParameter wall() {
    return positive("wall", Kind::length, 5);
}

bool has_bore(FunctionCall& c, std::size_t diameter, std::size_t wall_at) {
    if (c[wall_at] < c[diameter] / 2) return true;
    c.refuse(wall_at, "the wall is not thinner than half the outer diameter");
    return false;
}

/// The most unfavourable of the declared figures: stiff, long to expand, slow to even out.
bool worst(FunctionCall& c, std::size_t i, physics::Wall& into) {
    const Material& m = c.material(i);
    if (m.broken) {
        c.silent();
        return false;
    }
    const std::pair<const Figure*, const char*> needed[] = {
        {&m.elastic_modulus, "elastic_modulus"}, {&m.poisson, "poisson"}, {&m.expansion, "expansion"},
        {&m.conductivity, "conductivity"},       {&m.density, "density"}, {&m.heat_capacity, "heat_capacity"}};
    for (const auto& [figure, name] : needed)
        if (!figure->given) {
            c.refuse(i, fmt::format("`{}` declares no `{}`", m.name, name));
            return false;
        }
    into = {m.elastic_modulus.hi(), m.poisson.hi(), m.expansion.hi(),
            m.conductivity.lo(),    m.density.hi(), m.heat_capacity.hi()};
    return true;
}

double nothing() {
    return std::numeric_limits<double>::quiet_NaN();
}

} // namespace

void add_heat_functions(Functions& into) {
    into.push_back({"heating_energy",
                    subject,
                    {not_negative("mass", Kind::mass), positive("heat_capacity", Kind::heat_capacity),
                     not_negative("rise", Kind::difference)},
                    0,
                    type_of(Kind::energy),
                    [](FunctionCall& c) { return c[0] * c[1] * c[2]; },
                    "heat that a mass takes up: m c dT",
                    "definition",
                    "heating_energy(2 kg, 1100 J/kg/K, 900 K)",
                    {}});
    into.push_back({"radiated_power",
                    subject,
                    {positive("area", Kind::area), quantity("emissivity", Kind::count, 0, 1),
                     celsius("temperature", -200, 3000),
                     otherwise(celsius("surroundings", -200, 3000), physics::zero_celsius + 20)},
                    0,
                    type_of(Kind::power),
                    [](FunctionCall& c) { return physics::radiated_power(c[0], c[1], c[2], c[3]); },
                    "net radiation of a grey body into black surroundings: e sigma A (T^4 - Ta^4)",
                    "Stefan-Boltzmann; CODATA 2018",
                    "radiated_power(1 m2, 0.8, 1000 degC, 20 degC)",
                    {}});
    into.push_back({"wall_difference",
                    subject,
                    {word("made_of", Takes::material), outer(), wall(), not_negative("rate", Kind::rate)},
                    0,
                    type_of(Kind::difference),
                    [](FunctionCall& c) {
                        physics::Wall m{};
                        if (!worst(c, 0, m) || !has_bore(c, 1, 2)) return nothing();
                        return physics::wall_difference(c[1], c[2], c[3], m.diffusivity());
                    },
                    "greatest difference across a tube's wall heated or cooled from outside at a steady rate",
                    wall_source,
                    "wall_difference(alumina, 60 mm, 5 mm, 10 K/min)",
                    {}});
    into.push_back(
        {"wall_stress",
         subject,
         {word("made_of", Takes::material), outer(), wall(), not_negative("rate", Kind::rate)},
         0,
         type_of(Kind::stress),
         [](FunctionCall& c) {
             physics::Wall m{};
             if (!worst(c, 0, m) || !has_bore(c, 1, 2)) return nothing();
             return std::max(-physics::outer_stress(m, c[1], c[2], c[3]),
                             physics::inner_stress(m, c[1], c[2], c[3]));
         },
         "greatest thermal stress that a steady rate sets up through the wall, tension when cooling; ends, "
         "clamps and jets of gas stress a tube more",
         wall_source,
         "wall_stress(alumina, 60 mm, 5 mm, 10 K/min)",
         {}});
    into.push_back(
        {"thermal_shock",
         subject,
         {word("made_of", Takes::material)},
         0,
         type_of(Kind::difference),
         [](FunctionCall& c) {
             physics::Wall m{};
             if (!worst(c, 0, m)) return nothing();
             if (!c.material(0).strength.given)
                 return c.refuse(0, fmt::format("`{}` declares no `strength`", c.material(0).name));
             return physics::thermal_shock(c.material(0).strength.lo(), m.poisson, m.modulus, m.expansion);
         },
         "sudden change of surface temperature that a material bears: sigma (1-nu)/(E alpha), at its least "
         "favourable figures",
         "Kingery, Bowen & Uhlmann, Introduction to Ceramics, ch. 16 (from memory)",
         "thermal_shock(fused_quartz)",
         {}});
    into.push_back(
        {"pressure_stress",
         subject,
         {outer(), wall(), not_negative("overpressure", Kind::overpressure)},
         0,
         type_of(Kind::stress),
         [](FunctionCall& c) {
             if (!has_bore(c, 0, 1)) return nothing();
             return physics::hoop_stress_inside(c[0], c[1], c[2]);
         },
         "hoop stress at the bore of a tube under overpressure inside: p (b^2 + a^2)/(b^2 - a^2), tension",
         lame,
         "pressure_stress(60 mm, 5 mm, 200 mbar gauge)",
         {}});
    into.push_back(
        {"vacuum_stress",
         subject,
         {outer(), wall(), otherwise(not_negative("ambient_pressure", Kind::pressure), physics::atmosphere)},
         0,
         type_of(Kind::stress),
         [](FunctionCall& c) {
             if (!has_bore(c, 0, 1)) return nothing();
             return physics::hoop_stress_outside(c[0], c[1], c[2]);
         },
         "hoop stress at the bore of an evacuated tube, 2 p b^2/(b^2 - a^2), compression; buckling and creep "
         "are left out",
         lame,
         "vacuum_stress(60 mm, 5 mm)",
         {}});
    into.push_back(
        {"collapse_pressure",
         subject,
         {word("made_of", Takes::material), outer(), wall(), positive("length", Kind::length, 100)},
         0,
         type_of(Kind::pressure),
         [](FunctionCall& c) {
             const Material& m = c.material(0);
             if (m.broken) {
                 c.silent();
                 return nothing();
             }
             if (!m.elastic_modulus.given || !m.poisson.given)
                 return c.refuse(0, fmt::format("`{}` declares no `{}`", m.name,
                                                m.elastic_modulus.given ? "poisson" : "elastic_modulus"));
             if (!has_bore(c, 1, 2)) return nothing();
             if (const double p =
                     physics::collapse_pressure(m.elastic_modulus.lo(), m.poisson.lo(), c[1], c[2], c[3]);
                 std::isfinite(p))
                 return p;
             return c.refuse(3, "so short a tube does not collapse by buckling");
         },
         "pressure outside above inside at which a cold, round tube held round at its ends buckles, at its "
         "material's least stiffness: the greater of the forms for a long and for a short tube; ask for three "
         "times what presses on it",
         "Timoshenko & Gere, Theory of Elastic Stability, ch. 7; Windenburg & Trilling, Trans. ASME 56 (1934) "
         "819 (from memory)",
         "collapse_pressure(fused_quartz, 60 mm, 3 mm, 1200 mm)",
         {}});
}

} // namespace athanor::check
