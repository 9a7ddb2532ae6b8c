// What the words of the grammar and the units of the table must not do to each other.
#include "compiler/quantity/unit.hpp"
#include "grammar/words.hpp"

#include <algorithm>
#include <doctest/doctest.h>

using namespace athanor;
using namespace athanor::grammar;

TEST_CASE("every word is found by its spelling") {
    for (unsigned i = 1; i <= word_count(); ++i) {
        const auto word = static_cast<Word>(i);
        CAPTURE(text_of(word));
        CHECK(word_of(text_of(word)) == word);
    }
    CHECK(word_of("") == Word::none);
    CHECK(word_of("peration") == Word::none);
}

TEST_CASE("no unit but the inch begins with a reserved word: behind a number a unit is looked for first") {
    for (const Unit& unit : units()) {
        const auto end = std::ranges::find_if_not(
            unit.spelling, [](char c) { return c == '_' || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); });
        CAPTURE(unit.spelling);
        CHECK(reserved(word_of({unit.spelling.begin(), end})) == (unit.spelling == "in"));
    }
}
