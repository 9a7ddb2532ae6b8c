#include "compiler/program/decimal.hpp"
#include "compiler/program/steps.hpp"

#include <doctest/doctest.h>
#include <rapidcheck.h>

#include <cmath>
#include <cstdlib>
#include <limits>

using athanor::Decimal;
using athanor::Grid;

namespace {

Grid grid(const char* lo, const char* hi, const char* step) {
    return {*Decimal::parse(lo), *Decimal::parse(hi), *Decimal::parse(step)};
}

} // namespace

TEST_CASE("decimal text is the shortest plain form") {
    CHECK(Decimal{1, -1}.text() == "0.1");
    CHECK(Decimal{300, 0}.text() == "300");
    CHECK(Decimal{4500, -3}.text() == "4.5");
    CHECK(Decimal{-5, -3}.text() == "-0.005");
    CHECK(Decimal{3, 2}.text() == "300");
    CHECK(Decimal{0, -4}.text() == "0");
    CHECK(Decimal{0, 3}.text() == "0");
    CHECK(Decimal{120, -1}.text() == "12");
}

TEST_CASE("decimal parsing takes numbers and nothing else") {
    CHECK(Decimal::parse("0.10")->text() == "0.1");
    CHECK(Decimal::parse("-40")->text() == "-40");
    CHECK(Decimal::parse("1e-2")->text() == "0.01");
    CHECK(Decimal::parse("1.5e3")->text() == "1500");
    CHECK(Decimal::parse("5.")->text() == "5");
    for (const char* wrong :
         {"", "-", ".", "1,5", "1.2.3", "1e", "e5", " 1", "1 ", "0x10", "nan", "1e400", "99999999999999999999"})
        CHECK_MESSAGE(!Decimal::parse(wrong), wrong);
}

TEST_CASE("the value of a decimal is the nearest double, as the C library reads it") {
    CHECK(rc::check("value", [](std::int32_t mantissa) {
        const int places = *rc::gen::inRange(0, 9);
        const Decimal number{mantissa, static_cast<std::int8_t>(-places)};
        RC_ASSERT(number.value() == std::strtod(number.text().c_str(), nullptr));
        RC_ASSERT(Decimal::parse(number.text())->value() == number.value());
    }));
}

TEST_CASE("the nearest decimal is within half a place") {
    CHECK(Decimal::nearest(0.25, 1).text() == "0.3");
    CHECK(Decimal::nearest(0.15, 1).text() == "0.1"); // the double 0.15 lies below the tie
    CHECK(Decimal::nearest(-2.5, 0).text() == "-3");
    CHECK(Decimal::nearest(1.0 / 3, 4).text() == "0.3333");
    CHECK(Decimal::nearest(std::numeric_limits<double>::quiet_NaN(), 2).text() == "0");
    CHECK(rc::check("nearest", [] {
        const double value = *rc::gen::inRange(-1000000, 1000000) / 977.0;
        RC_ASSERT(std::abs(Decimal::nearest(value, 3).value() - value) <= 0.0005 + 1e-9);
    }));
}

TEST_CASE("a grid counts its values exactly") {
    CHECK(grid("0.1", "99.9", "0.1").count() == 998);
    CHECK(grid("0", "1200", "1").count() == 1200);
    CHECK(grid("0", "359940", "60").count() == 5999);
    CHECK(grid("0", "10", "3").count() == 3); // the last step would pass the end
    CHECK(grid("5", "5", "1").count() == 0);
    CHECK(grid("0.1", "99.9", "0.1").text(39) == "4");
    CHECK(grid("0.1", "99.9", "0.1").text(2) == "0.3");
    CHECK(grid("0.1", "99.9", "0.1").value(2) == 0.3);
    CHECK(grid("-50", "50", "0.5").text(99) == "-0.5");
}

TEST_CASE("a grid rounds to nearest with ties up, down and up") {
    const Grid minutes = grid("0", "359940", "60");
    CHECK(minutes.nearest(89) == 1);
    CHECK(minutes.nearest(90) == 2);
    CHECK(minutes.below(119) == 1);
    CHECK(minutes.below(120) == 2);
    CHECK(minutes.above(121) == 3);
    CHECK(minutes.above(120) == 2);
    CHECK(minutes.nearest(-31) == -1);
    CHECK(!minutes.holds(minutes.nearest(1e12)));
    CHECK(!minutes.holds(minutes.above(std::numeric_limits<double>::infinity())));
    // A temperature that went through kelvin is still the whole degree.
    const Grid degrees = grid("0", "1200", "1");
    for (int t = 0; t <= 1200; ++t) {
        const double kelvin = t + 273.15;
        CHECK(degrees.below(kelvin - 273.15) == t);
        CHECK(degrees.above(kelvin - 273.15) == t);
    }
}

TEST_CASE("a value of a grid is that of its decimal, whatever the places of ends and step") {
    CHECK(rc::check("value of a grid", [] {
        const auto number = [](int least) {
            const auto places = static_cast<std::int8_t>(-*rc::gen::inRange(0, 7));
            return Decimal{*rc::gen::inRange(least, 100000), places};
        };
        const Grid random{number(-100000), {*rc::gen::inRange(100000, 900000), 0}, number(1)};
        const auto k = static_cast<std::int64_t>(*rc::gen::arbitrary<std::int32_t>());
        RC_ASSERT(random.value(k) == random.decimal(k).value());
        const std::int64_t near = k % 40000; // its digits are fewer than a double's
        RC_ASSERT(random.value(near) == std::strtod(random.text(near).c_str(), nullptr));
        const auto far = *rc::gen::arbitrary<std::int64_t>(); // beyond what a double counts
        RC_ASSERT(random.value(far) == random.decimal(far).value());
    }));
}

TEST_CASE("a grid made ready to be asked often answers as the grid does") {
    CHECK(rc::check("steps", [] {
        const auto number = [](int least) {
            const auto places = static_cast<std::int8_t>(-*rc::gen::inRange(0, 7));
            return Decimal{*rc::gen::inRange(least, 100000), places};
        };
        const Grid grid{number(-100000), {*rc::gen::inRange(100000, 900000), 0}, number(1)};
        const athanor::Steps steps(grid);
        RC_ASSERT(steps.count() == grid.count());
        const auto k = static_cast<std::int64_t>(*rc::gen::arbitrary<std::int32_t>());
        const auto far = *rc::gen::arbitrary<std::int64_t>();
        RC_ASSERT(steps.value(k) == grid.value(k));
        RC_ASSERT(steps.value(far) == grid.value(far));
        const double width = grid.step.value();
        const double off = *rc::gen::element(0.0, 0.5, 0.499999999, 0.4999, 0.500000001, 0.25, -0.5);
        for (const double value : {grid.value(k) + off * width, grid.value(far), 1e300, -1e300})
            RC_ASSERT(steps.nearest(value) == grid.nearest(value));
    }));
    const athanor::Steps none(Grid{{0, 0}, {10, 0}, {0, 0}});
    CHECK(none.value(3) == 0);
    CHECK(none.nearest(7) == (Grid{{0, 0}, {10, 0}, {0, 0}}).nearest(7));
}

TEST_CASE("every value of a random grid finds its own index") {
    // A step of 1e-3 beside 16384: the double nearest to the value lies 2e-9 of a step aside.
    const Grid wide{{-391, -3}, {29386, 0}, {1, -3}};
    CHECK(wide.above(wide.value(16384396)) == 16384396);
    CHECK(wide.below(wide.value(16384396)) == 16384396);
    CHECK(rc::check("grid", [] {
        const auto places = static_cast<std::int8_t>(-*rc::gen::inRange(0, 4));
        const Grid random{{*rc::gen::inRange(-500, 500), places},
                          {*rc::gen::inRange(600, 50000), 0},
                          {*rc::gen::inRange(1, 400), places}};
        const auto k = static_cast<std::int64_t>(*rc::gen::inRange<long>(0, random.count() + 1));
        const double value = random.value(k);
        RC_ASSERT(random.nearest(value) == k);
        RC_ASSERT(random.below(value) == k);
        RC_ASSERT(random.above(value) == k);
        RC_ASSERT(random.holds(k));
        RC_ASSERT(Decimal::parse(random.text(k))->value() == value);
    }));
}

TEST_CASE("a grid with more digits than can be counted is told from one that can") {
    CHECK(grid("0", "1800", "0.1").countable());
    CHECK(grid("0", "1800", "0.000000000001").countable());
    CHECK_FALSE(grid("0", "1800", "0.11000000000000001").countable());
    CHECK_FALSE(grid("0.0000000000000001", "1800", "1").countable());
    CHECK_FALSE(grid("0", "100000000000000000", "1").countable());
}
