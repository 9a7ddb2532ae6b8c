#include "tests/check/equipment_support.hpp"

#include "compiler/check/equipment_match.hpp"
#include "compiler/check/schema.hpp"

#include <fmt/format.h>

#include <algorithm>

using namespace athanor;
using namespace athanor::check;

namespace {

/// The elements of `p …` against a pattern: what was taken, or where it stopped.
std::string take(const std::string& pattern_text, const std::string& elements) {
    Files files;
    Diagnostics out;
    const FileId file = files.add("p.ath", "rig x { p " + elements + " }");
    const Tree tree = parse(file, files, out);
    const NodeId block = tree.child(tree.child(tree.root, Node::rig), Node::property_block);
    const NodeId property = tree.child(block, Node::property);
    Pattern pattern;
    if (!parse_pattern(pattern_text, pattern)) return "bad pattern";
    Mismatch mismatch;
    const auto list = elements_of(tree, property);
    const auto found = match(pattern, tree, list, files, &mismatch);
    if (!found) return fmt::format("stops at {}", mismatch.element);
    std::string text;
    for (const Capture& c : found->captures)
        text += c.type.poison() ? fmt::format("[{}]", c.text)
                                : fmt::format("[{:.6g}..{:.6g}]", c.value.lo, c.value.hi);
    return text;
}

} // namespace

TEST_CASE("patterns take words, values, intervals and ranges") {
    CHECK(take("time to temperature", "50 min to 1100 degC") == "[3000..3000][to][1373.15..1373.15]");
    CHECK(take("uncertain time to temperature", "45 min to 50 min to 1100 degC") ==
          "[2700..3000][to][1373.15..1373.15]");
    CHECK(take("uncertain time to temperature", "50 min ± 10 % to 1100 degC") ==
          "[2700..3300][to][1373.15..1373.15]");
    CHECK(take("uncertain power at temperature", "1.2 kW +/- 0.1 kW at 900 degC") ==
          "[1100..1300][at][1173.15..1173.15]");
    CHECK(take("uncertain fraction", "20 % ± 5 %") == "[0.15..0.25]"); // on a fraction absolute
    CHECK(take("uncertain temperature", "20 degC ± 2 K") == "[291.15..295.15]");
    CHECK(take("range of temperature", "30 degC to 1200 degC") == "[303.15..1473.15]");
    CHECK(take("range of temperature by difference", "300 K to 400 K by 1 K") == "[300..400][by][1..1]");
    CHECK(take("time", "1 h 30 min") == "[5400..5400]");
    CHECK(take("overpressure", "200 mbar gauge") == "[20000..20000]");
    CHECK(take("fraction", "0.7") == "[0.7..0.7]");
    CHECK(take("J/mol", "240 kJ/mol") == "[240000..240000]");
    CHECK(take("by 'time' time", "by time 3 s") == "[by][time][3..3]");
    CHECK(take("name, ...", "left, centre, right") == "[left][centre][right]");
    CHECK(take("a | b count", "b 3") == "[b][3..3]");
    CHECK(take("count [of full_scale]", "3") == "[3..3]");
    CHECK(take("( a | b ) [, text]", "b, \"x\"") == "[b][,][x]");
}

TEST_CASE("patterns refuse what they do not say, at its place") {
    CHECK(take("time to temperature", "50 min to 5 kW") == "stops at 2");
    CHECK(take("time to temperature", "50 min") == "stops at 1");
    CHECK(take("time", "50 min at") == "stops at 1");
    CHECK(take("range of temperature", "30 degC") == "stops at 1");
    CHECK(take("difference", "5 degC") == "stops at 0");
    CHECK(take("pressure", "5 mbar gauge") == "stops at 0");
    CHECK(take("overpressure", "5 mbar") == "stops at 0");
    CHECK(take("uncertain temperature", "20 degC ± 5 %") == "stops at 2");
    CHECK(take("count", "5 %") == "stops at 0");
    CHECK(take("flow", "5 L/min") == "stops at 0");
    CHECK(take("a ( b", "a b") == "bad pattern");
    CHECK(take("a )", "a") == "bad pattern");
    CHECK(take("range of", "3 K to 4 K") == "bad pattern");
}

TEST_CASE("a pattern says what it takes") {
    Pattern p;
    REQUIRE(parse_pattern("uncertain time to temperature", p));
    CHECK(describe(p) == "a time, `to`, a temperature");
    REQUIRE(parse_pattern("hand | controlled [, channel count]", p));
    CHECK(describe(p) == "`hand` or `controlled`, [a comma, `channel`, a plain number]");
    REQUIRE(parse_pattern("range of difference by difference | none", p));
    CHECK(describe(p) == "a difference of temperature, `to`, a difference of temperature, `by`, a difference "
                         "of temperature or `none`");
    REQUIRE(parse_pattern("name, ...", p));
    CHECK(describe(p) == "a name (more behind commas)");
}

TEST_CASE("a schema prints as a reference with its documentation and defaults") {
    Equipment e("schema oven { ## How wide the door opens.\n door \"length\" required positive\n light \"yes | "
                "no\" default no\n"
                " shelf \"name\" many { height \"uncertain length\" } }");
    REQUIRE(e.findings() == "");
    const auto schemas = read_schemas(e.units, e.files, e.out);
    REQUIRE(schema_named(schemas, "oven") != nullptr);
    CHECK(print(*schema_named(schemas, "oven"), e.units, e.files) ==
          "oven\n    door  length  (required)\n        # How wide the door opens.\n    light  yes | no  "
          "(default no)\n"
          "    shelf  name  (any number of times)\n        height  uncertain length\n");
}

TEST_CASE("a schema of one's own adds nothing to the rig, and its slips are told") {
    CHECK(Equipment("schema oven { door \"length\" needed }").findings() ==
          "t.ath:1:29: error: `needed` is no attribute of a schema's property [unknown_property]\n");
    CHECK(Equipment("schema oven { door \"[ length\" }").findings() ==
          "t.ath:1:20: error: a bracket of this pattern has no partner [unknown_property]\n");
}

TEST_CASE("materials and thermocouples of the standard library") {
    Equipment e("");
    REQUIRE(e.findings() == "");
    const Material& quartz = e.material("fused_quartz");
    CHECK(quartz.limit.lo() == doctest::Approx(1373.15).scale(0)); // common practice, no source
    REQUIRE(quartz.exposures.size() >= 3); // silica in hydrogen: common practice, no source
    CHECK(e.model.gases[quartz.exposures[0].gas].name == "hydrogen");
    CHECK(e.model.gases[quartz.exposures[1].gas].name == "ammonia"); // which becomes hydrogen
    CHECK(e.model.gases[quartz.exposures[2].gas].name == "water");
    CHECK_FALSE(quartz.exposures[2].refused); // it devitrifies sooner
    CHECK(quartz.exposures[0].temperature.lo == doctest::Approx(1273.15).scale(0));
    // By a formula of substances.ath: no gas here has it.
    CHECK(std::any_of(quartz.exposures.begin(), quartz.exposures.end(), [](const Exposure& x) {
        return x.name == "hydrogen_fluoride" && x.gas == none && x.refused;
    }));
    CHECK(quartz.exposures[0].share == 1e-3); // where nothing else is said
    const auto nickel = e.material("nickel_alloy_600").exposures;
    REQUIRE(nickel.size() >= 3);
    CHECK(e.model.gases[nickel[1].gas].name == "hydrogen_sulfide");
    CHECK(nickel[1].refused);
    CHECK(nickel[1].share == doctest::Approx(1e-5).scale(0));
    CHECK(nickel[1].temperature.lo == doctest::Approx(635 + 273.15).scale(0));
    CHECK(quartz.exposures[0].refused);
    CHECK(quartz.rates.at(0).rate.lo() == doctest::Approx(20.0 / 60).scale(0));
    CHECK(quartz.rates.at(0).diameter == Interval(0, infinity));
    const Material& alumina = e.material("alumina");
    CHECK(alumina.rates.size() == 4);
    CHECK(alumina.rates[2].diameter.lo == doctest::Approx(0.06).scale(0));
    CHECK(alumina.elastic_modulus.hi() ==
          doctest::Approx(416e9).scale(0));                        // NIST SRD 150 (Munro 1997), 20 degC
    CHECK(alumina.density.lo() == doctest::Approx(3891).scale(0)); // NIST SRD 150 (Munro 1997), 1000 degC

    // IEC 60584-1:2013
    const Thermocouple& k = e.thermocouple("type_k");
    CHECK(k.range.hi() == doctest::Approx(1300 + 273.15).scale(0));
    REQUIRE(k.classes.size() == 3);
    CHECK(k.classes[0].absolute == doctest::Approx(1.5).scale(0));
    CHECK(k.classes[0].relative == doctest::Approx(0.004).scale(0));
    CHECK(k.classes[1].range.hi == doctest::Approx(1200 + 273.15).scale(0));
    CHECK(k.classes[1].relative == doctest::Approx(0.0075).scale(0));
    const Thermocouple& s = e.thermocouple("type_s");
    CHECK(s.classes[0].added);
    CHECK(s.classes[0].from == doctest::Approx(1100).scale(0));
    CHECK(s.classes[0].relative == doctest::Approx(0.003).scale(0));
    CHECK(e.thermocouple("type_b").classes[0].number == 2); // B has no class 1
    for (const Thermocouple& t : e.model.thermocouples)
        for (const Tolerance& c : t.classes) CHECK(c.reference == "IEC 60584-1:2013");
    for (const Material& m : e.model.materials)
        for (const Figure* f : {&m.limit, &m.limit_vacuum, &m.elastic_modulus, &m.poisson, &m.expansion,
                                &m.conductivity, &m.density, &m.heat_capacity, &m.strength}) {
            CAPTURE(m.name);
            CHECK((!f->given || !f->reference.empty()));
        }
}

TEST_CASE("slips in materials and thermocouples") {
    const auto says = [](const std::string& text, const std::string& expected) {
        CHECK(Equipment(text).findings() == expected);
    };
    says("material m { rate 2 K/min }",
         "t.ath:1:10: error: material `m` says nothing about `limit` [rig_inconsistent]\n");
    says("material m { limit 900 degC ; rate 2 K at 5 mm to 9 mm }",
         "t.ath:1:36: error: `rate` takes a rate (temperature per time), [`at`, a length, `to`, a length], "
         "[`from`, a temperature, `to`, "
         "a temperature]: rate 2 K/min at 75 mm to 100 mm [unit_mismatch]\n");
    says("material a from b { limit 900 degC }\nmaterial b from a { limit 900 degC }",
         "t.ath:2:17: error: material `a` is a variant of itself: `a` from `b` from `a` [recursion]\n");
    says("thermocouple t { range 0 degC to 100 degC ; class 4 { range 0 degC to 50 degC ; tolerance 1 K } }",
         "t.ath:1:45: error: a tolerance class is 1, 2 or 3, not 4 [rig_inconsistent]\n");
    says("thermocouple t { range 0 degC to 100 degC ; class 1 { range 0 degC to 50 degC ; tolerance 1 K } ; "
         "class 1 { range 0 degC to 50 degC ; tolerance 1 K } }",
         "t.ath:1:99: error: class 1 of `t` is given twice [duplicate_name]\n");
    says("thermocouple t { range 100 degC to 0 degC }",
         "t.ath:1:24: error: `range` of thermocouple `t` runs from 100 °C down to 0 °C [rig_inconsistent]\n");
    says("thermocouple t { range 0 degC to 100 degC ; class 1 { range 0 degC to 50 degC } }",
         "t.ath:1:45: error: `class` of thermocouple `t` says nothing about `tolerance` [rig_inconsistent]\n");
}
