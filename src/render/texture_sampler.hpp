#pragma once
// Private to render/: looks up a plane of a mesh's pictures.

#include <array>
#include <cstdint>
#include <span>

#include <glm/glm.hpp>

#include "model/texture.hpp"

namespace rakelight {

/// A place on a picture, and how it changes from a sample to the next to the right and downwards.
struct TexturePlace {
    glm::dvec2 at;
    glm::dvec2 per_x;
    glm::dvec2 per_y;
};

/// One plane where a material puts it. Between texels it is linear, and so it is between levels
/// (L. Williams 1983, "Pyramidal Parametrics"): the level is the one whose texels are as large as
/// the longer side of what a sample shows, so that nothing finer than a sample is left to chance.
class TextureSampler {
public:
    /// @param texels  of all planes; must outlive this
    /// @param directed  a slope, which a mirrored repeat turns around
    TextureSampler(const DetailMap& map, const TexturePlane& plane,
                   std::span<const std::int16_t> texels, bool directed);

    /// The plane's channels; the second is 0 where there is one.
    glm::vec2 at(const TexturePlace& place) const;

    /// The largest value that the plane can have.
    float most() const { return 32767.0F * scale_; }

private:
    struct Level {
        const std::int16_t* texels;
        std::int64_t width;
        std::int64_t height;
    };
    glm::vec2 texel(const Level& level, std::int64_t x, std::int64_t y) const;
    glm::vec2 linear(const Level& level, glm::dvec2 at) const;

    std::array<Level, 24> levels_{};
    int level_count_ = 0;
    int channels_ = 1;
    float scale_ = 1.0F;
    bool directed_;
    Wrap wrap_u_;
    Wrap wrap_v_;
    std::array<double, 6> place_;
};

}  // namespace rakelight
