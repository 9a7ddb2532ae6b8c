// What a site policy takes upon itself is part of what a reviewer must see.
#include "compiler/review/review.hpp"

#include <doctest/doctest.h>

using athanor::review::Change;

TEST_CASE("concessions that came, went or changed are listed, the others are not") {
    const std::string kept = "plugs_in_vacuum: short tube (approved safety office)",
                      old_text = "seals_missing: trial (approved A)",
                      new_text = "seals_missing: trial (approved B)";
    CHECK(athanor::review::concessions({kept}, {kept}).empty());
    const auto changes = athanor::review::concessions({kept, old_text}, {new_text, kept});
    REQUIRE(changes.size() == 2);
    CHECK(changes[0].kind == Change::Kind::removed);
    CHECK(changes[0].path == "concession");
    CHECK(changes[0].what == old_text);
    CHECK(changes[1].kind == Change::Kind::added);
    CHECK(changes[1].what == new_text);
}
