#include "compiler/source/spelling.hpp"

#include <doctest/doctest.h>

using namespace athanor;

namespace {

constexpr Lexicon words(std::array<std::string_view, 5>{"ramp", "operation", "separation", "at", "mm²"});

} // namespace

TEST_CASE("a word of a list is found by its whole spelling") {
    CHECK(words.number("ramp") == 1);
    CHECK(words.number("operation") == 2);
    CHECK(words.number("separation") == 3); // its last eight bytes are those of `operation` but for one
    CHECK(words.number("at") == 4);
    CHECK(words.number("mm²") == 5);
}

TEST_CASE("what is no word of the list has number 0") {
    for (std::string_view text :
         {"", "a", "att", "Ramp", "ramps", "peration", "xperation", "xseparation", "mm2"}) {
        CAPTURE(text);
        CHECK(words.number(text) == 0);
    }
}
