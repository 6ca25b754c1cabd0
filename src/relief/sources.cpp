#include "relief/sources.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numbers>
#include <utility>

#include "framing/blank_masks.hpp"
#include "image/row_bands.hpp"
#include "relief/spread.hpp"

namespace rakelight {
namespace {

glm::dvec2 vec(const std::array<double, 2>& pair) {
    return {pair[0], pair[1]};
}

/// From the blank's plane to the source's own: its middle at the origin, not turned.
class OwnPlane {
public:
    explicit OwnPlane(const NamedSource& source)
        : centre_(vec(source.centre_mm)),
          cos_(std::cos(source.turn_deg * std::numbers::pi / 180.0)),
          sin_(std::sin(source.turn_deg * std::numbers::pi / 180.0)) {}

    glm::dvec2 operator()(glm::dvec2 p_mm) const {
        const glm::dvec2 q = p_mm - centre_;
        return {cos_ * q.x + sin_ * q.y, cos_ * q.y - sin_ * q.x};
    }

private:
    glm::dvec2 centre_;
    double cos_, sin_;
};

template <typename Value>
Plane plane_of(const ImageGrid& grid, const Value& value) {
    Plane plane(grid.width, grid.height);
    for_row_bands(grid.height, [&](int first, int end) {
        for (int y = first; y < end; ++y)
            for (int x = 0; x < grid.width; ++x)
                plane.at(x, y) = static_cast<float>(value(grid.centre_of(x, y)));
    });
    return plane;
}

/// 1 inside, 0 outside, half on the edge. @param width_mm  of the way between
double inside_share(double distance_mm, double width_mm) {
    return std::clamp(0.5 - distance_mm / width_mm, 0.0, 1.0);
}

/// A blank has the same outlines.
BlankGeometry outline_of(const ShapeSource& shape) {
    BlankSettings outline;
    outline.shape = shape.form == ShapeForm::ellipse ? BlankShape::oval : BlankShape::rectangle;
    outline.width_mm = shape.size_mm[0];
    outline.height_mm = shape.size_mm[1];
    outline.corner_radius_mm = shape.corner_mm;
    return BlankGeometry(outline);
}

double gradient_at(const GradientSource& gradient, glm::dvec2 p_mm) {
    const glm::dvec2 from = vec(gradient.from_mm), way = vec(gradient.to_mm) - from;
    const double length = glm::length(way);
    const double along = gradient.form == GradientForm::radial
                             ? glm::length(p_mm - from)
                             : glm::dot(p_mm - from, way) / length;
    return std::clamp(along / length, 0.0, 1.0);
}

Plane region_of(const std::string& name, const BlankGeometry& blank, const ImageGrid& grid) {
    for (BlankMask& mask : blank_masks(blank, grid))
        if (mask.region == name) return std::move(mask.coverage);
    assert(false);  // the scene asks for none that the blank has not
    return Plane(grid.width, grid.height);
}

/// Grey times alpha, and alpha, as floats: sizes halved are means of these.
struct Level {
    int width, height;
    std::vector<float> value, share;

    float at(const std::vector<float>& values, int x, int y) const {
        if (x < 0 || y < 0 || x >= width || y >= height) return 0.0F;
        return values[static_cast<std::size_t>(y) * width + x];
    }
};

Level whole_level(const GreyPicture& picture) {
    Level level{picture.width, picture.height, {}, {}};
    const std::size_t count = picture.grey.size();
    level.value.resize(count);
    level.share.assign(count, 1.0F);
    for (std::size_t i = 0; i < count; ++i) {
        if (!picture.alpha.empty())
            level.share[i] = static_cast<float>(picture.alpha[i]) / 65535.0F;
        level.value[i] = level.share[i] * static_cast<float>(picture.grey[i]) / 65535.0F;
    }
    return level;
}

std::vector<float> halved(const Level& level, const std::vector<float>& values, int width,
                          int height) {
    std::vector<float> half(static_cast<std::size_t>(width) * height);
    for (int y = 0; y < height; ++y) {
        for (int x = 0; x < width; ++x) {
            float sum = 0.0F;
            for (int j = 0; j < 2; ++j)
                for (int i = 0; i < 2; ++i) sum += level.at(values, 2 * x + i, 2 * y + j);
            half[static_cast<std::size_t>(y) * width + x] = 0.25F * sum;
        }
    }
    return half;
}

/// An odd line at the end is a half empty one of the smaller level.
Level halved(const Level& level) {
    const int width = (level.width + 1) / 2, height = (level.height + 1) / 2;
    return {width, height, halved(level, level.value, width, height),
            halved(level, level.share, width, height)};
}

/// Linear between the middles of pixels; the outer half pixel is like its middle.
std::pair<float, float> sample(const Level& level, double u, double v) {
    const double x = std::clamp(u - 0.5, 0.0, level.width - 1.0);
    const double y = std::clamp(v - 0.5, 0.0, level.height - 1.0);
    const int x0 = static_cast<int>(x), y0 = static_cast<int>(y);
    const int x1 = std::min(x0 + 1, level.width - 1), y1 = std::min(y0 + 1, level.height - 1);
    const auto fx = static_cast<float>(x - x0), fy = static_cast<float>(y - y0);
    const auto mean = [&](const std::vector<float>& values) {
        const float top = level.at(values, x0, y0) * (1.0F - fx) + level.at(values, x1, y0) * fx;
        const float foot = level.at(values, x0, y1) * (1.0F - fx) + level.at(values, x1, y1) * fx;
        return top * (1.0F - fy) + foot * fy;
    };
    return {mean(level.value), mean(level.share)};
}

/// A picture as it lies on the piece.
class PlacedPicture {
public:
    PlacedPicture(const GreyPicture& picture, const NamedSource& source, const ImageGrid& grid)
        : own_(source), level_(whole_level(picture)) {
        const double width_mm =
            std::get<ImageSource>(source.what).width_mm.value_or(grid.width / grid.px_per_mm);
        half_mm_ = 0.5 * width_mm * glm::dvec2(1.0, double(picture.height) / picture.width);
        size_ = glm::dvec2(picture.width, picture.height);
        while (size_.x / (2.0 * half_mm_.x * grid.px_per_mm) > 2.0 &&
               std::min(level_.width, level_.height) > 1) {
            level_ = halved(level_);
            size_ *= 0.5;
        }
    }

    /// Value times share, and share. @param p_mm  of the blank's plane
    std::pair<float, float> at(glm::dvec2 p_mm) const {
        const glm::dvec2 q = own_(p_mm);
        if (std::abs(q.x) >= half_mm_.x || std::abs(q.y) >= half_mm_.y) return {0.0F, 0.0F};
        return sample(level_, (0.5 + 0.5 * q.x / half_mm_.x) * size_.x,
                      (0.5 - 0.5 * q.y / half_mm_.y) * size_.y);
    }

private:
    OwnPlane own_;
    Level level_;
    glm::dvec2 half_mm_;
    glm::dvec2 size_;  ///< of the whole picture in pixels of the level
};

}  // namespace

SourcePlane drawn_source(const NamedSource& source, const BlankGeometry& blank,
                         const ImageGrid& grid) {
    const double px_mm = 1.0 / grid.px_per_mm;
    if (const auto* gradient = std::get_if<GradientSource>(&source.what))
        return {plane_of(grid, [&](glm::dvec2 p) { return gradient_at(*gradient, p); }), {}};
    if (const auto* region = std::get_if<RegionSource>(&source.what))
        return {region_of(region->name, blank, grid), {}};
    const auto& shape = std::get<ShapeSource>(source.what);
    const BlankGeometry outline = outline_of(shape);
    const OwnPlane own(source);
    const double width_mm = std::max(shape.soft_mm, px_mm);
    return {plane_of(grid,
                     [&](glm::dvec2 p) {
                         return inside_share(outline.outline_distance_mm(own(p)), width_mm);
                     }),
            {}};
}

SourcePlane placed_picture(const GreyPicture& picture, const NamedSource& source,
                           const ImageGrid& grid) {
    const PlacedPicture placed(picture, source, grid);
    constexpr int across = 2;  // samples a pixel; the level has at most two pixels to one
    SourcePlane plane{Plane(grid.width, grid.height), Plane(grid.width, grid.height)};
    for_row_bands(grid.height, [&](int first, int end) {
        for (int y = first; y < end; ++y) {
            for (int x = 0; x < grid.width; ++x) {
                float value = 0.0F, share = 0.0F;
                for (int s = 0; s < across * across; ++s) {
                    const double dx = (s % across + 0.5) / across - 0.5;
                    const double dy = (s / across + 0.5) / across - 0.5;
                    const auto [v, a] =
                        placed.at(grid.centre_of(x, y) + glm::dvec2(dx, -dy) / grid.px_per_mm);
                    value += v;
                    share += a;
                }
                plane.value.at(x, y) = share > 0.0F ? value / share : 0.0F;
                plane.share.at(x, y) = share / (across * across);
            }
        }
    });
    return plane;
}

void spread_heights(SourcePlane& heights_mm, double px_per_mm) {
    heights_mm.value = spread_over_range(heights_mm.value, heights_mm.share, px_per_mm);
}

}  // namespace rakelight
