#include "relief/edge_distance.hpp"

#include <algorithm>
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

}  // namespace

Plane edge_distance_px(const Plane& coverage) {
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
                if (envelope.empty()) {
                    to = std::numeric_limits<float>::infinity();
                    continue;
                }
                const int q = envelope.column(x, at);
                if (coverage.at(x, y) <= 0.0F) continue;
                const float way =
                    std::hypot(static_cast<float>(x - q), static_cast<float>(y - row[q]));
                to = std::max(0.0F, way + coverage.at(q, row[q]) - 0.5F);
            }
        }
    });
    return distance;
}

}  // namespace rakelight
