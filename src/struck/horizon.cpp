#include "struck/horizon.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "image/pixels.hpp"
#include "image/row_bands.hpp"

namespace rakelight {
namespace {

constexpr double lamp_half_deg = 3.0;

double radians(double degrees) {
    return degrees * std::numbers::pi / 180.0;
}

Plane transposed(const Plane& image) {
    Plane turned(image.height, image.width);
    constexpr int block = 32;
    for_row_bands(image.width, block, [&](int first, int end) {
        for (int top = 0; top < image.height; top += block)
            for (int x = first; x < end; ++x)
                for (int y = top; y < std::min(top + block, image.height); ++y)
                    turned.at(y, x) = image.at(x, y);
    });
    return turned;
}

/// Parallel lines that leave the image's side that is ahead, one pixel to the side in each step,
/// and sink by `fall` of a pixel (up to one) on the way.
struct Lines {
    int width, height;
    bool from_right;
    double fall;
    int first = 0, count = 0;

    Lines(const Plane& image, bool starts_right, double sinks)
        : width(image.width), height(image.height), from_right(starts_right), fall(sinks) {
        const double whole = fall * (width - 1);
        first = static_cast<int>(std::floor(std::min(0.0, -whole)));
        const double last = std::ceil(std::max(0.0, -whole)) + height - 1;
        count = static_cast<int>(last) - first + 1;
    }
    int column(int step) const { return from_right ? width - 1 - step : step; }
    double row(int line, int step) const { return first + line + fall * step; }
};

/// A point that was passed.
struct Passed {
    float along_mm, height_mm;
};

float slope(const Passed& from, const Passed& to) {
    return (to.height_mm - from.height_mm) / (from.along_mm - to.along_mm);
}

/// The upper hull of the points behind, seen from the newest: the last one stands highest.
class Hull {
public:
    explicit Hull(int most) { points_.reserve(static_cast<std::size_t>(most)); }

    void clear() { points_.clear(); }
    /// The steepest way up to a passed point; then passes this one.
    float pass(const Passed& point) {
        while (points_.size() > 1 &&
               slope(point, points_.back()) <= slope(point, points_[points_.size() - 2]))
            points_.pop_back();
        const float up = points_.empty() ? nothing_ahead : slope(point, points_.back());
        points_.push_back(point);
        return up;
    }

private:
    std::vector<Passed> points_;
};

float between(float a, float b, double part) {
    return a + static_cast<float>(part) * (b - a);
}

/// Of each line, at each of its steps.
Plane along_lines(const Plane& image, const Lines& lines, double step_mm) {
    Plane up(lines.width, lines.count, nothing_ahead);
    for_row_bands(lines.count, [&](int first, int end) {
        Hull hull(lines.width);
        for (int line = first; line < end; ++line) {
            hull.clear();
            for (int step = 0; step < lines.width; ++step) {
                const double row = lines.row(line, step);
                if (row < 0.0 || row > image.height - 1) continue;
                const double above = std::floor(row);
                const int upper = static_cast<int>(above);
                const int lower = std::min(image.height - 1, upper + 1);
                const int x = lines.column(step);
                up.at(step, line) =
                    hull.pass({static_cast<float>(step * step_mm),
                               between(image.at(x, upper), image.at(x, lower), row - above)});
            }
        }
    });
    return up;
}

/// Where one of the lines beside a pixel has just begun, or is not there, the other one counts.
float beside(float a, float b, double part) {
    if (a == nothing_ahead) return b;
    return b == nothing_ahead ? a : between(a, b, part);
}

Plane back_to_pixels(const Plane& up, const Lines& lines) {
    Plane image(lines.width, lines.height);
    for_row_bands(lines.height, [&](int first, int end) {
        for (int y = first; y < end; ++y) {
            for (int step = 0; step < lines.width; ++step) {
                const double line = y - lines.fall * step - lines.first;
                const double before = std::floor(line);
                const int a = std::clamp(static_cast<int>(before), 0, lines.count - 1);
                const int b = std::min(a + 1, lines.count - 1);
                image.at(lines.column(step), y) =
                    beside(up.at(step, a), up.at(step, b), line - before);
            }
        }
    });
    return image;
}

/// @param ahead_x, ahead_y  a unit vector, y down, x the larger
Plane steepest_across(const Plane& image, double px_per_mm, double ahead_x, double ahead_y) {
    const Lines lines(image, ahead_x > 0.0, -ahead_y / std::abs(ahead_x));
    return back_to_pixels(along_lines(image, lines, 1.0 / (std::abs(ahead_x) * px_per_mm)), lines);
}

}  // namespace

Plane steepest_ahead(const Plane& height_mm, double px_per_mm, double direction_deg) {
    const double x = std::cos(radians(direction_deg));
    const double y = -std::sin(radians(direction_deg));
    if (std::abs(x) >= std::abs(y)) return steepest_across(height_mm, px_per_mm, x, y);
    return transposed(steepest_across(transposed(height_mm), px_per_mm, y, x));
}

Plane lit_share(const Plane& height_mm, double px_per_mm, double lamp_deg, double lamp_height_deg) {
    Plane lit = steepest_ahead(height_mm, px_per_mm, lamp_deg);
    const double half_deg = std::min(lamp_half_deg, 0.5 * lamp_height_deg);
    const auto top = static_cast<float>(radians(lamp_height_deg + half_deg));
    const auto whole = static_cast<float>(radians(2.0 * half_deg));
    for_pixels(lit, [&](std::size_t i) {
        float& value = lit.values[i];
        const float t = std::clamp((top - std::atan(value)) / whole, 0.0F, 1.0F);
        value = t * t * (3.0F - 2.0F * t);
    });
    return lit;
}

}  // namespace rakelight
