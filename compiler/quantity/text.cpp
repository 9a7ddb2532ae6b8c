// Quantities as people write them.
#include "compiler/quantity/unit.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <fmt/format.h>
#include <vector>

namespace athanor {

namespace {

double read(std::string_view text) {
    double value = 0;
    std::from_chars(text.data(), text.data() + text.size(), value);
    return value;
}

void strip_zeros(std::string& decimal) {
    if (decimal.find('.') == std::string::npos) return;
    decimal.erase(decimal.find_last_not_of('0') + 1);
    if (decimal.back() == '.') decimal.pop_back();
}

/// Moves the point of "d.ddd" by a power of ten.
void shift(std::string& text, int exponent) {
    const std::size_t first = text.starts_with('-') ? 1 : 0;
    if (first + 1 < text.size()) text.erase(first + 1, 1); // the point
    if (exponent < 0) text.insert(first, static_cast<std::size_t>(-exponent), '0');
    const std::size_t whole = first + 1 + (exponent < 0 ? 0 : static_cast<std::size_t>(exponent));
    if (text.size() < whole)
        text.append(whole - text.size(), '0');
    else if (text.size() > whole)
        text.insert(whole, 1, '.');
}

/// At most `digits` significant digits; an exponent only below 0.001 and from ten million.
std::string number(double value, int digits) {
    if (value == 0) return "0";
    if (!std::isfinite(value)) return value > 0 ? "unbounded" : "-unbounded";
    char buffer[32];
    const auto end = std::to_chars(buffer, buffer + sizeof buffer, value, std::chars_format::scientific,
                                   std::clamp(digits, 1, 17) - 1);
    const std::string_view all(buffer, static_cast<std::size_t>(end.ptr - buffer));
    const std::size_t e = all.find('e');
    int exponent = 0;
    std::from_chars(buffer + e + 2, end.ptr, exponent); // behind its sign, which is always there
    if (all[e + 1] == '-') exponent = -exponent;
    const bool plain = exponent >= -3 && exponent < 7;
    std::string text(all.substr(0, e));
    if (plain) shift(text, exponent);
    strip_zeros(text);
    return plain ? text : fmt::format("{}e{}", text, exponent);
}

/// From `from` (SI, absolute value) on, a value is read in `unit`.
struct Rung {
    double from;
    const Unit* unit;
    Rung(double from_, std::string_view name) : from(from_), unit(unit_named(name)) {}
};
using Ladder = std::vector<Rung>;

const Ladder& ladder(Kind kind) {
    const auto flow = [](double sccm) { return to_si(sccm, *unit_named("sccm")); };
    static const Ladder none, rate{{0, "K/d"}, {0.1 / 3600, "K/h"}, {0.1 / 60, "K/min"}, {10, "K/s"}},
        pressure{{0, "mbar"}, {2e5, "bar"}}, stress{{0, "Pa"}, {1e3, "kPa"}, {1e6, "MPa"}, {1e9, "GPa"}},
        amounts{{0, "sccm"}, {flow(1000), "slm"}},
        volume_flow{{0, "mL/min"}, {0.1e-3 / 60, "L/min"}, {6.0 / 3600, "m3/h"}},
        fraction{{0, "ppb"}, {1e-7, "ppm"}, {1e-3, "%"}}, length{{0, "um"}, {1e-4, "mm"}, {2, "m"}},
        area{{0, "mm2"}, {1e-5, "cm2"}, {1, "m2"}}, volume{{0, "mL"}, {1e-4, "L"}, {1, "m3"}},
        mass{{0, "mg"}, {1e-3, "g"}, {1, "kg"}}, power{{0, "mW"}, {1, "W"}, {1e3, "kW"}, {1e6, "MW"}},
        energy{{0, "J"}, {1e3, "kJ"}, {1e6, "kWh"}}, frequency{{0, "1/h"}, {0.1, "1/s"}},
        voltage{{0, "uV"}, {1e-4, "mV"}, {1, "V"}};
    switch (kind) {
    case Kind::rate: return rate;
    case Kind::pressure:
    case Kind::overpressure: return pressure;
    case Kind::stress: return stress;
    case Kind::flow: return amounts;
    case Kind::volume_flow: return volume_flow;
    case Kind::fraction: return fraction;
    case Kind::length: return length;
    case Kind::area: return area;
    case Kind::volume: return volume;
    case Kind::mass: return mass;
    case Kind::power: return power;
    case Kind::energy: return energy;
    case Kind::frequency: return frequency;
    case Kind::voltage: return voltage;
    default: return none;
    }
}

/// The unit in which `si` is readable; zero gives no hint and takes the kind's first unit.
const Unit& readable_unit(double si, Kind kind) {
    const Ladder& rungs = ladder(kind);
    if (si == 0 || rungs.empty()) return display_unit(kind);
    // A value meant to stand on a rung may lie a rounding error under it.
    const double size = std::abs(si) * (1 + 1e-12);
    const auto above = [size](const Rung& rung) { return rung.from > size; };
    return *std::prev(std::find_if(rungs.begin() + 1, rungs.end(), above))->unit;
}

std::string in_unit(double si, const Unit& unit, int digits) {
    double value = from_si(si, unit);
    // 0 degC is 273.15 K to within rounding; what is left of the subtraction is no value.
    if (unit.offset != 0 && std::abs(value) * unit.factor < 1e-12 * unit.offset) value = 0;
    std::string text = number(value, digits);
    if (unit.spelling.empty()) return text;
    // In text for people a temperature carries its sign; the recipe's plain spelling is for keyboards.
    std::string_view spelling = unit.spelling;
    text += ' ';
    if (spelling.starts_with("deg")) {
        text += "°";
        spelling.remove_prefix(3);
    }
    return text.append(spelling);
}

/// "2 h 13 min 20 s": whole seconds from one minute on, unless nine digits or more are asked for; whole minutes
/// from two days on, unless eight digits or more are asked for.
std::string duration(double seconds, int digits) {
    if (seconds < 0) return '-' + duration(-seconds, digits);
    if (seconds > 0 && seconds < 0.1) return number(seconds * 1e3, digits) + " ms";
    const std::string plain = number(seconds, digits);
    if (seconds < 60 && read(plain) < 60) return plain + " s";
    if (seconds >= 1e15) return number(seconds / 86400, digits) + " d";
    const bool days = seconds >= 2 * 86400;
    const std::int64_t second = days ? 1 : 1'000'000'000;
    std::int64_t step = days && digits < 8 ? 60 : second;
    if (!days && digits >= 9)
        for (int place = static_cast<int>(std::log10(seconds)) + 1; place < digits && step > 1; ++place)
            step /= 10;
    const double steps = static_cast<double>(second) / static_cast<double>(step); // in a second
    std::int64_t left = std::llround(seconds * steps) * step;
    std::string text;
    const auto part = [&](std::int64_t size, std::string_view unit) {
        const std::int64_t n = left / (size * second);
        left -= n * size * second;
        if (n != 0) text += fmt::format("{}{} {}", text.empty() ? "" : " ", n, unit);
    };
    if (days) part(86400, "d");
    part(3600, "h");
    part(60, "min");
    if (left != 0)
        text += fmt::format("{}{} s", text.empty() ? "" : " ",
                            number(static_cast<double>(left) / static_cast<double>(second), 12));
    return text;
}

/// One finite end; `like` is the other end, whose unit a zero takes.
std::string one(double si, double like, Kind kind, int digits) {
    if (kind == Kind::time) {
        if (si == 0) return std::isfinite(like) && std::abs(like) >= 60 ? "0 min" : "0 s";
        return duration(si, digits);
    }
    const bool hint = si != 0 || !std::isfinite(like);
    return in_unit(si, readable_unit(hint ? si : like, kind), digits);
}

template<class Format>
std::string ends(Interval si, std::string_view suffix, Format format) {
    const bool low = si.lo > -infinity, high = si.hi < infinity;
    if (si.lo == infinity || si.hi == -infinity) return "unbounded";
    if (!low && !high) return "any value";
    if (!high) return fmt::format("{}{} or more", format(si.lo, si.hi), suffix);
    if (!low) return fmt::format("{}{} or less", format(si.hi, si.lo), suffix);
    std::string hi = format(si.hi, si.lo);
    const std::string lo = si.is_point() ? hi : format(si.lo, si.hi);
    if (lo == hi) {
        hi += suffix;
        return hi;
    }
    return fmt::format("{}{} to {}{}", lo, suffix, hi, suffix);
}

} // namespace

std::string to_text(Interval si, Kind kind, int digits) {
    return ends(si, kind == Kind::overpressure ? " gauge" : "",
                [&](double end, double other) { return one(end, other, kind, digits); });
}

std::string to_text(double si, Kind kind, int digits) {
    return to_text(Interval(si), kind, digits);
}

std::string to_text(Interval si, Type type, int digits) {
    if (type.kind != Kind::derived || type.dimension.none()) return to_text(si, type.kind, digits);
    return ends(si, ' ' + to_text(type.dimension), [&](double end, double) { return number(end, digits); });
}

std::string to_text(Interval si, const Unit& unit, int digits) {
    return ends(si, "", [&](double end, double) { return in_unit(end, unit, digits); });
}

std::string to_clock(double seconds) {
    if (!(std::abs(seconds) < 1e15)) return "unbounded";
    std::int64_t left = std::llround(std::abs(seconds));
    const std::string sign = seconds < 0 && left != 0 ? "-" : "";
    const std::int64_t days = left / 86400;
    left %= 86400;
    const std::string clock = fmt::format("{:02}:{:02}:{:02}", left / 3600, left / 60 % 60, left % 60);
    return days != 0 ? fmt::format("{}{} d {}", sign, days, clock) : sign + clock;
}

std::string shortest(double value) {
    if (value == 0) return "0"; // also for the negative zero
    char buffer[400];           // the smallest double has 324 places behind the point
    const auto format = std::abs(value) < 1e15 ? std::chars_format::fixed : std::chars_format::general;
    const auto end = std::to_chars(buffer, buffer + sizeof buffer, value, format);
    return {buffer, end.ptr};
}

} // namespace athanor
