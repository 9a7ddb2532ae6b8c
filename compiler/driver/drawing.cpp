// The drawing of a recipe: lanes from the rows of a trace.
#include "compiler/driver/drawing.hpp"

#include "compiler/driver/svg.hpp"
#include "compiler/physics/constants.hpp"
#include "compiler/quantity/unit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace athanor::driver {
namespace {

using namespace svg;
using physics::zero_celsius;
using timeline::SignalKind;

constexpr double page_width = 1180, plot_left = 158, plot_right = 1000;
constexpr double lane_gap = 20;
constexpr std::array<std::string_view, plant::max_zones> zone_colours{blue, vermilion, green, purple};
constexpr std::array<std::string_view, plant::max_zones> zone_dashes{"", "7 3", "2 3", "9 3 2 3"};

/// Every row of the trace, by column.
struct Rows {
    std::vector<TraceColumn> columns;
    std::vector<RowKind> kind;
    std::vector<std::size_t> span;
    std::vector<double> time;
    std::vector<std::vector<double>> setpoints; // [zone][row]
    std::vector<std::vector<Interval>> values;  // [column][row]
    double total = 0;                           // s

    std::size_t column(SignalKind kind_wanted, timeline::Index index = timeline::none) const {
        for (std::size_t c = 0; c < columns.size(); ++c)
            if (columns[c].signal.kind == kind_wanted && columns[c].signal.index == index) return c;
        return columns.size();
    }
};

Rows rows_of(const timeline::Timeline& timeline, const plant::Plant& plant) {
    Rows rows;
    rows.columns = trace_columns(timeline);
    rows.setpoints.resize(timeline.zones.size());
    rows.values.resize(rows.columns.size());
    trace(timeline, plant, rows.columns, std::nullopt, [&](const TraceRow& row) {
        rows.kind.push_back(row.kind);
        rows.span.push_back(row.span);
        rows.time.push_back(row.time);
        for (std::size_t z = 0; z < row.setpoints.size(); ++z) rows.setpoints[z].push_back(row.setpoints[z]);
        for (std::size_t c = 0; c < row.values.size(); ++c) rows.values[c].push_back(row.values[c]);
        rows.total = std::max(rows.total, row.time);
    });
    if (rows.total <= 0) rows.total = 1; // nothing but waits for a person
    return rows;
}

/// The stretch of time of a span on the axis.
struct Stretch {
    double from = 0, to = 0;
};

class Page {
public:
    Page(const timeline::Timeline& timeline, const plant::Plant& plant, const DrawingText& text)
        : timeline_(timeline), text_(text), rows_(rows_of(timeline, plant)),
          page_(page_width, text.title,
                fmt::format(
                    "{}. {}. Bounds of temperature, gas and pressure over time, from the model of the rig.",
                    text.subtitle, text.verdict)) {
        std::string unit;
        ticks_ = time_ticks(rows_.total, 12, unit);
        time_unit_ = unit;
        x_ = {0, rows_.total, plot_left, plot_right, false};
        stretches_.resize(timeline.spans.size());
        for (std::size_t r = 0; r < rows_.kind.size(); ++r) {
            if (rows_.kind[r] == RowKind::entry) stretches_[rows_.span[r]].from = rows_.time[r];
            if (rows_.kind[r] == RowKind::exit) stretches_[rows_.span[r]].to = rows_.time[r];
        }
    }

    std::string draw() {
        heading();
        lanes_top_ = y_;
        steps();
        temperature();
        switches();
        oxygen();
        flammability();
        pressure();
        time_axis();
        footnotes();
        return page_.text_of(y_ + 10);
    }

private:
    // --- pieces that lanes share ---

    void lane_name(const Frame& f, std::string_view name, std::string_view unit) {
        page_.text({14, f.top + 12}, name, 11, Anchor::start, ink, true);
        if (!unit.empty()) page_.text({14, f.top + 26}, unit, 10, Anchor::start, grey);
    }

    Frame lane(double height) {
        Frame f{plot_left, y_, plot_right, y_ + height};
        for (const Tick& t : ticks_)
            page_.line({x_(t.value), f.top}, {x_(t.value), f.bottom}, {.stroke = faint});
        y_ = f.bottom + lane_gap;
        return f;
    }

    void value_axis(const Frame& f, const Scale& scale, const std::vector<Tick>& ticks) {
        for (const Tick& t : ticks) {
            const double y = scale(t.value);
            page_.line({f.left, y}, {f.right, y}, {.stroke = faint});
            page_.text({f.left - 6, y + 4}, t.label, 10, Anchor::end);
        }
    }
    void border(const Frame& f) { page_.rectangle(f, {.stroke = grey}); }

    /// Points of one bound of a column.
    std::vector<Point> bound(std::size_t column, double Interval::*end, const Scale& scale,
                             double offset = 0) const {
        std::vector<Point> points;
        for (std::size_t r = 0; r < rows_.time.size(); ++r)
            points.push_back({x_(rows_.time[r]), scale(rows_.values[column][r].*end - offset)});
        return points;
    }
    void band(std::size_t column, const Scale& scale, double offset, const Style& area, const Style& edge) {
        auto lower = bound(column, &Interval::lo, scale, offset),
             upper = bound(column, &Interval::hi, scale, offset);
        page_.band(lower, upper, area);
        page_.curve(lower, edge);
        page_.curve(upper, edge);
    }
    void key_area(double y, const Style& area, const Style& edge, std::string_view what) {
        Frame f{plot_right + 14, y - 9, plot_right + 38, y + 1};
        page_.rectangle(f, area);
        page_.rectangle(f, {.stroke = edge.stroke, .dash = edge.dash});
        page_.text({f.right + 6, y}, what, 10);
    }
    void key_line(double y, const Style& style, std::string_view what) {
        page_.line({plot_right + 14, y - 4}, {plot_right + 38, y - 4}, style);
        page_.text({plot_right + 44, y}, what, 10);
    }
    /// Least and greatest finite value of a column; 0 to 1 where it has none.
    Interval reach(std::size_t column) const {
        Interval all{infinity, -infinity};
        for (const Interval& v : rows_.values[column]) {
            if (std::isfinite(v.lo)) all.lo = std::min(all.lo, v.lo);
            if (std::isfinite(v.hi)) all.hi = std::max(all.hi, v.hi);
        }
        return all.lo <= all.hi ? all : Interval{0, 1};
    }

    // --- lanes ---

    void heading() {
        page_.text({14, 30}, fitted(text_.title, 18, page_width - 28), 18, Anchor::start, ink, true);
        page_.text({14, 50}, fitted(text_.subtitle, 12, page_width - 28), 12, Anchor::start, grey);
        page_.text({14, 68}, fitted(text_.verdict, 12, page_width - 28), 12, Anchor::start,
                   text_.refused ? vermilion : ink, text_.refused);
        y_ = 90;
    }

    /// Names of the steps where they fit, and where a person is waited for.
    void steps() {
        Frame f{plot_left, y_, plot_right, y_ + 18};
        lane_name({14, f.top + 1, 0, 0}, "Steps", "");
        double last_edge = -1;
        for (std::size_t i = 0; i < stretches_.size(); ++i) {
            const double from = x_(stretches_[i].from), to = x_(stretches_[i].to);
            if (timeline_.spans[i].ending.kind == timeline::EndingKind::person) {
                waits_.emplace_back(i, from);
                continue;
            }
            if (from - last_edge < 1) continue; // one edge a pixel
            last_edge = from;
            page_.line({from, f.top}, {from, f.bottom}, {.stroke = grey});
            const timeline::Index path = timeline_.spans[i].path;
            std::string name = path < timeline_.paths.size() ? timeline_.paths[path] : "";
            if (text_width(name, 9) > to - from - 4) name = name.substr(name.rfind('/') + 1);
            std::string shown = fitted(name, 9, to - from - 4);
            // A cut name of three letters says less than the number that the printed timeline has.
            if (shown != name && text_width(shown, 9) < 30) shown = fmt::format("{}", i);
            if (text_width(shown, 9) <= to - from - 3) page_.text({from + 3, f.top + 13}, shown, 9);
        }
        border(f);
        y_ = f.bottom + 10;
        double last = -20;
        for (std::size_t w = 0; w < waits_.size(); ++w) {
            const double x = waits_[w].second;
            if (x - last < 14) continue; // its number would cover the one before
            last = x;
            page_.polygon({{x - 5, f.top - 10}, {x + 5, f.top - 10}, {x, f.top}}, {.fill = ink});
            page_.text({x + 7, f.top - 2}, fmt::format("{}", w + 1), 9);
        }
    }

    void temperature() {
        const std::size_t zones = timeline_.zones.size();
        double low = infinity, high = -infinity;
        auto extend = [&](std::size_t column) {
            Interval r = reach(column);
            low = std::min(low, r.lo - zero_celsius);
            high = std::max(high, r.hi - zero_celsius);
        };
        for (std::size_t z = 0; z < zones; ++z) extend(rows_.column(SignalKind::zone_temperature, index(z)));
        extend(rows_.column(SignalKind::load_temperature));
        for (const auto& list : rows_.setpoints)
            for (double k : list) high = std::max(high, k - zero_celsius);
        low = std::min(low, 0.0);
        std::vector<Tick> ticks = linear_ticks(low, high, 7);
        Frame f = lane(250);
        Scale scale{low, high, f.bottom, f.top, false};
        lane_name(f, "Temperature", "°C");
        value_axis(f, scale, ticks);
        double key = f.top + 12;
        const std::string hatch = page_.hatch(orange, 45);
        const Style load_area{.fill = hatch, .opacity = 0.7},
            load_edge{.stroke = orange, .dash = "4 2", .width = 0.8};
        band(rows_.column(SignalKind::load_temperature), scale, zero_celsius, load_area, load_edge);
        for (std::size_t z = 0; z < zones; ++z) {
            const Style area{.fill = zone_colours[z], .opacity = 0.3},
                edge{.stroke = zone_colours[z], .width = 0.8};
            band(rows_.column(SignalKind::zone_temperature, index(z)), scale, zero_celsius, area, edge);
            key_area(key, area, edge, zones == 1 ? "at the sensor" : "sensor, " + timeline_.zones[z]);
            key += 17;
        }
        key_area(key, load_area, load_edge, "load");
        key += 17;
        for (std::size_t z = 0; z < zones; ++z) {
            std::vector<Point> points;
            for (std::size_t r = 0; r < rows_.time.size(); ++r)
                points.push_back({x_(rows_.time[r]), scale(rows_.setpoints[z][r] - zero_celsius)});
            const Style style{.stroke = ink, .dash = zone_dashes[z], .width = 1.3};
            page_.curve(points, style);
            key_line(key, style, zones == 1 ? "set-point" : "set-point, " + timeline_.zones[z]);
            key += 17;
        }
        border(f);
    }
    /// One row of boxes: `from`, `to` in s.
    struct Box {
        double from, to;
        std::string label;
    };
    static void add(std::vector<Box>& boxes, Stretch s, const std::string& label) {
        if (!boxes.empty() && boxes.back().to == s.from && boxes.back().label == label)
            boxes.back().to = s.to;
        else if (s.to > s.from)
            boxes.push_back({s.from, s.to, label});
    }
    void draw_boxes(const Frame& f, const std::vector<Box>& boxes, const Style& area, bool labels) {
        for (std::size_t i = 0; i < boxes.size(); ++i) {
            double from = x_(boxes[i].from), to = x_(boxes[i].to);
            std::size_t merged = i;
            // Boxes that no screen shows apart become one without a label.
            while (merged + 1 < boxes.size() && x_(boxes[merged + 1].from) - to < 0.5) {
                if (boxes[merged + 1].label != boxes[i].label && x_(boxes[merged + 1].to) - to > 2) break;
                to = std::max(to, x_(boxes[++merged].to));
            }
            const bool one = merged == i;
            i = merged;
            Frame box{from, f.top + 2, std::max(to, from + 0.8), f.bottom - 2};
            page_.rectangle(box, area, one ? boxes[i].label : "");
            if (!labels || !one) continue;
            const double wide = text_width(boxes[i].label, 10);
            if (wide > to - from - 6) continue;
            if (area.fill.starts_with("url"))
                page_.rectangle({from + 3, f.top + 4, from + 7 + wide, f.bottom - 4}, {.fill = paper});
            page_.text({from + 5, f.bottom - 6.5}, boxes[i].label, 10);
        }
    }
    void switch_row(std::string_view name, std::string_view remark, const std::vector<Box>& boxes,
                    std::string_view colour) {
        Frame f = row_frame();
        page_.text({14, f.top + 14}, fitted(name, 11, plot_left - 20), 11);
        if (!remark.empty()) page_.text({plot_right + 14, f.top + 14}, remark, 10, Anchor::start, grey);
        draw_boxes(f, boxes, {.fill = colour, .stroke = colour, .opacity = 0.35}, true);
        row_border(f);
    }
    Frame row_frame() {
        Frame f{plot_left, y_, plot_right, y_ + 21};
        for (const Tick& t : ticks_)
            page_.line({x_(t.value), f.top}, {x_(t.value), f.bottom}, {.stroke = faint});
        y_ = f.bottom;
        return f;
    }
    void row_border(const Frame& f) { page_.rectangle(f, {.stroke = grey, .width = 0.6}); }

    void gas_row(std::size_t l) {
        const timeline::Line& line = timeline_.lines[l];
        std::vector<Box> open, armed, sure, maybe;
        for (std::size_t i = 0; i < stretches_.size(); ++i) {
            const timeline::State& state = timeline_.states[timeline_.spans[i].state];
            std::string standing;
            for (std::size_t k = 0; k < timeline_.thresholds.size() && k < 32; ++k) {
                const timeline::Threshold& t = timeline_.thresholds[k];
                if ((state.armed >> k & 1U) == 0 || t.line != l) continue;
                standing =
                    fmt::format("{} {} {}: {}", t.opens ? "open" : "shut", t.above ? "above" : "below",
                                to_text(t.temperature, Kind::temperature), timeline::flow_text(line, t.flow));
            }
            if (!standing.empty())
                add(armed, stretches_[i], standing);
            else if (state.open[l])
                add(open, stretches_[i], timeline::flow_text(line, state.flows[l]));
        }
        if (!armed.empty()) {
            // Where a threshold stands, the temperature decides whether the line is open.
            const auto& truth = rows_.values[rows_.column(SignalKind::line_open, index(l))];
            for (std::size_t r = 0; r + 1 < truth.size(); ++r) {
                if (rows_.span[r] >= stretches_.size()) continue;
                const timeline::State& state = timeline_.states[timeline_.spans[rows_.span[r]].state];
                if (state.armed == 0 || rows_.time[r + 1] <= rows_.time[r]) continue;
                const Interval both = hull(truth[r], truth[r + 1]);
                if (both.lo > 0.5)
                    add(sure, {rows_.time[r], rows_.time[r + 1]}, "");
                else if (both.hi > 0.5)
                    add(maybe, {rows_.time[r], rows_.time[r + 1]}, "");
            }
        }
        const std::string_view colour = text_.hazards[l] == "flammable"  ? vermilion
                                        : text_.hazards[l] == "oxidiser" ? purple
                                                                         : green;
        Frame f = row_frame();
        page_.text({14, f.top + 14}, fitted(line.name, 11, plot_left - 20), 11);
        std::string remark = text_.hazards[l].empty() ? "gas line" : "gas line, " + text_.hazards[l];
        if (!armed.empty()) remark = "hatched: armed; filled: open";
        page_.text({plot_right + 14, f.top + 14}, remark, 10, Anchor::start, grey);
        draw_boxes(f, sure, {.fill = colour, .opacity = 0.45}, false);
        draw_boxes(f, maybe, {.fill = colour, .opacity = 0.15}, false);
        if (!armed.empty()) {
            const std::string fill = page_.hatch(colour, 135);
            draw_boxes(f, armed, {.fill = fill, .stroke = colour, .opacity = 0.45}, true);
        }
        draw_boxes(f, open, {.fill = colour, .stroke = colour, .opacity = 0.35}, true);
        row_border(f);
    }

    void switches() {
        for (std::size_t l = 0; l < timeline_.lines.size(); ++l)
            if (timeline_.lines[l].used) gas_row(l);
        struct Switch {
            const char *name, *word, *remark;
            bool shown;
            bool (*on)(const timeline::State&);
            std::string_view colour;
        };
        const Switch list[] = {{"burner", "lit", "at the outlet", timeline_.burner.present,
                                [](const timeline::State& s) { return s.burner; }, orange},
                               {"pump", "running", "valve open", timeline_.pump.present,
                                [](const timeline::State& s) { return s.pump; }, blue}};
        for (const Switch& s : list) {
            if (!s.shown) continue;
            std::vector<Box> boxes;
            for (std::size_t i = 0; i < stretches_.size(); ++i)
                if (s.on(timeline_.states[timeline_.spans[i].state])) add(boxes, stretches_[i], s.word);
            if (!boxes.empty()) switch_row(s.name, s.remark, boxes, s.colour);
        }
        std::vector<Box> held;
        for (std::size_t i = 0; i < stretches_.size(); ++i)
            if (double p = timeline_.states[timeline_.spans[i].state].regulated; p > 0)
                add(held, stretches_[i], to_text(p, Kind::pressure));
        if (!held.empty()) switch_row("throttle", "pressure held", held, grey);
        y_ += lane_gap;
    }

    /// A band by decades between 10^low and 10^high.
    void decades(const char* name, const char* unit, std::size_t column, double low, double high,
                 std::string_view colour, const std::vector<Tick>& ticks, double height, double mark,
                 std::string_view mark_name) {
        Frame f = lane(height);
        Scale scale{low, high, f.bottom, f.top, true};
        lane_name(f, name, unit);
        value_axis(f, scale, ticks);
        const Style area{.fill = colour, .opacity = 0.3}, edge{.stroke = colour, .width = 0.9};
        band(column, scale, 0, area, edge);
        key_area(f.top + 12, area, edge, "lower to upper");
        if (mark > 0) {
            const Style dashed{.stroke = ink, .dash = "5 3"};
            page_.line({f.left, scale(mark)}, {f.right, scale(mark)}, dashed);
            key_line(f.top + 29, dashed, mark_name);
        }
        border(f);
    }
    static std::vector<Tick> decade_ticks(double low, double high, std::string (*label)(double)) {
        std::vector<Tick> ticks;
        const double first = std::round(std::log10(low)), last = std::round(std::log10(high));
        for (double k = first; k <= last; ++k) ticks.push_back({std::pow(10.0, k), label(std::pow(10.0, k))});
        return ticks;
    }
    static double decade_below(double value) { return std::pow(10.0, std::floor(std::log10(value) + 1e-9)); }

    void oxygen() {
        for (std::size_t s = 0; s < timeline_.species.size(); ++s) {
            if (timeline_.species[s] != "oxygen") continue;
            const std::size_t column = rows_.column(SignalKind::fraction, index(s));
            // Half a decade below the least upper bound there is nothing to read: a lower bound may be 0.
            double least = 1;
            for (const Interval& v : rows_.values[column]) least = std::min(least, std::max(v.hi, 1e-8));
            const double low = std::min(decade_below(least) / (least < 2 * decade_below(least) ? 10 : 1), 0.01);
            decades("Oxygen", "tube and pores", column, low, 1, blue,
                    decade_ticks(low, 1, [](double v) { return to_text(v, Kind::fraction); }), 130, 0, "");
        }
    }

    void flammability() {
        const std::size_t column = rows_.column(SignalKind::flammability);
        if (reach(column).hi < 1e-4) return;
        const double high = std::max(10.0, decade_below(reach(column).hi) * 10);
        decades("Fuel", "of lower limit", column, 1e-3, high, vermilion,
                decade_ticks(1e-3, high, [](double v) { return fmt::format("{:.6g} %", v * 100); }), 110, 1,
                "lower limit in air");
    }

    void pressure() {
        const std::size_t column = rows_.column(SignalKind::pressure);
        Interval lower{infinity, -infinity}, upper = lower;
        for (const Interval& v : rows_.values[column]) lower = hull(lower, v.lo), upper = hull(upper, v.hi);
        if (!std::isfinite(lower.lo) || !std::isfinite(upper.hi)) return;
        if (lower.hi <= 1.1 * lower.lo && upper.hi <= 1.1 * upper.lo)
            return; // it stays: the verdict says enough
        constexpr double mbar = 100;
        if (upper.lo < 0.2 * upper.hi) {
            double low = decade_below(std::max(upper.lo, 1e-3)) / 10;
            double high = decade_below(upper.hi) * 10;
            // Decades of mbar and of Pa are the same lines.
            decades("Pressure", "mbar, absolute", column, low, high, green,
                    decade_ticks(low, high, [](double v) { return fmt::format("{:.6g}", v / mbar); }), 120, 0,
                    "");
            return;
        }
        double low = lower.lo / mbar, high = upper.hi / mbar;
        std::vector<Tick> ticks = linear_ticks(low, high, 4);
        Frame f = lane(90);
        lane_name(f, "Pressure", "mbar, absolute");
        value_axis(f, {low, high, f.bottom, f.top, false}, ticks);
        const Style area{.fill = green, .opacity = 0.3}, edge{.stroke = green, .width = 0.9};
        band(column, {low * mbar, high * mbar, f.bottom, f.top, false}, 0, area, edge);
        key_area(f.top + 12, area, edge, "lower to upper");
        border(f);
    }

    void time_axis() {
        y_ -= lane_gap;
        for (const Tick& t : ticks_) {
            page_.line({x_(t.value), y_}, {x_(t.value), y_ + 5}, {.stroke = grey});
            page_.text({x_(t.value), y_ + 17}, t.label, 10, Anchor::middle);
        }
        page_.text(
            {0.5 * (plot_left + plot_right), y_ + 33},
            fmt::format("nominal time, {} (middle lengths added up; waits for a person take none)", time_unit_),
            10, Anchor::middle, grey);
        // A person's wait crosses all lanes.
        for (const auto& [span, x] : waits_)
            page_.line({x, lanes_top_}, {x, y_}, {.stroke = ink, .dash = "1 3", .width = 0.8});
        y_ += 54;
    }

    void footnotes() {
        constexpr std::size_t most = 8;
        for (std::size_t w = 0; w < waits_.size() && w < most; ++w) {
            const timeline::Index text = timeline_.spans[waits_[w].first].ending.text;
            const std::string line = fmt::format("▼ {}  waits for a person: {}", w + 1,
                                                 text < timeline_.texts.size() ? timeline_.texts[text] : "");
            page_.text({14, y_}, fitted(line, 10, page_width - 28), 10);
            y_ += 15;
        }
        if (waits_.size() > most) {
            page_.text({14, y_}, fmt::format("and {} more waits for a person", waits_.size() - most), 10);
            y_ += 15;
        }
        y_ += 4;
        for (const std::string& line : text_.provenance) {
            page_.text({14, y_}, fitted(line, 10, page_width - 28), 10, Anchor::start, grey);
            y_ += 14;
        }
        // Nothing of these may be cut off.
        y_ += 4;
        for (const std::string& line : text_.concessions) whole("conceded: " + line, vermilion);
        for (const std::string& line : text_.cautions) whole("! " + line, ink);
    }

    /// A text broken at its blanks into as many lines as it needs.
    void whole(std::string_view text, std::string_view colour) {
        std::string line;
        const auto put = [&] {
            page_.text({14, y_}, line, 10, Anchor::start, colour);
            y_ += 14;
            line = "  ";
        };
        while (!text.empty()) {
            const std::size_t end = std::min(text.find(' '), text.size());
            const std::string longer =
                line + (line.empty() || line == "  " ? "" : " ") + std::string(text.substr(0, end));
            if (!line.empty() && line != "  " && text_width(longer, 10) > page_width - 28) {
                put();
                continue;
            }
            line = longer;
            text.remove_prefix(std::min(end + 1, text.size()));
        }
        put();
    }

    static timeline::Index index(std::size_t i) { return static_cast<timeline::Index>(i); }

    const timeline::Timeline& timeline_;
    const DrawingText& text_;
    Rows rows_;
    Document page_;
    std::vector<Tick> ticks_;
    std::string time_unit_;
    Scale x_;
    std::vector<Stretch> stretches_;
    std::vector<std::pair<std::size_t, double>> waits_; // span, pixel
    double y_ = 0, lanes_top_ = 0;
};

} // namespace

std::string draw(const timeline::Timeline& timeline, const plant::Plant& plant, const DrawingText& text) {
    return Page(timeline, plant, text).draw();
}

} // namespace athanor::driver
