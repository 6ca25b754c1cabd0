#include "comparison.hpp"

#include <algorithm>
#include <limits>

#include "height_surface.hpp"
#include "model/load.hpp"
#include "parallel_rows.hpp"
#include "traced_occlusion.hpp"
#include "two_layers.hpp"

namespace reference {
namespace {

using cli_test::ManifestCamera;
using cli_test::Picture;
using cli_test::read_picture;
using cli_test::Rendered;

constexpr double nothing = std::numeric_limits<double>::quiet_NaN();

// OpenGL 4.1 (core specification, implementation dependent values) grants SUBPIXEL_BITS of 4: a
// raster may move a corner by 1/32 of its pixel, here of a sample, each way. What that does to
// depth is the surface's slope times the shift. 1e-5 mm: a few operations in single precision on
// numbers below 32 mm, whose spacing is 2e-6 mm.
double sampling_term_mm(const TracedPixel& pixel, double px_per_mm, int per_axis) {
    return pixel.slope * std::sqrt(2.0) / 32.0 / (per_axis * px_per_mm) + 1e-5;
}

DepthFigures compare_depth(const Rendered& rendered, const View& view, const SampleGrid& grid,
                           const TracedPicture& traced, Maps* maps) {
    const Picture depth = read_picture(rendered.folder / "depth.png");
    const cli_test::DepthReader reader(rendered.numbers("depth"));
    DepthFigures figures;
    std::vector<double> errors;
    std::size_t within = 0, within_a_code = 0;
    for (int y = 0; y < traced.height; ++y) {
        for (int x = 0; x < traced.width; ++x) {
            const TracedPixel& pixel = traced.at(x, y);
            figures.visible += pixel.covered > 0;
            if (!traced.inner(x, y)) continue;
            const double error_mm = reader.depth_mm(depth.at(x, y)) + pixel.z_mm;
            const double codes = error_mm / std::max(reader.mm_per_code(), 1e-300);
            if (maps) maps->depth_codes[static_cast<std::size_t>(y) * traced.width + x] = codes;
            errors.push_back(std::abs(codes));
            within_a_code += std::abs(codes) <= 1.0;
            within += std::abs(error_mm) <=
                      reader.mm_per_code() + sampling_term_mm(pixel, view.px_per_mm, grid.per_axis);
        }
    }
    figures.compared = errors.size();
    if (errors.empty()) return figures;
    std::sort(errors.begin(), errors.end());
    figures.most_codes = errors.back();
    figures.nearly_all_codes = errors[(errors.size() - 1) * 999 / 1000];
    figures.within = static_cast<double>(within) / static_cast<double>(errors.size());
    figures.within_a_code = static_cast<double>(within_a_code) / static_cast<double>(errors.size());
    return figures;
}

AreaFigures compare_area(const Rendered& rendered, const MeshTracer& tracer,
                         const TracedPicture& traced) {
    AreaFigures figures;
    for (const auto code : read_picture(rendered.folder / "silhouette.png").codes) {
        figures.picture_px += code / 65535.0;
    }
    figures.traced_px = traced_area_px(tracer, traced);
    return figures;
}

// The masks stand in the manifest in the order of the parts.
PartFigures compare_parts(const Rendered& rendered, const ViewMesh& mesh,
                          const TracedPicture& traced) {
    std::vector<Picture> masks;
    for (const auto& pass : rendered.manifest.at("passes")) {
        const std::string file = pass.at("file");
        if (file.rfind("part-", 0) == 0) masks.push_back(read_picture(rendered.folder / file));
    }
    const auto& names = rendered.manifest.at("model").at("parts_used");
    if (masks.size() != mesh.part_names.size() || names != mesh.part_names) {
        throw std::runtime_error("the manifest's parts are not those of the mesh");
    }
    PartFigures figures;
    figures.parts = masks.size();
    for (int y = 0; y < traced.height; ++y) {
        for (int x = 0; x < traced.width; ++x) {
            if (!traced.inner_of_part(x, y)) continue;
            ++figures.compared;
            figures.wrong += masks[traced.at(x, y).part].at(x, y) != 65535;
        }
    }
    return figures;
}

struct TracedShares {
    OpenShare whole, height, layered;
    bool there = false;
};

/// What closes the sky: the mesh, what one layer of it knows, what two layers know.
struct Closers {
    const MeshTracer& mesh;
    const Tracer& surface;
    const LayeredGrid* layers;  ///< null: not asked
};

std::vector<TracedShares> trace_shares(const SampleGrid& grid, const TracedPicture& traced,
                                       const Closers& closers, double reach_mm, int every_px) {
    std::vector<TracedShares> shares(traced.pixels.size());
    const auto by_mesh = [&](glm::dvec3 from, glm::dvec3 direction, double reach) {
        return closers.mesh.blocked(from, direction, reach);
    };
    const auto by_surface = [&](glm::dvec3 from, glm::dvec3 direction, double reach) {
        return closers.surface.blocked(from, direction, reach);
    };
    const auto by_layers = [&](glm::dvec3 from, glm::dvec3 direction, double reach) {
        return closers.layers->blocked(from, direction, reach);
    };
    parallel_rows(traced.height, [&](int y) {
        if (y % every_px != every_px / 2) return;
        for (int x = every_px / 2; x < traced.width; x += every_px) {
            if (traced.at(x, y).covered == 0) continue;
            TracedShares& share = shares[static_cast<std::size_t>(y) * traced.width + x];
            share.whole = traced_open_share(grid, x, y, reach_mm, by_mesh);
            share.height = traced_open_share(grid, x, y, reach_mm, by_surface);
            if (closers.layers) {
                share.layered = traced_open_share(grid, x, y, reach_mm, by_layers);
            }
            share.there = true;
        }
    });
    return shares;
}

void keep(const std::vector<TracedShares>& shares, const Picture& occlusion, Maps& maps) {
    for (std::size_t i = 0; i < shares.size(); ++i) {
        if (!shares[i].there) continue;
        maps.occlusion[i] = occlusion.codes[i] / 65535.0;
        maps.whole[i] = shares[i].whole.value;
        maps.height_surface[i] = shares[i].height.value;
    }
}

OcclusionFigures compare_occlusion(const Rendered& rendered, const SampleGrid& grid,
                                   const TracedPicture& traced, const MeshTracer& mesh,
                                   const LayeredGrid* layers, int every_px, Maps* maps) {
    const double reach_mm = rendered.numbers("occlusion").at("reach_mm");
    const Picture occlusion = read_picture(rendered.folder / "occlusion.png");
    const HeightSurface built = height_surface(grid, 100.0);
    const Tracer surface(built.points, built.triangles);
    const auto shares = trace_shares(grid, traced, {mesh, surface, layers}, reach_mm, every_px);
    OcclusionFigures figures;
    double noise2 = 0.0;
    for (int y = 0; y < traced.height; ++y) {
        for (int x = 0; x < traced.width; ++x) {
            const std::size_t i = static_cast<std::size_t>(y) * traced.width + x;
            if (!shares[i].there) continue;
            const double found = occlusion.codes[i] / 65535.0;
            const double whole = shares[i].whole.value, height = shares[i].height.value;
            figures.whole.add(found, whole);
            figures.height.add(found, height);
            figures.hidden.add(height, whole);
            if (layers) figures.layered.add(shares[i].layered.value, whole);
            if (traced.inner(x, y)) figures.inner.add(found, height);
            noise2 += std::pow(shares[i].height.half_difference, 2);
        }
    }
    figures.noise = std::sqrt(noise2 / std::max(figures.whole.count, 1.0));
    if (maps) keep(shares, occlusion, *maps);
    return figures;
}

void prepare(Maps& maps, const SampleGrid& grid) {
    maps.width = grid.width;
    maps.height = grid.height;
    for (auto* map : {&maps.depth_codes, &maps.occlusion, &maps.whole, &maps.height_surface}) {
        map->assign(static_cast<std::size_t>(grid.width) * grid.height, nothing);
    }
}

}  // namespace

void Agreement::add(double a, double b) {
    count += 1.0;
    sum_a += a;
    sum_b += b;
    sum_aa += a * a;
    sum_bb += b * b;
    sum_ab += a * b;
}

void Agreement::add(const Agreement& other) {
    count += other.count;
    sum_a += other.sum_a;
    sum_b += other.sum_b;
    sum_aa += other.sum_aa;
    sum_bb += other.sum_bb;
    sum_ab += other.sum_ab;
}

double Agreement::rmse() const {
    return std::sqrt(std::max(sum_aa - 2.0 * sum_ab + sum_bb, 0.0) / std::max(count, 1.0));
}

double Agreement::bias() const {
    return (sum_a - sum_b) / std::max(count, 1.0);
}

double Agreement::correlation() const {
    const double ab = count * sum_ab - sum_a * sum_b;
    const double aa = count * sum_aa - sum_a * sum_a, bb = count * sum_bb - sum_b * sum_b;
    return ab / std::sqrt(std::max(aa * bb, 1e-300));
}

double Agreement::spread() const {
    return std::sqrt(std::max(count * sum_bb - sum_b * sum_b, 0.0)) / std::max(count, 1.0);
}

ViewFigures compare(const View& view, const fs::path& folder, const Effort& effort, Maps* maps) {
    fs::create_directories(folder);
    const fs::path scene = folder / (view.name() + ".toml");
    cli_test::write_file(scene, view.scene().text());
    const Rendered rendered = cli_test::render(scene, folder / view.name());
    const Picture silhouette = read_picture(rendered.folder / "silhouette.png");

    const ManifestCamera camera(rendered.manifest);
    rakelight::LoadOptions options;
    options.cache.folder = cli_test::root_folder() / "cache" / "reference";
    const ViewMesh mesh(rakelight::load_model(view.subject.file, options), camera);
    const MeshTracer tracer(mesh, camera);
    const int per_axis = rendered.manifest.at("image").at("samples_per_axis");
    const SampleGrid grid = trace_samples(tracer, silhouette.width, silhouette.height,
                                          view.px_per_mm, per_axis, effort.shift_px);
    const TracedPicture traced = picture_of(grid);

    if (maps) prepare(*maps, grid);
    ViewFigures figures;
    figures.view = view;
    figures.depth = compare_depth(rendered, view, grid, traced, maps);
    figures.area = compare_area(rendered, tracer, traced);
    figures.parts = compare_parts(rendered, mesh, traced);
    if (effort.trace_occlusion) {
        std::optional<LayeredGrid> layers;
        if (effort.layers > 0 && !view.perspective)
            layers.emplace(grid, tracer, camera, effort.layers);
        figures.occlusion =
            compare_occlusion(rendered, grid, traced, tracer, layers ? &*layers : nullptr,
                              effort.occlusion_grid_px, maps);
    }
    fs::remove_all(rendered.folder);
    return figures;
}

nlohmann::json to_json(const ViewFigures& figures) {
    const auto& [view, depth, area, parts, occlusion] = figures;
    return {
        {"view", view.name()},
        {"yaw_deg", view.yaw_deg},
        {"pitch_deg", view.pitch_deg},
        {"roll_deg", view.roll_deg},
        {"depth",
         {{"visible_px", depth.visible},
          {"compared_px", depth.compared},
          {"share_within", depth.within},
          {"share_within_one_code", depth.within_a_code},
          {"nearly_all_codes", depth.nearly_all_codes},
          {"most_codes", depth.most_codes}}},
        {"silhouette",
         {{"picture_px", area.picture_px}, {"traced_px", area.traced_px}, {"error", area.error()}}},
        {"parts",
         {{"parts", parts.parts}, {"compared_px", parts.compared}, {"wrong_px", parts.wrong}}},
        {"occlusion",
         {{"pixels", occlusion.whole.count},
          {"rmse_whole", occlusion.whole.rmse()},
          {"correlation_whole", occlusion.whole.correlation()},
          {"spread_whole", occlusion.whole.spread()},
          {"rmse_height_surface", occlusion.height.rmse()},
          {"correlation_height_surface", occlusion.height.correlation()},
          {"bias_height_surface", occlusion.height.bias()},
          {"rmse_height_surface_away_from_edges", occlusion.inner.rmse()},
          {"rmse_hidden", occlusion.hidden.rmse()},
          {"correlation_hidden", occlusion.hidden.correlation()},
          {"rmse_layered", occlusion.layered.rmse()},
          {"correlation_layered", occlusion.layered.correlation()},
          {"noise", occlusion.noise}}}};
}

}  // namespace reference
