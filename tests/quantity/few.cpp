#include "compiler/quantity/few.hpp"

#include <doctest/doctest.h>
#include <rapidcheck.h>

#include <cstdint>
#include <vector>

using Few = athanor::Few<std::int64_t>;

TEST_CASE("a short list is as equal, as long and as ordered as the vector that it stands for") {
    CHECK(rc::check("few", [] {
        Few few;
        std::vector<std::int64_t> vector;
        for (const int step : *rc::gen::container<std::vector<int>>(rc::gen::inRange(0, 8))) {
            const auto size = static_cast<std::size_t>(*rc::gen::inRange(0, 9));
            const auto value = static_cast<std::int64_t>(*rc::gen::inRange(-3, 4));
            if (step < 4) {
                few.push_back(value);
                vector.push_back(value);
            } else if (step == 4) {
                few.resize(size, value);
                vector.resize(size, value);
            } else if (step == 5) {
                few.clear();
                vector.clear();
            } else if (step == 6) {
                if (value < 0)
                    few.assign(size, value);
                else
                    few = Few(size, value);
                vector.assign(size, value);
            } else if (!vector.empty()) {
                few.back() = vector.back() = value;
                few[few.size() / 2] = vector[vector.size() / 2] = value + 1;
            }
            RC_ASSERT(few.size() == vector.size());
            RC_ASSERT(few.empty() == vector.empty());
            RC_ASSERT(static_cast<std::vector<std::int64_t>>(few) == vector);
            const Few copy = few;
            RC_ASSERT(copy == few);
            RC_ASSERT(Few(vector) == few);
            if (!vector.empty()) RC_ASSERT(copy.front() == vector.front() && copy.back() == vector.back());
        }
        Few other = few;
        other.push_back(1);
        RC_ASSERT(!(other == few));
        const Few moved = std::move(other);
        RC_ASSERT(moved.size() == few.size() + 1);
        RC_ASSERT(moved.back() == 1);
    }));
}
