#include "compiler/check/equipment_readers.hpp"
#include "compiler/quantity/unit.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <fmt/format.h>
#include <optional>

namespace athanor::check {

namespace {

/// A unit as an exact ratio of a controller's own unit, with the offset of K against degC in hundredths.
struct Ratio {
    std::string_view unit;
    std::int64_t times = 1, over = 1;
    std::int64_t minus_hundredths = 0;
};

constexpr std::array temperature_ratios{Ratio{"degC"}, Ratio{"°C"}, Ratio{"K", 1, 1, 27315}};
constexpr std::array difference_ratios{Ratio{"K"}};
constexpr std::array rate_ratios{Ratio{"K/min"},        Ratio{"K/h", 1, 60},      Ratio{"K/s", 60},
                                 Ratio{"K/d", 1, 1440}, Ratio{"degC/min"},        Ratio{"degC/h", 1, 60},
                                 Ratio{"degC/s", 60},   Ratio{"degC/d", 1, 1440}, Ratio{"°C/min"},
                                 Ratio{"°C/h", 1, 60},  Ratio{"°C/s", 60},        Ratio{"°C/d", 1, 1440}};
constexpr std::array time_ratios{Ratio{"s"},       Ratio{"ms", 1, 1000}, Ratio{"min", 60},
                                 Ratio{"h", 3600}, Ratio{"d", 86400},    Ratio{"wk", 604800}};

std::span<const Ratio> ratios(Kind kind) {
    switch (kind) {
    case Kind::temperature: return temperature_ratios;
    case Kind::difference: return difference_ratios;
    case Kind::rate: return rate_ratios;
    default: return time_ratios;
    }
}

std::int64_t ten_to(int n) {
    std::int64_t power = 1;
    while (n-- > 0) power *= 10;
    return power;
}

/// a + b, exact; nullopt where 64 bits do not hold it.
std::optional<Decimal> sum(Decimal a, Decimal b) {
    const int exponent = std::min<int>(a.exponent, b.exponent);
    const int up_a = a.exponent - exponent, up_b = b.exponent - exponent;
    std::int64_t left = 0, right = 0, total = 0;
    if (up_a > 18 || up_b > 18 || __builtin_mul_overflow(a.mantissa, ten_to(up_a), &left) ||
        __builtin_mul_overflow(b.mantissa, ten_to(up_b), &right) || __builtin_add_overflow(left, right, &total))
        return std::nullopt;
    return Decimal{total, static_cast<std::int8_t>(exponent)};
}

/// number * times / over, exact; nullopt when the quotient has no end (1 K/h is 0.01666… K/min).
std::optional<Decimal> scale(Decimal number, const Ratio& ratio) {
    std::int64_t mantissa = 0;
    if (__builtin_mul_overflow(number.mantissa, ratio.times, &mantissa)) return std::nullopt;
    int exponent = number.exponent;
    for (int places = 0; mantissa % ratio.over != 0; ++places, --exponent)
        if (places == 9 || __builtin_mul_overflow(mantissa, std::int64_t{10}, &mantissa)) return std::nullopt;
    if (exponent < -18) return std::nullopt;
    const Decimal result{mantissa / ratio.over, static_cast<std::int8_t>(exponent)};
    return ratio.minus_hundredths == 0 ? result : sum(result, Decimal{-ratio.minus_hundredths, -2});
}

/// The written value as a decimal of the controller's unit (degC, K, K/min, s).
std::optional<Decimal> exact(const Tree& tree, NodeId node, Kind kind, const Files& files) {
    Decimal total;
    if (tree.kind(node) != Node::quantity) return std::nullopt;
    std::optional<Decimal> number;
    for (NodeId part : tree.children(node)) {
        if (tree.kind(part) == Node::number) {
            number = Decimal::parse(std::string(tree.text(part, files)));
        } else if (tree.kind(part) == Node::unit && number) {
            const auto rows = ratios(kind);
            const auto row = std::find_if(rows.begin(), rows.end(),
                                          [&](const Ratio& r) { return r.unit == tree.text(part, files); });
            if (row == rows.end()) return std::nullopt;
            const auto scaled = scale(*number, *row);
            const auto added = scaled ? sum(total, *scaled) : std::nullopt;
            if (!added) return std::nullopt;
            total = *added;
        }
    }
    return number ? std::optional(total) : std::nullopt;
}

class ControllerReader {
public:
    ControllerReader(const Reading& reading, const Declared& d) : r_(reading), d_(d) {}

    program::Controller read() {
        c_.name = d_.name;
        c_.title = d_.title;
        c_.source = d_.span;
        const std::size_t before = r_.out().errors();
        c_.programs = whole("programs", 1, 1, 100000);
        c_.segments = whole("segments", 0, 1, 1000000);
        c_.zones = whole("zones", 1, 1, 4);
        c_.outputs = whole("outputs", 0, 0, 32);
        c_.thresholds = whole("thresholds", 0, 0, 32);
        c_.channels = whole("channels", 0, 0, 32);
        c_.linking = says("linking", "yes");
        c_.operator_wait = says("operator_wait", "yes");
        c_.ramp_and_dwell = says("segment_form", "ramp_and_dwell");
        c_.band_on_ramps = says("band_on", "ramps_and_dwells");
        c_.holds_at_end = says("at_end", "hold");
        if (says("after_power_failure", "stop")) c_.after_power_failure = program::Controller::Power::stop;
        if (says("after_power_failure", "resume")) c_.after_power_failure = program::Controller::Power::resume;
        loops();
        if (const Property* p = find("setpoint")) grid(*p, Kind::temperature, Kind::difference, c_.setpoint);
        if (const Property* p = find("dwells")) grid(*p, Kind::time, Kind::time, c_.dwell);
        ramps();
        if (const Property* p = find("soak_band"); p != nullptr && !p->match.has("none")) {
            Grid band;
            if (grid(*p, Kind::difference, Kind::difference, band)) c_.soak_band = band;
        }
        starts();
        if (const Property* p = find("longest_wait"))
            if (const Capture* time = p->match.value(Kind::time)) c_.longest_wait = time->value.lo;
        checks();
        // Without set-points nothing can be keyed.
        c_.broken = d_.broken || r_.out().errors() != before || c_.setpoint.step.mantissa <= 0;
        return std::move(c_);
    }

private:
    const Property* find(std::string_view name) const {
        const Property* p = d_.root.find(name);
        return p == nullptr || p->poison ? nullptr : p;
    }
    bool says(std::string_view name, std::string_view word) const {
        const Property* p = find(name);
        return p != nullptr && p->match.has(word);
    }
    Diagnostic& error(athanor::Span span, std::string message) {
        return r_.out().error(Code::rig_inconsistent, span, std::move(message));
    }

    std::uint32_t whole(const Capture& c, std::string_view what, std::uint32_t least, std::uint32_t most) {
        const double x = c.value.lo;
        if (x == std::floor(x) && x >= least && x <= most) return static_cast<std::uint32_t>(x);
        error(c.span,
              fmt::format("`{}` is a whole number from {} to {}, not {}", what, least, most, shortest(x)));
        return least;
    }
    std::uint32_t whole(std::string_view name, std::uint32_t absent, std::uint32_t least, std::uint32_t most) {
        const Property* p = find(name);
        const Capture* c = p == nullptr ? nullptr : p->match.value(Kind::count);
        return c == nullptr ? absent : whole(*c, name, least, most);
    }

    void loops() {
        const Property* p = find("loops");
        if (p == nullptr || p->match.has("none")) return;
        c_.loop_levels = whole(*p->match.value(Kind::count, 0), "loops", 1, 100);
        c_.passes_lo = whole(*p->match.value(Kind::count, 1), "loops", 1, 1000000000);
        c_.passes_hi = whole(*p->match.value(Kind::count, 2), "loops", 1, 1000000000);
        if (c_.passes_lo > c_.passes_hi)
            error(p->span, fmt::format("loops run from {} down to {} passes", c_.passes_lo, c_.passes_hi))
                .remedy("write the smaller number first");
    }

    /// The n-th `range of` value and the step behind it.
    bool grid(const Property& p, Kind kind, Kind step_kind, Grid& grid) {
        for (std::size_t i = 0; i + 1 < p.match.captures.size(); ++i) {
            const Capture& range = p.match.captures[i];
            if (range.form != Pattern::Kind::range || range.type.kind != kind) continue;
            for (std::size_t j = i + 1; j < p.match.captures.size(); ++j) {
                const Capture& step = p.match.captures[j];
                if (step.form == Pattern::Kind::value && step.type.kind == step_kind)
                    return grid_of(p, range, step, grid);
            }
        }
        return false;
    }

    bool grid_of(const Property& p, const Capture& range, const Capture& step, Grid& grid) {
        const Tree& tree = r_.registry.tree(p.unit);
        const auto end = [&](NodeId node, Kind kind, Decimal& value) {
            if (auto number = exact(tree, node, kind, r_.registry.files)) {
                value = *number;
                return true;
            }
            error(tree.span(node),
                  fmt::format("{} is no finite decimal number of {}", tree.text(node, r_.registry.files),
                              kind == Kind::temperature ? "degC"
                              : kind == Kind::time      ? "s"
                              : kind == Kind::rate      ? "K/min"
                                                        : "K"))
                .remedy("write what the controller's display shows: temperatures in degC, rates in K/min, "
                        "times in s, min or h");
            return false;
        };
        if (!end(range.first, range.type.kind, grid.lo) || !end(range.last, range.type.kind, grid.hi) ||
            !end(step.first, step.type.kind, grid.step))
            return false;
        if (grid.step.mantissa <= 0) {
            error(step.span, fmt::format("the step of `{}` must lie above zero", p.name));
            return false;
        }
        if (!grid.countable()) {
            // The number with the most places is the one to shorten; without any, an end lies too far off.
            const int ends = std::min<int>(grid.lo.exponent, grid.hi.exponent);
            const int places = -std::min<int>(ends, grid.step.exponent);
            const NodeId worst = places <= 0                     ? range.last
                                 : -grid.step.exponent == places ? step.first
                                 : -grid.hi.exponent == places   ? range.last
                                                                 : range.first;
            const std::string text(tree.text(worst, r_.registry.files));
            error(tree.span(worst),
                  places > 0 ? fmt::format("{} has {} places behind the point: too many to count the steps of "
                                           "`{}` exactly",
                                           text, places, p.name)
                             : fmt::format("{} is too large to count the steps of `{}` exactly", text, p.name))
                .remedy("write what the controller's display shows");
            return false;
        }
        if (grid.lo.value() > grid.hi.value() || grid.count() < 1) {
            error(range.span, fmt::format("`{}` holds no step of {} between its ends", p.name,
                                          r_.registry.files.text(step.span)))
                .remedy("write a range that is wider than its step");
            return false;
        }
        return true;
    }

    void ramps() {
        for (const Property& p : d_.root.properties) {
            if (p.name != "ramps" || p.poison) continue;
            Grid values;
            if (p.match.has("rate")) {
                if (c_.rate) twice(p, "rate");
                if (grid(p, Kind::rate, Kind::rate, values)) {
                    if (values.lo.mantissa < 0)
                        error(p.span, "a rate is keyed without sign: it lies at or above 0 K/min");
                    c_.rate = values;
                }
            }
            if (p.match.has("time")) {
                if (c_.ramp_time) twice(p, "time");
                if (grid(p, Kind::time, Kind::time, values)) c_.ramp_time = values;
            }
        }
    }
    void twice(const Property& p, std::string_view form) {
        r_.out()
            .error(Code::duplicate_name, p.span, fmt::format("ramps by {} are given twice", form))
            .remedy("keep one of the two");
    }

    void starts() {
        const Property* p = find("starts_from");
        const Capture* at = p == nullptr ? nullptr : p->match.value(Kind::temperature);
        if (at == nullptr) return;
        c_.starts_from_measured = false;
        c_.start_setpoint = from_si(at->value.lo, *unit_named("degC"));
        if (c_.setpoint.step.mantissa > 0 &&
            (c_.start_setpoint < c_.setpoint.lo.value() || c_.start_setpoint > c_.setpoint.hi.value()))
            error(at->span, fmt::format("the first set-point, {}, lies outside {} to {} degC",
                                        to_text(at->value.lo, Kind::temperature), c_.setpoint.lo.text(),
                                        c_.setpoint.hi.text()));
    }

    void checks() {
        if (c_.thresholds > c_.outputs && !d_.broken)
            error(find("thresholds")->span,
                  fmt::format("{} thresholds work outputs, and there are {}", c_.thresholds, c_.outputs))
                .remedy("count the threshold outputs among `outputs`");
        if (c_.linking && c_.programs == 1 && !d_.broken)
            error(find("linking")->span, "a controller with one program has none to go on in")
                .remedy("say `linking no`, or how many programs there are");
        const Property* wait = find("longest_wait");
        if (c_.longest_wait && !c_.soak_band && !d_.broken)
            error(wait->span, "`longest_wait` is about a soak band, and this controller has none")
                .remedy("leave it out");
    }

    const Reading& r_;
    const Declared& d_;
    program::Controller c_;
};

} // namespace

program::Controller read_controller(const Reading& reading, const Declared& declared) {
    return ControllerReader(reading, declared).read();
}

} // namespace athanor::check
