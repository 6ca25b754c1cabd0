#include "render/texture_sampler.hpp"

#include <algorithm>
#include <cmath>

namespace rakelight {
namespace {

std::int64_t floor_mod(std::int64_t i, std::int64_t size) {
    const std::int64_t rest = i % size;
    return rest < 0 ? rest + size : rest;
}

/// Where a texel beyond the edge is taken from, and whether it is seen in a mirror.
std::int64_t wrapped(std::int64_t i, std::int64_t size, Wrap wrap, bool& mirrored) {
    mirrored = false;
    if (wrap == Wrap::clamp) return std::clamp<std::int64_t>(i, 0, size - 1);
    if (wrap == Wrap::repeat) return floor_mod(i, size);
    const std::int64_t in_two = floor_mod(i, 2 * size);
    mirrored = in_two >= size;
    return mirrored ? 2 * size - 1 - in_two : in_two;
}

}  // namespace

TextureSampler::TextureSampler(const DetailMap& map, const TexturePlane& plane,
                               std::span<const std::int16_t> texels, bool directed)
    : channels_(static_cast<int>(plane.channels)),
      scale_(static_cast<float>(plane.scale)),
      directed_(directed),
      wrap_u_(map.wrap_u),
      wrap_v_(map.wrap_v),
      place_(map.place) {
    std::uint64_t first = plane.first;
    std::uint32_t w = plane.width, h = plane.height;
    for (;; w = half_size(w), h = half_size(h)) {
        levels_[static_cast<std::size_t>(level_count_++)] = {texels.data() + first, w, h};
        first += std::uint64_t{w} * h * plane.channels;
        if (w == 1 && h == 1) break;
    }
}

glm::vec2 TextureSampler::texel(const Level& level, std::int64_t x, std::int64_t y) const {
    bool mirrored_u = false, mirrored_v = false;
    const std::int64_t column = wrapped(x, level.width, wrap_u_, mirrored_u);
    const std::int64_t row = wrapped(y, level.height, wrap_v_, mirrored_v);
    const std::int16_t* from = level.texels + (row * level.width + column) * channels_;
    glm::vec2 value(from[0], channels_ > 1 ? from[1] : 0);
    if (directed_ && mirrored_u) value.x = -value.x;
    if (directed_ && mirrored_v) value.y = -value.y;
    return value;
}

glm::vec2 TextureSampler::linear(const Level& level, glm::dvec2 at) const {
    // Texels lie in the middle of their squares; rows run downwards.
    const double x = at.x * static_cast<double>(level.width) - 0.5;
    const double y = (1.0 - at.y) * static_cast<double>(level.height) - 0.5;
    const double left = std::floor(x), top = std::floor(y);
    const auto i = static_cast<std::int64_t>(left), j = static_cast<std::int64_t>(top);
    const auto u = static_cast<float>(x - left), v = static_cast<float>(y - top);
    const glm::vec2 above = (1.0F - u) * texel(level, i, j) + u * texel(level, i + 1, j);
    const glm::vec2 below = (1.0F - u) * texel(level, i, j + 1) + u * texel(level, i + 1, j + 1);
    return (1.0F - v) * above + v * below;
}

glm::vec2 TextureSampler::at(const TexturePlace& place) const {
    const auto& p = place_;
    const auto turned = [&](glm::dvec2 v) {
        return glm::dvec2(p[0] * v.x + p[1] * v.y, p[3] * v.x + p[4] * v.y);
    };
    glm::dvec2 at = turned(place.at) + glm::dvec2(p[2], p[5]);
    // A sliver that is seen from its edge may be off by any number.
    for (int k = 0; k < 2; ++k)
        if (!(std::fabs(at[k]) < 1e7)) at[k] = 0.0;
    const glm::dvec2 size(static_cast<double>(levels_[0].width),
                          static_cast<double>(levels_[0].height));
    const double span =
        std::max(glm::length(turned(place.per_x) * size), glm::length(turned(place.per_y) * size));
    const double most = level_count_ - 1;
    const double level = std::clamp(span > 1.0 ? std::log2(span) : 0.0, 0.0, most);
    const auto fine = static_cast<std::size_t>(level);
    const auto share = static_cast<float>(level - static_cast<double>(fine));
    glm::vec2 value = linear(levels_[fine], at);
    if (share > 0.0F) value += share * (linear(levels_[fine + 1], at) - value);
    return scale_ * value;
}

}  // namespace rakelight
