// What changed in what files declare, and what is no change.
#include "compiler/review/declarations.hpp"

#include <doctest/doctest.h>

#include <string>

using namespace athanor;
using review::Change;

namespace {

struct Version {
    Files files;
    Diagnostics out;
    std::vector<check::Unit> units;

    explicit Version(const std::string& text) {
        auto none = [](const std::string&) { return std::optional<std::string>{}; };
        units = check::load({{"/bench/file.ath", text, false}}, {}, "/bench", none, files, out);
        REQUIRE_MESSAGE(!out.any_error(), text);
    }
    review::Sources sources() const { return {units, files}; }
};

std::string listed(const std::vector<Change>& changes) {
    std::string text;
    for (const Change& c : changes) {
        if (!text.empty()) text += "\n";
        text += c.kind == Change::Kind::added ? "+ " : c.kind == Change::Kind::removed ? "- " : "~ ";
        text += c.path + (c.path.empty() || c.what.empty() ? "" : ": ") + c.what;
    }
    return text;
}

std::string changes(const std::string& before, const std::string& after) {
    const Version a(before), b(after);
    CHECK(review::declarations(a.sources(), a.sources()).empty());
    return listed(review::declarations(a.sources(), b.sources()));
}

std::string replaced(std::string text, std::string_view part, std::string_view by) {
    const auto at = text.find(part);
    REQUIRE(at != std::string::npos);
    return text.replace(at, part.size(), by);
}

const std::string bench = R"(rig bench "A title" {
    furnace {
        range 30 degC to 1200 degC ; power 3.0 kW
        heat_up 20 min to 600 degC ; heat_up 50 min to 1100 degC
        cool_down 1100 degC to 200 degC in 5 h ± 15 %
    }
    tube { material fused_quartz ; inner_diameter 60 mm ; wall 3 mm ; length 1200 mm }
    ends insulation_plugs { length 150 mm ; porosity 85 % }
    leak_rate 1e-4 mbar*L/s source "measured in March"
    line argon { gas argon ; output 1 ; flow 0.2 L/min to 2 L/min at 20 degC, 1 bar }
    line hydrogen { gas hydrogen ; output 2 ; flow 0.1 slm to 1 slm }
    interlock hydrogen is open and temperature < 770 degC closes hydrogen, opens argon
    defaults { heating 5 K/min ; cooling natural }
}
)";

std::string rig(std::string_view part, std::string_view by) {
    return changes(bench, replaced(bench, part, by));
}

} // namespace

TEST_CASE("a property of a rig is told in the words and units it is written in") {
    CHECK(rig("inner_diameter 60 mm", "inner_diameter 90 mm") ==
          "~ rig bench: tube inner_diameter 60 mm -> 90 mm");
    CHECK(rig("5 h ± 15 %", "4 h ± 15 %") == "~ rig bench: furnace cool_down 1100 degC to 200 degC in 5 h ± 15 "
                                             "% -> 1100 degC to 200 degC in 4 h ± 15 %");
    CHECK(rig("heat_up 50 min", "heat_up 55 min") ==
          "~ rig bench: furnace heat_up (2) 50 min to 1100 degC -> 55 min to 1100 degC");
    CHECK(rig("heat_up 20 min to 600 degC ;", "") == "- rig bench: furnace heat_up 20 min to 600 degC");
    CHECK(rig("gas argon ;", "gas argon ; de_energised open ;") == "+ rig bench: line argon de_energised open");
    CHECK(rig("output 2", "output 3") == "~ rig bench: line hydrogen output 2 -> 3");
    CHECK(rig("770 degC", "760 degC") ==
          "~ rig bench: interlock hydrogen is open and temperature < 770 degC closes hydrogen, opens argon -> "
          "hydrogen is open and temperature < 760 degC closes hydrogen, opens argon");
    CHECK(rig("heating 5 K/min", "heating 6 K/min") == "~ rig bench: defaults heating 5 K/min -> 6 K/min");
    CHECK(rig("in March", "in June") ==
          "~ rig bench: leak_rate source \"measured in March\" -> source \"measured in June\"");
}

TEST_CASE("a block that came or went is told whole") {
    const std::string line = "    line hydrogen { gas hydrogen ; output 2 ; flow 0.1 slm to 1 slm }\n";
    CHECK(rig(line, "") == "- rig bench: line hydrogen { flow 0.1 slm to 1 slm ; gas hydrogen ; output 2 }");
    CHECK(
        rig("ends insulation_plugs { length 150 mm ; porosity 85 % }", "ends radiation_shields { count 4 }") ==
        "~ rig bench: ends insulation_plugs -> radiation_shields\n"
        "- rig bench: ends length 150 mm\n"
        "- rig bench: ends porosity 85 %\n"
        "+ rig bench: ends count 4");
}

TEST_CASE("layout, comments, order, titles and equal values in other units never show") {
    CHECK(rig("60 mm", "6 cm") == "");
    CHECK(rig("5 h ± 15 %", "300 min +/- 15 %") == "");
    CHECK(rig("to 1200 degC", "to 1473.15 K") == "");
    CHECK(rig("porosity 85 %", "porosity 0.85") == "");
    CHECK(rig("output 1 ;", "# the left valve\n output    1\n") == "");
    CHECK(rig("wall 3 mm ; length 1200 mm", "length 1.2 m ; wall 3.0 mm") == "");
    CHECK(rig("\"A title\"", "\"Another title\"") == "");
    CHECK(rig("heat_up 20 min to 600 degC ; heat_up 50 min to 1100 degC",
              "heat_up 50 min to 1100 degC ; heat_up 20 min to 600 degC") == "");
}

TEST_CASE("declarations that came and went, and variants of a changed rig") {
    const std::string variant = "rig small from bench { without line hydrogen ; relief 150 mbar gauge }\n";
    CHECK(changes(bench + variant, bench + replaced(variant, "from bench", "from other")) ==
          "~ rig small: from bench -> from other");
    CHECK(changes(bench, bench + variant) == "+ rig small");
    CHECK(changes(bench + variant, bench) == "- rig small");
    CHECK(changes(bench + variant, variant + bench) == "");
    CHECK(changes(bench + variant, replaced(bench, "wall 3 mm", "wall 4 mm") + variant) ==
          "~ rig bench: tube wall 3 mm -> 4 mm\n~ rig small: with its base, rig bench");
    CHECK(changes(bench + variant, bench + replaced(variant, "150 mbar", "120 mbar")) ==
          "~ rig small: relief 150 mbar gauge -> 120 mbar gauge");
    CHECK(changes(bench + variant, bench + replaced(variant, "without line hydrogen ;", "")) ==
          "- rig small: without line hydrogen");
}

TEST_CASE("gases, materials, thermocouples, controllers, layouts, policies and values") {
    CHECK(changes("gas argon_n50 = 5 ppm oxygen + rest argon\n",
                  "gas argon_n50 = rest argon + 500 ppm oxygen\n") ==
          "~ gas argon_n50: oxygen 5 ppm -> 500 ppm");
    CHECK(changes("gas fuel { lower_limit 4.0 % ; hazard flammable }\n",
                  "gas fuel { lower_limit 4.4 % ; hazard flammable, toxic }\n") ==
          "~ gas fuel: hazard flammable -> flammable, toxic\n~ gas fuel: lower_limit 4.0 % -> 4.4 %");
    CHECK(
        changes("material glass { limit 900 degC ; attacked_by hydrogen above 700 degC }\n",
                "material glass { limit 950 degC }\n") ==
        "- material glass: attacked_by hydrogen above 700 degC\n~ material glass: limit 900 degC -> 950 degC");
    CHECK(changes("thermocouple type_x { class 1 { tolerance 1.5 K, 0.4 % } class 2 { tolerance 2.5 K } }\n",
                  "thermocouple type_x { class 1 { tolerance 1.5 K, 0.5 % } class 2 { tolerance 2.5 K } }\n") ==
          "~ thermocouple type_x: class 1 tolerance 1.5 K, 0.4 % -> 1.5 K, 0.5 %");
    CHECK(changes("controller loop { segments 16 ; longest_wait 4 h }\n",
                  "controller loop { segments 16 ; longest_wait 30 min }\n") ==
          "~ controller loop: longest_wait 4 h -> 30 min");
    CHECK(changes("layout rows for loop { delimiter \";\" ; column \"SP\" = target in degC by 1 }\n",
                  "layout rows for loop { delimiter \";\" ; column \"SP\" = target in degC by 0.1 }\n") ==
          "~ layout rows: column \"SP\" by 1 -> by 0.1");
    CHECK(changes("policy site { rule cold {\n require temperature < 900 degC\n because \"so\"\n } }\n",
                  "policy site { rule cold {\n require temperature < 950 degC\n because \"so\"\n } }\n") ==
          "~ policy site: rule cold require temperature < 900 degC -> require temperature < 950 degC");
    CHECK(changes("let bore = 60 mm\n", "let bore = 90 mm\n") == "~ let bore: 60 mm -> 90 mm");
}

TEST_CASE("steps of an operation, whose own name never shows") {
    const std::string flush =
        "operation flush(feed : flow in 0.1 slm to 2 slm = 1 slm) {\n"
        "    open argon at feed\n    purge argon for 5 min\n    repeat 3 times { dwell 1 h }\n}\n";
    CHECK(changes(flush, replaced(flush, "5 min", "1 min")) ==
          "~ operation flush: purge argon for 5 min -> for 1 min");
    CHECK(changes(flush, replaced(flush, "5 min", "5 min at most 1 h")) ==
          "+ operation flush: purge argon at most 1 h");
    CHECK(changes(flush, replaced(flush, "dwell 1 h", "dwell 2 h")) ==
          "~ operation flush: repeat dwell 1 h -> 2 h");
    CHECK(changes(flush, replaced(flush, "0.1 slm to", "0.2 slm to")) ==
          "~ operation flush: parameter feed 0.1 slm to 2 slm -> 0.2 slm to 2 slm");
    CHECK(changes(flush, replaced(flush, "= 1 slm", "= 2 slm")) ==
          "~ operation flush: parameter feed = 1 slm -> = 2 slm");
    CHECK(changes(flush, replaced(flush, "    open argon at feed\n", "")) ==
          "- operation flush: open argon at feed");
    CHECK(changes(flush, replaced(flush, "flush", "sweep")) == "");
    const std::string caller = "operation twice { flush() ; flush(feed = 1 slm) }\n";
    std::string called = replaced(flush, "flush", "sweep") + replaced(caller, "flush()", "sweep()");
    CHECK(changes(flush + caller, replaced(called, "flush(feed", "sweep(feed")) == "");
    CHECK(changes(flush, flush + "operation other { dwell 1 h }\n") == "+ operation other");
}

TEST_CASE("what the timeline of a recipe does not show") {
    const std::string recipe =
        "recipe r(peak : temperature in 900 degC to 980 degC = 950 degC) on bench for loop {\n"
        "    load { evolves carbon_dioxide 0 sccm to 100 sccm }\n"
        "    ramp to peak at 5 K/min\n    if peak > 960 degC { dwell 1 h }\n}\n";
    const auto both = [&](std::string_view part, std::string_view by) {
        const Version a(recipe), b(replaced(recipe, part, by));
        std::string text = listed(review::heads(a.sources(), "r", b.sources(), "r"));
        const std::string steps = listed(review::written_steps(a.sources(), "r", b.sources(), "r"));
        if (!text.empty() && !steps.empty()) text += "\n";
        return text + steps;
    };
    CHECK(both("900 degC to", "910 degC to") ==
          "~ parameter peak 900 degC to 980 degC -> 910 degC to 980 degC");
    CHECK(both("100 sccm", "900 sccm") ==
          "~ load evolves carbon_dioxide 0 sccm to 100 sccm -> carbon_dioxide 0 sccm to 900 sccm");
    CHECK(both("for loop", "for other") == "~ controller loop -> other");
    CHECK(both("dwell 1 h", "dwell 2 h") == "~ if then dwell 1 h -> 2 h");
    CHECK(both("950 degC", "940 degC") == ""); // the timeline tells its value
    CHECK(both("at 5 K/min\n", "at  5 K/min # up\n") == "");
    const std::string plain = "recipe r(peak : temperature = 900 degC) on bench { flush() }\n",
                      flush = "operation flush() { dwell 1 h }\n";
    const Version a(flush + plain), b(replaced(flush + plain, "flush() { dwell", "sweep() { dwell"));
    const Version c(replaced(flush, "flush", "sweep") + replaced(plain, "flush", "sweep"));
    CHECK(listed(review::written_steps(a.sources(), "r", c.sources(), "r")) == "");
    CHECK(listed(review::written_steps(b.sources(), "r", c.sources(), "r")) == "- flush\n+ sweep");
}

TEST_CASE("a register is known by its name, and by what it is of") {
    const std::string map = "layout bus for c {\n    form registers\n"
                            "    register kind { address 110 ; type uint16 }\n"
                            "    register target { address 111 ; type int16 ; scale 1 degC }\n"
                            "    register channel { address 112 ; of argon ; scale 1 sccm }\n"
                            "    register channel { address 113 ; of hydrogen ; scale 1 sccm }\n}\n";
    CHECK(changes(map, replaced(map, "address 111", "address 121")) ==
          "~ layout bus: register target address 111 -> 121");
    CHECK(changes(map, replaced(map, "address 113", "address 123")) ==
          "~ layout bus: register channel of hydrogen address 113 -> 123");
}

TEST_CASE("parentheses that hold nothing together are layout") {
    const auto ramp = [](const std::string& to) {
        return "operation up(a : temperature, b : difference) { ramp to " + to + " at 5 K/min }\n";
    };
    CHECK(changes(ramp("a"), ramp("(a)")) == "");
    CHECK(changes(ramp("a + 2 * b"), ramp("a + (2 * (b))")) == "");
    CHECK(changes(ramp("a - b + 5 K"), ramp("a - (b + 5 K)")) != "");
}

TEST_CASE("an argument is the same by its name and by its place, in any order") {
    const auto calls = [](const std::string& call) {
        return "operation heat_up(peak : temperature, rate : rate = 5 K/min) { ramp to peak at rate }\n"
               "operation whole() {\n" +
               call + "\n}\n";
    };
    const std::string named = calls("heat_up(peak = 600 degC, rate = 3 K/min)");
    CHECK(changes(named, calls("heat_up(rate = 3 K/min, peak = 600 degC)")) == "");
    CHECK(changes(named, calls("heat_up(600 degC, 3 K/min)")) == "");
    CHECK(changes(named, calls("heat_up(600 degC, rate = 3 K/min)")) == "");
    CHECK(changes(named, calls("heat_up(600 degC, rate = 4 K/min)")) ==
          "~ operation whole: heat_up rate 3 K/min -> 4 K/min");
    CHECK(changes(named, calls("heat_up(600 degC)")) == "- operation whole: heat_up rate 3 K/min");
}

TEST_CASE("a written step at another place of its block") {
    const auto all = [](const std::string& steps) { return "operation whole() {\n" + steps + "\n}\n"; };
    CHECK(
        changes(all("light burner\ndwell 1 min\ndwell 2 min"), all("dwell 1 min\ndwell 2 min\nlight burner")) ==
        "~ operation whole: light burner moved: behind the start -> behind dwell (2)");
}
