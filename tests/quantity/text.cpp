// Quantities as text for people.
#include "compiler/quantity/unit.hpp"
#include "tests/quantity/property.hpp"

#include <charconv>
#include <doctest/doctest.h>
#include <string>

using namespace athanor;

namespace {

/// A value given in a unit of the language, printed as its kind.
std::string shown(double number, std::string_view unit, Kind kind, int digits = 4) {
    return to_text(to_si(number, *unit_named(unit)), kind, digits);
}
std::string shown(double low, double high, std::string_view unit, Kind kind, int digits = 4) {
    return to_text(Interval(to_si(low, *unit_named(unit)), to_si(high, *unit_named(unit))), kind, digits);
}

} // namespace

TEST_CASE("values are shown in the unit in which people read them") {
    CHECK(shown(612, 648, "degC", Kind::temperature) == "612 °C to 648 °C");
    CHECK(shown(0, "degC", Kind::temperature) == "0 °C");
    CHECK(shown(-40, "degC", Kind::dew_point) == "-40 °C");
    CHECK(shown(1742, "degF", Kind::temperature) == "950 °C");
    CHECK(shown(3, "K", Kind::difference) == "3 K");
    CHECK(shown(7.9, "K/min", Kind::rate) == "7.9 K/min");
    CHECK(shown(0.2, "K/d", Kind::rate) == "0.2 K/d");
    CHECK(shown(2, "K/h", Kind::rate) == "2 K/h");
    CHECK(shown(20, "K/s", Kind::rate) == "20 K/s");
    CHECK(shown(-5, "K/min", Kind::rate) == "-5 K/min");
    CHECK(shown(9.7, "ppm", Kind::fraction) == "9.7 ppm");
    CHECK(shown(0.35, "ppm", Kind::fraction) == "0.35 ppm");
    CHECK(shown(20, "ppb", Kind::fraction) == "20 ppb");
    CHECK(shown(20.95, "%", Kind::fraction) == "20.95 %");
    CHECK(shown(1000, "ppm", Kind::fraction) == "0.1 %");
    CHECK(shown(150, "mbar", Kind::pressure) == "150 mbar");
    CHECK(shown(150, "mbar", Kind::overpressure) == "150 mbar gauge");
    CHECK(shown(200, "bar", Kind::pressure) == "200 bar");
    CHECK(shown(1e-5, "mbar", Kind::pressure) == "1e-5 mbar");
    CHECK(shown(48, "MPa", Kind::stress) == "48 MPa");
    CHECK(shown(100, "sccm", Kind::flow) == "100 sccm");
    CHECK(shown(0.5, "slm", Kind::flow) == "500 sccm");
    CHECK(shown(1, "slm", Kind::flow) == "1 slm");
    CHECK(shown(90, "NL/h", Kind::flow) == "1.5 slm");
    CHECK(shown(1.5, "L/min", Kind::volume_flow) == "1.5 L/min");
    CHECK(shown(4, "m3/h", Kind::pumping_speed) == "4 m3/h");
    CHECK(shown(1.89, "L/s", Kind::conductance) == "1.89 L/s");
    CHECK(shown(60, "mm", Kind::length) == "60 mm");
    CHECK(shown(530, "nm", Kind::length) == "0.53 um");
    CHECK(shown(3.4, "L", Kind::volume) == "3.4 L");
    CHECK(shown(3, "kW", Kind::power) == "3 kW");
    CHECK(shown(1e-4, "mbar*L/s", Kind::leak_rate) == "1e-4 mbar*L/s");
    CHECK(shown(5, "kWh", Kind::energy) == "5 kWh");
    CHECK(shown(4, "1/h", Kind::frequency) == "4 1/h");
    CHECK(shown(20.644, "mV", Kind::voltage, 5) == "20.644 mV");
    CHECK(to_text(5.0, Kind::count) == "5");
    CHECK(to_text(Interval(3), Type{Kind::derived, {2, 0, -1}}) == "3 m^2 s^-1");
    CHECK(to_text(Interval(1, 3), Type{Kind::derived, {2, 0, -1}}) == "1 m^2 s^-1 to 3 m^2 s^-1");
}

TEST_CASE("durations are compound as in the language") {
    const auto at = [](double seconds) { return to_text(seconds, Kind::time); };
    CHECK(at(45) == "45 s");
    CHECK(at(0.25) == "0.25 s");
    CHECK(at(0.05) == "50 ms");
    CHECK(at(0) == "0 s");
    CHECK(at(60) == "1 min");
    CHECK(at(59.9996) == "1 min");
    CHECK(at(3180) == "53 min");
    CHECK(at(5400) == "1 h 30 min");
    CHECK(at(8000) == "2 h 13 min 20 s");
    CHECK(at(3601) == "1 h 1 s");
    CHECK(at(3599.7) == "1 h");
    CHECK(at(30 * 3600) == "30 h");
    CHECK(at(2 * 86400) == "2 d");
    CHECK(at(60 * 86400 + 3600 + 29) == "60 d 1 h");
    CHECK(at(-90) == "-1 min 30 s");
    CHECK(to_text(Interval(3180, 3720), Kind::time) == "53 min to 1 h 2 min");
    CHECK(to_text(Interval(0, 720), Kind::time) == "0 min to 12 min");
    CHECK(to_text(Interval(0, 2), Kind::time) == "0 s to 2 s");
}

TEST_CASE("intervals") {
    CHECK(shown(1e-4, 20.9, "%", Kind::fraction) == "1 ppm to 20.9 %");
    CHECK(to_text(Interval(0, 12e-6), Kind::fraction) == "0 ppm to 12 ppm");
    CHECK(to_text(Interval(0, 0.1), Kind::fraction) == "0 % to 10 %");
    CHECK(shown(-20, 5, "K", Kind::difference) == "-20 K to 5 K");
    CHECK(shown(0, 200, "mbar", Kind::overpressure) == "0 mbar gauge to 200 mbar gauge");
    // Ends that a person could not tell apart print once.
    CHECK(shown(949.9999, 950.0001, "degC", Kind::temperature) == "950 °C");
    CHECK(shown(949.9999, 950.0001, "degC", Kind::temperature, 8) == "949.9999 °C to 950.0001 °C");
    CHECK(to_text(Interval(3180, infinity), Kind::time) == "53 min or more");
    CHECK(to_text(Interval(-infinity, to_si(648, *unit_named("degC"))), Kind::temperature) == "648 °C or less");
    CHECK(to_text(Interval(-infinity, infinity), Kind::pressure) == "any value");
    CHECK(to_text(Interval(infinity), Kind::time) == "unbounded");
    CHECK(to_text(Interval(0, infinity), Kind::overpressure) == "0 mbar gauge or more");
}

TEST_CASE("digits round to nearest and carry over") {
    CHECK(shown(1.23456, "K", Kind::difference, 3) == "1.23 K");
    CHECK(shown(9.9996, "K", Kind::difference) == "10 K");
    CHECK(shown(1255.6, "K", Kind::difference) == "1256 K");
    CHECK(shown(0.00123456, "K", Kind::difference) == "0.001235 K");
    CHECK(shown(0.000123456, "K", Kind::difference) == "1.235e-4 K");
    CHECK(to_text(Interval(to_si(1000, *unit_named("degF"))), *unit_named("degF")) == "1000 °F");
    CHECK(to_text(Interval(1.5e5), *unit_named("bar")) == "1.5 bar");
    CHECK(to_text(Interval(101325), *unit_named("Torr")) == "760 Torr");
    CHECK(to_text(Interval(0, 5), *unit_named("s")) == "0 s to 5 s");
}

TEST_CASE("a value in a unit reads back to the value shown") {
    CHECK(holds_always("every unit", [] {
        const Unit& unit = units()[*rc::gen::inRange<std::size_t>(0, units().size())];
        const double number = static_cast<double>(*rc::gen::inRange(-999999, 1000000)) / 1000;
        const std::string text = to_text(Interval(to_si(number, unit)), unit, 6);
        double back = 0;
        RC_ASSERT(parse_number(text.substr(0, text.find(' ')), back));
        RC_ASSERT(std::abs(back - number) < 1e-9 * (std::abs(number) + 1));
    }));
}

TEST_CASE("the clock") {
    CHECK(to_clock(0) == "00:00:00");
    CHECK(to_clock(8000) == "02:13:20");
    CHECK(to_clock(59.6) == "00:01:00");
    CHECK(to_clock(86399.6) == "1 d 00:00:00");
    CHECK(to_clock(2 * 86400 + 8000) == "2 d 02:13:20");
    CHECK(to_clock(-5) == "-00:00:05");
    CHECK(to_clock(-0.2) == "00:00:00");
    CHECK(to_clock(infinity) == "unbounded");
}

TEST_CASE("the shortest text reads back to the same number") {
    CHECK(shortest(0.1) == "0.1");
    CHECK(shortest(0) == "0");
    CHECK(shortest(-0.0) == "0");
    CHECK(shortest(-40) == "-40");
    CHECK(shortest(4155) == "4155");
    CHECK(shortest(1e-7) == "0.0000001");
    CHECK(shortest(123456789012345) == "123456789012345");
    CHECK(shortest(1e22) == "1e+22");
    CHECK(holds_always("round trip", [] {
        const double x = std::bit_cast<double>(*rc::gen::arbitrary<std::uint64_t>());
        RC_PRE(std::isfinite(x));
        const std::string text = shortest(x);
        double back = 0;
        std::from_chars(text.data(), text.data() + text.size(), back);
        RC_ASSERT(back == x);
        if (std::abs(x) < 1e15) RC_ASSERT(text.find('e') == std::string::npos);
    }));
}
