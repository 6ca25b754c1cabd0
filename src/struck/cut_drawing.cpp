#include "struck/cut_drawing.hpp"

#include <algorithm>
#include <cmath>
#include <cstdarg>
#include <cstdio>

namespace rakelight {
namespace {

// Units of the drawing; px where it is shown at its own size.
constexpr double width = 960.0;
constexpr double left = 76.0, right = 28.0;
constexpr double top = 92.0;       // of the first profile
constexpr double body = 30.0;      // of metal below the lowest point
constexpr double between = 58.0;   // the profiles
constexpr double foot = 64.0;      // below the last profile's body
constexpr double head_room = 8.0;  // over the highest point
constexpr double tick = 6.0;
constexpr double letter = 14.0;         // height of a label with its room
constexpr double most_height = 1200.0;  // of a profile: a tower is drawn narrower instead
constexpr double highest_share = 1.0 / 3.0;

constexpr const char* look = R"(<style type="text/css">
  text { font-family: "Helvetica Neue", Helvetica, Arial, "Liberation Sans", "DejaVu Sans", sans-serif; font-size: 13px; fill: #4c4a46; }
  .title { font-size: 17px; fill: #24221f; }
  .page { fill: #faf9f7; }
  .metal { stroke: none; }
  .metal-from { stop-color: #b98a52; stop-opacity: 0.55; }
  .metal-to { stop-color: #b98a52; stop-opacity: 0; }
  .surface { fill: none; stroke: #6b4519; stroke-width: 1.6; stroke-linejoin: round; stroke-linecap: round; }
  .grid { stroke: #dcd8d0; stroke-width: 1; }
  .field { stroke: #8d877c; stroke-width: 1; stroke-dasharray: 5 4; }
  .axis { stroke: #77726a; stroke-width: 1; fill: none; }
  @media (prefers-color-scheme: dark) {
    text { fill: #bdb8ae; }
    .title { fill: #efebe3; }
    .page { fill: #1d1c1a; }
    .metal-from, .metal-to { stop-color: #d19c5d; }
    .surface { stroke: #f0c58f; }
    .grid { stroke: #37342f; }
    .field { stroke: #8d877c; }
    .axis { stroke: #8d877c; }
  }
</style>
)";

#if defined(__GNUC__)
__attribute__((format(printf, 2, 3)))
#endif
void put(std::string& svg, const char* format, ...) {
    char text[512];
    va_list values;
    va_start(values, format);
    std::vsnprintf(text, sizeof text, format, values);
    va_end(values);
    svg += text;
}

/// The step of 1, 2 or 5 times a power of ten that is not less than `least`.
double round_step(double least) {
    const double ten = std::pow(10.0, std::floor(std::log10(least)));
    for (const double step : {1.0, 2.0, 5.0}) {
        if (step * ten >= least * (1.0 - 1e-9)) return step * ten;
    }
    return 10.0 * ten;
}

/// Digits behind the point that multiples of a round step need.
int digits_of(double step) {
    return std::clamp(static_cast<int>(std::ceil(-std::log10(step) - 1e-9)), 0, 6);
}

std::string number(double value, int digits) {
    char text[48];
    std::snprintf(text, sizeof text, "%.*f", digits, value == 0.0 ? 0.0 : value);
    std::string said = text;
    if (said.starts_with("-") && said.find_first_not_of("-0.") == std::string::npos)
        said.erase(0, 1);                                                   // a hair below 0
    return said.starts_with("-") ? "\xE2\x88\x92" + said.substr(1) : said;  // a true minus sign
}

/// As short as it can be said, to a hundredth.
std::string short_number(double value) {
    std::string text = number(value, 2);
    text.erase(text.find_last_not_of('0') + 1);
    if (text.ends_with(".")) text.pop_back();
    return text;
}

std::string place_text(const std::array<double, 2>& point) {
    return "(" + short_number(point[0]) + ", " + short_number(point[1]) + ")";
}

struct Extent {
    double low_mm = 0.0, high_mm = 0.0;  ///< the field among them
};

Extent extent_of(const std::vector<CutPiece>& pieces) {
    Extent extent;
    for (const CutPiece& piece : pieces) {
        for (const CutPoint& point : piece) {
            extent.low_mm = std::min(extent.low_mm, point.height_mm);
            extent.high_mm = std::max(extent.high_mm, point.height_mm);
        }
    }
    return extent;
}

/// One profile: where millimetres lie.
struct Panel {
    double length_mm;
    double field;   ///< y of height 0
    double across;  ///< units to the mm along the cut
    double up;      ///< units to the mm of height
    Extent extent;
    const char* metal;  ///< the name of what its body is filled with
    double apart;       ///< units between labels of heights, at least

    double end() const { return x(length_mm); }
    double x(double along_mm) const { return left + across * along_mm; }
    double y(double height_mm) const { return field - up * height_mm; }
    double highest() const { return y(extent.high_mm) - head_room; }
    double lowest() const { return y(extent.low_mm) + body; }
};

void put_heights(std::string& svg, const Panel& panel) {
    double step = round_step(panel.apart / panel.up);
    if (panel.extent.high_mm - panel.extent.low_mm < step) step = round_step(letter / panel.up);
    const int digits = digits_of(step);
    const double end = panel.end();
    const auto first = static_cast<int>(std::ceil(panel.extent.low_mm / step - 1e-9));
    const auto last = static_cast<int>(std::floor(panel.extent.high_mm / step + 1e-9));
    for (int i = first; i <= last; ++i) {
        const double y = panel.y(i * step);
        put(svg, "<line class=\"%s\" x1=\"%.2f\" y1=\"%.2f\" x2=\"%.2f\" y2=\"%.2f\"/>\n",
            i == 0 ? "field" : "grid", left, y, end, y);
        put(svg, "<line class=\"axis\" x1=\"%.2f\" y1=\"%.2f\" x2=\"%.2f\" y2=\"%.2f\"/>\n",
            left - tick, y, left, y);
        put(svg, "<text class=\"height\" text-anchor=\"end\" x=\"%.2f\" y=\"%.2f\">%s</text>\n",
            left - tick - 4.0, y + 4.5, number(i * step, digits).c_str());
    }
    put(svg, "<path class=\"axis\" d=\"M%.2f %.2fV%.2f\"/>\n", left, panel.highest(),
        panel.y(panel.extent.low_mm));
}

/// Full down to the lowest point, then fading.
void put_fill(std::string& svg, const Panel& panel) {
    put(svg,
        "<defs><linearGradient id=\"%s\" gradientUnits=\"userSpaceOnUse\" x1=\"0\" y1=\"%.2f\" "
        "x2=\"0\" y2=\"%.2f\"><stop class=\"metal-from\" offset=\"0\"/><stop class=\"metal-to\" "
        "offset=\"1\"/></linearGradient></defs>\n",
        panel.metal, panel.y(panel.extent.low_mm), panel.lowest());
}

void put_path(std::string& svg, const CutPiece& piece, const Panel& panel) {
    for (std::size_t i = 0; i < piece.size(); ++i)
        put(svg, "%c%.2f %.2f", i == 0 ? 'M' : 'L', panel.x(piece[i].along_mm),
            panel.y(piece[i].height_mm));
}

void put_pieces(std::string& svg, const std::vector<CutPiece>& pieces, const Panel& panel) {
    for (const CutPiece& piece : pieces) {
        put(svg, "<path class=\"metal\" fill=\"url(#%s)\" d=\"", panel.metal);
        put_path(svg, piece, panel);
        put(svg, "V%.2fH%.2fZ\"/>\n", panel.lowest(), panel.x(piece.front().along_mm));
        svg += "<path class=\"surface\" d=\"";
        // The cut's ends are walls of the blank or the edge of the drawing: both run down.
        put(svg, "M%.2f %.2fL", panel.x(piece.front().along_mm), panel.lowest() - 0.5 * body);
        std::string line;
        put_path(line, piece, panel);
        svg += line.substr(1);
        put(svg, "V%.2f\"/>\n", panel.lowest() - 0.5 * body);
    }
}

void put_lengths(std::string& svg, const Panel& panel) {
    const double step = round_step(64.0 / panel.across);
    const int digits = digits_of(step);
    const double y = panel.lowest() + 6.0;
    put(svg, "<path class=\"axis\" d=\"M%.2f %.2fH%.2f\"/>\n", left, y, panel.end());
    for (int i = 0; i * step <= panel.length_mm * (1.0 + 1e-9); ++i) {
        const double x = panel.x(i * step);
        put(svg, "<line class=\"axis\" x1=\"%.2f\" y1=\"%.2f\" x2=\"%.2f\" y2=\"%.2f\"/>\n", x, y,
            x, y + tick);
        put(svg, "<text class=\"length\" text-anchor=\"middle\" x=\"%.2f\" y=\"%.2f\">%s</text>\n",
            x, y + tick + 15.0, number(i * step, digits).c_str());
    }
    put(svg, "<text text-anchor=\"middle\" x=\"%.2f\" y=\"%.2f\">mm along the cut</text>\n",
        0.5 * (left + panel.end()), y + tick + 36.0);
}

void put_caption(std::string& svg, const Panel& panel, const std::string& text) {
    put(svg, "<text x=\"%.2f\" y=\"%.2f\">%s</text>\n", left, panel.highest() - 12.0, text.c_str());
    const double middle = 0.5 * (panel.highest() + panel.y(panel.extent.low_mm));
    put(svg,
        "<text text-anchor=\"middle\" transform=\"translate(20 %.2f) rotate(-90)\">mm</text>\n",
        middle);
}

std::string raised_text(double times) {
    return times == 1.0 ? "Heights over the field, in true proportion"
                        : "Heights over the field, " + short_number(times) + " times as high";
}

}  // namespace

double raised_by(double length_mm, double height_mm) {
    double times = 1.0;
    for (double ten = 1.0; ten < 1e6; ten *= 10.0) {
        for (const double step : {1.0, 2.0, 5.0}) {
            if (step * ten * height_mm <= highest_share * length_mm) times = step * ten;
        }
    }
    return times;
}

std::string cut_drawing(const std::vector<CutPiece>& pieces, const CutLine& line) {
    const double length_mm =
        std::hypot(line.to_mm[0] - line.from_mm[0], line.to_mm[1] - line.from_mm[1]);
    const Extent extent = extent_of(pieces);
    const double range_mm = extent.high_mm - extent.low_mm;
    const double times = range_mm > 0.0 ? raised_by(length_mm, range_mm) : 1.0;
    double across = (width - left - right) / length_mm;
    if (range_mm > 0.0) across = std::min(across, most_height / range_mm);

    Panel raised{length_mm, 0.0, across, times * across, extent, "metal", 30.0};
    raised.field = top + raised.up * extent.high_mm;
    Panel last = raised;
    if (times > 1.0) {
        last.up = across;
        last.metal = "metal-plain";
        last.apart = 20.0;
        last.field = raised.lowest() + between + last.up * extent.high_mm;
    }
    const double height = last.lowest() + foot;

    std::string svg;
    put(svg,
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" "
        "version=\"1.1\" width=\"%.0f\" height=\"%.0f\" viewBox=\"0 0 %.0f %.0f\">\n",
        width, std::ceil(height), width, std::ceil(height));
    const std::string title =
        "Cut from " + place_text(line.from_mm) + " to " + place_text(line.to_mm) + " mm";
    put(svg, "<title>%s</title>\n", title.c_str());
    svg += look;
    put_fill(svg, raised);
    if (times > 1.0) put_fill(svg, last);
    put(svg, "<rect class=\"page\" x=\"0\" y=\"0\" width=\"%.0f\" height=\"%.0f\"/>\n", width,
        std::ceil(height));
    put(svg, "<text class=\"title\" x=\"%.2f\" y=\"38\">%s</text>\n", left, title.c_str());
    const auto put_panel = [&](const Panel& panel, const std::string& caption) {
        put_heights(svg, panel);
        put_pieces(svg, pieces, panel);
        put_caption(svg, panel, caption);
    };
    put_panel(raised, raised_text(times));
    if (times > 1.0) put_panel(last, raised_text(1.0));
    put_lengths(svg, last);
    svg += "</svg>\n";
    return svg;
}

}  // namespace rakelight
