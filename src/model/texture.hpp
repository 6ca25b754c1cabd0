#pragma once
// Surface detail that a model keeps in pictures: what is made of them for the renderer, and what is
// said of them to a user. Texels are whole numbers of 16 bits; a plane's scale gives them meaning.

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace rakelight {

/// What lies beyond a picture's edges.
enum class Wrap { repeat, clamp, mirror };

/// A picture as planes ready to sample: rows from the top, channels side by side, and behind them
/// the same at half the size, down to one texel; each level is the area mean of the one before.
struct TexturePlane {
    std::uint32_t width = 0;
    std::uint32_t height = 0;
    std::uint32_t channels = 1;
    double scale = 1.0;       ///< value = texel * scale
    std::uint64_t first = 0;  ///< where its texels begin among those of the mesh
};

/// The size of the next smaller level.
inline std::uint32_t half_size(std::uint32_t size) {
    return size > 1 ? size / 2 : 1;
}

/// Texels of all levels, channels counted.
std::uint64_t texel_count(const TexturePlane& plane);

/// A plane on a surface: where its u (to the right) and v (up; 0 at the picture's foot) are.
struct DetailMap {
    std::uint32_t plane = 0;  ///< number in Mesh::planes
    Wrap wrap_u = Wrap::repeat;
    Wrap wrap_v = Wrap::repeat;
    /// u = a[0] s + a[1] t + a[2], v = a[3] s + a[4] t + a[5] for a vertex's place (s, t)
    std::array<double, 6> place{1, 0, 0, 0, 1, 0};
};

/// What the pictures of one material say of its surface.
struct SurfaceDetail {
    /// Two channels. From a normal map: rise per length along the tangent and the bitangent. From
    /// heights: rise per u and per v, as a share of the span from black to white.
    std::optional<DetailMap> slopes;
    /// One channel. From a normal map: model units over the faces. From heights: -0.5 to 0.5 of the
    /// span from black to white.
    std::optional<DetailMap> heights;
    bool from_normals = false;  ///< what slopes and heights came from
    double strength = 1.0;      ///< the file's own factor on both
    /// One channel, 0 to 1: where it is less than the cut-off, there is no surface.
    std::optional<DetailMap> mask;
    double cut_off = 0.5;
};

inline constexpr std::uint32_t no_detail = 0xFFFFFFFF;

/// A vertex of a mesh that has detail, beside its Vertex: 16 bytes.
struct DetailVertex {
    std::array<float, 2> place;           ///< s and t of DetailMap::place
    std::array<std::int16_t, 2> tangent;  ///< unit, octahedral: where s grows on the surface
    std::int32_t side;  ///< 1 or -1: the bitangent is this times the normal cross the tangent
};
static_assert(sizeof(DetailVertex) == 16);

/// One use of a picture, for whoever wants to know what a model brings.
struct TextureFact {
    std::string name;      ///< as the model's file writes it, or "embedded N"
    std::string use;       ///< "normal map", "bump map", "displacement map", "cut-out"
    std::string material;  ///< may be empty
    std::string found;     ///< path beside the model, or "embedded"; empty: nowhere
    std::string state;     ///< "read", or why not
    std::uint32_t width = 0;
    std::uint32_t height = 0;
    std::vector<std::string> tried;  ///< paths, when it was not found
};

}  // namespace rakelight
