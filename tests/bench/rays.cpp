// Our passes against the same passes by rays, on all cores: depth and normal by 16 rays a pixel,
// occlusion by as many as it takes to be as near to the truth as ours is. The truth is 1024 rays a
// pixel; the error is the root mean square over a lattice of pixels. Two truths: the whole mesh,
// which knows what is hidden below the visible surface, and the visible height surface, which is
// what the pass is defined on (docs/passes.md).

#include <algorithm>
#include <cmath>

#include "batch/passes.hpp"
#include "floors.hpp"
#include "image/row_bands.hpp"
#include "ray_pictures.hpp"
#include "render/device_renderer.hpp"
#include "subject.hpp"

namespace bench {
namespace {

using rakelight::for_row_bands;
using rakelight::PreparedScene;
using rakelight::RenderedPlanes;

constexpr double most_timed_rays = 6e7;

struct Pixel {
    int x, y;
};

class Lattice {
public:
    Lattice(const Surface& surface, const RenderedPlanes& ours, float reach_mm)
        : surface_(surface), reach_mm_(reach_mm) {
        // About 10,000 pixels, with steps of an odd number of pixels.
        const int step = 2 * static_cast<int>(std::sqrt(
                                 static_cast<double>(ours.coverage.values.size()) / 4e4)) +
                         1;
        for (int y = step / 2; y < ours.coverage.height; y += step) {
            for (int x = step / 2; x < ours.coverage.width; x += step) {
                if (ours.coverage.at(x, y) == 0.0F) continue;
                pixels_.push_back({x, y});
                ours_.push_back(ours.occlusion.at(x, y));
            }
        }
        truth_ = shares(RaySet(32, 32), Shots::single);
    }

    double our_error() const { return error(ours_); }
    double error_of(const RaySet& set) const { return error(shares(set, Shots::single)); }
    std::size_t pixels() const { return pixels_.size(); }

    Shots faster(const RaySet& set) const {
        const double single_s = cost_here([&] { shares(set, Shots::single); }).wall_s;
        const double packets_s = cost_here([&] { shares(set, Shots::packets); }).wall_s;
        return single_s < packets_s ? Shots::single : Shots::packets;
    }

private:
    std::vector<float> shares(const RaySet& set, Shots shots) const {
        std::vector<float> values(pixels_.size(), 1.0F);
        for_row_bands(static_cast<int>(pixels_.size()), [&](int begin, int end) {
            std::array<Place, 16> places;
            for (int i = begin; i < end; ++i) {
                const Pixel& at = pixels_[static_cast<std::size_t>(i)];
                const std::size_t count = surface_.places(at.x, at.y, places);
                if (count == 0) continue;
                // Another number than the truth's: its rays must not be among those it judges.
                const auto number = static_cast<std::uint32_t>(i) + 7919U * set.rays();
                values[static_cast<std::size_t>(i)] = surface_.rays().open_share(
                    {places.data(), count}, set.of_pixel(number), reach_mm_, shots);
            }
        });
        return values;
    }

    double error(const std::vector<float>& values) const {
        double sum = 0.0;
        for (std::size_t i = 0; i < values.size(); ++i) {
            sum += (values[i] - truth_[i]) * (values[i] - truth_[i]);
        }
        return std::sqrt(sum / static_cast<double>(values.size()));
    }

    const Surface& surface_;
    float reach_mm_;
    std::vector<Pixel> pixels_;
    std::vector<float> ours_, truth_;
};

// How many rays are as near as ours: the largest number tried whose error is not below ours, so
// that the rays are given rather too few than too many.
struct Equal {
    int strata_u = 2, strata_v = 2;
    double our_error = 0.0, ray_error = 0.0;
};

Equal equal_rays(const Lattice& lattice) {
    Equal equal;
    equal.our_error = lattice.our_error();
    for (int u = 2; u <= 32; ++u) {
        for (int v = u; v <= u + 1; ++v) {
            const double error = lattice.error_of(RaySet(u, v));
            if (equal.ray_error > 0.0 && error < equal.our_error) return equal;
            equal.strata_u = u;
            equal.strata_v = v;
            equal.ray_error = error;
        }
    }
    return equal;
}

// What the whole picture costs, from every `every`-th of its rows.
Cost picture_cost(const RenderedPlanes& ours, const Surface& surface, const RaySet* occlusion,
                  float reach_mm, Shots shots, int every) {
    const int width = ours.coverage.width, rows = ours.coverage.height / every;
    std::vector<float> results(static_cast<std::size_t>(width) * rows * 5);
    const Cost cost = cost_here([&] {
        for_row_bands(rows, 4, [&](int begin, int end) {
            std::array<Place, 16> places;
            for (int row = begin; row < end; ++row) {
                for (int x = 0; x < width; ++x) {
                    const int y = row * every + every / 2;
                    const std::size_t count = surface.places(x, y, places);
                    if (count == 0) continue;
                    const auto number = static_cast<std::uint32_t>(y * width + x);
                    float* out = &results[5 * (static_cast<std::size_t>(row) * width + x)];
                    glm::vec3 normal(0.0F);
                    for (std::size_t i = 0; i < count; ++i) {
                        out[0] += places[i].at.z / static_cast<float>(count);
                        normal += places[i].normal;
                    }
                    normal = glm::normalize(normal);
                    std::copy_n(&normal.x, 3, out + 1);
                    if (occlusion == nullptr) continue;
                    out[4] = surface.rays().open_share(
                        {places.data(), count}, occlusion->of_pixel(number), reach_mm, shots);
                }
            }
        });
    });
    const double scale = static_cast<double>(ours.coverage.height) / rows;
    return {scale * cost.wall_s, scale * cost.cpu_s, 0.0};
}

using OurOcclusion = std::function<Cost()>;

double covered_pixels(const RenderedPlanes& ours) {
    const auto& values = ours.coverage.values;
    return static_cast<double>(
        std::count_if(values.begin(), values.end(), [](float share) { return share > 0.0F; }));
}

struct OcclusionCosts {
    Cost rays, ours;
};

// Theirs and ours in turn, so that what else the machine does meets both.
OcclusionCosts occlusion_costs(const Surface& surface, const RenderedPlanes& ours,
                               const RaySet& set, float reach_mm, Shots shots, int runs, int every,
                               const OurOcclusion& our_occlusion) {
    const auto costs =
        in_turn(runs, {[&] { return picture_cost(ours, surface, &set, reach_mm, shots, every); },
                       [&] { return picture_cost(ours, surface, nullptr, reach_mm, shots, every); },
                       our_occlusion});
    return {{costs[0].median_s() - costs[1].median_s(),
             costs[0].median_cpu_s() - costs[1].median_cpu_s(), 0.0},
            {costs[2].median_s(), costs[2].median_cpu_s(), 0.0}};
}

Json compare(const Surface& surface, const RenderedPlanes& ours, float reach_mm, int runs,
             const OurOcclusion& our_occlusion) {
    const Lattice lattice(surface, ours, reach_mm);
    const Equal equal = equal_rays(lattice);
    const RaySet set(equal.strata_u, equal.strata_v);
    const Shots shots = lattice.faster(set);
    const double rays = set.rays() * covered_pixels(ours);
    const int every = std::max(1, static_cast<int>(std::ceil(rays / most_timed_rays)));
    const auto [cost, our_cost] =
        occlusion_costs(surface, ours, set, reach_mm, shots, runs, every, our_occlusion);
    return {{"pixels_compared", lattice.pixels()},
            {"our_error", equal.our_error},
            {"rays", set.rays()},
            {"ray_error", equal.ray_error},
            {"occlusion_s", cost.wall_s},
            {"occlusion_cpu_s", cost.cpu_s},
            {"our_occlusion_s", our_cost.wall_s},
            {"our_occlusion_cpu_s", our_cost.cpu_s},
            {"rows_timed", "every " + std::to_string(every)},
            {"shots", shots == Shots::single ? "single rays" : "packets of 16"},
            {"million_rays_per_s", 1e-6 * rays / cost.wall_s}};
}

// Our own steps, warm.
class OurSteps {
public:
    explicit OurSteps(const PreparedScene& scene)
        : scene_(scene), renderer_(rakelight::DeviceChoice::automatic) {
        renderer_.set_mesh(scene.mesh, scene.used);
        render_floors(renderer_, scene_);  // warms up
    }
    Cost occlusion() {
        const Json floors = render_floors(renderer_, scene_);
        return {floors["occlusion_s"], floors["occlusion_cpu_s"], 0.0};
    }
    Cost surface() {
        const Json floors = render_floors(renderer_, scene_);
        return {floors["raster_s"].get<double>() + floors["read_back_s"].get<double>(),
                floors["surface_cpu_s"], 0.0};
    }

private:
    const PreparedScene& scene_;
    rakelight::DeviceRenderer renderer_;
};

// How far the two surfaces are apart: a guard that both look at the same thing.
double depth_difference_mm(const MeshSurface& mesh, const RenderedPlanes& ours) {
    std::vector<double> differences;
    std::array<Place, 16> places;
    for (int y = 5; y < ours.coverage.height; y += 11) {
        for (int x = 5; x < ours.coverage.width; x += 11) {
            if (ours.coverage.at(x, y) < 1.0F) continue;
            const std::size_t count = mesh.places(x, y, places);
            double z = 0.0;
            for (std::size_t i = 0; i < count; ++i) z += places[i].at.z;
            differences.push_back(
                std::abs(z / static_cast<double>(std::max<std::size_t>(count, 1)) -
                         double{ours.height_mm.at(x, y)}));
        }
    }
    std::sort(differences.begin(), differences.end());
    return differences.empty() ? 0.0 : differences[differences.size() * 99 / 100];
}

Json all_rays(const Bench& bench) {
    const int runs = std::min(bench.sizes.runs, 3);
    const PreparedScene scene = prepared(bench, bench.scene());
    const double reach_mm = rakelight::occlusion_reach_mm(
        *scene.scene.passes.occlusion, rakelight::BlankGeometry(scene.scene.blank));
    Json data = {{"reach_mm", reach_mm}};
    OurSteps steps(scene);
    const OurOcclusion our_occlusion = [&] { return steps.occlusion(); };
    const RenderedPlanes ours = our_planes(scene, reach_mm);
    const auto reach = static_cast<float>(reach_mm);
    {
        std::unique_ptr<MeshSurface> mesh;
        data["tree_s"] = cost_here([&] { mesh = std::make_unique<MeshSurface>(scene); }).wall_s;
        data["depth_difference_mm"] = depth_difference_mm(*mesh, ours);
        const auto primary = in_turn(
            runs, {[&] { return picture_cost(ours, *mesh, nullptr, reach, Shots::single, 1); },
                   [&] { return steps.surface(); }});
        data["primary_s"] = primary[0].median_s();
        data["primary_cpu_s"] = primary[0].median_cpu_s();
        data["our_surface_s"] = primary[1].median_s();
        data["our_surface_cpu_s"] = primary[1].median_cpu_s();
        data["mesh"] = compare(*mesh, ours, reach, runs, our_occlusion);
    }
    const HeightSurface height(ours, scene);
    data["height"] = compare(height, ours, reach, runs, our_occlusion);
    return data;
}

void add_equal(Bench& bench, const Json& data, const char* truth, const char* name) {
    const Json& rays = data[truth];
    const double ours_s = rays["our_occlusion_s"], theirs_s = rays["occlusion_s"];
    bench.report.add(
        {"rays", std::string("occlusion at equal error against ") + name + ", Embree / ours",
         theirs_s / ours_s, "x", 20.0, true,
         std::to_string(rays["rays"].get<int>()) + " rays a pixel (error " +
             text_of(rays["ray_error"].get<double>()) + ", ours " +
             text_of(rays["our_error"].get<double>()) + "): " + time_text(theirs_s) + " against " +
             time_text(ours_s) + "; " + text_of(rays["million_rays_per_s"].get<double>()) +
             " million rays/s, " + rays["shots"].get<std::string>() + ", timed on " +
             rays["rows_timed"].get<std::string>() + ". row; " +
             by_cpu(rays["occlusion_cpu_s"], rays["our_occlusion_cpu_s"])});
}

}  // namespace

void measure_rays(Bench& bench) {
    const Json data = in_child([&] { return all_rays(bench); });
    const double ours_s = data["our_surface_s"], theirs_s = data["primary_s"];
    const double our_all_s = ours_s + data["mesh"]["our_occlusion_s"].get<double>();
    const double their_all_s = theirs_s + data["mesh"]["occlusion_s"].get<double>();
    add_equal(bench, data, "mesh", "the whole mesh");
    add_equal(bench, data, "height", "the visible height surface");
    bench.report.add({"rays", "depth and normal, 16 samples a pixel, Embree / ours",
                      theirs_s / ours_s, "x", 1.0, true,
                      time_text(theirs_s) + " (and " + time_text(data["tree_s"].get<double>()) +
                          " to build its tree) against " + time_text(ours_s) + "; " +
                          by_cpu(data["primary_cpu_s"], data["our_surface_cpu_s"])});
    bench.report.add({"rays", "depth, normal and occlusion together, Embree / ours",
                      their_all_s / our_all_s, "x", 1.0, true,
                      time_text(their_all_s) + " against " + time_text(our_all_s) +
                          ", the tree left out; 99 % of depths agree within " +
                          text_of(1e3 * data["depth_difference_mm"].get<double>(), "um")});
    bench.report.keep("rays", data);
}

}  // namespace bench
