#include "render/processor_renderer.hpp"

#include <algorithm>
#include <cmath>
#include <deque>
#include <memory>
#include <optional>

#include "error.hpp"
#include "image/row_bands.hpp"
#include "interrupt.hpp"
#include "render/curvature_processor.hpp"
#include "render/depth_steps.hpp"
#include "render/occlusion_processor.hpp"
#include "render/rendered_rows.hpp"
#include "render/strip_plan.hpp"
#include "render/subject_area.hpp"
#include "render/surface_detail.hpp"
#include "render/tile_samples.hpp"
#include "stopwatch.hpp"

namespace rakelight {
namespace {

constexpr int tiles_at_a_time = 8;

// Rows that are rastered, waiting for those that their passes look at.
struct Strip {
    SurfaceRows surface;
    std::vector<std::uint8_t> mixed;  // as long as the surface
    std::vector<float> bare_mm;       // lifts without the detail of pictures; empty: the same

    int first() const { return surface.first_row; }
    int end() const { return surface.first_row + surface.rows; }
};

Strip empty_strip(int width, int first, int end) {
    Strip strip;
    SurfaceRows& rows = strip.surface;
    rows.width = width;
    rows.first_row = first;
    rows.rows = end - first;
    const auto count = static_cast<std::size_t>(rows.width) * rows.rows;
    rows.lift_mm.assign(count, 0.0F);
    rows.lift_range_mm.assign(2 * count, 0.0F);
    rows.normal_coverage.assign(4 * count, 0.0F);
    for (std::size_t i = 0; i < count; ++i) rows.normal_coverage[4 * i + 2] = 1.0F;
    strip.mixed.assign(count, 0);
    return strip;
}

// Copies the rows that both have.
void copy_rows(const Strip& from, Strip& to) {
    const int first = std::max(from.first(), to.first());
    const int end = std::min(from.end(), to.end());
    if (first >= end) return;
    const std::size_t at = from.surface.index(0, first);
    const std::size_t there = to.surface.index(0, first);
    const std::size_t count = static_cast<std::size_t>(end - first) * from.surface.width;
    const auto copy = [&](const auto& values, auto& target, std::size_t channels) {
        std::copy_n(values.data() + channels * at, channels * count,
                    target.data() + channels * there);
    };
    copy(from.surface.lift_mm, to.surface.lift_mm, 1);
    copy(from.surface.normal_coverage, to.surface.normal_coverage, 4);
    copy(from.surface.lift_range_mm, to.surface.lift_range_mm, 2);
    copy(from.mixed, to.mixed, 1);
}

// A part of a strip's rows.
SurfaceMaps view(const Strip& strip, int first, int end) {
    const std::size_t at = strip.surface.index(0, first);
    return {strip.surface.lift_mm.data() + at,
            strip.surface.normal_coverage.data() + 4 * at,
            strip.surface.lift_range_mm.data() + 2 * at,
            strip.surface.width,
            end - first,
            first};
}

// The passes look at what the pictures add, too. What is there stays above the floor.
void add_detail(Strip& strip) {
    SurfaceRows& surface = strip.surface;
    if (surface.detail_mm.empty()) return;
    strip.bare_mm = surface.lift_mm;
    for (std::size_t i = 0; i < surface.lift_mm.size(); ++i) {
        float& lift = surface.lift_mm[i];
        if (lift > 0.0F) lift = std::max(lift + surface.detail_mm[i], 1e-6F);
    }
    std::vector<float>().swap(surface.detail_mm);
}

ResolveSetting resolve_setting(const RenderRequest& request, const WorkArea& area) {
    ResolveSetting setting;
    setting.mm_per_px = 1.0 / request.grid.px_per_mm;
    setting.first_x_mm =
        request.grid.left_mm + area.rect.x * setting.mm_per_px - request.camera.picture_mm.x;
    setting.first_y_mm =
        request.grid.top_mm - area.rect.y * setting.mm_per_px - request.camera.picture_mm.y;
    setting.mask_parts = request.mask_parts;
    setting.contour = request.contour_step_mm.has_value();
    setting.contour_step_mm = static_cast<float>(request.contour_step_mm.value_or(0.0));
    setting.undercut_least_mm = request.undercut_least_mm;
    setting.steep_slope = request.steep_slope;
    return setting;
}

void refuse_size(const WorkArea& area, int samples) {
    const std::int64_t most_px = most_sub_samples / (std::int64_t{sub_samples} * samples);
    if (std::max(area.rect.width, area.rect.height) < most_px) return;
    throw Error(ExitCode::unusable_picture,
                "the picture and what its passes look at are " + std::to_string(area.rect.width) +
                    " x " + std::to_string(area.rect.height) + " pixels; expected fewer than " +
                    std::to_string(most_px) + " a side: lower image.px_per_mm or image.samples");
}

std::unique_ptr<OcclusionOnProcessor> occlusion_of(const RenderRequest& request,
                                                   const WorkArea& area) {
    if (!request.occlusion_reach_mm) return nullptr;
    return std::make_unique<OcclusionOnProcessor>(
        walk_of(request, area), *request.occlusion_reach_mm, request.camera, request.grid, area);
}

// One picture on its way.
class Painting {
public:
    Painting(const RenderRequest& request, const WorkArea& area, const Mesh& mesh,
             const DrawnClusters& drawn, const MeshDetail* detail, std::int64_t strip_px,
             const RowSink& sink)
        : request_(request),
          area_(area),
          drawn_(drawn),
          sink_(sink),
          occlusion_(occlusion_of(request, area)),
          plan_(request, area, occlusion_ ? occlusion_->reach_px() : 0, strip_px),
          lanes_(request.samples),
          resolve_(resolve_setting(request, area)),
          mesh_(mesh, drawn, request.camera, request.grid, area, request.samples, detail) {
        times_.raster_s += laps_.lap();
    }

    RenderTimes paint() {
        // Nothing near the picture: the area is empty, and all rows are background.
        for (int first = 0; first < area_.rect.height; first += plan_.rows) {
            stop_if_interrupted();
            strips_.push_back(raster(first));
            times_.raster_s += laps_.lap();
            while (next_is_ready()) finish_next();
        }
        deliver_background(request_.grid.height);
        return times_;
    }

private:
    // The clusters that a strip and its guard may show.
    std::vector<std::size_t> clusters_between(int first, int end) const {
        const double px_mm = 1.0 / request_.grid.px_per_mm;
        const auto y_mm = [&](int row) {
            return request_.grid.top_mm - (area_.rect.y + row) * px_mm;
        };
        const BlankBox strip{{-1e300, y_mm(end + tile_guard_px)},
                             {1e300, y_mm(first - tile_guard_px)}};
        std::vector<std::size_t> found;
        for (std::size_t i = 0; i < drawn_.clusters.size(); ++i) {
            if (overlap(projected_box(drawn_.clusters[i], request_.camera), strip)) {
                found.push_back(i);
            }
        }
        return found;
    }

    Strip raster(int first) {
        const int end_row = std::min(first + plan_.rows, area_.rect.height);
        Strip strip = empty_strip(area_.rect.width, first, end_row);
        if (resolve_.contour) strip.surface.contour.assign(strip.mixed.size(), 0.0F);
        if (has_heights()) strip.surface.detail_mm.assign(strip.mixed.size(), 0.0F);
        strip.surface.masks.assign(resolve_.mask_parts.size(),
                                   std::vector<float>(strip.mixed.size(), 0.0F));
        if (request_.mask_heights) strip.surface.mask_lifts_mm = strip.surface.masks;
        if (request_.part_numbers) strip.surface.part_numbers.assign(strip.mixed.size(), 0);
        const auto make_room = [&](const auto& maps) {
            for (auto* values : maps) values->assign(strip.mixed.size(), 0.0F);
        };
        if (resolve_.undercut_least_mm) make_room(strip.surface.undercut.all());
        if (resolve_.steep_slope) make_room(strip.surface.steep.all());
        const TileStrip tiles{(area_.rect.width + tile_px - 1) / tile_px, first / tile_px,
                              (end_row + tile_px - 1) / tile_px};
        const TriangleBins bins(mesh_, clusters_between(first, end_row), tiles, request_.samples);
        for_row_bands(tiles.tiles(), tiles_at_a_time, [&](int begin, int end) {
            TileSamples samples(lanes_);
            for (int tile = begin; tile < end; ++tile) {
                if (bins.of_tile(tile).all.empty()) continue;
                const TilePlace place{tile % tiles.columns * tile_px,
                                      (tiles.first_row + tile / tiles.columns) * tile_px};
                paint_tile(bins.of_tile(tile), place, samples, strip.surface);
            }
        });
        add_detail(strip);
        strip.mixed = mixed_pixels(strip.surface.view(), request_.grid.px_per_mm);
        rastered_ = end_row;
        if (occlusion_) occlusion_->add_rows(view(strip, first, end_row));
        return strip;
    }

    void paint_tile(const TileTriangles& triangles, TilePlace place, TileSamples& samples,
                    SurfaceRows& rows) const {
        raster_tile(mesh_, triangles, place, lanes_, samples);
        resolve_tile(mesh_, resolve_, place, lanes_, samples, rows);
        if (resolve_.contour) trace_tile(resolve_, place, lanes_, samples, rows);
        if (resolve_.steep_slope) measure_steep(mesh_, resolve_, place, lanes_, samples, rows);
        if (resolve_.undercut_least_mm) {
            measure_undercut(mesh_, triangles.all, resolve_, place, lanes_, rows);
        }
    }

    bool has_heights() const {
        return mesh_.detail() != nullptr && mesh_.detail()->most_height_mm() > 0.0;
    }

    bool next_is_ready() const {
        if (next_ == strips_.size()) return false;
        const int seen = strips_[next_].end() + std::max(blend_px + plan_.reach, plan_.margin);
        return std::min(seen, area_.rect.height) <= rastered_;
    }

    // A strip's rows with those around it that its passes look at.
    Strip with_margin(const Strip& strip) const {
        Strip window = empty_strip(area_.rect.width, std::max(strip.first() - plan_.margin, 0),
                                   std::min(strip.end() + plan_.margin, area_.rect.height));
        for (const auto& part : strips_) copy_rows(part, window);
        return window;
    }

    // A pass's values on the strip's own rows, from those with a margin, mixed pixels blended.
    template <typename Pass>
    std::vector<float> blended(const Strip& strip, const Strip& window, int margin,
                               const Pass& pass) const {
        const SurfaceMaps maps = view(window, std::max(strip.first() - margin, window.first()),
                                      std::min(strip.end() + margin, window.end()));
        const auto begin = window.mixed.begin() +
                           static_cast<std::ptrdiff_t>(window.surface.index(0, maps.first_row));
        const std::vector<std::uint8_t> mixed(
            begin, begin + static_cast<std::ptrdiff_t>(maps.width) * maps.height);
        std::vector<float> values = pass(maps, mixed);
        blend_mixed_pixels(maps, mixed, values);
        const auto own = values.begin() +
                         static_cast<std::ptrdiff_t>(strip.first() - maps.first_row) * maps.width;
        return {own, own + static_cast<std::ptrdiff_t>(strip.surface.rows) * maps.width};
    }

    void finish_next() {
        stop_if_interrupted();
        laps_.lap();
        Strip& strip = strips_[next_];
        const PassValues values = passes_of(strip);
        deliver(strip, values);
        ++next_;
        forget_strips();
        laps_.lap();
    }

    struct PassValues {  // of a strip's own rows; empty when not asked for
        std::vector<float> open;
        std::vector<float> curved;
    };

    PassValues passes_of(const Strip& strip) {
        PassValues values;
        if (!occlusion_ && !request_.curvature_scale_mm) return values;
        const Strip window = with_margin(strip);
        if (occlusion_) {
            values.open = blended(
                strip, window, blend_px,
                [&](const SurfaceMaps& maps, const auto&) { return occlusion_->open(maps); });
        }
        times_.occlusion_s += laps_.lap();
        if (request_.curvature_scale_mm) {
            values.curved = blended(
                strip, window, plan_.margin, [&](const SurfaceMaps& maps, const auto& mixed) {
                    return curvature_on_processor(*request_.curvature_scale_mm, request_.camera,
                                                  request_.grid, area_, maps, mixed);
                });
        }
        times_.curvature_s += laps_.lap();
        return values;
    }

    // Those that no pass will look at any more.
    void forget_strips() {
        const int first = next_ < strips_.size() ? strips_[next_].first() : rastered_;
        while (next_ > 0 && strips_.front().end() <= first - plan_.margin) {
            strips_.pop_front();
            --next_;
        }
    }

    void deliver(Strip& strip, const PassValues& values) {
        const int first = std::clamp(area_.rect.y + strip.first(), 0, request_.grid.height);
        const int end = std::clamp(area_.rect.y + strip.end(), first, request_.grid.height);
        if (first == end) return;
        deliver_background(first);
        const ImageGrid grid = rows_of(request_.grid, first, end - first);
        WorkArea part = area_;
        part.rect.y += strip.first() - first;
        part.rect.height = strip.surface.rows;
        RenderedPlanes planes = empty_planes(request_, grid);
        SurfaceMaps maps = view(strip, strip.first(), strip.end());
        if (!strip.bare_mm.empty() && !request_.texture.in_depth)
            maps.lift_mm = strip.bare_mm.data();
        place_surface(maps, part, grid, planes);
        if (occlusion_) place_map(values.open.data(), part.rect, grid, planes.occlusion);
        if (request_.curvature_scale_mm) {
            place_map(values.curved.data(), part.rect, grid, planes.curvature);
        }
        if (resolve_.contour) {
            place_map(strip.surface.contour.data(), part.rect, grid, planes.contour);
        }
        for (std::size_t i = 0; i < planes.masks.size(); ++i) {
            place_map(strip.surface.masks[i].data(), part.rect, grid, planes.masks[i]);
        }
        for (std::size_t i = 0; i < planes.mask_heights_mm.size(); ++i) {
            place_heights(strip.surface.mask_lifts_mm[i].data(), strip.surface.masks[i].data(),
                          part, grid, planes.mask_heights_mm[i]);
        }
        if (request_.part_numbers) {
            place_numbers(strip.surface.part_numbers.data(), part.rect, grid, planes.part_numbers);
        }
        const auto place_all = [&](const auto& from, const auto& to) {
            for (std::size_t i = 0; i < from.size(); ++i) {
                place_map(from[i]->data(), part.rect, grid, *to[i]);
            }
        };
        if (resolve_.undercut_least_mm) {
            place_all(strip.surface.undercut.all(), planes.undercut.all());
        }
        if (resolve_.steep_slope) place_all(strip.surface.steep.all(), planes.steep.all());
        times_.read_back_s += laps_.lap();
        sink_(planes, first);
        delivered_ = end;
    }

    // Rows up to `end` that show nothing.
    void deliver_background(int end) {
        while (delivered_ < end) {
            const int rows = std::min(end - delivered_, plan_.rows);
            sink_(empty_planes(request_, rows_of(request_.grid, delivered_, rows)), delivered_);
            delivered_ += rows;
        }
    }

    const RenderRequest& request_;
    WorkArea area_;
    const DrawnClusters& drawn_;
    const RowSink& sink_;
    Stopwatch laps_;
    RenderTimes times_;
    std::unique_ptr<OcclusionOnProcessor> occlusion_;  // none when not asked for
    StripPlan plan_;
    Lanes lanes_;
    ResolveSetting resolve_;
    SampleMesh mesh_;
    std::deque<Strip> strips_;
    std::size_t next_ = 0;  // of the strips, whose passes are to be made
    int rastered_ = 0;      // rows of the work area
    int delivered_ = 0;     // rows of the picture
};

}  // namespace

struct ProcessorRenderer::Subject {
    Mesh mesh;
    DrawnClusters drawn;
    bool has_detail = false;
};

ProcessorRenderer::ProcessorRenderer(std::int64_t strip_px) : strip_px_(strip_px) {
    facts_.way = "processor";
    facts_.software = true;
    facts_.attempts = {{"processor", true, "taken"}};
}

ProcessorRenderer::~ProcessorRenderer() = default;

void ProcessorRenderer::set_mesh(const Mesh& mesh, const std::vector<bool>& used) {
    subject_ = std::make_unique<Subject>(
        Subject{mesh, drawn_clusters(mesh, used), has_detail(mesh, used)});
}

void ProcessorRenderer::render(const RenderRequest& request, const RowSink& sink,
                               RenderTimes* times) {
    WorkArea area = area_of(request, subject_->drawn.clusters);
    if (area.is_empty()) area.rect = {0, 0, 0, 0};
    refuse_size(area, request.samples);
    std::optional<MeshDetail> detail;
    if (subject_->has_detail) {
        detail.emplace(subject_->mesh, request.texture, request.camera.mm_per_unit);
        area.floor_mm -= 4.0 * detail->most_height_mm();  // where it is steep, see tile_detail.cpp
    }
    Painting painting(request, area, subject_->mesh, subject_->drawn, detail ? &*detail : nullptr,
                      strip_px_, sink);
    const RenderTimes spent = painting.paint();
    if (times != nullptr) *times = spent;
}

}  // namespace rakelight
