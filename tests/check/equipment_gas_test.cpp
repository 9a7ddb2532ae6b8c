#include "tests/check/equipment_rig_support.hpp"
#include "tests/check/equipment_support.hpp"

#include "compiler/check/gas_mixture.hpp"

using namespace athanor;
using namespace athanor::check;

namespace {

double share(const Equipment& e, const Gas& gas, std::string_view species) {
    for (const auto& [index, part] : gas.parts)
        if (e.model.gases[index].name == species) return part.middle();
    return 0;
}

bool flammable(const std::string& mixture) {
    Equipment e("gas mix = " + mixture);
    REQUIRE(e.findings() == "");
    return e.gas("mix").hazards.flammable;
}

} // namespace

TEST_CASE("the standard library of gases reads without a finding") {
    Equipment e("");
    CHECK(e.findings() == "");
    const Gas& hydrogen = e.gas("hydrogen");
    CHECK(hydrogen.formula == "H2");
    CHECK(hydrogen.hazards.flammable);
    CHECK(hydrogen.lower_limit.lo() == doctest::Approx(0.04).scale(0));                // IEC 60079-20-1:2010
    CHECK(hydrogen.upper_limit.lo() == doctest::Approx(0.77).scale(0));                // IEC 60079-20-1:2010
    CHECK(hydrogen.safety_temperature.lo() == doctest::Approx(760 + 273.15).scale(0)); // NFPA 86: 1400 degF
    CHECK(hydrogen.safety_temperature.reference == "NFPA 86, 1400 degF");
    CHECK(hydrogen.limiting_oxygen.lo() ==
          doctest::Approx(5.0 * 0.85 / 100).scale(0));                           // NFPA 69, adjusted tube value
    CHECK(hydrogen.heat_of_combustion.lo() == doctest::Approx(241826).scale(0)); // NIST-JANAF
    CHECK(e.gas("carbon_monoxide").lower_limit.lo() == doctest::Approx(0.109).scale(0)); // IEC 60079-20-1:2010
    CHECK(e.gas("carbon_monoxide").hazards.toxic);
    // 2 NH3 = N2 + 3 H2: a share x of ammonia in an inert gas cracks to 1.5 x / (1 + x) of hydrogen.
    const Gas& ammonia = e.gas("ammonia");
    CHECK(ammonia.lower_limit.lo() <= hydrogen.lower_limit.lo() / 1.5);
    CHECK(ammonia.upper_limit.lo() >= hydrogen.upper_limit.lo());
    CHECK(ammonia.autoignition.lo() <= hydrogen.autoignition.lo());
    const double cracked = ammonia.fuel_threshold.lo();
    CHECK(1.5 * cracked / (1 + cracked) <= hydrogen.fuel_threshold.lo());
    CHECK(e.gas("argon").inert_equivalence.lo() == doctest::Approx(0.55).scale(0)); // ISO 10156:2017
    CHECK(e.gas("argon").hazards.inert);
    CHECK(e.gas("oxygen").hazards.oxidiser);
    // Every figure says where it comes from.
    for (const Gas& gas : e.model.gases)
        for (const Figure* f :
             {&gas.molar_mass, &gas.lower_limit, &gas.upper_limit, &gas.safety_temperature, &gas.autoignition,
              &gas.limiting_oxygen, &gas.inert_equivalence, &gas.fuel_threshold, &gas.exposure_limit,
              &gas.heat_of_combustion, &gas.meter_factor}) {
            CAPTURE(gas.name);
            CHECK((!f->given || !f->reference.empty()));
        }
}

TEST_CASE("air has 20.95 % oxygen and counts as an oxidiser, not as enriched") {
    Equipment e("");
    const Gas& air = e.gas("air");
    CHECK(share(e, air, "oxygen") == doctest::Approx(0.2095).scale(0));
    CHECK(share(e, air, "nitrogen") == doctest::Approx(0.7905).scale(0));
    CHECK(air.hazards.oxidiser);
    CHECK_FALSE(air.hazards.enriched);
    CHECK_FALSE(air.hazards.inert);
    CHECK_FALSE(air.hazards.asphyxiant);
}

TEST_CASE("ISO 10156:2010, table values: the greatest share of hydrogen that cannot burn in air") {
    // Tci(H2) = 5.5 %; Kk 1, 0.55, 0.9, 1.5. Greatest shares 5.50, 3.10, 4.98 and 8.03 % follow by arithmetic.
    CHECK_FALSE(flammable("5.49 % hydrogen + rest nitrogen"));
    CHECK(flammable("5.51 % hydrogen + rest nitrogen"));
    CHECK_FALSE(flammable("3.09 % hydrogen + rest argon"));
    CHECK(flammable("3.11 % hydrogen + rest argon"));
    CHECK_FALSE(flammable("4.97 % hydrogen + rest helium"));
    CHECK(flammable("4.99 % hydrogen + rest helium"));
    CHECK_FALSE(flammable("8.02 % hydrogen + rest carbon_dioxide"));
    CHECK(flammable("8.04 % hydrogen + rest carbon_dioxide"));
}

TEST_CASE("5 % hydrogen is flammable in argon and not in nitrogen, and says why") {
    Equipment e("gas a = 5 % hydrogen + rest argon\ngas n = 5 % hydrogen + rest nitrogen");
    CHECK(e.findings() == "");
    CHECK(e.gas("a").hazards.flammable);
    CHECK(e.gas("a").hazard_reason == "5 % hydrogen in argon: over 3.1 % by ISO 10156");
    CHECK_FALSE(e.gas("n").hazards.flammable);
    CHECK(e.gas("n").hazard_reason == "5 % hydrogen in nitrogen: within 5.5 % by ISO 10156");
    CHECK(e.gas("a").safety_temperature.lo() == doctest::Approx(1033.15).scale(0));
}

TEST_CASE("lower limits of mixtures") {
    const std::string fuels =
        "gas methane_50 { molar_mass 16.043 g/mol ; hazard flammable ; lower_limit 4.4 % ; upper_limit 17 % ; "
        "safety_temperature 760 degC }\n"
        "gas ethane { molar_mass 30.07 g/mol ; hazard flammable ; lower_limit 2.4 % ; upper_limit 15 % ; "
        "safety_temperature 760 degC }\n"
        "gas monoxide { molar_mass 28.01 g/mol ; hazard flammable ; lower_limit 12.5 % ; upper_limit 74 % ; "
        "safety_temperature 760 degC }\n";
    Equipment e(fuels + "gas one = 80 % methane_50 + 20 % ethane\n"
                        "gas three = 40 % methane_50 + 60 % carbon_dioxide\n"
                        "gas producer = 40 % hydrogen + 20 % monoxide + 40 % nitrogen\n"
                        "gas cracked = 75 % hydrogen + 25 % nitrogen\n");
    REQUIRE(e.findings() == "");
    CHECK(e.gas("one").lower_limit.lo() ==
          doctest::Approx(0.037714).scale(0).epsilon(1e-4)); // ISO 10156:2017, example 1
    CHECK(e.gas("three").lower_limit.lo() ==
          doctest::Approx(0.11380).scale(0).epsilon(1e-4)); // ISO 10156:2017, example 3
    // Le Chatelier, limits 4.0 and 12.5 % of NFPA 497:2008: 1 / (0.4/0.04 + 0.2/0.125).
    CHECK(e.gas("producer").lower_limit.lo() == doctest::Approx(0.0862).scale(0).epsilon(1e-3));
    CHECK(e.gas("cracked").lower_limit.lo() ==
          doctest::Approx(0.04 / 0.75).scale(0).epsilon(1e-6)); // Le Chatelier
    CHECK(e.gas("cracked").upper_limit.hi() ==
          doctest::Approx(1.0).scale(0)); // 77 % of the fuel is more than the gas holds
}

TEST_CASE("mixtures of mixtures resolve to pure gases in any order") {
    Equipment e("gas outer = 50 % inner + rest argon\ngas inner = 10 % oxygen + rest argon\ngas grade = 2 ppm "
                "oxygen + 3 ppm water + rest argon");
    REQUIRE(e.findings() == "");
    CHECK(share(e, e.gas("outer"), "oxygen") == doctest::Approx(0.05).scale(0));
    CHECK(share(e, e.gas("outer"), "argon") == doctest::Approx(0.95).scale(0));
    CHECK(e.gas("outer").parts.size() == 2);
    CHECK(e.gas("outer").hazards.oxidiser); // 5 %: above the limiting oxygen of hydrogen, 4.25 % (NFPA 69)
    CHECK(e.gas("grade").hazards.inert);
    CHECK_FALSE(e.gas("grade").hazards.oxidiser);
    CHECK(share(e, e.gas("grade"), "argon") == doctest::Approx(1 - 5e-6).scale(0).epsilon(1e-12));
    CHECK(e.gas("grade").molar_mass.lo() ==
          doctest::Approx(0.03994792).scale(0).epsilon(1e-7)); // mole-weighted mean
}

TEST_CASE("hazards of the parts are carried over") {
    Equipment e("gas lean = 100 ppm hydrogen_sulfide + rest nitrogen\ngas trace = 3 ppm hydrogen_sulfide + "
                "rest nitrogen\n"
                "gas rich = 30 % oxygen + rest nitrogen\ngas fuel = 5 ppm water + rest hydrogen");
    REQUIRE(e.findings() == "");
    CHECK(e.gas("lean").hazards.toxic); // limit 5 ppm
    CHECK_FALSE(e.gas("trace").hazards.toxic);
    CHECK_FALSE(e.gas("lean").hazards.flammable);
    CHECK(e.gas("rich").hazards.enriched); // above 23.5 % (OSHA, EIGA Doc 44/18)
    CHECK(e.gas("rich").hazards.oxidiser);
    CHECK(e.gas("fuel").hazards.flammable);
    CHECK(e.gas("fuel").hazard_reason == "it is hydrogen, but for less than 1 %");
}

TEST_CASE("a thermal meter on a mixture: 1/F = sum x/F") {
    Equipment e("gas half = 50 % argon + 50 % nitrogen");
    CHECK(e.gas("half").meter_factor.lo() == doctest::Approx(1 / (0.5 / 1.40 + 0.5)).scale(0));
}

TEST_CASE("what a mixture cannot be") {
    const auto says = [](const std::string& text, const std::string& expected) {
        CHECK(Equipment(text).findings() == expected);
    };
    says("gas m = 60 % argon + 50 % nitrogen",
         "t.ath:1:1: error: the parts of `m` add to 110 % [rig_inconsistent]\n");
    says("gas m = 60 % argon + 30 % nitrogen", "t.ath:1:1: error: the parts of `m` add to 90 %, and nothing "
                                               "says what the other 10 % are [rig_inconsistent]\n");
    says("gas m = rest argon + rest nitrogen",
         "t.ath:1:22: error: a mixture has one `rest` [duplicate_name]\n");
    says("gas m = 5 % hydrogn + rest nitrogen",
         "t.ath:1:13: error: no gas is called `hydrogn` [unknown_name]\n");
    says("gas m = 5 K hydrogen + rest nitrogen", "t.ath:1:9: error: a part of a mixture is a fraction, not a "
                                                 "difference of temperature [unit_mismatch]\n");
    says("gas m = 0 % hydrogen + rest nitrogen",
         "t.ath:1:9: error: a part of a mixture lies above 0 and up to 100 %, not 0 % [rig_inconsistent]\n");
    says("gas m = ? hydrogen + rest nitrogen",
         "t.ath:1:9: error: this part of the mixture has no share yet [value_missing]\n");
    says("gas a = 5 % b + rest argon\ngas b = 5 % a + rest argon",
         "t.ath:2:13: error: gas `a` is made of itself: `a` of `b` of `a` [recursion]\n");
    says("gas argon = 5 % oxygen + rest nitrogen",
         "t.ath:1:5: error: gas `argon` is declared already in the standard library [duplicate_name]\n");
}

TEST_CASE("what a pure gas cannot be") {
    const auto says = [](const std::string& text, const std::string& expected) {
        CHECK(Equipment(text).findings() == expected);
    };
    says("gas x { hazard inert }",
         "t.ath:1:5: error: gas `x` says nothing about `molar_mass` [rig_inconsistent]\n");
    says("gas x { molar_mass 20 g/mol ; hazard flammable ; lower_limit 3 % ; upper_limit 9 % }",
         "t.ath:1:5: error: gas `x` is flammable and says nothing about `safety_temperature` "
         "[rig_inconsistent]\n");
    says("gas x { molar_mass 20 g/mol ; hazard flammable, inert ; lower_limit 3 % ; upper_limit 9 % ; "
         "safety_temperature 760 degC }",
         "t.ath:1:31: error: gas `x` is said to be flammable and inert [rig_inconsistent]\n");
    says("gas x { molar_mass 20 g/mol ; hazard flammable ; lower_limit 9 % ; upper_limit 3 % ; "
         "safety_temperature 760 degC }",
         "t.ath:1:80: error: the upper limit of `x`, 3 %, does not lie above its lower limit, 9 % "
         "[rig_inconsistent]\n");
    // Silence would count as harmless.
    says("gas x { molar_mass 32 g/mol }",
         "t.ath:1:5: error: gas `x` says nothing about `hazard` [rig_inconsistent]\n");
    says("gas x { molar_mass 20 g/mol ; hazard inert ; lower_limit 3 % ; upper_limit 9 % }",
         "t.ath:1:58: error: gas `x` has a lower limit, and its hazards do not say `flammable` "
         "[rig_inconsistent]\n");
    says("gas x { molar_mass 20 g/mol ; hazard explosive }",
         "t.ath:1:38: error: `hazard` takes `pyrophoric` or `flammable` or `oxidiser` or `inert` or `toxic` or "
         "`asphyxiant` "
         "(more behind commas): "
         "hazard inert, asphyxiant [unknown_property]\n");
}

TEST_CASE("a site's gas claims no less than its formula says") {
    const auto gas = [](const std::string& formula, const std::string& hazards) {
        return Equipment("gas x { formula \"" + formula + "\" ; molar_mass 30 g/mol ; hazard " + hazards + " }")
            .findings();
    };
    const auto says = [](const std::string& what) {
        return "t.ath:1:5: error: gas `x` does not say that it is " + what + " [rig_inconsistent]\n";
    };
    CHECK(gas("H2", "inert") == says("flammable"));
    CHECK(gas("CO2", "inert, asphyxiant").empty());
    CHECK(gas("O2", "inert") == says("an oxidiser"));
    // Not in the standard library: by C + H/4 - O/2, ethane takes 3.5 of oxygen, nitrous oxide gives half a
    // one.
    CHECK(gas("C2H6", "asphyxiant") == says("flammable"));
    CHECK(gas("N2O", "asphyxiant") == says("an oxidiser"));
    CHECK(gas("N2O", "oxidiser").empty());
    // The library gives carbon monoxide both hazards.
    const std::string limits = " ; lower_limit 10.9 % ; upper_limit 74 % ; safety_temperature 760 degC";
    CHECK(gas("CO", "flammable" + limits) == says("toxic"));
    CHECK(gas("CO", "flammable, toxic" + limits).empty());
    // Of other elements the formula says nothing: that is told, where no danger is claimed.
    for (const char* other : {"CHF3", "c3f8", "UF6"})
        CHECK(gas(other, "inert, asphyxiant") ==
              "t.ath:1:5: warning: what " + std::string(other) +
                  " burns to is not known here: gas `x` counts as harmless, as it says [implausible_value]\n");
    CHECK(gas("SF6", "inert, asphyxiant").empty());
    CHECK(gas("WF6", "toxic").empty());
}

TEST_CASE("a site's gas claims no less than the formulas of substances.ath say") {
    const auto gas = [](const std::string& formula, const std::string& hazards) {
        return Equipment("gas x { formula \"" + formula + "\" ; molar_mass 30 g/mol ; hazard " + hazards + " }")
            .findings();
    };
    const auto says = [](const std::string& what) {
        return "t.ath:1:5: error: gas `x` does not say that it is " + what + " [rig_inconsistent]\n";
    };
    CHECK(gas("D2", "inert, asphyxiant") == says("flammable"));
    for (const char* burns_and_poisons :
         {"SiH4", "GeH4", "PH3", "AsH3", "B2H6", "H2Se", "Ni(CO)4", "SiH2Cl2", "HCN", "CH3OH"})
        CHECK(gas(burns_and_poisons, "inert, asphyxiant") == says("flammable and toxic"));
    for (const char* feeds_and_poisons : {"Cl2", "F2", "NF3", "NO2", "NO", "O3"})
        CHECK(gas(feeds_and_poisons, "inert, asphyxiant") == says("an oxidiser and toxic"));
    CHECK(gas("Cl2", "toxic") == says("an oxidiser"));
    for (const char* poisons : {"WF6", "HCl", "HF", "HBr", "BCl3", "SiCl4", "SO2"})
        CHECK(gas(poisons, "inert, asphyxiant") == says("toxic"));
    for (const char* burns : {"C2H2", "C2H4", "C4H10", "C2H5OH"})
        CHECK(gas(burns, "asphyxiant") == says("flammable"));
    // However it is written: another order, brackets, small letters.
    for (const char* same : {"H4Si", "sih4", "NiC4O4", "SIH4"})
        CHECK(gas(same, "inert") == says("flammable and toxic"));
    CHECK(gas("h2", "inert") == says("flammable"));
    // Not listed, but it holds hydrogen or carbon that burns.
    CHECK(gas("Sb(CH3)3", "inert") == says("flammable"));
    CHECK(gas("HD", "inert") == says("flammable"));
    // Heavy water and metal oxides are burnt already.
    CHECK(gas("D2O", "asphyxiant") ==
          "t.ath:1:5: warning: what D2O burns to is not known here: gas `x` counts as harmless, as it says "
          "[implausible_value]\n");
    CHECK(gas("HCl", "inert, toxic") ==
          "t.ath:1:5: error: gas `x` is said to be inert, and it is not [rig_inconsistent]\n");
    CHECK(gas("O3", "oxidiser, toxic, inert") ==
          "t.ath:1:46: error: gas `x` is said to be an oxidiser and inert [rig_inconsistent]\n");
    CHECK(gas("Cl2", "oxidiser, toxic").empty());
    CHECK(gas("SO2", "toxic, asphyxiant").empty());
}

TEST_CASE("what has one formula is one substance, whatever its name") {
    const Equipment e("gas mine { formula \"O 2\" ; molar_mass 32 g/mol ; hazard oxidiser }\n"
                      "gas other { formula \"O₂\" ; molar_mass 32 g/mol ; hazard oxidiser }\n"
                      "gas small { formula \"o2(g)\" ; molar_mass 32 g/mol ; hazard oxidiser }\n"
                      "gas rich = 30 % mine + 10 % other + 5 % oxygen + rest nitrogen\n");
    REQUIRE(e.findings() == "");
    const Index oxygen = e.model.gas_named("oxygen");
    for (const char* name : {"mine", "other", "small"}) {
        CAPTURE(name);
        CHECK(e.model.substance_of(e.model.gas_named(name)) == oxygen);
        CHECK(e.gas(name).formula == "O2");
        CHECK(e.model.delivers(e.model.gas_named(name), oxygen));
        CHECK(e.model.delivers(oxygen, e.model.gas_named(name)));
    }
    CHECK(share(e, e.gas("rich"), "oxygen") == doctest::Approx(0.45));
    CHECK(e.gas("rich").hazards.enriched);
    // A site's own substance under two names is the one that stands first; deuterium is no hydrogen.
    const std::string fuel =
        " ; molar_mass 30 g/mol ; hazard flammable, toxic ; lower_limit 3 % ; upper_limit 80 % ; "
        "safety_temperature 760 degC }\n";
    const Equipment two("gas first { formula \"AsH3\"" + fuel + "gas second { formula \"H3As\"" + fuel +
                        "gas heavy { formula \"D2\"" + fuel);
    CHECK(two.model.substance_of(two.model.gas_named("second")) == two.model.gas_named("first"));
    CHECK(two.model.substance_of(two.model.gas_named("heavy")) == two.model.gas_named("heavy"));
}

TEST_CASE("of one substance under two names the careful figures bind") {
    const Equipment e(
        "gas mine { formula \"H2\" ; molar_mass 2.016 g/mol ; hazard flammable, toxic ; lower_limit 3 % ; "
        "upper_limit 77 % ; safety_temperature 780 degC ; exposure_limit 1 % }\n");
    REQUIRE(e.findings() == "");
    const Gas &own = e.gas("mine"), &known = e.gas("hydrogen");
    CHECK(known.lower_limit.lo() == doctest::Approx(0.03));
    CHECK(known.safety_temperature.lo() == doctest::Approx(780 + 273.15));
    CHECK(known.exposure_limit.lo() == doctest::Approx(0.01));
    CHECK(known.hazards.toxic);
    // What it does not say is taken from the library.
    CHECK(own.limiting_oxygen.lo() == doctest::Approx(0.0425));
    CHECK(own.hazards.asphyxiant);
    // What a site says of its own nitrogen is not true of the room's air.
    const Equipment grade("gas mine { formula \"N2\" ; molar_mass 28 g/mol ; hazard inert, toxic }\n");
    CHECK(grade.gas("mine").hazards.toxic);
    CHECK_FALSE(grade.gas("nitrogen").hazards.toxic);
    CHECK_FALSE(grade.gas("air").hazards.toxic);
}

TEST_CASE("a gas without a formula that claims no danger is warned of") {
    const auto gas = [](const std::string& text) {
        return Equipment("gas x { molar_mass 12 g/mol ; " + text + " }").findings();
    };
    CHECK(gas("hazard asphyxiant") ==
          "t.ath:1:5: warning: gas `x` has no formula, and counts as harmless, as it says "
          "[implausible_value]\n");
    CHECK(gas("hazard toxic").empty());
    // It may be oxygen, and no rule would know.
    CHECK(gas("hazard oxidiser") ==
          "t.ath:1:5: warning: gas `x` is an oxidiser without a formula: no rule about oxygen knows it "
          "[implausible_value]\n");
    CHECK(gas("hazard inert ; formula \"N2\"").empty());
}

TEST_CASE("the message names what is known of the formula, with its source") {
    const Equipment e("gas x { formula \"HCl\" ; molar_mass 36 g/mol ; hazard inert }");
    std::size_t hidden = 0;
    const std::vector<const Diagnostic*> all = e.out.sorted(10, hidden);
    REQUIRE(all.size() == 1);
    CHECK(all.front()->causes.front() ==
          "HCl is hydrogen chloride of the standard library (from memory: CLP annex VI)");
    CHECK(e.remedies() == "add `toxic` to its hazards and leave `inert` out, or correct the formula\n");
    const Equipment h(
        "gas x { formula \"H2\" ; molar_mass 2 g/mol ; hazard flammable ; lower_limit 40 % ; upper_limit "
        "77 % ; safety_temperature 760 degC }");
    CHECK(h.remedies() == "state 4 % or less\nuse `hydrogen`\n");
    CHECK(h.out.sorted(10, hidden).front()->causes.front() == "4 %: IEC 60079-20-1:2010");
}

TEST_CASE("a figure of a known formula is no less careful than the library's") {
    const auto hydrogen = [](const std::string& figures) {
        return Equipment("gas x { formula \"H2\" ; molar_mass 2 g/mol ; hazard flammable\n" + figures + " }")
            .findings();
    };
    const auto all = [](const std::string& changed) {
        std::string text;
        for (const char* figure : {"lower_limit 4 %", "upper_limit 77 %", "safety_temperature 760 degC",
                                   "autoignition 400 degC", "limiting_oxygen 4.25 %", "fuel_threshold 5.5 %"}) {
            const std::string name(figure, std::string(figure).find(' ') + 1);
            text += (changed.starts_with(name) ? changed : figure) + " ; ";
        }
        return text;
    };
    const auto less = [](const std::string& name, const std::string& here, const std::string& there) {
        return "error: gas `x` has a less careful `" + name + "` than its formula allows: " + here +
               "; `hydrogen` of the standard library has " + there + " [rig_inconsistent]\n";
    };
    CHECK(hydrogen(all("")) == "");
    const auto refused = [&](const std::string& changed, const std::string& expected) {
        const std::string text = hydrogen(all(changed));
        CHECK_MESSAGE(text.ends_with(expected), text);
    };
    refused("lower_limit 40 %", less("lower_limit", "40 %", "4 %"));
    refused("upper_limit 60 %", less("upper_limit", "60 %", "77 %"));
    refused("safety_temperature 100 degC", less("safety_temperature", "100 °C", "760 °C"));
    refused("autoignition 560 degC", less("autoignition", "560 °C", "400 °C"));
    refused("limiting_oxygen 5 %", less("limiting_oxygen", "5 %", "4.25 %"));
    refused("fuel_threshold 55 %", less("fuel_threshold", "55 %", "5.5 %"));
    for (const char* careful : {"lower_limit 3.6 %", "upper_limit 80 %", "safety_temperature 800 degC",
                                "autoignition 350 degC", "limiting_oxygen 3 %", "fuel_threshold 4 %"})
        CHECK(hydrogen(all(careful)) == "");
    // 1400 degF is the library's own figure, in another unit.
    CHECK(hydrogen(all("safety_temperature 1400 degF")) == "");

    const auto gas = [](const std::string& text) { return Equipment("gas x { " + text + " }").findings(); };
    CHECK(gas("formula \"Kr\" ; molar_mass 83.8 g/mol ; hazard inert ; inert_equivalence 50") ==
          "t.ath:1:81: error: gas `x` has a less careful `inert_equivalence` than its formula allows: 50; "
          "krypton of the standard library has 0.5 [rig_inconsistent]\n");
    CHECK(gas("formula \"Kr\" ; molar_mass 83.8 g/mol ; hazard inert ; inert_equivalence 0.5") == "");
    CHECK(gas("molar_mass 83.8 g/mol ; hazard inert ; inert_equivalence 50") ==
          "t.ath:1:66: error: gas `x` has an `inert_equivalence` of 50; the greatest known is 4 "
          "[rig_inconsistent]\n");
    CHECK(
        gas("formula \"H2S\" ; molar_mass 34 g/mol ; hazard flammable, toxic ; lower_limit 4 % ; upper_limit "
            "45.5 % ; safety_temperature 760 degC ; exposure_limit 20 ppm")
            .find(
                "`exposure_limit` than its formula allows: 20 ppm; `hydrogen_sulfide` of the standard library "
                "has 5 ppm") != std::string::npos);
}

TEST_CASE("a line carries no more than a trace of a gas that lights by itself") {
    const auto line = [](const std::string& share) {
        const RigText rig =
            rig_with("line extra { gas doped ; meter hand ; flow 0.1 slm to 1 slm ; supply 100 mbar gauge }");
        return Equipment(
                   "gas silane_x { formula \"SiH4\" ; molar_mass 32 g/mol ; hazard flammable, toxic ; "
                   "lower_limit 1.37 % ; upper_limit 100 % ; safety_temperature 760 degC }\ngas doped = " +
                   share + " silane_x + rest argon\n" + rig.text())
            .findings();
    };
    CHECK(line("0.1 %") == "");
    CHECK(line("2 %") ==
          "t.ath:10:1: error: line `extra` carries 2 % silane_x, which may light by itself wherever it "
          "meets air [rig_inconsistent]\n");
}
