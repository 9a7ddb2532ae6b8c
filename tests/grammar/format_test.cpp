// The one layout: what it changes, and what it leaves alone. Stability over many inputs is in robust_test.cpp.
#include "tests/grammar/support.hpp"

#include <doctest/doctest.h>

namespace athanor::grammar_test {
namespace {

std::string laid_out(const std::string& text) {
    return Read(text).formatted();
}

} // namespace

TEST_CASE("one statement a line, four blanks a level, single blanks between tokens") {
    CHECK(laid_out("recipe  x(a:time=1h,\tb  : count=-2)on r for c{dwell   5min;ramp to 5degC at 5K/min{at 4 "
                   "degC   open argon}}") == "recipe x(a : time = 1 h, b : count = -2) on r for c {\n    dwell "
                                             "5 min\n    ramp to 5 degC at 5 K/min {\n"
                                             "        at 4 degC open argon\n    }\n}\n");
    CHECK(laid_out("let x=f( a ,b=[ 1,2 ])*( c-d )") == "let x = f(a, b = [1, 2]) * (c - d)\n");
    CHECK(laid_out("let x = -y\nlet z = - 5") == "let x = -y\nlet z = - 5\n");
    CHECK(laid_out("recipe x {\n if a{}\n\n else if b{ }\n else{ note \"y\" }\n}") ==
          "recipe x {\n    if a { } else if b { } else {\n        note \"y\"\n    }\n}\n");
    CHECK(laid_out("policy p{rule q{require a before start;because \"b\"}}") ==
          "policy p {\n    rule q {\n        require a before start\n        because \"b\"\n    }\n}\n");
}

TEST_CASE("comments stay, blank lines become one, ends of blocks have none") {
    CHECK(laid_out("\n\n# first\n\n\n\nlet x = 1 # why\n   # own\nlet y = 2   \n\n") ==
          "# first\n\nlet x = 1  # why\n# own\nlet y = 2\n");
    CHECK(laid_out("recipe x { # head\n\n  note \"a\"\n# before the end\n\n}") ==
          "recipe x {  # head\n    note \"a\"\n    # before the end\n}\n");
    CHECK(laid_out("recipe x(\n a : time, # one\n  # two\n b : time\n) {\n}") ==
          "recipe x(\n    a : time,  # one\n    # two\n    b : time\n) { }\n");
}

TEST_CASE("properties keep the lines their author gave them") {
    CHECK(laid_out("rig r{tube{wall 3 mm;length 1 m}\n gas x;output 1\n meter hand}") ==
          "rig r {\n    tube { wall 3 mm ; length 1 m }\n    gas x ; output 1\n    meter hand\n}\n");
    CHECK(laid_out("rig r { tube { wall 3 mm } ; a { b 1\n } ; c 2 }") ==
          "rig r {\n    tube { wall 3 mm } ; a {\n        b 1\n    }\n    c 2\n}\n");
    std::string words;
    for (int i = 0; i < 15; ++i) words += "abcde ";
    std::string full = "rig r { a " + words + "; bcde 1 }"; // 110 characters
    CHECK(laid_out(full) == full + '\n');
    CHECK(laid_out("rig r { a " + words + "; bcdef 1 }") ==
          "rig r {\n    a " + words.substr(0, words.size() - 1) + "\n    bcdef 1\n}\n");
}

TEST_CASE("a line that its author broke stays broken, indented once more") {
    CHECK(laid_out("recipe x {\n require a < 1\n while b and\n c < 2\n}") ==
          "recipe x {\n    require a < 1\n        while b and\n        c < 2\n}\n");
}

TEST_CASE("what cannot be read is copied as it stands") {
    CHECK(laid_out("recipe x {\n  dwell   5 min   3   K\n  dwell  1 h\n}") ==
          "recipe x {\n    dwell   5 min   3   K\n    dwell 1 h\n}\n");
    CHECK(laid_out("recipe x  on  on {\n  dwell  1 h\n}") == "recipe x  on  on {\n    dwell 1 h\n}\n");
    CHECK(laid_out("let x = 1,5  L/min\nlet  y = 5foo") == "let x = 1,5 L/min\nlet y = 5foo\n");
    CHECK(laid_out("<<<<<<< a\nlet  x = 1\n=======\n") == "<<<<<<< a\nlet x = 1\n=======\n");
    CHECK(laid_out("let x = \xFF   1") == "let x = \xFF   1");
    CHECK(laid_out("") == "");
}

TEST_CASE("line ends of two characters become one; a file with another sort of line end is left alone") {
    CHECK(laid_out("let  x = 1 # a\r\n\r\nlet y = 2\r\n") == "let x = 1  # a\n\nlet y = 2\n");
    for (const char* text : {"recipe b on  o\rt{", "# cold\r  let  x = 1", "let  x = 1\f"})
        CHECK(laid_out(text) == text);
}

TEST_CASE("the sample is laid out already") {
    std::string text = file_text(std::string(ATHANOR_ROOT) + "/tests/grammar/samples/everything.ath");
    CHECK(laid_out(text) == text);
}

} // namespace athanor::grammar_test
