#pragma once
// Private to render/: what the steps of a picture share.

#include <variant>

#include "render/gl_objects.hpp"
#include "render/work_area.hpp"

namespace rakelight {

/// What kind of shader a step is done in. Compute falls back to the base where it cannot be had.
enum class ShaderKind {
    fragment,  ///< the base, OpenGL 4.1
    compute,   ///< OpenGL 4.3
};

/// Floats in a storage buffer. They stay until the pass that owns it draws again.
struct Rows {
    const Buffer* buffer;
    std::size_t first;  ///< in floats
    std::size_t count;
};

/// One plane that the GPU has drawn, one float a pixel: fragment shaders draw into textures,
/// compute shaders into rows, which are the faster to read back.
using Drawn = std::variant<Texture, Rows>;

/// Pixel-level maps of one picture, all of the work area's size.
struct PixelMaps {
    Texture lift;             ///< R32F, mm over the floor; 0 where nothing is
    Texture normal_coverage;  ///< RGBA32F
    Texture lift_range;       ///< RG32F, see SurfaceMaps::lift_range_mm

    explicit PixelMaps(const WorkArea& area)
        : lift(GL_R32F, area.rect.width, area.rect.height),
          normal_coverage(GL_RGBA32F, area.rect.width, area.rect.height),
          lift_range(GL_RG32F, area.rect.width, area.rect.height) {}
};

/// Draws the triangle that covers the viewport. A vertex array must exist; it holds nothing.
void draw_fullscreen(const VertexArray& empty);

/// Uniforms that turn a map's pixel into view space, set on the program in use.
void set_view_uniforms(const Program& program, const Camera& camera, const ImageGrid& grid,
                       const WorkArea& area);

/// Fills the uniform block Gaussian of shaders/smooth.glsl and binds it to place 0.
/// @param weights  at most 1024
void upload_weights(const Buffer& buffer, const std::vector<float>& weights);

}  // namespace rakelight
