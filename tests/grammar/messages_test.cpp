// Every message of the grammar, word for word, and every edit it offers.
#include "grammar/words.hpp"
#include "tests/grammar/support.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

namespace athanor::grammar_test {
namespace {

/// The messages in their short form, without the file's name.
std::string told(const std::string& text) {
    Read read(text);
    std::string out;
    std::istringstream lines(read.messages());
    for (std::string line; std::getline(lines, line);) out += line.substr(line.find(':') + 1) + '\n';
    return out;
}

/// The text with every edit made; each must leave fewer errors than before.
std::string mended(const std::string& text) {
    Read read(text);
    std::size_t hidden = 0, edits = 0;
    auto list = read.diagnostics.sorted(1000, hidden);
    std::string out = text;
    for (auto at = list.rbegin(); at != list.rend(); ++at) {
        if (!(*at)->edit) continue;
        const Edit& edit = *(*at)->edit;
        out.replace(edit.span.begin, edit.span.end - edit.span.begin, edit.text);
        ++edits;
    }
    CHECK(edits > 0);
    CAPTURE(out);
    CHECK(Read(out).diagnostics.errors() < read.diagnostics.errors());
    return out;
}

} // namespace

TEST_CASE("units that are none, and the unit that was meant") {
    CHECK(told("let x = 5 C") == "1:11: error: unknown unit `C` [unknown_unit]\n");
    CHECK(mended("let x = 5 C") == "let x = 5 degC");
    CHECK(told("let x = 1.5 lpm") == "1:13: error: unknown unit `lpm` [unknown_unit]\n");
    CHECK(mended("let x = 1.5 lpm") == "let x = 1.5 L/min");
    CHECK(told("let x = 2 L/m") == "1:11: error: unknown unit `L/m` [unknown_unit]\n");
    CHECK(mended("let x = 2 L/m") == "let x = 2 L/min");
    CHECK(told("let x = 100 cc/min") == "1:13: error: unknown unit `cc/min` [unknown_unit]\n");
    CHECK(mended("let x = 100 cc/min") == "let x = 100 cm3/min");
    CHECK(told("let x = 3 mT") == "1:11: error: unknown unit `mT` [unknown_unit]\n");
    CHECK(mended("let x = 3 mT") == "let x = 3 mTorr");
    CHECK(told("let x = 2 hr") == "1:11: error: unknown unit `hr` [unknown_unit]\n");
    CHECK(mended("let x = 2 hr") == "let x = 2 h");
    CHECK(told("let x = 5 foo") == "1:11: error: unknown unit `foo` [unknown_unit]\n");
    CHECK(told("let x = 5foo") == "1:10: error: unknown unit `foo` [unknown_unit]\n");
    CHECK(told("let x = 60 K/soak") == "1:12: error: unknown unit `K/soak` [unknown_unit]\n");
    CHECK(told("rig r { power 5 kw/h }") == "1:17: error: unknown unit `kw/h` [unknown_unit]\n");
    CHECK(told("rig r { flow 2 lpm }") == "1:16: error: unknown unit `lpm` [unknown_unit]\n");
    CHECK(mended("rig r { flow 2 lpm }") == "rig r { flow 2 L/min }");
}

TEST_CASE("what an edit writes is certain; a guess is a remedy") {
    struct Guess {
        std::string text, remedy;
    };
    for (const Guess& guess :
         {Guess{"let x = 5 mmbar", "perhaps `5 mbar`"},
          {"let x = 5 sscm", "perhaps `5 sccm`"},
          {"let x = 100 micron", "perhaps `100 um`"},
          {"recipe x {\nrmpa to 5 degC\n}", "perhaps `ramp`"},
          {"recipe x {\nramp to 5 degC wthn 5 K\n}", "perhaps `within`"},
          {"recipe x {\npump to 1 mbar\n}", "write `evacuate to PRESSURE`"},
          {"recipe x {\npump down to 1 mbar\n}", "write `evacuate to PRESSURE`"},
          {"recipe x {\nvent with argon\n}", "write `backfill LINE at FLOW to ambient`"},
          {"recipe x {\nfill argon\n}", "write `backfill LINE at FLOW to ambient`"},
          {"recipe x {\nflow argon\n}", "write `open LINE at FLOW`"},
          {"recipe x {\nturn off argon\n}", "write `open LINE at FLOW`, or `close LINE`"},
          {"recipe x {\nstop argon\n}", "write `close argon`"},
          {"recipe x {\nstart argon\n}", "write `open argon at FLOW`"},
          {"recipe x {\nargon at 2.4 slm\n}", "write `open argon at 2.4 slm`"},
          {"recipe x {\nramp 2 K/min to 500 degC within 5 K  # up\n}",
           "write `ramp to 500 degC within 5 K at 2 K/min`"},
          {"recipe x {\nramp 2 h to peak\n}", "write `ramp to peak over 2 h`"},
          {"recipe x {\ncool to room temperature\n}",
           "write the temperature at which the run may end, such as `cool to 50 degC`"},
          {"let x = 1x10-3 mbar", "a power of ten is written with `e`: `1e-3`"},
          {"recipe x {\nopen argon at 5 scfh\n}", "look up the meter's reference temperature and write the "
                                                  "flow in `slm` or `sccm`, which are of 0 degC "
                                                  "and 1 atm"},
          {"recipe x {\nopen argon at 5 cfm\n}", "a cubic foot per minute is 28.32 L/min"}}) {
        CAPTURE(guess.text);
        Read read(guess.text);
        REQUIRE(read.diagnostics.errors() == 1);
        const Diagnostic& d = read.diagnostics.all().front();
        CAPTURE(render_short(d, read.files));
        CHECK(d.remedies.front() == guess.remedy);
        CHECK(!d.edit);
    }
    CHECK(mended("recipe x {\nevacuate to 100 micron\n}") == "recipe x {\nevacuate to 100 mTorr\n}");
    CHECK(told("recipe x {\nstop pmup\n}") == "2:6: error: `pump` is expected here, found `pmup` [syntax]\n");
}

TEST_CASE("powers of ten, and a word that is missing or too many") {
    for (const char* power : {"10^-2", "1*10^-2", "1 * 10^-2", "1·10^-2", "1 × 10^-2", "1·10⁻²", "10⁻²"}) {
        CAPTURE(power);
        CHECK(mended(std::string("let x = ") + power + " mbar") == "let x = 1e-2 mbar");
        CHECK(Read(std::string("let x = ") + power + " mbar").diagnostics.errors() == 1);
    }
    CHECK(mended("let x = 2.5·10^3 Pa") == "let x = 2.5e3 Pa");
    CHECK(mended("let x = a1 * 10^3 Pa") == "let x = a1 * 1e3 Pa");
    CHECK(told("let x = a1·10^3 Pa").find("middle dot") != std::string::npos); // the first of two
    CHECK(mended("let x = a*10⁻³") == "let x = a*1e-3");
    CHECK(mended("let x = a × b") == "let x = a * b"); // no power
    CHECK(told("recipe x {\nramp to 800 degC 5 K/min\n}") ==
          "2:18: error: `at` is missing before `5 K/min` [syntax]\n");
    CHECK(mended("recipe x {\nramp to 800 degC 5 K/min\n}") == "recipe x {\nramp to 800 degC at 5 K/min\n}");
    CHECK(mended("recipe x {\nramp to 9 degC at 5 C per min\n}") ==
          "recipe x {\nramp to 9 degC at 5 degC/min\n}");
    CHECK(mended("recipe x {\nheat to 800 degC 5 K/min\n}") == "recipe x {\nramp to 800 degC at 5 K/min\n}");
    Read within("recipe x {\ndwell 2 h 5 K\n}");
    CHECK(within.diagnostics.all().front().remedies.front() == "write `within 5 K`");
    CHECK(!within.diagnostics.all().front().edit);
    CHECK(Read("let x = 1,5 lpm").diagnostics.all().back().remedies.front() == "write `1.5 L/min`");
    CHECK(mended("recipe x {\nopen argon 2.4 slm\n}") == "recipe x {\nopen argon at 2.4 slm\n}");
    CHECK(mended("recipe x {\nevacuate to 1 mbar abs\n}") == "recipe x {\nevacuate to 1 mbar\n}");
    CHECK(Read("recipe x {\nramp 300 degC at 5 K/min\n}").diagnostics.all().front().remedies.front() ==
          "write `to 300 degC`");
}

TEST_CASE("a gas's formula in a rig") {
    CHECK(told("rig r { line a { gas N2 } }") ==
          "1:22: error: `N2` is a formula; a gas is called by its name [syntax]\n");
    CHECK(mended("rig r { line a { gas N2 } }") == "rig r { line a { gas nitrogen } }");
}

TEST_CASE("what was read past hides no other slip of its statement") {
    CHECK(told("recipe x {\nramp to 800 C at 5 C/min\n}") ==
          "2:13: error: unknown unit `C` [unknown_unit]\n"
          "2:20: error: unknown unit `C/min` [unknown_unit]\n");
    CHECK(mended("recipe x {\nramp to 800 C at 5 C/min\n}") == "recipe x {\nramp to 800 degC at 5 degC/min\n}");
    CHECK(told("recipe x {\nramp to 1,5 C at Peak within 3 hrs\n}") ==
          "2:9: error: `1,5` is written with a comma; a decimal number takes a point [syntax]\n"
          "2:13: error: unknown unit `C` [unknown_unit]\n"
          "2:18: error: the name `Peak` has a capital letter; names are lower case [syntax]\n"
          "2:32: error: unknown unit `hrs` [unknown_unit]\n");
    // Behind what stopped the reading nothing is told.
    CHECK(told("recipe x {\nramp to 800 C C/min\n}") == "2:13: error: unknown unit `C` [unknown_unit]\n");
}

TEST_CASE("numbers of other habits") {
    CHECK(told("let x = 1,5 L/min") ==
          "1:9: error: `1,5` is written with a comma; a decimal number takes a point [syntax]\n");
    CHECK(mended("let x = 1,5 L/min") == "let x = 1.5 L/min");
    CHECK(told("let x = 1,500 sccm") ==
          "1:9: error: `1,500` is written with a comma; a decimal number takes a point [syntax]\n");
    CHECK(told("let x = 1:30") ==
          "1:9: error: `1:30` is the time of a clock; a duration takes units [syntax]\n");
    CHECK(told("let x = 0:05:30") ==
          "1:9: error: `0:05:30` is the time of a clock; a duration takes units [syntax]\n");
    CHECK(mended("let x = 0:05:30") == "let x = 5 min 30 s");
    CHECK(told("let x = .5 K") == "1:9: error: a number begins with a digit [syntax]\n");
    CHECK(mended("let x = .5 K") == "let x = 0.5 K");
    CHECK(told("let x = 1 h 90 min") == "1:13: error: `90 min` cannot follow `1 h`: the units of one time "
                                        "fall, and each value is below one of the unit before it [syntax]\n");
    CHECK(told("let x = 30 min 1 h") == "1:16: error: `1 h` cannot follow `30 min`: the units of one time "
                                        "fall, and each value is below one of the unit before it [syntax]\n");
    CHECK(told("rig r { a 10 500 degC }") == "1:14: error: `10` and `500 degC` stand side by side [syntax]\n");
}

TEST_CASE("and and or, comparisons in a row, and the wrong equals") {
    CHECK(told("let x = a and b < 1 or not c") ==
          "1:21: error: `and` and `or` are mixed without parentheses [syntax]\n");
    CHECK(told("let x = a < b <= c") == "1:9: error: comparisons do not chain [syntax]\n");
    CHECK(told("let x = a == b") == "1:11: error: `==` is no comparison of this language [syntax]\n");
    CHECK(told("recipe x {\nif a = 5 { note \"x\" }\n}") ==
          "2:6: error: `=` gives a value to a name; it does not compare [syntax]\n");
    CHECK(told("let x = 5 = 6") == "1:11: error: `=` gives a value to a name; it does not compare [syntax]\n");
}

TEST_CASE("equals for colon and the reverse") {
    CHECK(told("let x : 5 min") == "1:7: error: `:` gives a type; a value follows `=` [syntax]\n");
    CHECK(mended("let x : 5 min") == "let x = 5 min");
    CHECK(told("let x = time = 5") ==
          "1:14: error: `=` gives a value to a name; it does not compare [syntax]\n");
    CHECK(told("gas x : 5 % a + rest b") == "1:7: error: `:` gives a type; a value follows `=` [syntax]\n");
    CHECK(mended("gas x : 5 % a + rest b") == "gas x = 5 % a + rest b");
    CHECK(told("let x = f(a : 5)") == "1:13: error: an argument is given with `=` [syntax]\n");
    CHECK(mended("let x = f(a : 5)") == "let x = f(a = 5)");
    CHECK(told("rig r { wall = 3 mm }") ==
          "1:14: error: a property takes no `=` between its name and its value [syntax]\n");
    CHECK(mended("rig r { wall = 3 mm }") == "rig r { wall  3 mm }");
    CHECK(told("rig r { wall : 3 mm }") ==
          "1:14: error: a property takes no `:` between its name and its value [syntax]\n");
    CHECK(mended("rig r { wall : 3 mm }") == "rig r { wall  3 mm }");
    CHECK(told("layout l { column \"x\" : target }") ==
          "1:23: error: `:` gives a type; a value follows `=` [syntax]\n");
    CHECK(mended("layout l { column \"x\" : target }") == "layout l { column \"x\" = target }");
}

TEST_CASE("words left out or misspelt") {
    CHECK(told("recipe x {\nramp 300 degC at 5 K/min\n}") ==
          "2:6: error: `to` is missing before `300` [syntax]\n");
    CHECK(mended("recipe x {\nramp 300 degC at 5 K/min\n}") == "recipe x {\nramp to 300 degC at 5 K/min\n}");
    CHECK(told("recipe x {\nset argon 0.5 L/min\n}") == "2:11: error: `to` is missing before `0.5` [syntax]\n");
    CHECK(mended("recipe x {\nset argon 0.5 L/min\n}") == "recipe x {\nset argon to 0.5 L/min\n}");
    CHECK(told("recipe x {\nrmap to 300 degC\n}") ==
          "2:1: error: `rmap` is no word of the language; read as `ramp` [syntax]\n");
    CHECK(mended("recipe x {\nrmap to 300 degC\n}") == "recipe x {\nramp to 300 degC\n}");
    CHECK(told("recpie x { }") ==
          "1:1: error: `recpie` is no word of the language; read as `recipe` [syntax]\n");
    CHECK(mended("recpie x { }") == "recipe x { }");
    CHECK(told("let x = 5\nrgi r { }") ==
          "2:1: error: `rgi` is no word of the language; read as `rig` [syntax]\n");
    CHECK(mended("let x = 5\nrgi r { }") == "let x = 5\nrig r { }");
    CHECK(told("recipe x {\nramp to 5 degC att 5 K/min\n}") ==
          "2:16: error: `at` is expected here, found `att` [syntax]\n");
    CHECK(mended("recipe x {\nramp to 5 degC att 5 K/min\n}") == "recipe x {\nramp to 5 degC at 5 K/min\n}");
    CHECK(told("recipe x {\nrepeat 5 time { }\n}") ==
          "2:10: error: `times` is expected here, found `time` [syntax]\n");
    CHECK(mended("recipe x {\nrepeat 5 time { }\n}") == "recipe x {\nrepeat 5 times { }\n}");
    CHECK(told("recipe x {\nat 5 degC opn argon\n}") ==
          "2:11: error: `open` is expected here, found `opn` [syntax]\n");
    CHECK(mended("recipe x {\nat 5 degC opn argon\n}") == "recipe x {\nat 5 degC open argon\n}");
    CHECK(told("recipe x {\nfoo = 5\n}") == "2:1: error: `foo` is given a value without `let` [syntax]\n");
    CHECK(mended("recipe x {\nfoo = 5\n}") == "recipe x {\nlet foo = 5\n}");
    CHECK(told("recipe x {\nmake_inert\n}") == "2:1: error: `make_inert` begins no statement here [syntax]\n");
    CHECK(told("recipe x {\nRAMP to 5 degC\n}") ==
          "2:1: error: `RAMP` is no word of the language; read as `ramp` [syntax]\n");
    CHECK(mended("recipe x {\nRAMP to 5 degC\n}") == "recipe x {\nramp to 5 degC\n}");
    CHECK(told("let Peak = 5") ==
          "1:5: error: the name `Peak` has a capital letter; names are lower case [syntax]\n");
    CHECK(mended("let Peak = 5") == "let peak = 5");
    CHECK(told("let x = f(Soak)") ==
          "1:11: error: the name `Soak` has a capital letter; names are lower case [syntax]\n");
    CHECK(mended("let x = f(Soak)") == "let x = f(soak)");
    CHECK(told("recipe x {\nheat to 900 degC at 5 K/min\n}") ==
          "2:18: error: `heat to` goes as fast as the furnace can and takes no rate or time [syntax]\n");
    CHECK(mended("recipe x {\nheat to 900 degC at 5 K/min\n}") == "recipe x {\nramp to 900 degC at 5 K/min\n}");
    CHECK(told("recipe x {\nstep to 900 degC over 5 min\n}") ==
          "2:18: error: `step to` changes the set-point at once and takes no rate or time [syntax]\n");
    CHECK(mended("recipe x {\nstep to 900 degC over 5 min\n}") == "recipe x {\nramp to 900 degC over 5 min\n}");
    CHECK(told("let step = 5") ==
          "1:5: error: `step` is a word of the language and cannot be a name [syntax]\n");
    CHECK(told("operation heat { }") ==
          "1:11: error: `heat` is a word of the language and cannot be a name [syntax]\n");
    CHECK(told("recipe x {\nelse { note \"x\" }\n}") == "2:1: error: `else` without its `if` [syntax]\n");
    CHECK(told("test \"x\" { a is provn }") ==
          "1:17: error: `proven` is expected here, found `provn` [syntax]\n");
    CHECK(mended("test \"x\" { a is provn }") == "test \"x\" { a is proven }");
}

TEST_CASE("what was expected, and what was found") {
    CHECK(told("recipe x {\ndwell\ndwell within 5 K\ndwell { after 1 min open argon }\n}") == "");
    CHECK(told("recipe x {\ndwell 5 min within\n}") ==
          "2:19: error: expected a value, found the end of the line [syntax]\n");
    CHECK(told("recipe x {\ndwell 5 min 3\n}") ==
          "2:13: error: `3` behind a time has no unit [missing_unit]\n");
    CHECK(told("recipe x {\nramp to\n}") ==
          "2:8: error: expected a value, found the end of the line [syntax]\n");
    CHECK(told("recipe x {\nramp to 5 degC at 3 K/min at 4 K/min\n}") ==
          "2:27: error: `at` is given twice [syntax]\n");
    CHECK(told("recipe x {\nbackfill argon\n}") ==
          "2:15: error: expected `at` or `to`, found the end of the line [syntax]\n");
    CHECK(told("recipe x {\nkeep x open above\n}") ==
          "2:18: error: expected a value, found the end of the line [syntax]\n");
    CHECK(told("recipe x {\nkeep x\n}") ==
          "2:7: error: expected `open` or `closed`, found the end of the line [syntax]\n");
    CHECK(told("recipe x {\nat 400 degC dwell 5 min\n}") ==
          "2:13: error: expected an action such as `open`, `close` or `switch to`, found `dwell` [syntax]\n");
    CHECK(told("recipe x {\n5 min\n}") ==
          "2:1: error: `5 min` begins no statement: a figure stands behind what it is for [syntax]\n");
    CHECK(told("recipe x {\nwait for operator load\n}") ==
          "2:19: error: expected a text in quotes, found `load` [syntax]\n");
    CHECK(told("recipe x {\nblend argon\n}") ==
          "2:7: error: expected `rest` or a share such as `5 %`, found `argon` [syntax]\n");
    CHECK(told("recipe x {\nfor t in 5 { }\n}") ==
          "2:10: error: `for` goes through a list; what counts is `repeat` [syntax]\n");
    CHECK(told("recipe x {\nclose argon,\ndwell 5 min\n}") ==
          "2:13: error: expected a name, found the end of the line [syntax]\n");
    CHECK(told("let x = (5 + 1\nlet y = 2") ==
          "1:15: error: expected `)`, found the end of the line [syntax]\n");
    CHECK(told("let x = [1 2]") == "1:12: error: expected `,` or `]`, found `2` [syntax]\n");
    CHECK(told("let x = a +\nlet y = 2") ==
          "1:12: error: expected a value, found the end of the line [syntax]\n");
    CHECK(told("use bench") == "1:5: error: expected a text in quotes, found `bench` [syntax]\n");
    CHECK(told("language") == "1:9: error: expected a number, found the end of the file [syntax]\n");
    CHECK(told("recipe x(a time, b : = 5, c : gas in [a], 5) { }") ==
          "1:12: error: expected `:`, `in`, `=`, `,` or `)`, found `time` [syntax]\n"
          "1:22: error: expected a name, found `=` [syntax]\n"
          "1:43: error: expected a name, found `5` [syntax]\n");
    CHECK(told("recipe x(a : time { }") == "1:19: error: expected `in`, `=`, `,` or `)`, found `{` [syntax]\n");
    CHECK(told("policy p { rule r { require a before foo ; because } }") ==
          "1:38: error: expected `opening`, `closing`, `heating`, `evacuating`, `start`, `end` or `abort`, "
          "found `foo` [syntax]\n"
          "1:52: error: expected a text in quotes, found `}` [syntax]\n");
    CHECK(told("policy p { bad }") == "1:12: error: `bad` begins no statement here [syntax]\n");
    CHECK(told("rig r { interlock a closed b }") ==
          "1:21: error: `closes` is expected here, found `closed` [syntax]\n");
    CHECK(mended("rig r { interlock a closed b }") == "rig r { interlock a closes b }");
    CHECK(told("rig r { a ) }") ==
          "1:11: error: expected `{`, `source` or the end of the statement, found `)` [syntax]\n");
    CHECK(told("layout l { column \"x\" = t in foo }") ==
          "1:30: error: expected a unit, found `foo` [syntax]\n");
    CHECK(told("gas a = b") == "1:9: error: expected `rest` or a share such as `5 %`, found `b` [syntax]\n");
    CHECK(told("test \"x\" { a is refused by }") == "1:28: error: expected a name, found `}` [syntax]\n");
}

TEST_CASE("braces and places") {
    CHECK(told("recipe x {\n    ramp to 5 degC {\n        at 4 degC open argon\n    dwell 5 min\n}\ngas a = "
               "rest b\n") == "2:20: error: this block has no closing `}` [syntax]\n");
    CHECK(told("recipe x {\n    note \"a\"\n") == "1:10: error: this block has no closing `}` [syntax]\n");
    CHECK(told("recipe x { note \"a\" }\n}\n") == "2:1: error: this `}` closes nothing [syntax]\n");
    CHECK(told("dwell 5 min\ndwell 6 min\nlet x = 1\ndwell 5 min") ==
          "1:1: error: `dwell` stands outside every recipe and operation [syntax]\n"
          "4:1: error: `dwell` stands outside every recipe and operation [syntax]\n");
    CHECK(told("recipe x {\nrig r { }\n}") == "1:10: error: this block has no closing `}` [syntax]\n"
                                              "3:1: error: this `}` closes nothing [syntax]\n");
    CHECK(told("vent(5)") ==
          "1:1: error: a call of an operation stands outside every recipe and operation [syntax]\n");
}

TEST_CASE("characters") {
    CHECK(told("let x = – 5 K") ==
          "1:9: error: this character (en dash, U+2013) only looks like one of the language [syntax]\n");
    CHECK(mended("let x = – 5 K") == "let x = - 5 K");
    CHECK(
        told("let x = 5 K") ==
        "1:10: error: this character (no-break space, U+00A0) only looks like one of the language [syntax]\n");
    CHECK(mended("let x = 5 K") == "let x = 5 K");
    CHECK(told("note “x”") ==
          "1:6: error: this character (curly quote, U+201C) only looks like one of the language [syntax]\n");
    CHECK(mended("recipe x {\nnote “x”\n}") == "recipe x {\nnote \"x\"\n}");
    CHECK(mended("recipe x {\nnote „x“\n}") == "recipe x {\nnote \"x\"\n}");
    CHECK(told("let x = 'a'") == "1:9: error: a text stands in double quotes [syntax]\n");
    CHECK(told("let x = \"abc\nlet y = 2") ==
          "1:9: error: this text has no closing `\"` on its line [syntax]\n");
    CHECK(told("let x = a × b") == "1:11: error: this character (multiplication sign, U+00D7) only looks like "
                                   "one of the language [syntax]\n");
    CHECK(mended("let x = a × b") == "let x = a * b");
    CHECK(told("let x = a ≤ b") ==
          "1:11: error: this character (less or equal, U+2264) only looks like one of the language [syntax]\n");
    CHECK(mended("let x = a ≤ b") == "let x = a <= b");
    CHECK(told("let x = ") ==
          "1:9: error: an invisible character, U+0003: nobody sees that it is there [syntax]\n");
    CHECK(told("let x = @") == "1:9: error: expected a value, found `@` [syntax]\n");
}

TEST_CASE("merge conflicts") {
    CHECK(told("recipe x {\n<<<<<<< mine\ndwell 5 min\n=======\ndwell 6 min\n>>>>>>> theirs\n}") ==
          "2:1: error: `<<<<<<<` is the marker of a merge conflict [syntax]\n"
          "4:1: error: `=======` is the marker of a merge conflict [syntax]\n"
          "6:1: error: `>>>>>>>` is the marker of a merge conflict [syntax]\n");
}
TEST_CASE("bytes that are no text") {
    std::string zero("let x = \0", 9);
    CHECK(told(zero) == "1:9: error: a zero byte: this is no text file [syntax]\n");
    CHECK(told("let x = 5 \xB0\x43\n") == "1:11: error: byte 0xB0 is not UTF-8 [syntax]\n");
    // Overlong, surrogate, beyond the last code point, cut off: RFC 3629.
    for (std::string bad : {"\xC0\xAF", "\xED\xA0\x80", "\xF4\x90\x80\x80", "\xE2\x82"})
        CHECK(Read("# " + bad).diagnostics.errors() == 1);
    CHECK(told("# \xE2\x82\xAC \xF0\x9F\x94\xA5\n") == "");
}

TEST_CASE("what only looks like a line end hides no line") {
    const std::string told_so = "shown as a line end by some programs, and none here [syntax]\n";
    const std::string lone = "a carriage return without a line feed: " + told_so;
    CHECK(told("recipe x {\n  # cold\r  require oxygen < 1 ppm\n}\n") == "2:9: error: " + lone);
    CHECK(told("# old\rrecipe x { }\r") == "1:6: error: " + lone);
    CHECK(told("let x = 1\rlet y = 2") == "1:10: error: " + lone);
    CHECK(told("let x = 1\r") == "1:10: error: " + lone); // at the text's end
    CHECK(told("note \"a\rb\"") == "1:8: error: " + lone);
    CHECK(told("let x = 1\r\n# b\r\rlet y = 2\r\n") == "2:4: error: " + lone);
    CHECK(told("# a\vlet x = 1") == "1:4: error: a vertical tab, U+000B: " + told_so);
    CHECK(told("# a\flet x = 1") == "1:4: error: a form feed, U+000C: " + told_so);
    CHECK(told("# °\u0085let x = 1") == "1:4: error: a next line, U+0085: " + told_so);
    CHECK(told("# a\u2028let x = 1") == "1:4: error: a line separator, U+2028: " + told_so);
    CHECK(told("# a\u2029let x = 1") == "1:4: error: a paragraph separator, U+2029: " + told_so);
    CHECK(told("let x = 1 # a\r\nlet y = 2\r\n") == "");
}

TEST_CASE("remedies and second places") {
    Read twice("recipe x {\n    ramp to 5 degC at 3 K/min at 4 K/min\n}");
    REQUIRE(twice.diagnostics.errors() == 1);
    const Diagnostic& d = twice.diagnostics.all().front();
    REQUIRE(d.related.size() == 1);
    CHECK(twice.files.text(d.related[0].span) == "at 3 K/min");
    Read mixed("let x = a and b < 1 or not c");
    CHECK(mixed.diagnostics.all().front().remedies ==
          std::vector<std::string>{"write `(a and b < 1) or not c`", "or write `a and (b < 1 or not c)`"});
    // The whole of a longer chain, in both readings.
    Read longer("let x = a or b and c and d or e");
    CHECK(longer.diagnostics.errors() == 1);
    CHECK(longer.diagnostics.all().front().remedies ==
          std::vector<std::string>{"write `a or (b and c and d) or e`",
                                   "or write `(a or b) and c and (d or e)`"});
    Read chain("let x = a < b <= c");
    CHECK(chain.diagnostics.all().front().remedies ==
          std::vector<std::string>{"where both must hold: `a < b and b <= c`",
                                   "where one is enough: `a < b or b <= c`"});
    Read thousands("let x = 1,500 sccm");
    CHECK(thousands.diagnostics.all().front().remedies ==
          std::vector<std::string>{"write `1.500`, or `1500` where thousands are meant"});
}

TEST_CASE("the version of the language") {
    CHECK(told("language 1\nlet x = 5") == "");
    for (const char* other : {"2", "0", "99", "1.5"}) {
        // What follows is written in words of another version, and not judged.
        Read read(fmt::format("language {}\nlet x := 5\n}}}}\n", other));
        CHECK(read.messages() ==
              fmt::format("recipe.ath:1:10: error: the file is written for version `{}` of the "
                          "language; this program knows version 1 only [syntax]\n",
                          other));
        CHECK(read.diagnostics.all().front().remedies.size() == 1);
        CHECK(read.formatted() == read.files[0].text());
        CHECK(unsound(read.tree, read.files[0].text().size()) == "");
    }
    CHECK(mended("language 1.0\nlet x = 5") == "language 1\nlet x = 5");
    CHECK(told("language 1\nlet x = 5\nlanguage 1") ==
          "3:1: error: the version of the language is stated twice [syntax]\n");
}

TEST_CASE("words of everyday speech and of other languages") {
    const auto in_recipe = [](const std::string& line) { return told("recipe x {\n" + line + "\n}"); };
    const auto repaired = [](const std::string& line) {
        const std::string whole = mended("recipe x {\n" + line + "\n}");
        CHECK(Read(whole).messages() == "");
        return whole.substr(11, whole.size() - 13);
    };
    CHECK(in_recipe("dwell for 2 h") == "2:7: error: `dwell` is followed by its time at once [syntax]\n");
    CHECK(repaired("dwell for 2 h") == "dwell 2 h");
    const std::string waits =
        "2:1: error: `wait` waits for a person; for a time, or until a condition holds, a "
        "set-point is held with `dwell` [syntax]\n";
    CHECK(in_recipe("wait 10 min") == waits);
    CHECK(repaired("wait 10 min") == "dwell 10 min");
    CHECK(in_recipe("wait for 10 min") == waits);
    CHECK(repaired("wait for 10 min") == "dwell 10 min");
    CHECK(in_recipe("wait until oxygen < 5 ppm") == waits);
    CHECK(repaired("wait until oxygen < 5 ppm") == "dwell until oxygen < 5 ppm");
    CHECK(in_recipe("wait for operatr \"x\"") ==
          "2:10: error: `operator` is expected here, found `operatr` [syntax]\n");
    CHECK(in_recipe("hold 2 h") ==
          "2:1: error: `hold` begins no statement: a set-point is held with `dwell` [syntax]\n");
    CHECK(repaired("hold 2 h") == "dwell 2 h");
    CHECK(in_recipe("hold = 2 h") == "2:1: error: `hold` is given a value without `let` [syntax]\n");
    CHECK(repaired("flush argon at 2 slm for 5 min") == "purge argon at 2 slm for 5 min");
    CHECK(in_recipe("repeat 3 {\nnote \"x\"\n}") ==
          "2:9: error: `times` is missing behind the count [syntax]\n");
    CHECK(repaired("repeat 3 {\nnote \"x\"\n}") == "repeat 3 times {\nnote \"x\"\n}");
    CHECK(repaired("repeat n as i {\nnote \"x\"\n}") == "repeat n times as i {\nnote \"x\"\n}");
    CHECK(in_recipe("ramp to 300 degC in 2 h") == "2:18: error: the time of a ramp follows `over` [syntax]\n");
    CHECK(repaired("ramp to 300 degC in 2 h") == "ramp to 300 degC over 2 h");
    CHECK(in_recipe("ramp to 300 degC @ 5 K/min") ==
          "2:18: error: a rate or a flow follows the word `at` [syntax]\n");
    CHECK(repaired("ramp to 300 degC @ 5 K/min") == "ramp to 300 degC at 5 K/min");
    CHECK(repaired("open argon @2 slm") == "open argon at 2 slm");
    CHECK(in_recipe("ramp to 300 degC at 5 K per min") == "2:23: error: a unit is divided with `/` [syntax]\n");
    CHECK(repaired("ramp to 300 degC at 5 K per min") == "ramp to 300 degC at 5 K/min");
    CHECK(repaired("ramp to 300 degC at 5 K per minute") == "ramp to 300 degC at 5 K/min");
    CHECK(in_recipe("dwell 10 500 s") ==
          "2:7: error: `10 500`: the digits of one number stand together [syntax]\n");
    CHECK(repaired("dwell 10 500 s") == "dwell 10500 s");
    CHECK(in_recipe("dwell 1.5 500 s") ==
          "2:11: error: expected `within`, `{` or the end of the statement, found `500` [syntax]\n");
    CHECK(in_recipe("dwell 1h30min") ==
          "2:7: error: `1h30min` is written without blanks, so its unit is not known [unknown_unit]\n");
    CHECK(repaired("dwell 1h30min") == "dwell 1 h 30 min");
    CHECK(told("let x = 30min1h") == "1:11: error: unknown unit `min1h` [unknown_unit]\n");
    CHECK(in_recipe("if 1 > 0 then {\nnote \"x\"\n}") ==
          "2:10: error: behind the condition of an `if` its block begins at once [syntax]\n");
    CHECK(repaired("if 1 > 0 then {\nnote \"x\"\n}") == "if 1 > 0 {\nnote \"x\"\n}");
    for (const char* line : {"// why", "dwell 5 min // why", "/* why */"})
        CHECK(in_recipe(line).find("a comment begins with `#` and ends with its line [syntax]") !=
              std::string::npos);
    CHECK(repaired("dwell 5 min // why") == "dwell 5 min # why");
    CHECK(in_recipe("purge until oxygen < 5 ppm") ==
          "2:7: error: the gas line is missing between `purge` and `until` [syntax]\n");
    CHECK(in_recipe("open at 2 slm") ==
          "2:6: error: the gas line is missing between `open` and `at` [syntax]\n");
    CHECK(in_recipe("purge ramp") ==
          "2:7: error: `ramp` is a word of the language and cannot be a name [syntax]\n");
    CHECK(told("gas house \"House argon\" = 5 ppm oxygen + rest argon") ==
          "1:11: error: a mixture takes no title: `=` follows its name [syntax]\n");
    CHECK(mended("gas house \"House argon\" = 5 ppm oxygen + rest argon") ==
          "gas house = 5 ppm oxygen + rest argon");
}

TEST_CASE("a formula where a gas's name is due") {
    CHECK(told("recipe x {\npurge O2 at 2 slm for 5 min\n}") ==
          "2:7: error: `O2` is a formula; a gas is called by its name [syntax]\n");
    CHECK(mended("recipe x {\nrequire O2 < 5 ppm\n}") == "recipe x {\nrequire oxygen < 5 ppm\n}");
    CHECK(mended("recipe x {\nopen Argon\n}") == "recipe x {\nopen argon\n}");
    // A new name is no gas.
    CHECK(mended("let CO = 5") == "let co = 5");
    CHECK(told("recipe x(CO : time) { }") ==
          "1:10: error: the name `CO` has a capital letter; names are lower case [syntax]\n");
    CHECK(told("let x = temperature of Front") ==
          "1:24: error: the name `Front` has a capital letter; names are lower case [syntax]\n");
}

} // namespace athanor::grammar_test

TEST_CASE(
    "a name is surely meant where one letter of a word is off, never where a number or a single letter is") {
    using athanor::grammar::surely_named;
    CHECK(surely_named("agron", "argon"));
    CHECK(surely_named("hydrogn_line", "hydrogen_line"));
    CHECK(surely_named("mixng", "mixing"));
    for (const auto& [wrong, right] :
         {std::pair{"soak_2", "soak_1"}, std::pair{"type_e", "type_k"}, std::pair{"argon_46", "argon_48"},
          std::pair{"ar", "air"}, std::pair{"fall", "tail"}, std::pair{"soak", "peak"},
          std::pair{"argon", "argon"}}) {
        CAPTURE(wrong);
        CHECK_FALSE(surely_named(wrong, right));
    }
}
