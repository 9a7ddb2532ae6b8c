// Commands that show what is known: everything, within 80 columns, and nothing that was not declared as if it
// were.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <set>
#include <sstream>

namespace {

/// Columns of the widest line: bytes that begin a character.
std::ptrdiff_t widest(const std::string& text) {
    std::istringstream lines(text);
    std::ptrdiff_t most = 0;
    for (std::string line; std::getline(lines, line);)
        most = std::max(most, std::count_if(line.begin(), line.end(), [](char c) {
                            return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U;
                        }));
    return most;
}

/// Broken lines joined, so that what is looked for may stand on two.
std::string joined(const std::string& text) {
    std::istringstream words(text);
    std::string all;
    for (std::string word; words >> word;) all += (all.empty() ? "" : " ") + word;
    return all;
}

/// The part of one name: up to the next line that begins at the margin.
std::string part_of(const std::string& text, const std::string& name) {
    const std::size_t at = ("\n" + text).find("\n" + name + " ");
    REQUIRE_MESSAGE(at != std::string::npos, name);
    std::size_t end = text.find('\n', at);
    while (end != std::string::npos && end + 1 < text.size() && text[end + 1] == ' ')
        end = text.find('\n', end + 1);
    return joined(text.substr(at, end - at));
}

bool has(const std::string& text, const std::string& wanted) {
    return text.find(wanted) != std::string::npos;
}

const std::string rigs = project + "/recipes/rigs/";

} // namespace

TEST_CASE("one gas or material of the library is shown by its name") {
    const Result all = athanor({"gases"}, project), one = athanor({"gases", "hydrogen"}, project);
    CHECK(one.status == 0);
    CHECK(one.out.starts_with("hydrogen  H2\n"));
    CHECK(one.out.find("argon  Ar") == std::string::npos);
    CHECK(all.out.find(one.out.substr(0, one.out.size() - 1)) != std::string::npos);
    CHECK(athanor({"materials", "fused_quartz"}, project).out.starts_with("fused_quartz"));
    CHECK(athanor({"gases", "unobtainium"}, project).status == 2);
}

TEST_CASE("gases show every figure with its source") {
    const Result result = athanor({"gases"}, project);
    CHECK(result.status == 0);
    CHECK(widest(result.out) <= 80);
    const std::string argon = part_of(result.out, "argon");
    CHECK_MESSAGE(has(argon, "molar mass 39.948 g/mol (IUPAC"), argon);
    CHECK_MESSAGE(has(argon, "ISO 10156, Kk 0.55 (ISO 10156:2017"), argon);
    CHECK_MESSAGE(has(argon, "meter factor 1.4 (public table"), argon);
    const std::string hydrogen = part_of(result.out, "hydrogen");
    CHECK_MESSAGE(has(hydrogen, "ISO 10156, Tci 5.5 % ("), hydrogen);
    CHECK_MESSAGE(has(hydrogen, "heat of combustion 241.8"), hydrogen);
    CHECK(has(hydrogen, "kJ/mol ("));
}

TEST_CASE("materials show what wall stress and thermal shock rest on, and tolerances as they are meant") {
    const Result result = athanor({"materials"}, project);
    CHECK(result.status == 0);
    CHECK(widest(result.out) <= 80);
    const std::string quartz = part_of(result.out, "fused_quartz");
    for (const char* figure : {"elastic modulus 72 GPa (", "Poisson's ratio 0.17 (", "expansion 5.5e-7 1/K (",
                               "conductivity 1.4 W/m/K (", "density 2200 kg/m3 (", "heat capacity 670 J/kg/K (",
                               "strength 48 MPa ("})
        CHECK_MESSAGE(has(quartz, figure), figure);
    for (const char* type : {"type_s", "type_r"}) {
        const std::string text = part_of(result.out, type);
        CHECK_MESSAGE(has(text, "class 1 0 °C to 1600 °C: 1 K plus 0.3 % above 1100 °C (IEC 60584-1:2013)"),
                      text);
        CHECK_MESSAGE(has(text, "class 2 0 °C to 1600 °C: 1.5 K or 0.25 % of t in °C, the greater"), text);
        CHECK_MESSAGE(has(text, "attacked by hydrogen ("), text);
    }
    CHECK(has(part_of(result.out, "type_k"), "needs oxygen above 1 % at 800 °C to 1050 °C"));
}

TEST_CASE("a rig shows its model, what is fitted, and what is assumed") {
    const Result three = athanor({"rig", rigs + "gradient_three.ath"}, project);
    CHECK_MESSAGE(three.status == 0, three.err);
    CHECK(widest(three.out) <= 80);
    const std::string text = joined(three.out);
    for (const char* row : {"4.5 kW in total",
                            "equal share: 1.5 kW",
                            "zone opening 82.5 mm (assumed: ",
                            "coupling a zone takes",
                            "mains voltage ± 10 %, power by its square (assumed: ",
                            "tracking time 0 min to 1 min (assumed: ",
                            "control error 0 K to 2 K (assumed: ",
                            "overshoot 0 K to 10 K (assumed: ",
                            "load lag 0 min to 3 min load",
                            "load offset -20 K to 5 K (assumed: ",
                            "tube material fused_quartz",
                            "sensor type_k class 2: ",
                            "ends radiation shields, number 3",
                            "seals gas-tight, rated 150 mbar gauge",
                            "flow 20 sccm to 500 sccm",
                            "accuracy 3 % of reading",
                            "pump none",
                            "relief 130 mbar gauge",
                            "interlock none",
                            "exhaust into an extraction hood, without backup power",
                            "kJ/K in heating, from heat_up;",
                            "kJ/K in cooling, from cool_down",
                            "of the loss at 1000 °C: that share grows with T^4 - Ta^4"})
        CHECK_MESSAGE(has(text, row), row);
    const Result retort = athanor({"rig", rigs + "vacuum_retort.ath"}, project);
    CHECK(widest(retort.out) <= 80);
    CHECK(has(joined(retort.out), "pump output 2, 14.4 m3/h to 17.6 m3/h, stated to ± 10 % (assumed), down to "
                                  "0.005 mbar, oil-sealed, closed without power"));
    CHECK(has(joined(retort.out), "pump's pipe 40 mm by 1500 mm"));
    CHECK(!has(joined(retort.out), "coupling"));
    const Result quartz = athanor({"rig", rigs + "quartz_bench.ath"}, project);
    CHECK(widest(quartz.out) <= 80);
    CHECK(has(joined(quartz.out), "flow 0.3 L/min to 3 L/min at 20 °C, 1013 mbar"));
    CHECK(has(joined(quartz.out),
              "interlock hydrogen is open and temperature < 775 degC closes hydrogen, opens argon"));
    CHECK(has(joined(quartz.out), "overshoot 0 K to 4 K sensor")); // declared: not assumed
}

TEST_CASE("a furnace that cannot be is reported as check reports it") {
    Scratch scratch;
    std::string text = read_text(rigs + "gradient_three.ath");
    const std::string row = "heat_up 60 min to 1000 degC";
    const std::size_t at = text.find(row);
    REQUIRE(at != std::string::npos);
    scratch.write("rig.ath", text.replace(at, row.size(), "heat_up 9 h to 1000 degC"));
    scratch.write("r.ath", "use \"rig.ath\"\nrecipe r on gradient_three {\n    dwell 1 h\n}\n");
    const Result shown = athanor({"rig", "rig.ath", "--message-format", "short"}, scratch.path());
    CHECK(shown.status == 1);
    const std::string place = "rig.ath:6:5: error: the furnace of rig `gradient_three` cannot be modelled: ";
    CHECK_MESSAGE(has(shown.err, place), shown.err);
    CHECK(has(shown.err, "[rig_inconsistent]"));
    const Result checked = athanor({"check", "r.ath", "--message-format", "short"}, scratch.path());
    CHECK(checked.status == 1);
    CHECK_MESSAGE(has(checked.err, place), checked.err);
    CHECK(has(athanor({"rig", "rig.ath"}, scratch.path()).err, "remedy: measure the rows again"));
}

TEST_CASE("a file without a rig is told so") {
    Scratch scratch;
    scratch.write("empty.ath", "# nothing yet\n");
    const Result result = athanor({"rig", "empty.ath"}, scratch.path());
    CHECK(result.status == 1); // like `plot` of a file without a recipe
    CHECK(result.out.empty());
    CHECK(has(result.err, "no rig in empty.ath"));
}

TEST_CASE("what is shown to a person is no wider than 80 characters") {
    Scratch scratch;
    std::vector<std::vector<std::string>> calls{{"units"},   {"units", "temperature"},      {"functions"},
                                                {"targets"}, {"functions", "dew_point_of"}, {"--help"}};
    for (const char* command :
         {"check", "assure", "build", "plot", "test", "format", "diff", "replay", "lift", "vary", "evaluate",
          "functions", "explain", "units", "gases", "materials", "rig", "targets", "schema"})
        calls.push_back({command, "--help"});
    for (const std::vector<std::string>& call : calls) {
        CAPTURE(call[0]);
        const Result r = athanor(call, scratch.path());
        CHECK(r.status == 0);
        CHECK_MESSAGE(widest(r.out) <= 80, r.out);
    }
    // Columns stand in line, degrees with and without their sign.
    const Result units = athanor({"units", "rate"}, scratch.path());
    std::set<std::ptrdiff_t> columns;
    std::istringstream lines(units.out.substr(0, units.out.find("\n\n")));
    for (std::string line; std::getline(lines, line);)
        if (const std::size_t at = line.find(" ["); at != std::string::npos && line.ends_with(']'))
            columns.insert(widest(line.substr(0, line.rfind(" ["))));
    CHECK(columns.size() == 1);
    // An example that is broken is still one command.
    const Result lift = athanor({"lift", "--help"}, scratch.path());
    CHECK(has(lift.out, " \\\n"));
}

TEST_CASE("explain takes a code as it stands in a message") {
    Scratch scratch;
    const Result page = athanor({"explain", "missing_unit"}, scratch.path());
    CHECK(page.status == 0);
    for (const char* other : {"[missing_unit]", "MISSING_UNIT", "[Missing_Unit]"})
        CHECK(athanor({"explain", other}, scratch.path()).out == page.out);
    CHECK(has(athanor({"explain", "[no_such]"}, scratch.path()).err, "there is no code `[no_such]`"));
}

TEST_CASE("what is text only refuses JSON, and evaluate answers in it") {
    Scratch scratch;
    for (const std::vector<std::string>& call :
         {std::vector<std::string>{"functions"},
          {"units"},
          {"gases"},
          {"materials"},
          {"targets"},
          {"rig", rigs + "gradient_three.ath"},
          {"schema", "table"},
          {"test", project + "/recipes/bright_anneal.ath"},
          {"diff", project + "/recipes/bright_anneal.ath", project + "/recipes/bright_anneal.ath"},
          {"explain", "unit_mismatch"}}) {
        std::vector<std::string> json = call;
        json.insert(json.end(), {"--message-format", "json"});
        const Result result = athanor(json, scratch.path());
        CHECK_MESSAGE(result.status == 2, call[0]);
        CHECK(result.out.empty());
        CHECK_MESSAGE(has(result.err, "athanor " + call[0] + ": --message-format json: "), result.err);
        CHECK(athanor(call, scratch.path()).status == 0);
    }
    const Result value =
        athanor({"evaluate", "emf(type_k, 900 degC)", "--message-format", "json"}, scratch.path());
    CHECK(value.status == 0);
    CHECK_MESSAGE(value.out.find("{\"value\":\"37.3259 mV\",\"functions\":[{\"name\":\"emf\",") == 0,
                  value.out);
    const Result unit = athanor({"evaluate", "1 h", "--in", "K", "--message-format", "json"}, scratch.path());
    CHECK(unit.status == 2);
    CHECK_MESSAGE(unit.out.find("{\"severity\":\"error\",\"code\":\"unit_mismatch\"") == 0, unit.out);
    CHECK(unit.err.empty());
    const Result unknown =
        athanor({"evaluate", "1 h", "--in", "fortnight", "--message-format", "json"}, scratch.path());
    CHECK(unknown.status == 2);
    CHECK_MESSAGE(has(unknown.out, "\"code\":\"unknown_unit\""), unknown.out);
}
