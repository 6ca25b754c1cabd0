#pragma once
// Private to render/: a plane of floats with a border, so that look-ups around a pixel need no test
// of bounds.

#include <algorithm>
#include <cstddef>
#include <memory>

namespace rakelight {

/// Pixels of a row that the passes on the processor work on together.
inline constexpr int block_px = 64;

/// Rows from the top. Everything is unset until its row has been filled, border rows included.
class PaddedPlane {
public:
    /// @param width, height  of the middle, px
    /// @param pad_px         border to all sides, px; to the right a block more
    PaddedPlane(int width, int height, int pad_px)
        : width_(width),
          height_(height),
          pad_(pad_px),
          row_step_(width + 2 * pad_px + block_px),
          values_(std::make_unique_for_overwrite<float[]>(
              static_cast<std::size_t>(row_step_ * (height + 2 * pad_px)))) {}

    int rows() const { return height_ + 2 * pad_; }
    std::ptrdiff_t row_step() const { return row_step_; }
    /// Of the middle; x and y may lie in the border.
    const float* at(int x, int y) const {
        return values_.get() + (y + pad_) * row_step_ + x + pad_;
    }

    /// Fills row y of the middle with value_at(x), and its border with `outside`.
    template <typename ValueAt>
    void fill_row(int y, float outside, const ValueAt& value_at) {
        float* to = row(y + pad_);
        std::fill_n(to, pad_, outside);
        for (int x = 0; x < width_; ++x) to[pad_ + x] = value_at(x);
        std::fill(to + pad_ + width_, to + row_step_, outside);
    }

    /// Fills a row of rows(), one of the border.
    void fill_outside(int row_of_all, float outside) {
        std::fill_n(row(row_of_all), row_step_, outside);
    }

private:
    float* row(int row_of_all) { return values_.get() + row_of_all * row_step_; }

    int width_;
    int height_;
    int pad_;
    std::ptrdiff_t row_step_;
    std::unique_ptr<float[]> values_;
};

}  // namespace rakelight
