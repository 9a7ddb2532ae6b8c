// `functions` and `evaluate` as a person uses them.
#include "tests/driver/command.hpp"

#include <doctest/doctest.h>

#include <sstream>

namespace {

Result evaluate(const std::string& expression, std::vector<std::string> more = {}) {
    more.insert(more.begin(), {"evaluate", expression});
    return athanor(more, project);
}

std::string value(const std::string& expression, std::vector<std::string> more = {}) {
    more.emplace_back("--value");
    const Result r = evaluate(expression, more);
    CHECK(r.err == "");
    CHECK(r.status == 0);
    return r.out;
}

/// Examples of the page: the text between "| `" and "` = " in the last cell.
std::vector<std::pair<std::string, std::string>> examples(const std::string& page) {
    std::vector<std::pair<std::string, std::string>> list;
    std::istringstream lines(page);
    for (std::string line; std::getline(lines, line);) {
        const std::size_t from = line.rfind(" | `"), to = line.rfind("` = ");
        if (!line.starts_with("| `") || from == std::string::npos || to == std::string::npos) continue;
        const std::string result = line.substr(to + 4, line.size() - to - 4 - 2);
        list.emplace_back(line.substr(from + 4, to - from - 4), result);
    }
    return list;
}

} // namespace

TEST_CASE("docs/functions.md is what the program prints") {
    const Result r = athanor({"functions", "--markdown"}, project);
    CHECK(r.status == 0);
    CHECK_MESSAGE(r.out == read_text(project + "/docs/functions.md"),
                  "athanor functions --markdown > docs/functions.md");
}

TEST_CASE("every function works from the command line") {
    const auto list = examples(read_text(project + "/docs/functions.md"));
    CHECK(list.size() > 60);
    for (const auto& [expression, result] : list) {
        CAPTURE(expression);
        CHECK(value(expression) == result + "\n");
    }
}

TEST_CASE("functions: the list, one subject, one function, none") {
    const Result all = athanor({"functions"}, project);
    CHECK(all.status == 0);
    CHECK(all.out.find("    purge_time(volume : volume, flow : volume_flow, initial : fraction, target :\n"
                       "        fraction, mixing : count = 1, supply : fraction = 0 %) : time\n") !=
          std::string::npos);
    const Result one = athanor({"functions", "dew_point_of"}, project);
    CHECK(one.out.find("example: dew_point_of(127 ppm, 1 bar) = -40") != std::string::npos);
    CHECK(one.out.find("purge_time") == std::string::npos);
    CHECK(athanor({"functions", "vacuum"}, project).out.find("pump_down_time(") != std::string::npos);
    const Result none = athanor({"functions", "no_such"}, project);
    CHECK(none.status == 2);
    CHECK(none.out == "");
    CHECK(none.err.find("no function and no subject `no_such`") != std::string::npos);
}

TEST_CASE("values in readable units") {
    // NIST SRD 60: 37.326 mV.
    CHECK(value("emf(type_k, 900 degC)") == "37.3259 mV\n");
    CHECK(value("45 min * 2") == "1 h 30 min\n");
    CHECK(value("950 degC - 50 K") == "900 °C\n");
    CHECK(value("2 > 1") == "yes\n");
    CHECK(value("3 kJ/mol * 2") == "6 kJ/mol\n");
    CHECK(value("1.5 L/min ± 5 %") == "1.425 L/min to 1.575 L/min\n");
    CHECK(value("lower_limit(hydrogen, 100 degC ± 10 K) < 4 %") == "yes\n");
    CHECK(value("lower_limit(hydrogen, 100 degC ± 50 K) < 3.5 %") == "yes or no\n");
    CHECK(value("reduced_oxides(1000 degC, 60 degC, 5 %)") == "Cu2O, NiO, CoO\n");
    CHECK(value("reduced_oxides(300 degC, 90 degC, 1 ppb)") == "none\n");
    CHECK(value("(2 + 3) # five") == "5\n");
    CHECK(value("min(\n1 h,\n90 min)") == "1 h\n");
    CHECK(value("actual_flow(500 sccm, 900 degC, 1 atm)", {"--in", "m3/h"}) == "0.128847 m3/h\n");
    CHECK(value("1 bar", {"--in", "Torr"}) == "750.062 Torr\n");
    CHECK(value("900 degC", {"--in", "degF"}) == "1652 °F\n");
    CHECK(value("900 degC", {"--in", "K"}) == "1173.15 K\n");
}

TEST_CASE("where a value comes from") {
    const Result r = evaluate("2 * dew_point_of(127 ppm, 1 bar)");
    CHECK(r.status == 1); // an absolute temperature is no factor
    const Result good = evaluate("max(pump_down_time(5 L, 1 L/s, 1 atm, 1 mbar), 10 s)");
    CHECK(good.out.starts_with("34.6"));
    CHECK(good.out.find("pump_down_time: ") != std::string::npos);
    CHECK(good.out.find("source: ") != std::string::npos);
}

TEST_CASE("findings point into the expression") {
    const Result r = evaluate("1 * emf(type_k, 2000 degC)", {"--message-format", "short"});
    CHECK(r.status == 1);
    CHECK(r.out == "");
    CHECK(r.err.starts_with("expression:1:17: error:"));
    CHECK(evaluate("emf(type_k, 1400 degC)", {"--message-format", "short"}).err ==
          "expression:1:13: error: 1400 °C is outside the range of `type_k`, -270 °C to 1300 °C "
          "[outside_validity]\n");
    for (const char* bad : {"",
                            "1 +",
                            "(1",
                            "1)",
                            "1) \nlet y = (2",
                            "purge_time(",
                            "1 h 2",
                            "\"open",
                            "ramp to 900 degC",
                            "nothing_of_this_name",
                            "temperature",
                            "ambient + 1 mbar",
                            "?",
                            "1 / 0",
                            "5 furlongs",
                            "min()",
                            "1e999",
                            "#",
                            "use \"x.ath\"",
                            "}"}) {
        CAPTURE(std::string(bad));
        const Result refused = evaluate(bad, {"--message-format", "short"});
        CHECK(refused.status == 1);
        CHECK(refused.out == "");
        CHECK(refused.err.starts_with("expression:1:"));
    }
    const Result json = evaluate("1 / 0", {"--message-format", "json"});
    CHECK(json.status == 1);
    CHECK(json.out.find("\"misplaced\"") != std::string::npos);
}

TEST_CASE("an expression from standard input; nothing of the wrapping shows") {
    const Result r = athanor({"evaluate", "-", "--value"}, project, "2 *\n45 min\n");
    CHECK(r.out == "1 h 30 min\n");
    CHECK(r.status == 0);
    const Result bad = athanor({"evaluate", "-"}, project, "2 * *");
    CHECK(bad.status == 1);
    CHECK(bad.err.find("let ") == std::string::npos);
    CHECK(bad.err.find("evaluated_expression") == std::string::npos);
}

TEST_CASE("files of one's own") {
    Scratch folder;
    folder.write("gases.ath", "gas lean = 3 % hydrogen + rest argon\nlet hold = 20 min\n");
    const auto run = [&](std::vector<std::string> words) { return athanor(words, folder.path()); };
    CHECK(run({"evaluate", "iso_10156(lean)", "--use", "gases.ath", "--value"}).out == "96.7976 %\n");
    CHECK(run({"evaluate", "hold * 3", "--use", folder.path() + "/gases.ath", "--value"}).out == "1 h\n");
    const Result missing = run({"evaluate", "1 h", "--use", "absent.ath"});
    CHECK(missing.status == 2);
    CHECK(missing.err.find("[file_unreadable]") != std::string::npos);
    folder.write("broken.ath", "let hold = 20 min +\n");
    const Result broken = run({"evaluate", "1 h", "--use", "broken.ath", "--message-format", "short"});
    CHECK(broken.status == 1);
    CHECK(broken.err.starts_with("broken.ath:"));
}

TEST_CASE("units that are none of the value's") {
    const Result none = evaluate("1 h", {"--in", "furlong"});
    CHECK(none.status == 2);
    CHECK(none.err.find("no unit `furlong`") != std::string::npos);
    CHECK(evaluate("1 h", {"--in", "mbar"}).status == 2);
    CHECK(evaluate("5 K", {"--in", "degC"}).status == 2);
    CHECK(evaluate("2 > 1", {"--in", "s"}).status == 2);
}
