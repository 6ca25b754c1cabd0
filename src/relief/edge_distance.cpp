#include "relief/edge_distance.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <vector>

#include "image/row_bands.hpp"

namespace rakelight {
namespace {

constexpr int none = std::numeric_limits<int>::max();
constexpr float whole = 1.0F - 1e-4F;  // sums of samples can end a hair below 1

/// For each pixel the row, in its own column, of the nearest pixel that is not wholly covered.
std::vector<int> nearest_rows(const Plane& coverage) {
    const int width = coverage.width, height = coverage.height;
    std::vector<int> rows(coverage.values.size(), none);
    const auto row = [&](int y) { return rows.data() + static_cast<std::size_t>(y) * width; };
    for (int y = 0; y < height; ++y) {
        for (int x = 0; x < width; ++x) {
            if (coverage.at(x, y) < whole)
                row(y)[x] = y;
            else if (y > 0)
                row(y)[x] = row(y - 1)[x];
        }
    }
    for (int y = height - 2; y >= 0; --y) {
        for (int x = 0; x < width; ++x) {
            const int below = row(y + 1)[x];
            if (below == none) continue;
            int& nearest = row(y)[x];
            if (nearest == none || below - y < y - nearest) nearest = below;
        }
    }
    return rows;
}

/// The lower envelope of the parabolas (x - q)^2 + (y - rows[q])^2 of one row.
class Envelope {
public:
    explicit Envelope(int width)
        : columns_(static_cast<std::size_t>(width)), starts_(static_cast<std::size_t>(width)) {}

    void build(const int* rows, int y, int width) {
        size_ = 0;
        for (int q = 0; q < width; ++q) {
            if (rows[q] == none) continue;
            const double height = square(y - rows[q]) + square(q);
            double start = -std::numeric_limits<double>::infinity();
            while (size_ > 0) {
                const int top = columns_[size_ - 1];
                start = (height - square(y - rows[top]) - square(top)) / (2.0 * (q - top));
                if (start > starts_[size_ - 1]) break;
                --size_;
                start = -std::numeric_limits<double>::infinity();
            }
            columns_[size_] = q;
            starts_[size_++] = start;
        }
    }

    bool empty() const { return size_ == 0; }
    /// Call with rising x, `at` beginning at 0.
    int column(int x, std::size_t& at) const {
        while (at + 1 < size_ && starts_[at + 1] < x) ++at;
        return columns_[at];
    }

private:
    static double square(double v) { return v * v; }

    std::vector<int> columns_;
    std::vector<double> starts_;  ///< from where on the column's parabola is the lowest
    std::size_t size_ = 0;
};

/// Where the outline passes through a pixel: its inward normal, and how far inward of the pixel's
/// middle it lies.
struct Edge {
    float normal_x = 0.0F, normal_y = 0.0F;
    float inward_px = 0.0F;
    bool known = false;
};

/// The distance of a straight edge from a pixel's middle by the share a of the pixel inside it; its
/// normal has components u >= v >= 0.
float edge_offset(float u, float v, float a) {
    const float corner = 0.5F * v / u;  // of the area, cut off by an edge through a corner
    if (a < corner) return 0.5F * (u + v) - std::sqrt(2.0F * u * v * a);
    if (a <= 1.0F - corner) return (0.5F - a) * u;
    return std::sqrt(2.0F * u * v * (1.0F - a)) - 0.5F * (u + v);
}

/// The normal by slopes of the coverage, of five pixels each way: those of three are some degrees
/// off.
Edge edge_at(const Plane& coverage, int x, int y) {
    constexpr std::array<float, 5> mean{1.0F, 4.0F, 6.0F, 4.0F, 1.0F};
    constexpr std::array<float, 5> slope{-1.0F, -2.0F, 0.0F, 2.0F, 1.0F};
    float along_x = 0.0F, along_y = 0.0F;
    for (int j = 0; j < 5; ++j) {
        const int row = std::clamp(y + j - 2, 0, coverage.height - 1);
        for (int i = 0; i < 5; ++i) {
            const float share =
                std::min(1.0F, coverage.at(std::clamp(x + i - 2, 0, coverage.width - 1), row));
            along_x += slope[i] * mean[j] * share;
            along_y += mean[i] * slope[j] * share;
        }
    }
    const float length = std::hypot(along_x, along_y);
    if (length < 1e-2F) return {};
    const float nx = along_x / length, ny = along_y / length;
    const auto [v, u] = std::minmax({std::abs(nx), std::abs(ny)});
    return {nx, ny, edge_offset(u, v, std::min(coverage.at(x, y), 1.0F)), true};
}

/// From the middle of a pixel to the edge at another one, (dx, dy) away from it. What lies across
/// the normal is the grid's, since of pixels whose middles are as near within half a pixel any may
/// have been taken; more of it tells of a corner, where the straight way counts.
float distance_to(const Edge& edge, float dx, float dy) {
    const float way = std::hypot(dx, dy);
    if (!edge.known) return way - 0.5F;
    const float along = dx * edge.normal_x + dy * edge.normal_y;
    const float across = std::sqrt(std::max(0.0F, way * way - along * along));
    const float corner = std::clamp(across - 1.0F - std::sqrt(way), 0.0F, 1.0F);
    return along + corner * (way - along) - edge.inward_px;
}

/// Takes out most of what the steps of the coverage and of the pixels leave: the mean of nine,
/// which changes no plane, where all of them are covered.
Plane smoothed(const Plane& distance, const Plane& coverage) {
    Plane smooth = distance;
    for_row_bands(distance.height, [&](int first, int end) {
        for (int y = std::max(first, 1); y < std::min(end, distance.height - 1); ++y) {
            for (int x = 1; x < distance.width - 1; ++x) {
                float sum = 0.0F;
                bool covered = true;
                for (int k = 0; k < 9; ++k) {
                    const int i = x + k % 3 - 1, j = y + k / 3 - 1;
                    covered = covered && coverage.at(i, j) > 0.0F;
                    sum += distance.at(i, j);
                }
                if (covered) smooth.at(x, y) = sum / 9.0F;
            }
        }
    });
    return smooth;
}

}  // namespace

Plane edge_distance_px(const Plane& coverage, float most_px) {
    const std::vector<int> rows = nearest_rows(coverage);
    Plane distance(coverage.width, coverage.height);
    for_row_bands(coverage.height, [&](int first, int end) {
        Envelope envelope(coverage.width);
        for (int y = first; y < end; ++y) {
            const int* row = rows.data() + static_cast<std::size_t>(y) * coverage.width;
            envelope.build(row, y, coverage.width);
            std::size_t at = 0;
            for (int x = 0; x < coverage.width; ++x) {
                float& to = distance.at(x, y);
                to = most_px;
                if (envelope.empty()) continue;
                const int q = envelope.column(x, at);
                const auto dx = static_cast<float>(x - q), dy = static_cast<float>(y - row[q]);
                if (std::max(std::abs(dx), std::abs(dy)) > most_px + 1.0F) continue;
                to = std::min(most_px, distance_to(edge_at(coverage, q, row[q]), dx, dy));
            }
        }
    });
    return smoothed(smoothed(distance, coverage), coverage);
}

}  // namespace rakelight
