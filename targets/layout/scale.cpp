#include "targets/layout/scale.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace athanor::targets::layout {
namespace {

__extension__ using Wide = __int128;

constexpr int most_places = 9;
constexpr std::int64_t biggest = std::numeric_limits<std::int64_t>::max();

Wide power(int exponent) {
    Wide p = 1;
    for (int i = 0; i < exponent; ++i) p *= 10;
    return p;
}

/// number * 10^places, exact; nothing where it is none or too large to go on with.
std::optional<Wide> scaled(Decimal number, int places) {
    int shift = number.exponent + places;
    if (shift < 0 || shift > 18 || number.mantissa > biggest / 1000 || number.mantissa < -(biggest / 1000))
        return std::nullopt;
    Wide value = number.mantissa * power(shift);
    if (value > power(24) || value < -power(24)) return std::nullopt;
    return value;
}

std::optional<Decimal> decimal(Wide mantissa, int places) {
    if (mantissa > biggest || mantissa < -biggest) return std::nullopt;
    return Decimal{static_cast<std::int64_t>(mantissa), static_cast<std::int8_t>(-places)};
}

/// shown / 10^-places * (numerator) as a fraction over `numerator`: shown = top / numerator / 10^places.
std::optional<Wide> shown_top(const Scale& scale, Decimal table, int places) {
    std::optional<Wide> value = scaled(table, places), offset = scaled(scale.offset, places);
    if (!value || !offset) return std::nullopt;
    return *value * scale.denominator + *offset * scale.numerator;
}

} // namespace

std::string_view table_unit(Measure measure) {
    switch (measure) {
    case Measure::temperature: return "degC";
    case Measure::difference: return "K";
    case Measure::rate: return "K/min";
    case Measure::time: return "s";
    case Measure::flow: return "sccm";
    case Measure::none: break;
    }
    return "";
}

std::optional<Scale> scale_in(const Unit& unit, Measure measure) {
    const Unit* table = unit_named(table_unit(measure));
    if (!table) return std::nullopt;
    bool degrees = measure == Measure::temperature || measure == Measure::difference;
    bool same =
        degrees ? unit.kind == Kind::temperature || unit.kind == Kind::difference : unit.kind == table->kind;
    if (!same) return std::nullopt;
    Scale scale;
    scale.unit = unit.spelling;
    double ratio = unit.factor / table->factor;
    bool found = false;
    for (std::int64_t d = 1; d <= 100000 && !found; ++d) {
        double n = std::round(ratio * static_cast<double>(d));
        if (n < 1 || n > 1e9) continue;
        found = std::abs(n / static_cast<double>(d) - ratio) <= 1e-12 * ratio;
        if (found) scale.numerator = static_cast<std::int64_t>(n), scale.denominator = d;
    }
    if (!found) return std::nullopt;
    if (measure == Measure::temperature)
        scale.offset = Decimal::nearest((table->offset - unit.offset) / unit.factor, 6);
    return scale;
}

std::optional<std::int64_t> steps(const Scale& scale, Decimal table) {
    if (!scale.step || scale.step->mantissa <= 0) return std::nullopt;
    int places = std::max({0, -table.exponent, -scale.offset.exponent, -scale.step->exponent});
    std::optional<Wide> top = shown_top(scale, table, places), step = scaled(*scale.step, places);
    if (!top || !step) return std::nullopt;
    Wide bottom = *step * scale.numerator;
    if (*top % bottom != 0) return std::nullopt;
    Wide count = *top / bottom;
    if (count > biggest || count < -biggest) return std::nullopt;
    return static_cast<std::int64_t>(count);
}

std::optional<std::string> shown(const Scale& scale, Decimal table) {
    if (scale.step) {
        std::optional<std::int64_t> count = steps(scale, table);
        if (!count) return std::nullopt;
        std::optional<Decimal> value = decimal(Wide{*count} * scale.step->mantissa, -scale.step->exponent);
        return value ? std::optional(value->text()) : std::nullopt;
    }
    for (int places = std::max({0, -table.exponent, -scale.offset.exponent}); places <= most_places; ++places) {
        std::optional<Wide> top = shown_top(scale, table, places);
        if (!top) return std::nullopt;
        if (*top % scale.numerator != 0) continue;
        std::optional<Decimal> value = decimal(*top / scale.numerator, places);
        return value ? std::optional(value->text()) : std::nullopt;
    }
    return std::nullopt;
}

std::optional<Decimal> table_figure(const Scale& scale, Decimal shown) {
    int places = std::max({0, -shown.exponent, -scale.offset.exponent});
    if (places > most_places) return std::nullopt;
    std::optional<Wide> value = scaled(shown, places), offset = scaled(scale.offset, places);
    if (!value || !offset) return std::nullopt;
    Wide top = (*value - *offset) * scale.numerator;
    // Nine places, rounded half away from zero; an exact figure has no remainder.
    Wide wanted = top * power(most_places - places);
    Wide half = scale.denominator / 2;
    Wide rounded = (wanted + (wanted < 0 ? -half : half)) / scale.denominator;
    return decimal(rounded, most_places);
}

} // namespace athanor::targets::layout
