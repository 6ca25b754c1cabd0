#include "model/readers/texture_planes.hpp"

#include <kiss_fftnd.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <numbers>

#include "model/parallel.hpp"

namespace rakelight {
namespace {

constexpr std::uint32_t most_plane_side = 4096;
constexpr std::uint32_t most_integrated_side = 2048;
constexpr std::uint64_t most_texels = std::uint64_t{1} << 29;  // 1 GiB in all
constexpr double steepest = 8.0;                               // 83 degrees
constexpr float most_code = 32767.0F;

/// One axis of the area mean: up to three texels and their shares, or the only one.
struct Overlap {
    std::uint32_t first;
    std::array<float, 4> shares;
    std::uint32_t count;
};

Overlap overlap(std::uint32_t to, std::uint32_t size, std::uint32_t from_size) {
    const double step = static_cast<double>(from_size) / size;
    const double low = to * step, high = low + step;
    Overlap o{static_cast<std::uint32_t>(low), {}, 0};
    for (std::uint32_t k = o.first; k < from_size && k < high - 1e-9 && o.count < 4; ++k)
        o.shares[o.count++] =
            static_cast<float>((std::min<double>(k + 1, high) - std::max<double>(k, low)) / step);
    return o;
}

float luminance(const PictureFile& picture, std::uint64_t texel) {
    // Equal weights: a height is no colour, and grey has three equal channels.
    const std::uint32_t colours = picture.channels < 3 ? 1 : 3;
    float sum = 0.0F;
    for (std::uint32_t c = 0; c < colours; ++c) sum += picture.at(texel, c);
    return sum / (65535.0F * static_cast<float>(colours));
}

glm::dvec3 direction(const PictureFile& picture, std::uint64_t texel) {
    const auto part = [&](std::uint32_t c) { return 2.0 * picture.at(texel, c) / 65535.0 - 1.0; };
    glm::dvec3 n(part(0), part(1), picture.channels > 2 ? part(2) : -1.0);
    // Two channels are kept at times, and blue is then empty.
    if (n.z < -0.99) n.z = std::sqrt(std::max(0.0, 1.0 - n.x * n.x - n.y * n.y));
    return n;
}

template <class Visit>
void for_rows(std::uint32_t height, const Visit& visit) {
    parallel_chunks(height, 16, [&](auto, std::size_t y, std::size_t last) {
        for (; y < last; ++y) visit(static_cast<std::uint32_t>(y));
    });
}

RawPlane blank_plane(std::uint32_t width, std::uint32_t height, std::uint32_t channels) {
    return {width, height, channels, std::vector<float>(std::size_t{width} * height * channels)};
}

std::uint32_t wrapped(std::int64_t i, std::uint32_t size, Wrap wrap) {
    if (wrap == Wrap::repeat) return static_cast<std::uint32_t>((i + size) % std::int64_t{size});
    return static_cast<std::uint32_t>(std::clamp<std::int64_t>(i, 0, std::int64_t{size} - 1));
}

/// The area means at a smaller size, at least half of it each way.
RawPlane reduced(const RawPlane& plane, std::uint32_t width, std::uint32_t height) {
    RawPlane half = blank_plane(width, height, plane.channels);
    for_rows(half.height, [&](std::uint32_t y) {
        const Overlap rows = overlap(y, half.height, plane.height);
        for (std::uint32_t x = 0; x < half.width; ++x) {
            const Overlap columns = overlap(x, half.width, plane.width);
            for (std::uint32_t c = 0; c < plane.channels; ++c) {
                float sum = 0.0F;
                for (std::uint32_t j = 0; j < rows.count; ++j)
                    for (std::uint32_t i = 0; i < columns.count; ++i)
                        sum += rows.shares[j] * columns.shares[i] *
                               plane.values[(std::size_t{rows.first + j} * plane.width +
                                             columns.first + i) *
                                                plane.channels +
                                            c];
                half.values[(std::size_t{y} * half.width + x) * half.channels + c] = sum;
            }
        }
    });
    return half;
}

/// The largest size that is not above this one and has no prime factor above 5: a transform of a
/// large prime takes minutes.
std::uint32_t fast_size(std::uint32_t size) {
    for (;; --size) {
        std::uint32_t rest = size;
        for (const std::uint32_t p : {2U, 3U, 5U})
            while (rest % p == 0) rest /= p;
        if (rest == 1) return size;
    }
}

}  // namespace

std::uint64_t texel_count(const TexturePlane& plane) {
    std::uint64_t count = 0;
    std::uint32_t w = plane.width, h = plane.height;
    for (;; w = half_size(w), h = half_size(h)) {
        count += std::uint64_t{w} * h * plane.channels;
        if (w == 1 && h == 1) return count;
    }
}

RawPlane halved(const RawPlane& plane) {
    return reduced(plane, half_size(plane.width), half_size(plane.height));
}

std::uint32_t PlaneStore::add(RawPlane plane) {
    const auto too_large = [&] {
        const TexturePlane size{plane.width, plane.height, plane.channels, 1.0, 0};
        return std::max(plane.width, plane.height) > most_plane_side ||
               (texels_.size() + texel_count(size) > most_texels && plane.values.size() > 64);
    };
    while (too_large()) plane = halved(plane);
    float most = 0.0F;
    for (const float v : plane.values) most = std::max(most, std::fabs(v));
    const double scale = most > 0.0F ? most / double{most_code} : 1.0;
    planes_.push_back({plane.width, plane.height, plane.channels, scale, texels_.size()});
    for (;;) {
        const std::size_t first = texels_.size();
        texels_.resize(first + plane.values.size());
        for (std::size_t i = 0; i < plane.values.size(); ++i)
            texels_[first + i] = static_cast<std::int16_t>(std::lround(plane.values[i] / scale));
        if (plane.width == 1 && plane.height == 1) break;
        plane = halved(plane);
    }
    return static_cast<std::uint32_t>(planes_.size() - 1);
}

bool looks_like_normals(const PictureFile& picture) {
    if (picture.channels < 3) return false;
    const std::uint64_t texels = std::uint64_t{picture.width} * picture.height;
    const std::uint64_t stride = std::max<std::uint64_t>(1, texels / 4099);
    std::uint64_t seen = 0, directions = 0, grey = 0;
    for (std::uint64_t i = 0; i < texels; i += stride, ++seen) {
        const glm::dvec3 n = direction(picture, i);
        directions += std::fabs(glm::length(n) - 1.0) < 0.15 && n.z > 0.0;
        grey += picture.at(i, 0) == picture.at(i, 1) && picture.at(i, 1) == picture.at(i, 2);
    }
    return 10 * directions > 7 * seen && 10 * grey < 9 * seen;
}

bool looks_like_normal_pair(const PictureFile& picture) {
    if (picture.channels != 2) return false;
    const std::uint64_t texels = std::uint64_t{picture.width} * picture.height;
    const std::uint64_t stride = std::max<std::uint64_t>(1, texels / 4099);
    constexpr double slack = 0.02;  // what packing adds
    std::uint64_t seen = 0, directions = 0;
    for (std::uint64_t i = 0; i < texels; i += stride, ++seen) {
        const glm::dvec3 n = direction(picture, i);
        directions += std::hypot(n.x, n.y) < 1.0 + slack;
    }
    return 20 * directions > 19 * seen;
}

bool is_coloured(const PictureFile& picture) {
    if (picture.channels < 3) return false;
    constexpr int grey_noise = 65535 / 25;
    const std::uint64_t texels = std::uint64_t{picture.width} * picture.height;
    const std::uint64_t stride = std::max<std::uint64_t>(1, texels / 4099);
    std::uint64_t seen = 0, coloured = 0;
    for (std::uint64_t i = 0; i < texels; i += stride, ++seen) {
        const auto [low, high] =
            std::minmax({picture.at(i, 0), picture.at(i, 1), picture.at(i, 2)});
        coloured += high - low >= grey_noise;
    }
    return 10 * coloured > seen;
}

RawPlane slopes_from_normals(const PictureFile& picture, double scale, bool green_down) {
    RawPlane slopes = blank_plane(picture.width, picture.height, 2);
    const double up = green_down ? -scale : scale;
    for_rows(picture.height, [&](std::uint32_t y) {
        for (std::uint32_t x = 0; x < picture.width; ++x) {
            const std::uint64_t i = std::uint64_t{y} * picture.width + x;
            const glm::dvec3 n = direction(picture, i);
            const double per = -1.0 / std::max(n.z, 1e-3);
            const glm::dvec2 slope(per * scale * n.x, per * up * n.y);
            const double size = std::max(glm::length(slope) / steepest, 1.0);
            slopes.values[2 * i] = static_cast<float>(slope.x / size);
            slopes.values[2 * i + 1] = static_cast<float>(slope.y / size);
        }
    });
    return slopes;
}

RawPlane heights_from_picture(const PictureFile& picture) {
    RawPlane heights = blank_plane(picture.width, picture.height, 1);
    for (std::uint64_t i = 0; i < heights.values.size(); ++i)
        heights.values[i] = luminance(picture, i) - 0.5F;
    return heights;
}

RawPlane slopes_from_heights(const RawPlane& heights, Wrap wrap_u, Wrap wrap_v) {
    RawPlane slopes = blank_plane(heights.width, heights.height, 2);
    const auto at = [&](std::int64_t x, std::int64_t y) {
        return heights.values[std::size_t{wrapped(y, heights.height, wrap_v)} * heights.width +
                              wrapped(x, heights.width, wrap_u)];
    };
    for_rows(heights.height, [&](std::uint32_t y) {
        for (std::uint32_t x = 0; x < heights.width; ++x) {
            const std::size_t i = std::size_t{y} * heights.width + x;
            slopes.values[2 * i] =
                0.5F * static_cast<float>(heights.width) * (at(x + 1LL, y) - at(x - 1LL, y));
            slopes.values[2 * i + 1] =
                0.5F * static_cast<float>(heights.height) * (at(x, y - 1LL) - at(x, y + 1LL));
        }
    });
    return slopes;
}

namespace {

class Transform {
public:
    Transform(std::uint32_t width, std::uint32_t height, bool back) {
        const std::array<int, 2> sides{static_cast<int>(height), static_cast<int>(width)};
        plan_.reset(kiss_fftnd_alloc(sides.data(), 2, back ? 1 : 0, nullptr, nullptr));
        if (!plan_) throw std::bad_alloc();
    }
    void operator()(const std::vector<kiss_fft_cpx>& from, std::vector<kiss_fft_cpx>& to) const {
        kiss_fftnd(plan_.get(), from.data(), to.data());
    }

private:
    struct Free {
        void operator()(kiss_fftnd_cfg plan) const { free(plan); }
    };
    std::unique_ptr<std::remove_pointer_t<kiss_fftnd_cfg>, Free> plan_;
};

/// Radians per model unit of a transform's line; the one that is its own mirror has no slope.
double frequency(std::uint32_t line, std::uint32_t size, double span) {
    if (2 * line == size) return 0.0;
    const double turns = 2 * line < size ? double(line) : double(line) - double(size);
    return 2.0 * std::numbers::pi * turns / span;
}

}  // namespace

RawPlane heights_from_slopes(RawPlane slopes, const MapSpan& span) {
    while (std::max(slopes.width, slopes.height) > most_integrated_side) slopes = halved(slopes);
    slopes = reduced(slopes, fast_size(slopes.width), fast_size(slopes.height));
    const std::uint32_t width = slopes.width, height = slopes.height;
    const std::size_t count = std::size_t{width} * height;
    // Both slopes in one transform, as real and imaginary part: what the equation makes of each is
    // real again. P and Q are told apart by their mirror images.
    std::vector<kiss_fft_cpx> texels(count), waves(count);
    for (std::size_t i = 0; i < count; ++i)
        texels[i] = {slopes.values[2 * i], slopes.values[2 * i + 1]};
    std::vector<float>().swap(slopes.values);  // what follows takes as much three times
    Transform(width, height, false)(texels, waves);
    constexpr double fade_turns = 1.0;
    const double fade =
        span.tiles ? 0.0 : 2.0 * std::numbers::pi * fade_turns / std::max(span.u, span.v);
    for_rows(height, [&](std::uint32_t y) {
        const double ky = -frequency(y, height, span.v);  // rows run downwards
        for (std::uint32_t x = 0; x < width; ++x) {
            const double kx = frequency(x, width, span.u);
            const std::size_t i = std::size_t{y} * width + x;
            const std::size_t mirror =
                std::size_t{y == 0 ? 0 : height - y} * width + (x == 0 ? 0 : width - x);
            const kiss_fft_cpx a = waves[i], b = waves[mirror];
            const glm::dvec2 p(0.5 * (a.r + b.r), 0.5 * (a.i - b.i));
            const glm::dvec2 q(0.5 * (a.i + b.i), 0.5 * (b.r - a.r));
            const glm::dvec2 sum = kx * p + ky * q;
            const double size = kx * kx + ky * ky + fade * fade;
            const double per = kx == 0.0 && ky == 0.0 ? 0.0 : 1.0 / (size * double(count));
            texels[i] = {static_cast<float>(sum.y * per), static_cast<float>(-sum.x * per)};
        }
    });
    Transform(width, height, true)(texels, waves);
    RawPlane heights = blank_plane(width, height, 1);
    for (std::size_t i = 0; i < count; ++i) heights.values[i] = waves[i].r;
    return heights;
}

RawPlane mask_from_picture(const PictureFile& picture, bool use_alpha, bool inverted,
                           double factor) {
    RawPlane mask = blank_plane(picture.width, picture.height, 1);
    for (std::uint64_t i = 0; i < mask.values.size(); ++i) {
        const float share =
            use_alpha ? picture.at(i, picture.channels - 1) / 65535.0F : luminance(picture, i);
        mask.values[i] = static_cast<float>(factor) * (inverted ? 1.0F - share : share);
    }
    return mask;
}

}  // namespace rakelight
