// Functions of the language: what they give for published figures, what they refuse and where, and that the
// interval of an uncertain argument holds every result inside.
#include "compiler/check/functions.hpp"
#include "recipes_support.hpp"
#include "tests/physics/about.hpp"

#include <cmath>
#include <random>
#include <set>

using namespace athanor;

namespace {

/// `let x = EXPRESSION` at file level.
struct Worked {
    Checked c;
    check::ExprId expr = 0;
    check::Value value;
    explicit Worked(const std::string& text, const std::string& beside = "")
        : c("let x = " + text + "\n" + beside) {
        for (const auto& [name, id] : c.model.lets)
            if (c.model.names[name] == "x") expr = id;
        if (!c.out.any_error()) value = c.value(expr);
    }
    double si() const { return value.number.middle(); }
    std::string said() const { return c.findings(); }
};

struct Figure {
    const char* expression;
    double si, within; // relative
};

constexpr double normal_flow = 101325 / (8.31446261815324 * 273.15) * 1e-3 / 60; // mol/s of 1 slm
constexpr double celsius = 273.15;

// Published or hand-worked values of every function; the sources stand in tests/physics beside the same
// figures.
const Figure figures[] = {
    {"min(5 %, 200 ppm)", 200e-6, 0},
    {"max(45 min, 1 h)", 3600, 0},
    {"abs(-5 K)", 5, 0},
    {"purge_time(5 L, 1 L/min, 20.95 %, 100 ppm, 1, 5 ppm)", 38.49 * 60, 1e-3},
    {"purge_time(5 L, 1 L/min, 20.95 %, 100 ppm, mixing = 0.5, supply = 5 ppm)", 76.99 * 60, 1e-3},
    {"purge_volumes(20.95 %, 1 %)", 3.042, 1e-3},
    {"purged_share(5 L, 1 L/min, 20 min, 20.95 %, supply = 5 ppm)", 0.003842, 1e-3},
    {"dilution_cycles(21 %, 1 ppm, 20 mmHg, 760 mmHg)", 4, 1e-9},
    {"diluted_share(20.95 %, 2, 1 mbar, 1013.25 mbar, 3 ppm)", 3.204e-6, 1e-3},
    {"oxygen_from_leak(4.167e-3 mbar*L/s, 200 sccm)", 240.8e-6, 1.2e-3},
    {"sealed_pressure(101.325 kPa, 1000 degC, 20 degC)", 23330, 1e-3},
    {"make_up_flow(3 L, 800 degC, 10 K/min)", 7.12e-3 * normal_flow, 1e-3},
    {"actual_flow(1 slm, 900 degC, 1 atm)", 4.2949e-3 / 60, 1e-4},
    {"amount_flow(4.2949 L/min, 900 degC, 1 atm)", normal_flow, 1e-4},
    {"at_reference(1 L/min, 0 degC, 1 atm, 20 degC, 1 atm)", 1.07322e-3 / 60, 1e-5},
    {"thermal_meter_flow(100 sccm, nitrogen, argon)", 0.140 * normal_flow, 1e-9},
    {"rotameter_flow(1 L/min, nitrogen, hydrogen)", 3.729e-3 / 60, 1e-3},
    {"gas_density(nitrogen, 20 degC, 1 atm)", 1.16483, 1e-3},
    {"viscosity(argon, 1000 degC)", 65.5e-6, 2e-3},
    {"viscosity(air, 20 degC)", 18.22e-6, 0.02},
    {"diffusivity(hydrogen, nitrogen, 20 degC, 1 atm)", 0.760e-4, 0.05},
    {"reynolds(nitrogen, 1 slm, 50 mm, 20 degC)", 30.3, 3e-3},
    {"peclet(1 L/min, 6 mm, 200 mm, 0.2 cm2/s)", 5895, 1e-3},
    {"back_diffusion(0.15625 mL/min, 6 mm, 1 m, 0.2 cm2/s)", 0.01, 3e-3},
    {"leak_from_rise(5 L, 0.5 mbar, 600 s)", 4.167e-4, 1e-3},
    {"molecular_conductance(air, 25 mm, 1 m)", 1.8296e-3, 5e-3},
    {"viscous_conductance(air, 25 mm, 1 m, 1 mbar)", 52.73e-3, 0.02},
    {"pipe_conductance(nitrogen, 25 mm, 1 m, 0.01 mbar)", 1.8296e-3 * 1.0171 + 5.273e-4 * 1.042, 5e-3},
    {"in_series(5 L/s, 1.8906 L/s)", 1.372e-3, 1e-3},
    {"in_series(6 L/s, 3 L/s, 2 L/s)", 1e-3, 1e-9},
    {"mean_free_path(air, 1 mbar)", 6.65e-5, 0.02},
    {"knudsen(air, 1 mbar, 66.5 um)", 1, 0.02},
    {"pump_down_time(5 L, 1 L/s, 1013.25 mbar, 1 mbar, 0.1 mbar)", 35.13, 1e-3},
    {"base_pressure(2e-5 mbar*L/s, 1 L/s)", 2e-3, 1e-9},
    {"saturation_pressure(20 degC)", 2339.25, 1e-4},
    {"dew_point_of(126.69 ppm)", celsius - 40, 1e-5},
    {"water_at(-60 degC, 1 atm)", 10.666e-6, 1e-3},
    {"oxygen_in_hydrogen(100 %, 126.69 ppm, 1000 degC)", 4.55e-18, 0.02},
    {"oxygen_in_carbon_monoxide(50 %, 50 %, 1000 K)", 1e5 * std::exp(-2 * 195611 / 8314.4626), 1e-6},
    {"oxygen_potential(dissociation_pressure(\"Cr2O3\", 1000 degC), 1000 degC)", -533.3e3, 5e-4},
    {"dissociation_pressure(\"Cr2O3\", 1000 degC)", 1.318e-17, 0.02},
    {"critical_water_ratio(\"MoO2\", 1000 degC)", 0.8240, 0.01},
    {"critical_dew_point(\"Cr2O3\", 1000 degC)", celsius - 35.2, 1e-3},
    {"critical_dew_point(\"MoO2\", 800 degC)", celsius + 68.9, 1e-3},
    {"lower_limit(hydrogen, 400 degC)", 0.015, 1e-6},
    {"lower_limit(cracked_ammonia)", 0.0533, 2e-3},
    {"upper_limit(methane)", 0.17, 1e-9},
    {"le_chatelier(24 %, 1.2 %, 61 %, 5.3 %, 15 %, 3.1 %)", 0.02751, 1e-3},
    {"iso_10156(forming_gas_5)", 0.05 / 0.055, 1e-9},
    {"greatest_share(hydrogen, argon)", 0.0310, 2e-3},
    {"limiting_oxygen(hydrogen)", 0.0425, 1e-9},
    {"stoichiometric_share(methane)", 0.0948, 1e-3},
    {"air_demand(cracked_ammonia, 5 slm, 20 %)", 10.74 * normal_flow, 1e-3},
    {"heat_release(hydrogen, 10 slm)", 1798, 1e-3},
    {"heat_release(cracked_ammonia, 5 slm)", 674, 1e-3},
    {"compressibility(nitrogen, 200 bar)", 1.0478, 0.01},
    {"cylinder_content(nitrogen, 50 L, 200 bar)", 398.4, 0.01},
    {"cylinder_time(helium, 50 L, 200 bar, 100 bar, 1 slm)",
     (0.05 / (8.31446 * 288.15)) * (200e5 / 1.0970 - 100e5 / 1.0497) / normal_flow, 5e-3},
    {"gas_volume(398.4 mol)", 8.93, 1e-3},
    {"gas_volume(398.4 mol, 15 degC, 1 bar)", 9.54, 1e-3},
    {"heating_energy(2 kg, 1100 J/kg/K, 900 K)", 1.98e6, 1e-9},
    {"radiated_power(1 m2, 0.8, 1273.15 K, 293.15 K)", 118850, 1e-4},
    {"wall_difference(fused_quartz, 60 mm, 5 mm, 10 K/min)", 0.791 * 2.482e-6 / (1.4 / (2200 * 670)), 2e-3},
    {"wall_stress(fused_quartz, 60 mm, 5 mm, 10 K/min)",
     1.86e6 * (72.0 / 390) * (5.5e-7 / 7.1e-6) * (0.763 / 0.83) * 2.482e-6 / (1.4 / (2200 * 670)), 5e-3},
    {"thermal_shock(fused_quartz)", 1006, 1e-3},
    {"pressure_stress(200 mm, 50 mm, 600 bar gauge)", 100e6, 1e-9},
    {"vacuum_stress(200 mm, 50 mm, 600 bar)", 2 * 60e6 * 0.01 / 0.0075, 1e-9},
    // The handbooks' form for a short tube of metal, 2.6 E (t/D)^2.5 / (L/D - 0.45 (t/D)^0.5).
    {"collapse_pressure(heat_resistant_steel, 151 mm, 0.5 mm, 1500 mm)", 33280, 2e-3},
    {"diffusion_coefficient(2.3e-5 m2/s, 148 kJ/mol, 1000 degC)", 1.9486e-11, 1e-3},
    {"diffusion_length(2.3e-5 m2/s, 148 kJ/mol, 1000 degC, 4 h)", 529.7e-6, 1e-3},
    {"ramp_diffusion_length(2.3e-5 m2/s, 148 kJ/mol, 912 degC, 1000 degC, 10 K/min)", 8.0492e-5, 1e-3},
    {"equivalent_time(148 kJ/mol, 1000 degC, 1 h, 950 degC)", 1.771 * 3600, 1e-3},
    {"hollomon_jaffe(600 degC, 2 h)", 17725.8, 1e-5},
    {"hollomon_jaffe_time(17725.8, 580 degC)", 5.983 * 3600, 1e-3},
    {"larson_miller(1073 K, 232.9 h)", 24.0e3, 1e-4},
    {"larson_miller_time(24000, 1073 K)", 232.9 * 3600, 1e-3},
    {"sintering_work(440 kJ/mol, 1400 degC, 2 h)", 7.8987e-14, 1e-4},
    {"ramp_sintering_work(440 kJ/mol, 20 degC, 1400 degC, 10 K/min)", 3.3783e-15, 1e-4},
    {"emf(type_k, 900 degC)", 37.326e-3, 1e-4},
    {"emf(type_r, 1500 degC)", 17.451e-3, 1e-4},
    {"emf_temperature(type_k, 30 mV, 23.5 degC)", 743.40 + celsius, 1e-5},
    {"seebeck(type_b, 1000 degC)", 9.12e-6, 1e-3},
    {"thermocouple_tolerance(type_k, 1000 degC, 1)", 4.0, 1e-9},
    {"thermocouple_tolerance(type_s, 1300 degC, 1)", 1.6, 1e-9},
    {"thermocouple_tolerance(type_n, -200 degC, 3)", 3.0, 1e-9},
};

} // namespace

TEST_CASE("published figures") {
    for (const Figure& f : figures) {
        CAPTURE(std::string(f.expression));
        Worked w(f.expression);
        CHECK(w.said() == "");
        REQUIRE_FALSE(w.value.poison());
        CHECK(w.si() == about(f.si, f.within + 1e-12));
        CHECK(w.value.number.width() <= 1e-9 * std::fabs(f.si));
    }
}

TEST_CASE("every function has a figure, an example that works, and says where it is from") {
    std::set<std::string_view> names;
    for (const check::Function& f : check::functions()) {
        CAPTURE(std::string(f.name));
        CHECK(names.insert(f.name).second);
        const auto calls = [&](std::string_view text) { return text.starts_with(std::string(f.name) + "("); };
        CHECK((!f.choices.empty() || f.result.kind == Kind::boolean ||
               std::any_of(std::begin(figures), std::end(figures),
                           [&](const Figure& figure) { return calls(figure.expression); })));
        CHECK(!f.does.empty());
        CHECK(!f.source.empty());
        CHECK(calls(f.example));
        Worked w{std::string(f.example)};
        CHECK(w.said() == "");
        CHECK_FALSE(w.value.poison());
        // A reserved word would be no name for an argument.
        for (const check::FunctionParameter& p : f.parameters) {
            CAPTURE(std::string(p.name));
            const std::string said = Worked(std::string(f.name) + "(" + std::string(p.name) + " = ?)").said();
            CHECK(said.find("[syntax]") == std::string::npos);
        }
        CHECK(check::signature(f).starts_with(std::string(f.name) + "("));
    }
    CHECK(names.size() > 60);
}

TEST_CASE("truths and names") {
    // Nickel oxide goes at 600 degC in damp forming gas; chromia at 1000 degC only below -35 degC in pure
    // hydrogen.
    CHECK(Worked("reduces(\"NiO\", 600 degC, -40 degC, 5 %)").value.number == Interval(1));
    CHECK(Worked("reduces(\"Cr2O3\", 1000 degC, -36 degC)").value.number == Interval(1));
    CHECK(Worked("reduces(\"Cr2O3\", 1000 degC, -34 degC)").value.number == Interval(0));
    Worked w("reduced_oxides(1000 degC, -40 degC, 5 %)");
    std::string names;
    for (const check::Value& v : w.value.list) names += w.c.model.texts[v.index] + " ";
    CHECK(names == "Cu2O NiO CoO MoO2 WO2 Fe0.947O ");
    CHECK(Worked("reduced_oxides(1000 degC, -40 degC)").value.list.size() == 7);
    // A list of names is for reading: a recipe cannot take one step with it.
    CHECK(findings_of("let y = reduced_oxides(1000 degC, -40 degC, 5 %)\ndwell 1 h").find("[misplaced]") !=
          std::string::npos);
    CHECK(Worked("reduced_oxides(1000 degC, -40 degC, 5 %) is \"NiO\"").said().find("[misplaced]") !=
          std::string::npos);
}

TEST_CASE("an uncertain argument gives the interval of all results") {
    std::mt19937 random(20250917);
    std::uniform_real_distribution<double> unit(0, 1);
    std::size_t compared = 0;
    for (const check::Function& f : check::functions()) {
        if (f.compute == nullptr || !f.choices.empty()) continue;
        CAPTURE(std::string(f.name));
        Worked w{std::string(f.example)};
        REQUIRE(w.expr != 0);
        const check::Expr e = w.c.model.exprs[w.expr];
        if (e.op != check::Op::call) continue; // the example nests it
        std::vector<check::Value> given;
        for (check::Index i = 0; i < e.count; ++i) given.push_back(w.c.value(w.c.model.arguments[e.first + i]));
        for (int round = 0; round < 40; ++round) {
            std::vector<check::Value> box = given;
            for (std::size_t i = 0; i < box.size(); ++i) {
                const std::size_t n = f.parameters.size();
                const check::FunctionParameter& p = f.parameters[i < n ? i : n - 1];
                if (p.takes != check::Takes::quantity || p.certain || unit(random) < 0.3) continue;
                const double x = box[i].number.middle(), half = (0.02 + 0.2 * unit(random)) * std::fabs(x);
                box[i].number = {std::max(p.above ? x * 0.5 : p.least, x - half), std::min(p.most, x + half)};
            }
            Diagnostics out;
            const check::Value hull_ = check::call_function(w.c.model, e, box, out);
            if (out.any_error()) continue; // some corner is outside
            for (int k = 0; k < 30; ++k) {
                std::vector<check::Value> inside = box;
                for (check::Value& v : inside)
                    if (!v.number.is_point())
                        v.number = v.number.lo + unit(random) * (v.number.hi - v.number.lo);
                Diagnostics none;
                const check::Value y = check::call_function(w.c.model, e, inside, none);
                CHECK_FALSE(none.any_error());
                if (none.any_error()) continue;
                ++compared;
                const Interval h = hull_.number;
                const double slack = 1e-11 * std::max(std::fabs(h.lo), std::fabs(h.hi));
                CHECK(h.lo <= y.number.middle() + slack);
                CHECK(y.number.middle() <= h.hi + slack);
            }
        }
    }
    CHECK(compared > 20000);
}

TEST_CASE("type B near its minimum: an interval over 21 degC knows it") {
    Worked w("emf(type_b, 20 degC ± 15 K)");
    CHECK(w.value.number.lo * 1e6 == about(-2.585, 1e-3));
    Worked around("thermocouple_tolerance(type_k, 0 degC ± 30 K, 1)");
    CHECK(around.value.number.lo == about(1.5));
}

TEST_CASE("what is refused, and where") {
    const auto said = [](const std::string& text) { return Worked(text).said(); };
    CHECK(
        said("emf(type_k, 1400 degC)") ==
        "t.ath:1:21: error: 1400 °C is outside the range of `type_k`, -270 °C to 1300 °C [outside_validity]\n");
    CHECK(said("dew_point_of(127 ppm, 0 bar)") == "t.ath:1:31: error: `pressure` of `dew_point_of` is 0 mbar; "
                                                  "its equation holds for more than 0 mbar, at most "
                                                  "100 bar [outside_validity]\n");
    CHECK(said("purge_time(5 L, 1 L/min, 1 %, 2 %)") ==
          "t.ath:1:39: error: the target is not below the share at the start [outside_validity]\n");
    CHECK(said("purge_time(5 L, 1 L/min, 1 %, 5 ppm, supply = 5 ppm)") ==
          "t.ath:1:39: error: the target is not above what the supply itself carries: it is never reached "
          "[outside_validity]\n");
    CHECK(said("viscosity(methane, 900 degC)")
              .find("1:28: error: 900 °C is outside what is known of the viscosity of "
                    "methane") != std::string::npos);
    CHECK(said("cylinder_content(carbon_dioxide, 50 L, 40 bar)")
              .find("a gas that liquefies in its cylinder is weighed") != std::string::npos);
    CHECK(said("dissociation_pressure(\"Fe2O3\", 900 degC)")
              .find("t.ath:1:31: error: no oxide \"Fe2O3\" is known") == 0);
    CHECK(said("lower_limit(argon)") ==
          "t.ath:1:21: error: `argon` holds no flammable gas [outside_validity]\n");
    CHECK(said("lower_limit(hydrogen, 700 degC)").find("[outside_validity]") != std::string::npos);
    CHECK(said("seebeck(type_k, 900 degC ± 5 K)").find("is uncertain") != std::string::npos);
    CHECK(said("thermocouple_tolerance(type_k, 900 degC, 3)")
              .find("class 3 of `type_k` is stated for -200 °C to 40 °C") != std::string::npos);
    CHECK(said("emf_temperature(type_b, 0 mV)").find("[outside_validity]") != std::string::npos);
    // The ends of the printed tables (IEC 60584-1:2013) are rounded to 1 uV.
    CHECK(said("emf_temperature(type_s, -0.236 mV)") == "");
    CHECK(said("emf_temperature(type_n, 47.513 mV)") == "");
    CHECK(said("emf_temperature(type_s, -0.237 mV)").find("[outside_validity]") != std::string::npos);
    CHECK(said("emf_temperature(type_n, 47.514 mV)").find("[outside_validity]") != std::string::npos);
    // An interval that reaches out of the range is out of the range.
    CHECK(said("saturation_pressure(95 degC ± 10 K)").find("[outside_validity]") != std::string::npos);
    // A limit itself is inside, in whatever unit it is written.
    CHECK(said("saturation_pressure(212 degF)") == "");
}

TEST_CASE("types, names and numbers of arguments") {
    const auto said = [](const std::string& text) { return Worked(text).said(); };
    CHECK(said("purge_time(5 L, 1 slm, 20 %, 1 %)") ==
          "t.ath:1:25: error: `flow` of `purge_time` takes a volume flow (volume per time at the meter); `1 "
          "slm` is a "
          "flow (amount of gas per time) [unit_mismatch]\n");
    CHECK(said("purge_time(5, 1 L/min, 20 %, 1 %)").find("[missing_unit]") != std::string::npos);
    CHECK(said("purge_time(5 L, 1 L/min, 20 %)") ==
          "t.ath:1:9: error: function `purge_time` needs a value for `target` [value_missing]\n");
    CHECK(said("purge_time(5 L, 1 L/min, 20 %, 1 %, 1, 0 ppm, 3)").find("takes at most 6 values [misplaced]") !=
          std::string::npos);
    CHECK(said("purge_time(5 L, 1 L/min, 20 %, 1 %, mixin = 1)")
              .find("has no parameter `mixin` [unknown_name]") != std::string::npos);
    CHECK(said("purge_time(5 L, target = 1 %, 20 %)")
              .find("a value by position behind one by name [misplaced]") != std::string::npos);
    CHECK(said("purge_time(5 L, volume = 6 L)").find("`volume` is given twice [duplicate_name]") !=
          std::string::npos);
    CHECK(Worked("purge_time(target = 1 %, initial = 20 %, flow = 1 L/min, volume = 5 L)").si() ==
          about(Worked("purge_time(5 L, 1 L/min, 20 %, 1 %)").si()));
    CHECK(said("emf(type_z, 900 degC)")
              .find("t.ath:1:13: error: `couple` of `emf` takes the name of a "
                    "thermocouple; none is called `type_z` [unknown_name]") == 0);
    CHECK(said("emf(900 degC, 900 degC)").find("takes the name of a thermocouple [unit_mismatch]") !=
          std::string::npos);
    CHECK(said("wall_stress(type_k, 60 mm, 5 mm, 1 K/min)").find("takes the name of a material") !=
          std::string::npos);
    CHECK(said("le_chatelier(1 %, 2 %, 3 %)").find("takes its values 2 by 2 [value_missing]") !=
          std::string::npos);
    CHECK(said("in_series(1 L/s)").find("needs a value for") != std::string::npos);
    CHECK(said("emff(type_k, 900 degC)").find("no function is called `emff` [unknown_name]") !=
          std::string::npos);
    CHECK(said("lower_limit(nothing_known)").find("[unknown_name]") != std::string::npos);
    // A volume that gas takes and an amount are two things; `300 K` is a temperature where one is due.
    CHECK(said("actual_flow(1 L/min, 300 K, 1 bar)").find("[unit_mismatch]") != std::string::npos);
    CHECK(said("actual_flow(1 slm, 300 K, 1 bar)") == "");
}

TEST_CASE("gases, materials and thermocouples of one's own") {
    const std::string lean = "gas lean = 3 % hydrogen + rest argon\n";
    CHECK(Worked("iso_10156(lean)", lean).si() == about(0.03 / (0.03 + 0.55 * 0.97) / 0.055, 1e-9));
    CHECK(Worked("gas_density(lean, 0 degC, 1 atm)", lean).si() ==
          about((0.03 * 2.016 + 0.97 * 39.948) / 22.41397, 1e-5));
    Worked couple("emf(type_w, 900 degC)",
                  "thermocouple type_w { range 0 degC to 2300 degC source \"a data sheet\" }\n");
    CHECK(couple.said().find("no reference function is known here for `type_w`") != std::string::npos);
    Worked glass("thermal_shock(glass)", "material glass { limit 500 degC source \"a data sheet\" }\n");
    CHECK(glass.said().find("`glass` declares no `elastic_modulus`") != std::string::npos);
}

TEST_CASE("functions in a recipe: parameters go in, steps take what comes out") {
    Checked c(recipe_with("dwell equivalent_time(180 kJ/mol, 640 degC, 45 min, other = peak)\n"
                          "if lower_limit(hydrogen) > 3 % { dwell 1 h }",
                          "peak : temperature = 640 degC"));
    CHECK(c.findings() == "");
    check::Frame frame;
    frame.slots.push_back({type_of(Kind::temperature), 640 + celsius, check::none, {}});
    const check::Statement dwell = c.steps().at(0);
    CHECK(c.value(dwell.value, frame).number.middle() == about(2700));
}
