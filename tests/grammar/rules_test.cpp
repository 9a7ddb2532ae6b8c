// The grammar's own rules: the library's analysis finds left recursion and rules that loop without consuming.
#include "grammar/file.hpp"

#include <doctest/doctest.h>
#include <tao/pegtl/contrib/analyze.hpp>

TEST_CASE("the grammar has no left recursion and no loop that stands still") {
    CHECK(tao::pegtl::analyze<athanor::grammar::file>(-1) == 0);
}
