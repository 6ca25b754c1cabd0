// Draws the year of the demo's medal, so that the repository holds no binary: figures of round
// strokes, as a punch leaves them, as a grey TGA of the height over the field, white the highest.

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <glm/glm.hpp>
#include <numbers>
#include <string>
#include <vector>

namespace {

using Line = std::vector<glm::dvec2>;  ///< a polyline; a figure is 1 high

constexpr double stroke = 0.09;   // half of its width
constexpr double advance = 0.76;  // from one figure to the next
constexpr double margin = 0.12;   // around all
constexpr double px_per_height = 360.0;

/// Part of an ellipse, angles counter-clockwise from the right.
void add_arc(Line& line, glm::dvec2 middle, glm::dvec2 radii, double from_deg, double to_deg) {
    constexpr int steps = 48;
    for (int i = 0; i <= steps; ++i) {
        const double a = (from_deg + (to_deg - from_deg) * i / steps) * std::numbers::pi / 180.0;
        line.push_back(middle + radii * glm::dvec2(std::cos(a), std::sin(a)));
    }
}

std::vector<Line> figure(char c) {
    Line line, more;
    switch (c) {
        case '2':
            add_arc(line, {0.3, 0.7}, {0.27, 0.27}, 165.0, -38.0);
            line.insert(line.end(), {{0.05, 0.03}, {0.57, 0.03}});
            return {line};
        case '0':
            add_arc(line, {0.3, 0.5}, {0.27, 0.47}, 0.0, 360.0);
            return {line};
        case '6':
            add_arc(line, {0.3, 0.31}, {0.27, 0.28}, 0.0, 360.0);
            add_arc(more, {0.56, 0.31}, {0.53, 0.66}, 180.0, 96.0);
            return {line, more};
        default:
            return {};
    }
}

double distance(glm::dvec2 p, glm::dvec2 a, glm::dvec2 b) {
    const glm::dvec2 way = b - a;
    const double t = std::clamp(glm::dot(p - a, way) / glm::dot(way, way), 0.0, 1.0);
    return glm::length(p - a - t * way);
}

/// The height of a half-round stroke, 0 to 1.
double height_at(glm::dvec2 p, const std::vector<Line>& lines) {
    double nearest = stroke;
    for (const Line& line : lines)
        for (std::size_t i = 1; i < line.size(); ++i)
            nearest = std::min(nearest, distance(p, line[i - 1], line[i]));
    const double t = nearest / stroke;
    return std::sqrt(1.0 - t * t);
}

/// An uncompressed grey TGA of 8 bits, rows from the top.
std::string tga_head(int width, int height) {
    std::string head(18, '\0');
    head[2] = 3;
    head[12] = static_cast<char>(width & 255);
    head[13] = static_cast<char>(width >> 8);
    head[14] = static_cast<char>(height & 255);
    head[15] = static_cast<char>(height >> 8);
    head[16] = 8;
    head[17] = 0x20;
    return head;
}

std::string drawn(const std::string& year) {
    std::vector<Line> lines;
    for (std::size_t i = 0; i < year.size(); ++i) {
        for (Line line : figure(year[i])) {
            for (glm::dvec2& p : line) p.x += advance * static_cast<double>(i);
            lines.push_back(line);
        }
    }
    const double width = advance * static_cast<double>(year.size()) - (advance - 0.6);
    const int columns = static_cast<int>(px_per_height * (width + 2.0 * margin));
    const int rows = static_cast<int>(px_per_height * (1.0 + 2.0 * margin));
    std::string bytes = tga_head(columns, rows);
    for (int y = 0; y < rows; ++y) {
        for (int x = 0; x < columns; ++x) {
            const glm::dvec2 p((x + 0.5) / px_per_height - margin,
                               1.0 + margin - (y + 0.5) / px_per_height);
            bytes += static_cast<char>(std::lround(255.0 * height_at(p, lines)));
        }
    }
    return bytes;
}

}  // namespace

int main(int count, char** arguments) {
    if (count != 2) {
        std::fprintf(stderr, "use: draw_year FILE.tga\n");
        return 2;
    }
    std::ofstream file(arguments[1], std::ios::binary);
    file << drawn("2026");
    file.close();
    if (file) return 0;
    std::fprintf(stderr, "draw_year: %s cannot be written\n", arguments[1]);
    return 1;
}
