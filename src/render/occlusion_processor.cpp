// Method and sources: shaders/occlusion.frag, which this follows line by line. The loops run over
// blocks of pixels within a row, taps outside and pixels inside, so that a tap is one vector load.

#include "render/occlusion_processor.hpp"

#include <algorithm>
#include <cmath>

#include "image/row_bands.hpp"
#include "render/arc_tangent.hpp"
#include "render/padded_plane.hpp"
#include "render/processor_kernel.hpp"

namespace rakelight {
namespace {

// Stands where no surface is: so far below that nothing rises out of it.
constexpr float no_surface_mm = -1e9F;
constexpr float no_horizon = -1e18F;
// How fast what lies below the reach falls away. Measured: from 4 to 40 the error hardly changes.
constexpr float fall_beyond_reach = 4.0F;

// A tap as distances in the heights' memory; the tap to the other side is at their negatives.
struct PlacedTap {
    std::ptrdiff_t first;
    std::ptrdiff_t second;
    float share;        // of the second
    float per_mm;       // 1 / distance on the blank
    float reach_share;  // reach / distance
    float reach_grow;   // the same / eye, 1/mm
    float highest;      // parallel: the highest slope within the reach
};

struct PlacedSlice {
    float x;  // unit vector along it, x right, y up
    float y;
    float weight;
    int first_tap;
    int end_tap;
};

struct Setting {
    std::vector<PlacedSlice> slices;
    std::vector<PlacedTap> taps;
    bool perspective = false;
    float floor_mm = 0.0F;
    float eye_mm = 0.0F;
    float per_eye = 0.0F;
    float first_x = 0.0F;  // on the blank from the view axis: the centre of map pixel (0, 0), mm
    float first_y = 0.0F;
    float mm_per_px = 0.0F;
};

// A block of pixels: what is known of them, and what is found.
struct Block {
    const float* height;               // in the heights' memory
    float nx[block_px], ny[block_px];  // normal
    float facing[block_px];            // normal along the view ray to the eye, >= 0
    float ray_x[block_px];             // perspective: unit ray from the eye
    float ray_y[block_px];
    float grow[block_px];  // perspective: from a step of height to one of slope
    float closed[block_px];
    float all[block_px];
};

// What a slice is to each pixel. The view ray leans in it by `lean` (perspective), and a step along
// it shows `run` of itself across the ray.
struct SliceView {
    float lean[block_px];
    float run[block_px];
    float run2[block_px];
    float across[block_px];  // normal along the slice, across the ray
};

// Steepest slope to both sides, as slope times its size.
struct Horizons {
    float ahead[block_px];
    float behind[block_px];
};

// A rise cut to the highest that lies within the reach. What lies below the reach falls away so
// fast that it hides nothing, but without a jump, which would draw a line on the picture. Holds for
// slopes and for their squares with the sign kept.
RAKELIGHT_KERNEL float within_reach(float rise, float highest) {
    const float cut = rise < highest ? rise : highest;
    const float fall = (1.0F + fall_beyond_reach) * cut + fall_beyond_reach * highest;
    return cut < fall ? cut : fall;
}

RAKELIGHT_KERNEL float higher(float a, float b) {
    return a > b ? a : b;
}
RAKELIGHT_KERNEL float square(float a) {
    return a * a;
}
RAKELIGHT_KERNEL float signed_square(float a) {
    return a * std::fabs(a);
}
RAKELIGHT_KERNEL float signed_root(float a) {
    return std::copysign(std::sqrt(std::fabs(a)), a);
}

template <bool mixed>
RAKELIGHT_KERNEL float height_at(const float* first, const float* second, float share, int i) {
    if constexpr (!mixed) return first[i];
    return first[i] + share * (second[i] - first[i]);
}

// Perspective: how high a column may rise, as a square of slope times its size, with the sign kept.
// A column stands along its view ray, and how far it is depends on the height at which it is
// reached: that of its top, or, under a taller one, about where it leaves the sphere of the reach.
RAKELIGHT_KERNEL float highest_in_reach(const PlacedTap& tap, float here, float top, float run2,
                                        float lean, float mm_per_slope) {
    const float level_cut =
        signed_root(square(tap.reach_share + tap.reach_grow * here) - run2) + lean;
    const float leaves = here + level_cut * mm_per_slope;
    const float level = top < leaves ? top : leaves;
    return square(tap.reach_share + tap.reach_grow * level) - run2;
}

template <bool perspective, bool mixed>
RAKELIGHT_KERNEL void climb(const Block& block, const SliceView& view, const PlacedTap& tap,
                            Horizons& horizons) {
    const float* here = block.height;
    const float per_mm = tap.per_mm;
    for (int i = 0; i < block_px; ++i) {
        const float a = height_at<mixed>(here + tap.first, here + tap.second, tap.share, i);
        const float b = height_at<mixed>(here - tap.first, here - tap.second, tap.share, i);
        float rise_a = (a - here[i]) * per_mm;
        float rise_b = (b - here[i]) * per_mm;
        float highest_a = tap.highest;
        float highest_b = tap.highest;
        if constexpr (perspective) {
            rise_a = signed_square(rise_a * block.grow[i] - view.lean[i]);
            rise_b = signed_square(rise_b * block.grow[i] + view.lean[i]);
            const float mm_per_slope = 1.0F / (block.grow[i] * per_mm);
            highest_a = highest_in_reach(tap, here[i], a, view.run2[i], view.lean[i], mm_per_slope);
            highest_b =
                highest_in_reach(tap, here[i], b, view.run2[i], -view.lean[i], mm_per_slope);
        }
        horizons.ahead[i] = higher(horizons.ahead[i], within_reach(rise_a, highest_a));
        horizons.behind[i] = higher(horizons.behind[i], within_reach(rise_b, highest_b));
    }
}

template <bool perspective>
RAKELIGHT_KERNEL void look_along(const PlacedSlice& slice, const Block& block, SliceView& view) {
    for (int i = 0; i < block_px; ++i) {
        view.across[i] = block.nx[i] * slice.x + block.ny[i] * slice.y;
        view.lean[i] = 0.0F;
        view.run2[i] = 1.0F;
        view.run[i] = 1.0F;
        if constexpr (perspective) {
            view.lean[i] = block.ray_x[i] * slice.x + block.ray_y[i] * slice.y;
            view.run2[i] = 1.0F - view.lean[i] * view.lean[i];
            view.run[i] = std::sqrt(view.run2[i]);
            view.across[i] = (view.across[i] + view.lean[i] * block.facing[i]) / view.run[i];
        }
    }
}

// The part of a slice's integral between the horizon and the tangent plane, when the horizon is
// the higher: with the angle b between them, and t of the normal from the view ray within the
// slice, half of cos t sin^2 b + sin t (b - sin b cos b), times the normal's length within the
// slice. It is what equation 10 leaves out at the horizon.
RAKELIGHT_KERNEL float closed_side(float slope, float run, float facing, float across) {
    const float up = facing * slope + across * run;
    const float out = facing * run - across * slope;
    const float size = (facing * facing + across * across) * (run * run + slope * slope);
    const float per = 1.0F / higher(size, 1e-30F);
    const float angle = angle_of(out, higher(up, 0.0F));
    const float part = 0.5F * (facing * (up * up * per) + across * (angle - up * out * per));
    return up > 0.0F ? part : 0.0F;
}

template <bool perspective>
RAKELIGHT_KERNEL void close_slice(const PlacedSlice& slice, const SliceView& view,
                                  const Horizons& horizons, Block& block) {
    float ahead[block_px];
    float behind[block_px];
    int any = 0;
    for (int i = 0; i < block_px; ++i) {
        ahead[i] = perspective ? signed_root(horizons.ahead[i]) : horizons.ahead[i];
        behind[i] = perspective ? signed_root(horizons.behind[i]) : horizons.behind[i];
        const float rest = view.across[i] * view.run[i];
        any |= (block.facing[i] * ahead[i] + rest > 0.0F) |
               (block.facing[i] * behind[i] - rest > 0.0F);
    }
    if (any == 0) return;
    for (int i = 0; i < block_px; ++i) {
        const float a = closed_side(ahead[i], view.run[i], block.facing[i], view.across[i]);
        const float b = closed_side(behind[i], view.run[i], block.facing[i], -view.across[i]);
        block.closed[i] += slice.weight * (a + b);
    }
}

template <bool perspective>
RAKELIGHT_KERNEL void walk_slice(const Setting& setting, const PlacedSlice& slice, Block& block) {
    SliceView view;
    Horizons horizons;
    look_along<perspective>(slice, block, view);
    for (int i = 0; i < block_px; ++i) horizons.ahead[i] = no_horizon;
    for (int i = 0; i < block_px; ++i) horizons.behind[i] = no_horizon;
    for (int k = slice.first_tap; k < slice.end_tap; ++k) {
        const PlacedTap& tap = setting.taps[static_cast<std::size_t>(k)];
        if (tap.share == 0.0F) {
            climb<perspective, false>(block, view, tap, horizons);
        } else {
            climb<perspective, true>(block, view, tap, horizons);
        }
    }
    close_slice<perspective>(slice, view, horizons, block);
}

// The same integral with nothing in the way.
template <bool perspective>
RAKELIGHT_KERNEL void add_all(const PlacedSlice& slice, Block& block) {
    SliceView view;
    look_along<perspective>(slice, block, view);
    for (int i = 0; i < block_px; ++i) {
        const float across = std::fabs(view.across[i]);
        const float tilt = angle_of(block.facing[i], across);
        block.all[i] += slice.weight * (block.facing[i] + across * tilt);
    }
}

template <bool perspective>
RAKELIGHT_KERNEL void work_block(const Setting& setting, Block& block) {
    for (int i = 0; i < block_px; ++i) block.closed[i] = 0.0F;
    for (int i = 0; i < block_px; ++i) block.all[i] = 0.0F;
    for (const auto& slice : setting.slices) walk_slice<perspective>(setting, slice, block);
    for (const auto& slice : setting.slices) add_all<perspective>(slice, block);
}

void plain_block(const Setting& setting, Block& block) {
    setting.perspective ? work_block<true>(setting, block) : work_block<false>(setting, block);
}

#ifdef RAKELIGHT_HAS_WIDE_KERNELS
RAKELIGHT_WIDE void wide_block(const Setting& setting, Block& block) {
    setting.perspective ? work_block<true>(setting, block) : work_block<false>(setting, block);
}
#else
constexpr auto wide_block = plain_block;
#endif

void place_taps(const OcclusionWalk& walk, double reach_mm, double px_per_mm,
                std::ptrdiff_t row_step, Setting& setting) {
    const auto at = [&](glm::ivec2 px) { return px.x - px.y * row_step; };  // rows run downwards
    std::size_t next = 0;
    for (const auto& slice : walk.slices) {
        const glm::dvec2 along = glm::normalize(glm::dvec2(slice.step_px));
        const auto first = static_cast<int>(next);
        setting.slices.push_back({static_cast<float>(along.x), static_cast<float>(along.y),
                                  static_cast<float>(slice.weight), first,
                                  first + slice.tap_count});
        for (int k = 0; k < slice.tap_count; ++k) {
            const SliceTap& tap = walk.taps[next++];
            const double distance_mm = tap.distance_px / px_per_mm;
            const double share = reach_mm / distance_mm;
            setting.taps.push_back(
                {at(tap.first_px), at(tap.first_px + slice.across_px),
                 static_cast<float>(tap.share), static_cast<float>(1.0 / distance_mm),
                 static_cast<float>(share), static_cast<float>(share) * setting.per_eye,
                 static_cast<float>(std::sqrt(std::max(share * share - 1.0, 0.0)))});
        }
    }
}

Setting make_setting(const Camera& camera, const ImageGrid& grid, const WorkArea& area) {
    Setting setting;
    setting.perspective = camera.projection == Projection::perspective;
    setting.floor_mm = static_cast<float>(area.floor_mm);
    setting.mm_per_px = static_cast<float>(1.0 / grid.px_per_mm);
    if (!setting.perspective) return setting;
    const glm::dvec2 first = grid.centre_of(area.rect.x, area.rect.y) - camera.picture_mm;
    setting.eye_mm = static_cast<float>(camera.eye_mm);
    setting.per_eye = static_cast<float>(1.0 / camera.eye_mm);
    setting.first_x = static_cast<float>(first.x);
    setting.first_y = static_cast<float>(first.y);
    return setting;
}

bool any_surface(const float* heights) {
    int any = 0;
    for (int i = 0; i < block_px; ++i) any |= heights[i] > no_surface_mm;
    return any != 0;
}

// Pixel i of the block beyond the map's right edge repeats its last one.
void read_normals(const SurfaceMaps& maps, int x, int y, Block& block, float (&nz)[block_px]) {
    const float* row = maps.normal_coverage + 4 * static_cast<std::size_t>(y) * maps.width;
    for (int i = 0; i < block_px; ++i) {
        const float* normal = row + 4 * std::min(x + i, maps.width - 1);
        block.nx[i] = normal[0];
        block.ny[i] = normal[1];
        nz[i] = normal[2];
    }
}

void aim_rays(const Setting& setting, int x, int y, const float (&nz)[block_px], Block& block) {
    for (int i = 0; i < block_px; ++i) {
        block.facing[i] = higher(nz[i], 0.0F);
        if (!setting.perspective) continue;
        const float on_x = setting.first_x + static_cast<float>(x + i) * setting.mm_per_px;
        const float on_y = setting.first_y - static_cast<float>(y) * setting.mm_per_px;
        const float eye = setting.eye_mm;
        const float per = 1.0F / std::sqrt(on_x * on_x + on_y * on_y + eye * eye);
        block.ray_x[i] = on_x * per;
        block.ray_y[i] = on_y * per;
        const float facing =
            eye * per * nz[i] - block.ray_x[i] * block.nx[i] - block.ray_y[i] * block.ny[i];
        block.facing[i] = higher(facing, 0.0F);
        // (1 - z / eye) / cos(ray): the height h gives 1 / (1 + h / eye) for the first factor.
        block.grow[i] = 1.0F / ((1.0F + block.height[i] * setting.per_eye) * eye * per);
    }
}

void write_open(const SurfaceMaps& maps, int x, int y, const Block& block,
                std::vector<float>& open) {
    float* to = open.data() + static_cast<std::size_t>(y) * maps.width + x;
    for (int i = 0; i < std::min(block_px, maps.width - x); ++i) {
        if (block.height[i] <= no_surface_mm) continue;
        to[i] = std::clamp(1.0F - block.closed[i] / higher(block.all[i], 1e-30F), 0.0F, 1.0F);
    }
}

}  // namespace

struct OcclusionOnProcessor::State {
    int reach_px;
    Setting setting;
    PaddedPlane heights;
};

OcclusionOnProcessor::OcclusionOnProcessor(const OcclusionWalk& walk, double reach_mm,
                                           const Camera& camera, const ImageGrid& grid,
                                           const WorkArea& area)
    : state_(std::make_unique<State>(
          State{walk.reach_px, make_setting(camera, grid, area),
                PaddedPlane(area.rect.width, area.rect.height, walk.reach_px)})) {
    PaddedPlane& heights = state_->heights;
    place_taps(walk, reach_mm, grid.px_per_mm, heights.row_step(), state_->setting);
    for (int row = 0; row < walk.reach_px; ++row) {
        heights.fill_outside(row, no_surface_mm);
        heights.fill_outside(heights.rows() - 1 - row, no_surface_mm);
    }
}

OcclusionOnProcessor::~OcclusionOnProcessor() = default;

int OcclusionOnProcessor::reach_px() const {
    return state_->reach_px;
}

void OcclusionOnProcessor::add_rows(const SurfaceMaps& maps) {
    // The lift, or in perspective the height that the picture shows, z / (1 - z / eye): in it a
    // plane stays a plane.
    const Setting& setting = state_->setting;
    PaddedPlane& heights = state_->heights;
    for_row_bands(maps.height, [&](int first, int end) {
        for (int row = first; row < end; ++row) {
            heights.fill_row(maps.first_row + row, no_surface_mm, [&](int x) {
                const float lift = maps.lift_mm[static_cast<std::size_t>(row) * maps.width + x];
                const float z = lift + setting.floor_mm;
                const float height = setting.perspective ? z / (1.0F - z * setting.per_eye) : lift;
                return lift > 0.0F ? height : no_surface_mm;
            });
        }
    });
}

std::vector<float> OcclusionOnProcessor::open(const SurfaceMaps& maps) const {
    const Setting& setting = state_->setting;
    const auto work = has_wide_kernels() ? wide_block : plain_block;
    std::vector<float> open(static_cast<std::size_t>(maps.width) * maps.height, 1.0F);
    for_row_bands(maps.height, [&](int first, int end) {
        Block block;
        float nz[block_px];
        for (int x = 0; x < maps.width; x += block_px) {  // outside: neighbouring rows share taps
            for (int y = first; y < end; ++y) {
                block.height = state_->heights.at(x, maps.first_row + y);
                if (!any_surface(block.height)) continue;
                read_normals(maps, x, y, block, nz);
                aim_rays(setting, x, maps.first_row + y, nz, block);
                work(setting, block);
                write_open(maps, x, y, block, open);
            }
        }
    });
    return open;
}

}  // namespace rakelight
