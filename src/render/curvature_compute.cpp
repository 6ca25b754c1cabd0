#include "render/curvature_compute.hpp"

#include <cstdint>

#include "shader_sources.hpp"

namespace rakelight {
namespace {

struct View {
    const Camera& camera;
    const ImageGrid& grid;
    const WorkArea& area;
    const PixelMaps& maps;
};

// Storage blocks of the shaders.
constexpr GLuint surfaces_at = 1;
constexpr GLuint values_at = 2;
constexpr GLuint smoothed_at = 3;
constexpr GLuint means_at = 3;

void use(const Program& program, const View& view) {
    program.use();
    glUniform2i(program.location("size_px"), view.maps.lift.width(), view.maps.lift.height());
    set_view_uniforms(program, view.camera, view.grid, view.area);
}

void dispatch(const View& view, int group_height) {
    dispatch_over(view.maps.lift.width(), view.maps.lift.height(), 32, group_height);
}

void store_surfaces(const Program& program, const View& view) {
    use(program, view);
    view.maps.lift.bind(0);
    view.maps.normal_coverage.bind(1);
    view.maps.lift_range.bind(2);
    glUniform1i(program.location("lift_mm"), 0);
    glUniform1i(program.location("normal_coverage"), 1);
    glUniform1i(program.location("lift_range_mm"), 2);
    dispatch(view, 8);
}

void smooth_along(const Program& program, const View& view, const Storage& from, const Storage& to,
                  glm::ivec2 along) {
    from.bind(values_at);
    to.bind(smoothed_at);
    glUniform2i(program.location("along"), along.x, along.y);
    dispatch(view, 4);
}

std::size_t pixel_count(const PixelMaps& maps) {
    return static_cast<std::size_t>(maps.lift.width()) * maps.lift.height();
}

}  // namespace

CurvaturePassCompute::Programs::Programs(const std::string& defines)
    : surface("surface", shader_sources::surface_comp, defines),
      fit("curvature", shader_sources::curvature_comp, defines),
      smooth("smooth", shader_sources::smooth_comp, defines),
      quotient("quotient", shader_sources::quotient_comp, std::string()) {
    smooth.bind_block("Gaussian", 0);
}

bool CurvaturePassCompute::can_draw(const PixelMaps& maps) {
    return has_compute() &&
           static_cast<std::int64_t>(pixel_count(maps)) * 16 <= max_storage_bytes();
}

Rows CurvaturePassCompute::draw(const std::vector<SmoothingLevel>& levels, const Camera& camera,
                                const ImageGrid& grid, const WorkArea& area,
                                const PixelMaps& maps) {
    const bool perspective = camera.projection == Projection::perspective;
    auto& programs = perspective ? perspective_ : parallel_;
    if (!programs) programs.emplace(perspective ? "#define PERSPECTIVE\n" : "");
    const View view{camera, grid, area, maps};
    const std::size_t pixels = pixel_count(maps);
    second_.reserve(smoothed_at, pixels * 8);
    first_.reserve(values_at, pixels * 8);
    surfaces_.reserve(surfaces_at, pixels * 16);
    store_surfaces(programs->surface, view);
    use(programs->fit, view);
    dispatch(view, 4);
    for (const auto& level : levels) {
        use(programs->smooth, view);
        upload_weights(block_, level.weights);
        glUniform1i(programs->smooth.location("weight_count"),
                    static_cast<int>(level.weights.size()));
        smooth_along(programs->smooth, view, first_, second_, {level.stride_px, 0});
        smooth_along(programs->smooth, view, second_, first_, {0, level.stride_px});
    }
    use(programs->quotient, view);
    first_.bind(values_at);
    means_.reserve(means_at, pixels * 4);
    dispatch(view, 8);
    check_gl("computing curvature");
    return {&means_.buffer(), 0, pixels};
}

}  // namespace rakelight
