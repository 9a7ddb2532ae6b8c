// What changes in the process between two versions of a recipe, and what does not.
#include "compiler/review/review.hpp"

#include "compiler/check/load.hpp"
#include "compiler/driver/embedded.hpp"
#include "compiler/elaborate/elaborate.hpp"
#include "compiler/source/render.hpp"

#include <doctest/doctest.h>

using namespace athanor;
using review::Change;

namespace {

/// The rig of these tests: one controlled argon line, hydrogen beside it.
const std::string_view rig = R"(rig bench {
    ambient 18 degC to 28 degC, 980 mbar to 1030 mbar
    furnace {
        range 30 degC to 1150 degC ; heated_length 300 mm ; power 2.0 kW
        heat_up 40 min to 1000 degC ; holding_power 0.8 kW ± 10 % at 1000 degC
        cool_down 1000 degC to 200 degC in 3 h ± 10 % ; zones centre
    }
    tube { material fused_quartz ; inner_diameter 50 mm ; wall 2.5 mm ; length 900 mm }
    ends radiation_shields { count 4 }
    seals gas_tight { rated 200 mbar gauge ; cooled no }
    leak_rate 1e-4 mbar*L/s
    sensor type_k class 1
    line argon {
        gas argon ; output 1 ; de_energised open
        meter controlled ; flow 0.1 slm to 4 slm ; accuracy 2 % of reading ; supply 150 mbar gauge
    }
    line oxygen {
        gas oxygen ; output 2 ; de_energised closed
        meter controlled ; flow 0.1 slm to 1 slm ; accuracy 2 % of reading ; supply 150 mbar gauge
    }
    slide { output 6 ; out 0 mm ; hot 450 mm }
    exhaust afterburner { output 3 ; into extraction_hood { backup_power yes } }
    relief 180 mbar gauge
}
)";

std::string_view sign(Change::Kind kind) {
    return kind == Change::Kind::added ? "+ " : kind == Change::Kind::removed ? "- " : "~ ";
}

/// One version of a recipe: its timeline and what it refers to.
struct Version {
    Files files;
    Diagnostics out;
    std::vector<check::Unit> units;
    check::Model model;
    elaborate::Elaborated done;

    explicit Version(const std::string& text, std::string_view on = rig) {
        std::vector<check::Source> library;
        for (const EmbeddedFile& file : embedded_files())
            if (file.path.starts_with("recipes/standard/"))
                library.push_back({std::string(file.path), std::string(file.content.text), true});
        auto none = [](const std::string&) { return std::optional<std::string>{}; };
        units = check::load({{"/bench/recipe.ath", std::string(on) + text, false}}, library, "/bench", none,
                            files, out);
        model = check::check(units, files, out);
        if (!out.any_error()) done = elaborate::elaborate(model, {0, check::none, {}}, files, out);
        std::string all;
        for (const Diagnostic& d : out.all()) all += render_short(d, files) + "\n";
        REQUIRE_MESSAGE(done.complete, text, "\n", all);
    }
};

using List = std::vector<std::string>;

/// Differences as "~ path: what".
List diff(const std::string& before, const std::string& after) {
    Version a(before), b(after);
    List list;
    for (const Change& c : review::diff(*a.done.timeline, *b.done.timeline))
        list.push_back(std::string(sign(c.kind)) + c.path + ": " + c.what);
    return list;
}

std::string recipe(const std::string& steps) {
    return "recipe r on bench {\n" + steps + "\n}\n";
}

/// The differences between two lists of steps, a line each; the reverse must be as many.
std::string steps(const std::string& before, const std::string& after) {
    List there = diff(recipe(before), recipe(after)), back = diff(recipe(after), recipe(before));
    CHECK(there.size() == back.size());
    std::string text;
    for (const std::string& line : there) text += (text.empty() ? "" : "\n") + line;
    return text;
}

const std::string firing = "open argon at 1 slm\nramp to 300 degC at 4 K/min\ndwell 1 h within 5 K\n"
                           "ramp to 600 degC at 4 K/min\ndwell 30 min\ncool to 100 degC\nclose all\n";

/// `firing` with one part replaced.
std::string with(std::string_view part, std::string_view by) {
    std::string text = firing;
    auto at = text.find(part);
    REQUIRE(at != std::string::npos);
    return text.replace(at, part.size(), by);
}

} // namespace

TEST_CASE("the same text has no difference") {
    CHECK(steps(firing, firing) == "");
}

TEST_CASE("comments, layout, the recipe's name and title never show") {
    std::string spread = "\n\n# a comment\n## a document\nrecipe other_name \"A title\" on bench {\n" + firing +
                         "   # the end\n}\n";
    CHECK(diff(recipe(firing), spread).empty());
    CHECK(steps(with("ramp to 300 degC at 4 K/min", "ramp   to 300 °C   at 4 K/min"), firing) == "");
    CHECK(steps(with("1 h within", "60 min within"), firing) == "");
    CHECK(steps(with("600 degC", "873.15 K"), firing) == "");
}

TEST_CASE("operations: neither their names nor whether they are called at all") {
    auto called = [](const std::string& name) {
        return "operation " + name + "() { ramp to 300 degC at 4 K/min ; dwell 1 h within 5 K }\n" +
               recipe("open argon at 1 slm\n" + name +
                      "()\nramp to 600 degC at 4 K/min\ndwell 30 min\ncool to 100 degC\nclose all");
    };
    CHECK(diff(called("warm_up"), called("bake_out")).empty());
    CHECK(diff(recipe(firing), called("warm_up")).empty());
}

TEST_CASE("one value of one step") {
    CHECK(steps(firing, with("at 1 slm", "at 2 slm")) == "~ open argon: flow 1 slm -> 2 slm");
    CHECK(steps(firing, with("dwell 30 min", "dwell 40 min")) == "~ dwell (2): duration 30 min -> 40 min");
    CHECK(steps(firing, with("within 5 K", "within 3 K")) == "~ dwell (1): soak band 5 K -> 3 K");
    CHECK(steps(firing, with(" within 5 K", "")) == "~ dwell (1): soak band 5 K -> none");
    CHECK(steps(firing, with("600 degC at 4 K/min", "600 degC at 5 K/min")) ==
          "~ ramp (2): rate 4 K/min -> 5 K/min");
    // A hotter peak also cools for longer; the time is computed from the rig.
    CHECK(steps(firing, with("600 degC", "610 degC"))
              .starts_with("~ ramp (2): target 600 °C -> 610 °C\n~ cool freely: duration "));
}

TEST_CASE("an action changed, added, removed") {
    CHECK(steps(firing, with("close all", "close argon")) ==
          "- close all: whole step\n+ close argon: whole step");
    CHECK(steps(firing, with("dwell 30 min\n", "dwell 30 min\nlight burner\n")) ==
          "+ light burner: whole step");
    CHECK(steps(with("dwell 30 min\n", "dwell 30 min\nlight burner\n"), firing) ==
          "- light burner: whole step");
    CHECK(steps(firing, with("open argon", "open oxygen")) ==
          "- open argon: flow 1 slm\n+ open oxygen: flow 1 slm");
}

TEST_CASE("a step inserted or removed shifts none of the others") {
    std::string more =
        with("ramp to 600 degC at 4 K/min\ndwell 30 min\n",
             "ramp to 450 degC at 4 K/min\ndwell 10 min\nramp to 600 degC at 4 K/min\ndwell 30 min\n");
    CHECK(steps(firing, more) == "+ ramp (2): target 450 °C, rate 4 K/min\n+ dwell (2): duration 10 min");
    CHECK(steps(more, firing) == "- ramp (2): target 450 °C, rate 4 K/min\n- dwell (2): duration 10 min");
    CHECK(steps(firing, "dwell 5 min\n" + firing).starts_with("+ "));
}

TEST_CASE("many equal steps are aligned, so that one change is one line") {
    std::string before, after;
    for (int i = 0; i < 40; ++i) {
        std::string pair =
            "ramp to 300 degC at 4 K/min\ndwell 10 min\nramp to 200 degC at 1 K/min\ndwell 5 min\n";
        before += pair;
        after += i == 17
                     ? "ramp to 300 degC at 4 K/min\ndwell 12 min\nramp to 200 degC at 1 K/min\ndwell 5 min\n"
                     : pair;
    }
    CHECK(steps(before, after) == "~ dwell (35): duration 10 min -> 12 min");
}

TEST_CASE("the condition of a purge, and the time that follows from it") {
    std::string head = "purge argon at 1 slm until oxygen < ", tail = "\nramp to 300 degC at 4 K/min";
    List changes = diff(recipe(head + "1 %" + tail), recipe(head + "100 ppm" + tail));
    REQUIRE(changes.size() == 2);
    CHECK(changes[0] == "~ hold until certain: condition oxygen < 1 % -> oxygen < 100 ppm");
    CHECK(changes[1].starts_with("~ hold until certain: duration "));
    CHECK(diff(recipe(head + "1 %" + tail), recipe(head + "1 % at most 9 h" + tail)) ==
          List{"~ hold until certain: at most none -> 9 h"});
}

TEST_CASE("seconds of a step that lasts for days") {
    CHECK(steps("dwell 60 h", "dwell 60 h 25 s") == "~ dwell: duration 2 d 12 h -> 2 d 12 h 25 s");
}

TEST_CASE("requirements and expectations") {
    CHECK(steps("require oxygen < 30 %\n" + firing, "require oxygen < 25 %\n" + firing) ==
          "~ require oxygen: condition oxygen < 30 % -> oxygen < 25 %");
    CHECK(steps("require oxygen < 30 %\n" + firing,
                "require oxygen < 30 % while temperature > 200 degC\n" + firing) ==
          "~ require oxygen: while always -> temperature > 200 °C");
    CHECK(steps("require oxygen < 30 %\n" + firing, firing) ==
          "- require oxygen: condition oxygen < 30 %, while always, holds from the start, until the end");
    CHECK(steps(firing, firing + "expect temperature < 200 degC") ==
          "+ expect temperature: condition temperature < 200 °C, before the end");
    // So is an expectation that moved.
    CHECK(steps("dwell 1 min\nexpect temperature < 700 degC\n" + firing,
                "dwell 1 min\n" + firing + "expect temperature < 700 degC\n") ==
          "~ expect temperature: before ramp (1) -> the end");
    // A requirement that holds over another stretch is another process, though its words are the same.
    CHECK(steps("require temperature < 700 degC\n" + firing,
                firing + "require temperature < 700 degC\ndwell 1 min") !=
          steps(firing, firing + "dwell 1 min"));
    CHECK(steps("require temperature < 700 degC\nopen argon at 1 slm\ndwell 1 h\ndwell 2 h",
                "open argon at 1 slm\ndwell 1 h\nrequire temperature < 700 degC\ndwell 2 h") != "");
}

TEST_CASE("the number of repeats, and what one pass does") {
    auto cycles = [](int n, const std::string& peak) {
        return "repeat " + std::to_string(n) + " times {\nramp to " + peak +
               " degC at 4 K/min\ndwell 10 min\nramp to 200 degC at 1 K/min\ndwell 10 min\n}\n";
    };
    std::string head = "ramp to 200 degC at 4 K/min\ndwell 10 min\n";
    CHECK(steps(head + cycles(3, "300"), head + cycles(3, "300")) == "");
    List more = diff(recipe(head + cycles(3, "300")), recipe(head + cycles(4, "300")));
    REQUIRE(more.size() == 1);
    CHECK(more[0].find("passes 3 -> 4") != std::string::npos);
    List hotter = diff(recipe(head + cycles(3, "300")), recipe(head + cycles(3, "310")));
    REQUIRE(hotter.size() == 1);
    CHECK(hotter[0].find("target 300 °C -> 310 °C") != std::string::npos);
}

TEST_CASE("parameters: a default that changes is a change, a new name alone shows as such") {
    auto text = [](const std::string& name, const std::string& value) {
        return "recipe r(" + name + " : time = " + value + ") on bench { dwell " + name + " }\n";
    };
    List changed = diff(text("soak", "1 h"), text("soak", "2 h"));
    CHECK(changed == List{"~ parameter soak: value 1 h -> 2 h", "~ dwell: duration 1 h -> 2 h"});
}

TEST_CASE("standing thresholds and waits") {
    auto keep = [](const std::string& flow, const std::string& above) {
        return "keep oxygen open at " + flow + " above " + above + "\nramp to 300 degC at 4 K/min";
    };
    CHECK(steps(keep("0.5 slm", "200 degC"), keep("0.6 slm", "200 degC")) ==
          "~ keep open oxygen: flow 500 sccm -> 600 sccm");
    CHECK(steps(keep("0.5 slm", "200 degC"), keep("0.5 slm", "210 degC")) ==
          "~ keep open oxygen: above 200 °C -> 210 °C");
    CHECK(steps(keep("0.5 slm", "200 degC"),
                "keep oxygen open at 0.5 slm below 200 degC\nramp to 300 degC at 4 K/min") ==
          "~ keep open oxygen: above 200 °C -> below 200 °C");
    CHECK(steps("wait for operator \"Load\"\ndwell 1 h", "wait for operator \"Load two\"\ndwell 1 h") ==
          "~ wait for operator: text Load -> Load two");
}

TEST_CASE("requirements and parameters hold in whatever order they stand") {
    const std::string a = "require oxygen < 30 %\n", b = "require temperature < 700 degC\n",
                      c = "require oxygen < 40 % while temperature > 200 degC\n";
    CHECK(steps(a + b + c + firing, c + b + a + firing) == "");
    CHECK(steps(a + b + firing, b + "require oxygen < 25 %\n" + firing) ==
          "~ require oxygen: condition oxygen < 30 % -> oxygen < 25 %");
    const auto given = [](const std::string& parameters) {
        return "recipe r(" + parameters + ") on bench { ramp to peak at 4 K/min\ndwell soak }\n";
    };
    const std::string peak = "peak : temperature = 300 degC", soak = "soak : time = 1 h";
    CHECK(diff(given(peak + ", " + soak), given(soak + ", " + peak)).empty());
    CHECK(diff(given(peak + ", " + soak), given("soak : time = 2 h, " + peak)) ==
          List{"~ parameter soak: value 1 h -> 2 h", "~ dwell: duration 1 h -> 2 h"});
}

TEST_CASE("where a requirement begins is a step, not a number") {
    const std::string require = "require temperature < 700 degC\n";
    // A step more in front of it moves nothing.
    CHECK(steps("dwell 1 h\n" + require + "dwell 2 h", "dwell 30 min\ndwell 1 h\n" + require + "dwell 2 h") ==
          "+ dwell (1): duration 30 min");
    CHECK(steps("dwell 1 h\n" + require + "dwell 2 h\ndwell 3 h",
                "dwell 1 h\ndwell 2 h\n" + require + "dwell 3 h") ==
          "~ require temperature: holds from dwell (2) -> dwell (3)");
    CHECK(steps("ramp to 300 degC at 4 K/min\ndwell 2 h\nexpect temperature < 700 degC\ncool to 100 degC",
                "ramp to 300 degC at 4 K/min\nexpect temperature < 700 degC\ndwell 2 h\ncool to 100 degC") ==
          "~ expect temperature: before cool freely -> dwell");
}

TEST_CASE("a person at a wait: the tube, and the words of the author alone") {
    const std::string wait = "wait for operator \"load\"";
    CHECK(steps(wait + " with tube open\ndwell 1 h", wait + "\ndwell 1 h") ==
          "~ wait for operator: tube may be opened -> stays shut");
    CHECK(steps("dwell 1 h", wait + "\ndwell 1 h") == "+ wait for operator: text load");
    const auto accepted = [](const std::string& text) {
        return "repeat until operator accepts \"" + text + "\" at most 3 times {\ndwell 10 min\n}\n";
    };
    CHECK(steps(accepted("dry"), accepted("dry and white")) ==
          "~ wait for operator to accept: text dry -> dry and white");
    // Who accepts may end the repeat; who is only waited for may not.
    CHECK(steps(accepted("dry"), "repeat 3 times {\ndwell 10 min\nwait for operator \"dry\"\n}\n") != "");
}

TEST_CASE("what is placed in natural cooling is passed, not aimed at") {
    const auto noted = [](const std::string& at) {
        return "ramp to 300 degC at 4 K/min\ncool to 60 degC { at " + at + " note \"x\" }";
    };
    const std::string moved = steps(noted("200 degC"), noted("250 degC"));
    CHECK_MESSAGE(moved.find("~ cool freely (1): passes 200 °C -> 250 °C") != std::string::npos, moved);
    const std::string aimed =
        steps("ramp to 300 degC at 4 K/min\ncool to 60 degC", "ramp to 300 degC at 4 K/min\ncool to 70 degC");
    CHECK_MESSAGE(aimed.find("~ cool freely: target 60 °C -> 70 °C") != std::string::npos, aimed);
}

TEST_CASE("which zones move together") {
    const auto zoned = [](const std::string& steps) {
        std::string text(rig);
        text.replace(text.find("zones centre"), 12, "zones front, middle, back");
        return std::pair{text, recipe("open argon at 1 slm\n" + steps)};
    };
    const auto differ = [&](const std::string& before, const std::string& after) {
        const auto [rig_a, a] = zoned(before);
        const auto [rig_b, b] = zoned(after);
        Version old(a, rig_a), now(b, rig_b);
        std::string text;
        for (const Change& c : review::diff(*old.done.timeline, *now.done.timeline))
            text += std::string(sign(c.kind)) + c.path + ": " + c.what + "\n";
        return text;
    };
    const std::string first =
                          "ramp front to 200 degC over 4 h\nramp middle to 200 degC, back to 200 degC over 4 h",
                      second =
                          "ramp front to 200 degC, middle to 200 degC over 4 h\nramp back to 200 degC over 4 h";
    CHECK(differ(first, first) == "");
    CHECK(differ(first, second) == "~ ramp front: moves alone -> together with middle\n"
                                   "~ ramp middle: moves together with back -> together with front\n"
                                   "~ ramp back: moves together with middle -> alone\n");
    // The order in which zones are named is none of time.
    CHECK(differ(first,
                 "ramp front to 200 degC over 4 h\nramp back to 200 degC, middle to 200 degC over 4 h") == "");
    CHECK(
        differ("ramp front to 300 degC, middle to 300 degC over 4 h\ndwell 1 h\nramp back to 300 degC over 4 h",
               "ramp front to 300 degC over 4 h\ndwell 1 h\nramp middle to 300 degC, back to 300 degC over 4 h")
            .find("~ ramp middle: moved: behind ramp front -> behind dwell\n"
                  "~ ramp middle: moves together with front -> together with back\n") != std::string::npos);
}

TEST_CASE("where the sample goes") {
    const auto moves = [](const std::string& first, const std::string& second) {
        return "open argon at 1 slm\nramp to 300 degC at 4 K/min\nmove sample to " + first +
               "\ndwell 10 min\nmove sample to " + second + "\ndwell 20 min";
    };
    CHECK(steps(moves("hot", "out"), moves("hot", "hot")) == "~ move sample (2): to out -> hot");
    CHECK(steps(moves("hot", "out"), moves("out", "hot")) ==
          "~ move sample (1): to hot -> out\n~ move sample (2): to out -> hot");
    const auto cycle = [&](const std::string& first, const std::string& second) {
        return "repeat 3 times {\n" + moves(first, second) + "\nramp to 200 degC at 1 K/min\n}";
    };
    CHECK(steps(cycle("hot", "out"), cycle("hot", "out")) == "");
    CHECK(steps(cycle("hot", "out"), cycle("out", "hot")) != "");
}

TEST_CASE("where a keep begins and ends") {
    const std::string keep = "keep oxygen open at 0.5 slm above 200 degC\n",
                      cycle = "ramp to 300 degC at 4 K/min\ndwell 10 min\nramp to 250 degC at 1 K/min\n";
    const auto kept = [&](const std::string& inside) { return "repeat 1 times {\n" + keep + inside + "}\n"; };
    const std::string first = kept(cycle) + cycle, second = cycle + kept(cycle);
    CHECK(steps(first, first) == "");
    CHECK(steps(first, second) == "~ begin of keep oxygen: moved: behind the start -> behind cool (1)\n"
                                  "~ end of keep oxygen: moved: behind cool (1) -> behind cool (2)");
    // Only its brace, only its line.
    CHECK(steps(kept(cycle) + "dwell 5 min\n", kept(cycle + "dwell 5 min\n")).find("end of keep oxygen") !=
          std::string::npos);
    CHECK(steps(keep + "dwell 5 min\n" + cycle, "dwell 5 min\n" + keep + cycle) ==
          "~ begin of keep oxygen: moved: behind the start -> behind dwell (1)");
    // One that came or went is told once.
    CHECK(steps(first, cycle + cycle) == "- keep open oxygen: flow 500 sccm, above 200 °C");
}

TEST_CASE("a step at another place") {
    CHECK(steps(with("open argon at 1 slm\n", "light burner\nopen argon at 1 slm\n"),
                with("dwell 30 min\n", "dwell 30 min\nlight burner\n")) ==
          "~ light burner: moved: behind the start -> behind dwell (2)");
}
