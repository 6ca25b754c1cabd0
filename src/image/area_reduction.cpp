#include "image/area_reduction.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace rakelight {

PixelSize reduced_size(int width, int height, int longer_px) {
    const int longer = std::max(width, height);
    if (longer <= longer_px) return {width, height};
    const auto scaled = [&](int side) {
        return std::max(
            1, static_cast<int>(std::lround(static_cast<double>(side) * longer_px / longer)));
    };
    return {scaled(width), scaled(height)};
}

AreaReduction::AreaReduction(int width, int height, int channels, PixelSize size)
    : width_(width),
      channels_(channels),
      size_(size),
      columns_(runs(width, size.width)),
      rows_(runs(height, size.height)),
      narrow_(static_cast<std::size_t>(size.width) * channels),
      small_(narrow_.size() * size.height) {}

std::vector<AreaReduction::Run> AreaReduction::runs(int count, int wanted) {
    assert(wanted <= count);
    std::vector<Run> list(static_cast<std::size_t>(wanted));
    for (int i = 0; i < wanted; ++i) {
        const double begin = static_cast<double>(i) * count / wanted;
        const double end = static_cast<double>(i + 1) * count / wanted;
        Run& run = list[static_cast<std::size_t>(i)];
        run.first = static_cast<int>(begin);
        run.last = std::min(count, static_cast<int>(std::ceil(end))) - 1;
        run.first_share = static_cast<float>(std::min(run.first + 1.0, end) - begin);
        run.last_share = static_cast<float>(end - std::max<double>(run.last, begin));
        run.weight = static_cast<float>(1.0 / (end - begin));
    }
    return list;
}

template <typename Value>
void AreaReduction::average_row(const Value* values) {
    float* to = narrow_.data();
    for (const Run& run : columns_) {
        for (int c = 0; c < channels_; ++c) {
            float sum = run.first_share * values[run.first * channels_ + c];
            for (int k = run.first + 1; k < run.last; ++k) sum += values[k * channels_ + c];
            if (run.last > run.first) sum += run.last_share * values[run.last * channels_ + c];
            *to++ = sum * run.weight;
        }
    }
}

void AreaReduction::add_rows(std::span<const std::uint16_t> codes) {
    average_rows(codes);
}

void AreaReduction::add_rows(std::span<const float> values) {
    average_rows(values);
}

template <typename Value>
void AreaReduction::average_rows(std::span<const Value> values) {
    const std::size_t row = static_cast<std::size_t>(width_) * channels_;
    assert(values.size() % row == 0);
    for (; !values.empty(); values = values.subspan(row), ++next_row_) {
        average_row(values.data());
        // Neighbouring small rows share the large row on their border.
        for (std::size_t r = next_run_; r < rows_.size() && rows_[r].first <= next_row_; ++r) {
            const float share = rows_[r].share(next_row_) * rows_[r].weight;
            float* to = small_.data() + r * narrow_.size();
            for (std::size_t x = 0; x < narrow_.size(); ++x) to[x] += share * narrow_[x];
            if (rows_[r].last == next_row_) next_run_ = r + 1;
        }
    }
}

Image16 AreaReduction::image() const {
    Image16 image(size_.width, size_.height, channels_);
    std::transform(small_.begin(), small_.end(), image.codes.begin(), [](float code) {
        return static_cast<std::uint16_t>(std::min(code + 0.5F, 65535.0F));
    });
    return image;
}

}  // namespace rakelight
