#pragma once
#include <string>
#include <string_view>
#include <vector>

/// Drawing primitives: an SVG 1.1 document as text, axes and curves in pixels. Same input, same bytes.
namespace athanor::driver::svg {

/// Colours that people with any kind of colour vision tell apart: Nature Methods 8 (2011) 441, from memory.
inline constexpr std::string_view ink = "#1a1a1a", grey = "#6b6b6b", faint = "#dcdcdc", paper = "#ffffff";
inline constexpr std::string_view blue = "#0072b2", orange = "#e69f00", green = "#009e73",
                                  vermilion = "#d55e00", purple = "#cc79a7";

struct Point {
    double x = 0, y = 0;
};

struct Frame {
    double left = 0, top = 0, right = 0, bottom = 0; // pixels, y grows downward
    double height() const { return bottom - top; }
};

/// Value to pixel, linear or by decades, never outside [from, to].
struct Scale {
    double low = 0, high = 1; // values; above zero on a logarithmic scale
    double from = 0, to = 1;  // pixels of low and high
    bool logarithmic = false;
    double operator()(double value) const;
};

struct Tick {
    double value = 0;
    std::string label;
};
/// Ends and steps of 1, 2, 2.5 or 5 times a power of ten: about `wanted` ticks; the scale is stretched to them.
std::vector<Tick> linear_ticks(double& low, double& high, unsigned wanted);
/// Ticks of a time axis from 0 to `seconds`, at most `most`; `unit` becomes "min", "h" or "d".
std::vector<Tick> time_ticks(double seconds, unsigned most, std::string& unit);

/// Fewer points, the same picture: of all points in half a pixel's width only the first, the last and both
/// extremes stay, then those that lie within a sixth of a pixel of a straight line go. Points are in order of
/// x.
std::vector<Point> simplified(const std::vector<Point>& points);

/// About how wide a text is at a font size, px: no font is at hand, so the widest usual sans serif is taken.
double text_width(std::string_view text, double size);
/// The text, or its beginning and an ellipsis where it is wider than `width`; empty when nothing fits.
std::string fitted(std::string_view text, double size, double width);

enum class Anchor { start, middle, end };

struct Style {
    std::string_view fill = "none", stroke = "none", dash{};
    double width = 1, opacity = 1; // opacity of the fill
};

class Document {
public:
    Document(double width, std::string_view title, std::string_view description);

    void rectangle(Frame frame, const Style& style, std::string_view tip = {});
    void line(Point a, Point b, const Style& style);
    void curve(const std::vector<Point>& points, const Style& style);
    /// The area between two curves over the same x.
    void band(const std::vector<Point>& lower, const std::vector<Point>& upper, const Style& style);
    void polygon(const std::vector<Point>& points, const Style& style);
    void text(Point at, std::string_view text, double size = 11, Anchor anchor = Anchor::start,
              std::string_view colour = ink, bool bold = false);
    /// A hatch of this colour as a fill for `Style`: "url(#…)". `angle` in degrees keeps patterns apart.
    std::string hatch(std::string_view colour, int angle);

    /// The finished document.
    std::string text_of(double height) const;

private:
    void path(const std::vector<Point>& points, bool move);
    double width_;
    std::string title_, description_, definitions_, body_;
    std::vector<std::string> hatches_;
};

/// Text as XML holds it, between tags or as an attribute.
std::string escaped(std::string_view text);

} // namespace athanor::driver::svg
