#pragma once
// From pictures to planes that a renderer samples. Private to model/.

#include <span>

#include "model/pictures/image_file.hpp"
#include "model/soup.hpp"
#include "model/texture.hpp"

namespace rakelight {

/// Texels of a plane's first level before they are packed: rows from the top, channels side by
/// side.
struct RawPlane {
    std::uint32_t width = 0;
    std::uint32_t height = 0;
    std::uint32_t channels = 1;
    std::vector<float> values;
};

/// Where planes go: the texels of all of them, one after the other.
class PlaneStore {
public:
    PlaneStore(std::vector<TexturePlane>& planes, Array<std::int16_t>& texels)
        : planes_(planes), texels_(texels) {}

    /// Halves the plane until its sides are at most 4096 and all planes fit their memory; adds it
    /// with its smaller levels. Returns its number.
    /// @param least_scale  of a plane that is 0 all over
    std::uint32_t add(RawPlane plane);

private:
    std::vector<TexturePlane>& planes_;
    Array<std::int16_t>& texels_;
};

/// The area means of a plane at half its size.
RawPlane halved(const RawPlane& plane);

/// Whether a picture holds directions: most texels, read as such, are about of length 1 and lean
/// towards the viewer, and they are not all grey.
bool looks_like_normals(const PictureFile& picture);

/// Whether grey and alpha are x and y of a unit vector in nearly all texels: of a picture that is
/// named as a normal map. A height whose alpha is opaque is none.
bool looks_like_normal_pair(const PictureFile& picture);

/// Whether more than a tenth of a picture's texels are coloured: by a 25th or more, which JPEG does
/// not make of grey.
bool is_coloured(const PictureFile& picture);

/// The slopes that a tangent-space normal map stands for, as in SurfaceDetail::slopes: a code c is
/// 2 c - 1 (glTF 2.0, 3.9.3), x to the right, y up; z is found from both where blue is empty. The
/// slopes are -x / z and -y / z, at most 8. Their mean is the slope of the mean height, which that
/// of unit normals is not.
/// @param scale       on x and y before that (glTF's normalTexture.scale)
/// @param green_down  y is the other way
RawPlane slopes_from_normals(const PictureFile& picture, double scale, bool green_down);

/// Heights as -0.5 to 0.5 of the span from black to white.
RawPlane heights_from_picture(const PictureFile& picture);

/// Central differences, per u and per v.
RawPlane slopes_from_heights(const RawPlane& heights, Wrap wrap_u, Wrap wrap_v);

/// How a normal map lies on its surface.
struct MapSpan {
    double u = 1.0;      ///< model units that one u spans, the mean over the surface
    double v = 1.0;      ///< the same of v
    bool tiles = false;  ///< it repeats: its edges fit
};

/// Heights in model units whose slopes come nearest to those given, summed over all texels (R. T.
/// Frankot and R. Chellappa 1988, "A Method for Enforcing Integrability in Shape from Shading
/// Algorithms", IEEE PAMI 10(4)). Of mean 0. A map that does not tile is a set of patches, whose
/// large forms across their edges mean nothing: what spans more than about half of the map is
/// faded away then.
RawPlane heights_from_slopes(RawPlane slopes, const MapSpan& span);

/// What a picture says of where there is a surface, 0 to 1: its alpha, or its grey where it has no
/// alpha.
/// @param factor  on it (glTF's baseColorFactor)
RawPlane mask_from_picture(const PictureFile& picture, bool use_alpha, bool inverted,
                           double factor);

}  // namespace rakelight
