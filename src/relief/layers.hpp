#pragma once
// Private to relief/: one layer as an image, and how much of it is laid where.

#include <optional>

#include "image/plane.hpp"
#include "relief/recipe.hpp"

namespace rakelight {

class Layers {
public:
    /// Both are kept by reference.
    Layers(const ReliefSettings& settings, const ReliefPlanes& planes, const ReliefScale& scale)
        : settings_(settings), planes_(planes), scale_(scale) {}

    /// Source, blur, levels and curve.
    /// @param domain  what the blur may look at and what levels count, 0..1
    Plane image(const ReliefLayer& layer, const Plane& domain, LayerReport& report);

    /// Opacity times mask times what the source has of the pixel, where `domain` is.
    Plane share(const ReliefLayer& layer, const Plane& domain);

    /// Of the subject, from 0 to 1.
    const Plane& depth();

private:
    Plane source(const SourceChoice& source);
    const Plane& forms();

    const ReliefSettings& settings_;
    const ReliefPlanes& planes_;
    ReliefScale scale_;
    std::optional<Plane> forms_, depth_;
};

/// As mix_relief of recipe.hpp.
/// @param layers  of the same settings and planes; what it has made is not made again
Relief mix_relief(const ReliefSettings& settings, const ReliefPlanes& planes, Layers& layers);

}  // namespace rakelight
