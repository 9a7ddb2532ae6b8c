// The curves of a furnace as SVG.
#include "compiler/driver/rig.hpp"

#include "compiler/driver/svg.hpp"
#include "compiler/physics/constants.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::driver {
namespace {

using namespace svg;
using physics::zero_celsius;

constexpr double page_width = 1120, page_height = 790;

struct Curve {
    std::string title, x_title, y_title;
    std::vector<Point> lower, upper; // in units of the axes, in order of x
    std::string_view colour;
    bool logarithmic = false;
};

/// One axis system with one band in it.
void panel(Document& page, const Frame& f, const Curve& curve) {
    double x_high = 0, y_low = infinity, y_high = 0;
    for (const auto* list : {&curve.lower, &curve.upper})
        for (const Point& p : *list) {
            if (std::isfinite(p.x)) x_high = std::max(x_high, p.x);
            if (std::isfinite(p.y)) y_high = std::max(y_high, p.y);
            if (p.y > 0) y_low = std::min(y_low, p.y);
        }
    double x_low = 0;
    const std::vector<Tick> across = linear_ticks(x_low, x_high, 6);
    std::vector<Tick> up;
    if (curve.logarithmic) {
        const double low = std::floor(std::log10(y_low)), high = std::ceil(std::log10(y_high));
        for (double k = low; k <= high; ++k)
            up.push_back({std::pow(10.0, k), fmt::format("{:g}", std::pow(10.0, k))});
        y_low = up.front().value;
        y_high = up.back().value;
    } else {
        y_low = 0;
        up = linear_ticks(y_low, y_high, 5);
    }
    const Scale x{x_low, x_high, f.left, f.right, false}, y{y_low, y_high, f.bottom, f.top, curve.logarithmic};
    for (const Tick& t : across) {
        page.line({x(t.value), f.top}, {x(t.value), f.bottom}, {.stroke = faint});
        page.text({x(t.value), f.bottom + 15}, t.label, 10, Anchor::middle);
    }
    for (const Tick& t : up) {
        page.line({f.left, y(t.value)}, {f.right, y(t.value)}, {.stroke = faint});
        page.text({f.left - 6, y(t.value) + 4}, t.label, 10, Anchor::end);
    }
    page.text({f.left, f.top - 24}, curve.title, 12, Anchor::start, ink, true);
    page.text({f.left, f.top - 8}, curve.y_title, 10, Anchor::start, grey);
    page.text({0.5 * (f.left + f.right), f.bottom + 31}, curve.x_title, 10, Anchor::middle, grey);
    auto pixels = [&](const std::vector<Point>& list) {
        std::vector<Point> points;
        for (const Point& p : list) points.push_back({x(p.x), y(p.y)});
        return points;
    };
    const std::vector<Point> lower = pixels(curve.lower), upper = pixels(curve.upper);
    page.band(lower, upper, {.fill = curve.colour, .opacity = 0.3});
    page.curve(lower, {.stroke = curve.colour, .dash = "5 3", .width = 1.3});
    page.curve(upper, {.stroke = curve.colour, .width = 1.3});
    page.rectangle(f, {.stroke = grey});
}

Curve over_temperature(const RigCurves& curves, std::string title, std::string unit, std::string_view colour,
                       Interval (*value)(const CurvePoint&)) {
    Curve c{.title = std::move(title),
            .x_title = "temperature, °C",
            .y_title = std::move(unit),
            .lower = {},
            .upper = {},
            .colour = colour};
    for (const CurvePoint& p : curves.points) {
        const Interval v = value(p);
        c.lower.push_back({p.temperature - zero_celsius, v.lo});
        c.upper.push_back({p.temperature - zero_celsius, v.hi});
    }
    return c;
}

Curve over_time(std::string title, std::string_view colour) {
    return {.title = std::move(title),
            .x_title = "time, h",
            .y_title = "°C at the sensor",
            .lower = {},
            .upper = {},
            .colour = colour};
}

Curve heating(const RigCurves& curves) {
    const double hot = curves.hot - zero_celsius, cold = curves.cold - zero_celsius;
    Curve c = over_time(fmt::format("Full power from {:.0f} °C", cold), vermilion);
    c.lower.push_back({0, cold});
    c.upper.push_back({0, cold});
    for (const CurvePoint& p : curves.points) {
        if (p.temperature <= curves.cold) continue;
        if (std::isfinite(p.heated.hi)) c.lower.push_back({p.heated.hi / 3600, p.temperature - zero_celsius});
        c.upper.push_back({p.heated.lo / 3600, p.temperature - zero_celsius});
    }
    // Furnaces that are through stand at the top, so that the band ends together.
    const double slowest = c.lower.back().x;
    if (c.upper.back().x < slowest) c.upper.push_back({slowest, hot});
    return c;
}

/// The band ends where the table does: the model claims nothing nearer to the room.
Curve cooling(const RigCurves& curves) {
    Curve c = over_time(fmt::format("Heater off, from {:.0f} °C down to {:.0f} °C", curves.hot - zero_celsius,
                                    curves.cold - zero_celsius),
                        blue);
    for (auto p = curves.points.rbegin(); p != curves.points.rend(); ++p) {
        if (std::isfinite(p->cooled.hi))
            c.upper.push_back({p->cooled.hi / 3600, p->temperature - zero_celsius});
        c.lower.push_back({p->cooled.lo / 3600, p->temperature - zero_celsius});
    }
    return c;
}

void heading(Document& page, const check::Rig& rig, const std::string& title) {
    page.text({30, 34}, fitted(title, 18, page_width - 60), 18, Anchor::start, ink, true);
    page.text({30, 54},
              fmt::format("rig {}: what its furnace can do, empty; solid line: the greatest, dashed line: the "
                          "least of every furnace that meets the declared rows",
                          rig.name),
              11, Anchor::start, grey);
}

void footnotes(Document& page, const std::string& provenance) {
    page.text({30, page_height - 34},
              "Computed from the declared heat_up, holding_power and cool_down, low to high mains and every "
              "room temperature declared; not measured.",
              10, Anchor::start, grey);
    page.text({30, page_height - 19}, fitted(provenance, 10, page_width - 60), 10, Anchor::start, grey);
}

} // namespace

std::string draw(const check::Rig& rig, const RigCurves& curves, const std::string& provenance) {
    const std::string title = rig.title.empty() ? rig.name : rig.title;
    Document page(
        page_width, title,
        fmt::format("Heating, cooling and holding power of rig {} as bands over temperature and time, from "
                    "the rows of its declaration.",
                    rig.name));
    heading(page, rig, title);
    panel(page, {70, 110, 540, 380}, heating(curves));
    panel(page, {630, 110, 1090, 380}, cooling(curves));
    panel(page, {70, 490, 370, 700},
          over_temperature(curves, "Fastest heating", "K/min", vermilion,
                           [](const CurvePoint& p) { return p.capacity.heating * Interval{60}; }));
    Curve falling = over_temperature(curves, "Natural cooling", "K/min, by decades", blue,
                                     [](const CurvePoint& p) { return p.capacity.cooling * Interval{60}; });
    falling.logarithmic = true;
    panel(page, {430, 490, 730, 700}, falling);
    panel(page, {790, 490, 1090, 700},
          over_temperature(curves, "Power that holds it", "W", purple,
                           [](const CurvePoint& p) { return p.power; }));
    footnotes(page, provenance);
    return page.text_of(page_height);
}

} // namespace athanor::driver
