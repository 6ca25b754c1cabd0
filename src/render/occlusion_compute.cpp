#include "render/occlusion_compute.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>

#include "render/walk_block.hpp"
#include "shader_sources.hpp"

namespace rakelight {
namespace {

constexpr int group_width = 32;
constexpr int group_height = 8;

int margin_of(const OcclusionWalk& walk) {
    return walk.reach_px + 1;  // a tap may mix in the next pixel
}

// Of the heights.
int stride_of(const PixelMaps& maps, int margin_px) {
    return maps.lift.width() + 2 * margin_px;
}

std::int64_t height_count(const PixelMaps& maps, int margin_px) {
    return std::int64_t{stride_of(maps, margin_px)} *
           (maps.lift.height() + std::int64_t{2} * margin_px);
}

// limit_at of horizon.glsl.
double limit_at(double reach_share, const Camera& camera) {
    if (camera.projection == Projection::perspective) return reach_share;
    return std::sqrt(std::max(reach_share * reach_share - 1.0, 0.0));
}

}  // namespace

OcclusionPassCompute::Programs::Programs(const std::string& defines)
    : heights("heights", shader_sources::heights_comp, defines),
      occlusion("occlusion", shader_sources::occlusion_comp, defines) {
    occlusion.bind_block("Walk", 0);
}

bool OcclusionPassCompute::can_draw(const OcclusionWalk& walk, const PixelMaps& maps) {
    if (!has_compute()) return false;
    return height_count(maps, margin_of(walk)) * 4 <= max_storage_bytes();
}

void OcclusionPassCompute::upload(const OcclusionWalk& walk, double reach_mm, const View& view) {
    const double mm_per_px = 1.0 / view.grid.px_per_mm;
    const int stride = stride_of(view.maps, view.margin_px);
    WalkBlock block(walk);
    for (std::size_t i = 0; i < walk.taps.size(); ++i) {
        const SliceTap& tap = walk.taps[i];  // its y runs upwards, rows downwards
        const std::int32_t step = tap.first_px.x - tap.first_px.y * stride;
        const double distance_mm = tap.distance_px * mm_per_px;
        block.taps[i] = glm::vec4(std::bit_cast<float>(step), tap.share, 1.0 / distance_mm,
                                  limit_at(reach_mm / distance_mm, view.camera));
    }
    block.upload(walk_);
}

void OcclusionPassCompute::store_heights(const Program& program, const View& view) {
    const auto bytes = static_cast<std::size_t>(height_count(view.maps, view.margin_px)) * 4;
    heights_.reserve(1, bytes);
    program.use();
    view.maps.lift.bind(0);
    glUniform1i(program.location("lift_mm"), 0);
    glUniform1i(program.location("margin_px"), view.margin_px);
    glUniform1i(program.location("stride"), stride_of(view.maps, view.margin_px));
    set_view_uniforms(program, view.camera, view.grid, view.area);
    dispatch_over(view.maps.lift.width() + 2 * view.margin_px,
                  view.maps.lift.height() + 2 * view.margin_px, group_width, group_height);
}

Rows OcclusionPassCompute::draw(const OcclusionWalk& walk, double reach_mm, const Camera& camera,
                                const ImageGrid& grid, const WorkArea& area,
                                const PixelMaps& maps) {
    const bool perspective = camera.projection == Projection::perspective;
    auto& programs = perspective ? perspective_ : parallel_;
    if (!programs) programs.emplace(perspective ? "#define PERSPECTIVE\n" : "");
    const View view{camera, grid, area, maps, margin_of(walk)};
    upload(walk, reach_mm, view);
    store_heights(programs->heights, view);
    const Program& program = programs->occlusion;
    program.use();
    const auto pixels = static_cast<std::size_t>(maps.lift.width()) * maps.lift.height();
    open_shares_.reserve(2, pixels * sizeof(float));
    glUniform2i(program.location("size_px"), maps.lift.width(), maps.lift.height());
    maps.normal_coverage.bind(1);
    glUniform1i(program.location("normal_coverage"), 1);
    glUniform1i(program.location("slice_count"), static_cast<int>(walk.slices.size()));
    glUniform1i(program.location("margin_px"), view.margin_px);
    glUniform1i(program.location("stride"), stride_of(view.maps, view.margin_px));
    set_view_uniforms(program, camera, grid, area);
    dispatch_over(maps.lift.width(), maps.lift.height(), group_width, group_height);
    check_gl("computing occlusion");
    return {&open_shares_.buffer(), 0, pixels};
}

}  // namespace rakelight
