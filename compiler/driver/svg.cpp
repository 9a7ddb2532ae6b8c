#include "compiler/driver/svg.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace athanor::driver::svg {
namespace {

constexpr double column_px = 0.5;     // points nearer than this in x are merged
constexpr double tolerance_px = 0.15; // a point this near to a straight line goes
constexpr double character = 0.58;    // width of a mean character over the font size

/// One digit behind the point is finer than any screen.
std::string number(double value) {
    double tenths = std::round(value * 10);
    if (tenths == 0) return "0";
    if (std::fmod(tenths, 10) == 0) return fmt::format("{:.0f}", tenths / 10);
    return fmt::format("{:.1f}", tenths / 10);
}

std::string style_text(const Style& style) {
    std::string text = fmt::format(" fill=\"{}\"", style.fill);
    if (style.opacity < 1 && style.fill != "none")
        text += fmt::format(" fill-opacity=\"{:.2g}\"", style.opacity);
    if (style.stroke != "none") {
        text += fmt::format(" stroke=\"{}\"", style.stroke);
        if (style.width != 1) text += fmt::format(" stroke-width=\"{}\"", number(style.width));
        if (!style.dash.empty()) text += fmt::format(" stroke-dasharray=\"{}\"", style.dash);
    }
    return text;
}

double distance(Point p, Point a, Point b) {
    const double dx = b.x - a.x, dy = b.y - a.y, length = std::hypot(dx, dy);
    if (length == 0) return std::hypot(p.x - a.x, p.y - a.y);
    return std::abs(dy * (p.x - a.x) - dx * (p.y - a.y)) / length;
}

std::vector<Point> by_columns(const std::vector<Point>& points) {
    std::vector<Point> kept;
    for (std::size_t i = 0; i < points.size();) {
        const double column = std::floor(points[i].x / column_px);
        std::size_t end = i, low = i, high = i;
        for (; end < points.size() && std::floor(points[end].x / column_px) == column; ++end) {
            if (points[end].y < points[low].y) low = end;
            if (points[end].y > points[high].y) high = end;
        }
        std::size_t chosen[] = {i, std::min(low, high), std::max(low, high), end - 1};
        for (std::size_t k = 0; k < 4; ++k)
            if (k == 0 || chosen[k] != chosen[k - 1]) kept.push_back(points[chosen[k]]);
        i = end;
    }
    return kept;
}

} // namespace

double Scale::operator()(double value) const {
    double share = 0;
    if (logarithmic)
        share = value <= low ? 0 : std::log(value / low) / std::log(high / low);
    else
        share = (value - low) / (high - low);
    if (!(share > 0)) share = 0;
    return from + (to - from) * std::min(share, 1.0);
}

std::vector<Tick> linear_ticks(double& low, double& high, unsigned wanted) {
    if (!(high > low)) high = low + 1;
    const double rough = (high - low) / wanted;
    const double power = std::pow(10.0, std::floor(std::log10(rough)));
    double step = 10 * power;
    for (double factor : {5.0, 2.5, 2.0, 1.0})
        if (factor * power >= rough * 0.999) step = factor * power;
    const double first = std::floor(low / step + 1e-9), last = std::ceil(high / step - 1e-9);
    low = first * step;
    high = last * step;
    std::vector<Tick> ticks;
    for (double k = first; k <= last; ++k) ticks.push_back({k * step, fmt::format("{:.6g}", k * step)});
    return ticks;
}

std::vector<Tick> time_ticks(double seconds, unsigned most, std::string& unit) {
    constexpr double minute = 60, hour = 3600, day = 86400;
    const double steps[] = {10,       30,      minute,   2 * minute, 5 * minute, 10 * minute, 20 * minute,
                            hour / 2, hour,    2 * hour, 3 * hour,   4 * hour,   6 * hour,    12 * hour,
                            day,      2 * day, 5 * day,  10 * day,   20 * day,   50 * day,    100 * day};
    double step = steps[0];
    for (double s : steps) {
        step = s;
        if (seconds / s <= most) break;
    }
    while (seconds / step > most) step *= 10;
    const double size = seconds < 2 * hour ? minute : seconds <= 4 * day ? hour : day;
    unit = size == minute ? "min" : size == hour ? "h" : "d";
    std::vector<Tick> ticks;
    for (double k = 0; k * step <= seconds * (1 + 1e-9); ++k)
        ticks.push_back({k * step, fmt::format("{:.4g}", k * step / size)});
    return ticks;
}

std::vector<Point> simplified(const std::vector<Point>& points) {
    std::vector<Point> all = by_columns(points);
    if (all.size() < 3) return all;
    // Douglas and Peucker's reduction, The Canadian Cartographer 10 (1973) 112, with a stack of its own.
    std::vector<bool> kept(all.size(), false);
    kept.front() = kept.back() = true;
    std::vector<std::pair<std::size_t, std::size_t>> open{{0, all.size() - 1}};
    while (!open.empty()) {
        auto [a, b] = open.back();
        open.pop_back();
        std::size_t far = a;
        double most = tolerance_px;
        for (std::size_t i = a + 1; i < b; ++i)
            if (double d = distance(all[i], all[a], all[b]); d > most) most = d, far = i;
        if (far == a) continue;
        kept[far] = true;
        open.emplace_back(a, far);
        open.emplace_back(far, b);
    }
    std::vector<Point> list;
    for (std::size_t i = 0; i < all.size(); ++i)
        if (kept[i]) list.push_back(all[i]);
    return list;
}

double text_width(std::string_view text, double size) {
    auto begins = [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; };
    return character * size * static_cast<double>(std::count_if(text.begin(), text.end(), begins));
}

std::string fitted(std::string_view text, double size, double width) {
    if (text_width(text, size) <= width) return std::string(text);
    const double room = width / (character * size) - 1;
    if (room < 2) return {};
    std::size_t end = 0;
    for (double n = 0; n < std::floor(room) && end < text.size(); ++n) do
            ++end;
        while (end < text.size() && (static_cast<unsigned char>(text[end]) & 0xC0U) == 0x80U);
    return std::string(text.substr(0, end)) + "…";
}

std::string escaped(std::string_view text) {
    std::string out;
    for (char c : text) {
        if (c == '&')
            out += "&amp;";
        else if (c == '<')
            out += "&lt;";
        else if (c == '>')
            out += "&gt;";
        else if (c == '"')
            out += "&quot;";
        // XML 1.0, section 2.2: other control characters may not occur at all.
        else if (static_cast<unsigned char>(c) < 0x20)
            out += ' ';
        else
            out += c;
    }
    return out;
}

Document::Document(double width, std::string_view title, std::string_view description)
    : width_(width), title_(title), description_(description) {}

void Document::path(const std::vector<Point>& points, bool move) {
    for (std::size_t i = 0; i < points.size(); ++i)
        body_ +=
            fmt::format("{}{} {}", i == 0 ? (move ? "M" : "L") : " ", number(points[i].x), number(points[i].y));
}

void Document::rectangle(Frame f, const Style& style, std::string_view tip) {
    body_ += fmt::format("<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"{}", number(f.left), number(f.top),
                         number(f.right - f.left), number(f.bottom - f.top), style_text(style));
    body_ += tip.empty() ? "/>\n" : fmt::format("><title>{}</title></rect>\n", escaped(tip));
}

void Document::line(Point a, Point b, const Style& style) {
    body_ += fmt::format("<path d=\"M{} {}L{} {}\"{}/>\n", number(a.x), number(a.y), number(b.x), number(b.y),
                         style_text(style));
}

void Document::curve(const std::vector<Point>& points, const Style& style) {
    if (points.size() < 2) return;
    body_ += "<path d=\"";
    path(simplified(points), true);
    body_ += fmt::format("\"{} stroke-linejoin=\"round\"/>\n", style_text(style));
}

void Document::band(const std::vector<Point>& lower, const std::vector<Point>& upper, const Style& style) {
    if (lower.size() < 2) return;
    std::vector<Point> back = simplified(lower);
    std::reverse(back.begin(), back.end());
    body_ += "<path d=\"";
    path(simplified(upper), true);
    path(back, false);
    body_ += fmt::format("Z\"{} stroke-linejoin=\"round\"/>\n", style_text(style));
}

void Document::polygon(const std::vector<Point>& points, const Style& style) {
    body_ += "<path d=\"";
    path(points, true);
    body_ += fmt::format("Z\"{}/>\n", style_text(style));
}

void Document::text(Point at, std::string_view text, double size, Anchor anchor, std::string_view colour,
                    bool bold) {
    const char* where = anchor == Anchor::middle ? " text-anchor=\"middle\""
                        : anchor == Anchor::end  ? " text-anchor=\"end\""
                                                 : "";
    body_ += fmt::format("<text x=\"{}\" y=\"{}\" font-size=\"{}\" fill=\"{}\"{}{}>{}</text>\n", number(at.x),
                         number(at.y), number(size), colour, where, bold ? " font-weight=\"bold\"" : "",
                         escaped(text));
}

std::string Document::hatch(std::string_view colour, int angle) {
    const std::string id = fmt::format("hatch{}{}", angle, colour.substr(1));
    if (std::find(hatches_.begin(), hatches_.end(), id) == hatches_.end()) {
        hatches_.push_back(id);
        definitions_ +=
            fmt::format("<pattern id=\"{}\" width=\"5\" height=\"5\" patternUnits=\"userSpaceOnUse\" "
                        "patternTransform=\"rotate({})\"><path d=\"M0 0V5\" stroke=\"{}\" "
                        "stroke-width=\"2\"/></pattern>\n",
                        id, angle, colour);
    }
    return "url(#" + id + ")";
}

std::string Document::text_of(double height) const {
    return fmt::format("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
                       "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{0}\" height=\"{1}\" "
                       "viewBox=\"0 0 {0} {1}\" role=\"img\" aria-labelledby=\"title desc\" "
                       "font-family=\"'DejaVu Sans', Verdana, sans-serif\">\n"
                       "<title id=\"title\">{2}</title>\n<desc id=\"desc\">{3}</desc>\n{4}"
                       "<rect width=\"{0}\" height=\"{1}\" fill=\"{5}\"/>\n{6}</svg>\n",
                       number(width_), number(height), escaped(title_), escaped(description_),
                       definitions_.empty() ? "" : "<defs>\n" + definitions_ + "</defs>\n", paper, body_);
}

} // namespace athanor::driver::svg
