#include "grammar/words.hpp"
#include "recipes_support.hpp"

using Texts = Checked::Texts;

TEST_CASE("an unknown name is told with the nearest one") {
    Checked c("recipe r(peak : temperature = 900 degC) {\n    ramp to peek at 5 K/min\n    dwell 1 h\n    note "
              "\"{peak}\"\n"
              "    ramp to peak at 1 K/min\n}\n");
    CHECK(c.findings() == "t.ath:2:13: error: nothing is called `peek` [unknown_name]\n");
    CHECK(c.remedies() == "`peak` is declared\n");
    CHECK(c.mended().find("ramp to peak at 5 K/min") != std::string::npos);
}

TEST_CASE("operations, recipes, rigs and controllers are found by their own kind") {
    Checked c("operation soak_in() { dwell 1 h }\nrecipe soak_in on soak_in for soak_in {\n    soak_im()\n    "
              "soak_in()\n}\n");
    CHECK(c.findings() == "t.ath:2:19: error: no rig is called `soak_in` [unknown_name]\n"
                          "t.ath:2:31: error: no controller is called `soak_in` [unknown_name]\n"
                          "t.ath:3:5: error: no operation is called `soak_im` [unknown_name]\n");
}

TEST_CASE("a declaration twice is told with both places") {
    Checked c("operation a() { dwell 1 h }\noperation a() { dwell 2 h }\nlet t = 1 h\nlet t = 2 h\nrecipe r { "
              "dwell t }\nrecipe r { a() }\n");
    CHECK(c.findings() == "t.ath:2:11: error: operation `a` is declared already [duplicate_name]\n"
                          "t.ath:4:5: error: let `t` is declared already [duplicate_name]\n"
                          "t.ath:6:8: error: recipe `r` is declared already [duplicate_name]\n");
    REQUIRE(c.out.all().front().related.size() == 1);
    CHECK(c.files.place(c.out.all().front().related[0].span) == "t.ath:1:11");
}

TEST_CASE("a file that declares what it imports is told where it does") {
    Checked c(Texts{{"t.ath", "use \"b.ath\"\noperation a() { dwell 1 h }\nrecipe r { a() }\n"},
                    {"b.ath", "operation a() { dwell 2 h }\n"}},
              ".");
    CHECK(c.findings() == "t.ath:2:11: error: operation `a` is declared already [duplicate_name]\n");
}

TEST_CASE("two imports that declare one name are told where it is used, and not otherwise") {
    const std::string one = "let soak = 1 h\noperation a() { dwell soak }\n";
    Checked unused(Texts{{"t.ath", "use \"b.ath\"\nuse \"c.ath\"\nrecipe r { dwell 1 h }\n"},
                         {"b.ath", one},
                         {"c.ath", one}},
                   ".");
    CHECK(unused.findings() == "");
    Checked used(Texts{{"t.ath", "use \"b.ath\"\nuse \"c.ath\"\nrecipe r {\n    a()\n    dwell soak\n}\n"},
                       {"b.ath", one},
                       {"c.ath", one}},
                 ".");
    CHECK(used.findings() ==
          "t.ath:4:5: error: operation `a` is declared in two of the imported files [duplicate_name]\n"
          "t.ath:5:11: error: let `soak` is declared in two of the imported files [duplicate_name]\n");
}

TEST_CASE("the standard library's names are taken") {
    Checked c("operation inert_purge() { dwell 1 h }\nrecipe r { inert_purge() }\n");
    CHECK(c.findings() == "t.ath:1:11: error: operation `inert_purge` is declared already in the standard "
                          "library [duplicate_name]\n");
}

TEST_CASE("a value cannot be called like a signal, a unit or a gas") {
    CHECK(
        findings_of("dwell h\nlet oxygen = 5 min\ndwell oxygen\nrepeat 2 times as pressure { dwell 1 min }",
                    "h : time = 1 h") ==
        "t.ath:1:10: error: a parameter cannot be called `h`: that is a unit [duplicate_name]\n"
        "t.ath:3:5: error: a `let` cannot be called `oxygen`: that is a gas, and so a signal [duplicate_name]\n"
        "t.ath:5:19: error: a loop name cannot be called `pressure`: that is a signal [duplicate_name]\n");
    CHECK(Checked("let min = 5 min\nrecipe r { dwell min }\n").findings() ==
          "t.ath:1:5: error: a `let` cannot be called `min`: that is a unit [duplicate_name]\n");
}

TEST_CASE("values of a block end with it, and are not declared twice inside each other") {
    CHECK(findings_of("repeat 2 times { let a = 1 h ; dwell a }\nrepeat 2 times { let a = 2 h ; dwell a }") ==
          "");
    CHECK(findings_of("repeat 2 times {\nlet a = 1 h\ndwell a\n}\ndwell a") ==
          "t.ath:6:7: error: nothing is called `a` [unknown_name]\n");
    CHECK(findings_of("let a = 1 h\nrepeat 2 times {\nlet a = 2 h\ndwell a\n}\ndwell a") ==
          "t.ath:4:5: error: `a` is declared already [duplicate_name]\n");
    CHECK(
        Checked("let a = 1 h\nrecipe r(a : time = 2 h) { dwell a }\n").out.has(athanor::Code::duplicate_name));
}

TEST_CASE("a line is a gas, or the line of some rig") {
    CHECK(findings_of("open argon at 1 slm\nclose argn, argon\nswitch to nowhere at 1 slm") ==
          "t.ath:3:7: error: no line and no gas is called `argn` [unknown_name]\n"
          "t.ath:4:11: error: no line and no gas is called `nowhere` [unknown_name]\n");
    CHECK(findings_of("open peak at 1 slm\nramp to peak at 1 K/min", "peak : temperature = 900 degC") ==
          "t.ath:2:6: error: a gas or a line is due here; `peak` is a temperature [unit_mismatch]\n");
}

TEST_CASE("a let of a file is read before or behind its place, through others") {
    Checked c("recipe r { dwell total }\nlet total = part * 2\nlet part = 45 min\n");
    CHECK(c.findings() == "");
    CHECK(c.number(c.steps()[0].value) == doctest::Approx(5400).scale(0));
    CHECK(c.files.text(c.model.exprs[c.steps()[0].value].span) == "total");
}

TEST_CASE("a let that is computed from itself has no value") {
    CHECK(Checked("let a = b * 2\nlet b = a / 2\nrecipe r { dwell a }\n").findings() ==
          "t.ath:1:5: error: `a` is computed from itself [recursion]\n");
}

TEST_CASE("what nothing uses is a warning in the named file only") {
    Checked c(
        Texts{
            {"t.ath",
             "use \"b.ath\"\nlet a = 1 h\noperation o(x : time, y : time = 2 min) { let z = 3 min ; dwell x }\n"
             "recipe r(p : time = 1 h) { dwell b }\n"},
            {"b.ath", "let b = 1 h\nlet c = 1 h\noperation q() { dwell 1 h }\n"}},
        ".");
    CHECK(c.findings() == "t.ath:2:5: warning: `let a` is never used [never_used]\n"
                          "t.ath:3:11: warning: operation `o` is never called [never_used]\n"
                          "t.ath:3:23: warning: parameter `y` is never used [never_used]\n"
                          "t.ath:3:47: warning: `let z` is never used [never_used]\n"
                          "t.ath:4:10: warning: parameter `p` is never used [never_used]\n");
    CHECK(Checked("let a = 1 h\noperation o() { dwell a }\n").findings() == "");
}

TEST_CASE("a parameter that only a later one reads is used") {
    CHECK(
        Checked("operation o(a : time, b : time = a * 2) { dwell b }\nrecipe r { o(a = 1 h) }\n").findings() ==
        "");
}

TEST_CASE("a formula, or a name with a capital letter, is told once") {
    Checked small("recipe r {\n    require o2 < 10 ppm\n    open ar\n}\n");
    CHECK(small.findings() == "t.ath:2:13: error: nothing is called `o2` [unknown_name]\n"
                              "t.ath:3:10: error: no line and no gas is called `ar` [unknown_name]\n");
    CHECK(small.remedies() == "a gas is called by its name: `oxygen`\na gas is called by its name: `argon`\n");
    Checked capital("recipe r {\n    require O2 < 10 ppm\n    open Argon\n    dwell Min(1 h, 2 h)\n}\n");
    CHECK(capital.findings() ==
          "t.ath:2:13: error: `O2` is a formula; a gas is called by its name [syntax]\n"
          "t.ath:3:10: error: the name `Argon` has a capital letter; names are lower case [syntax]\n"
          "t.ath:4:11: error: the name `Min` has a capital letter; names are lower case [syntax]\n");
}

TEST_CASE("formulas that the grammar knows are those of the standard library") {
    Checked c("let x = 1 h\nrecipe r { dwell x }\n");
    for (const athanor::check::Gas& gas : c.model.gases) {
        if (gas.formula.empty()) continue;
        CAPTURE(gas.name);
        CHECK(athanor::grammar::gas_of_formula(gas.formula) == gas.name);
    }
}

TEST_CASE("`heat up to` and `cool naturally to` name no zone") {
    const auto checked = [](const std::string& step) {
        return Checked(
            Texts{{"t.ath", "use \"muffle_tube.ath\"\nrecipe r on muffle_tube {\n    " + step + "\n}\n"},
                  {"muffle_tube.ath",
                   Checked::read(std::filesystem::path(ATHANOR_ROOT) / "recipes/rigs/muffle_tube.ath")}},
            ".");
    };
    CHECK(checked("cool naturally to 70 degC").remedies() == "leave `naturally` out\n");
    CHECK(checked("cool naturally to 70 degC").mended().find("cool to 70 degC") != std::string::npos);
    const Checked c = checked("heat up to 500 degC");
    CHECK(c.findings() == "t.ath:3:10: error: no rig has a zone `up` [unknown_name]\n");
    CHECK(c.remedies() == "leave `up` out\n");
    CHECK(c.mended().find("heat to 500 degC") != std::string::npos);
}

TEST_CASE("two tests of one title in a file") {
    Checked c("recipe r { dwell 1 h }\ntest \"x\" { r is proven }\ntest \"x\" { r is refused }\n");
    CHECK(c.findings() == "t.ath:3:6: error: a test \"x\" is declared already [duplicate_name]\n");
}
