#include "form_scene.hpp"

#include "model/load.hpp"

namespace reference {
namespace {

constexpr double pi = 3.14159265358979323846;

// Points of a grid that closes in i, and in j where it says so.
void join_grid(cli_test::Model& model, int count_i, int count_j, bool closed_j) {
    const auto at = [&](int i, int j) {
        return static_cast<std::uint32_t>(i % count_i * count_j + j % count_j);
    };
    for (int i = 0; i < count_i; ++i) {
        for (int j = 0; j < (closed_j ? count_j : count_j - 1); ++j) {
            model.triangles.push_back({at(i, j), at(i + 1, j), at(i + 1, j + 1)});
            model.triangles.push_back({at(i, j), at(i + 1, j + 1), at(i, j + 1)});
        }
    }
}

}  // namespace

cli_test::Model torus(double ring, double tube, int around_ring, int around_tube) {
    cli_test::Model model;
    for (int i = 0; i < around_ring; ++i) {
        const double a = 2.0 * pi * i / around_ring;
        const glm::dvec3 out(std::cos(a), std::sin(a), 0.0);
        for (int j = 0; j < around_tube; ++j) {
            const double b = 2.0 * pi * j / around_tube;
            model.normals.push_back(std::cos(b) * out + glm::dvec3(0, 0, std::sin(b)));
            model.points.push_back(ring * out + tube * model.normals.back());
        }
    }
    join_grid(model, around_ring, around_tube, true);
    return model;
}

cli_test::Model cylinder(double r, double l, int around) {
    cli_test::Model model;
    for (int i = 0; i < around; ++i) {
        const double a = 2.0 * pi * i / around;
        for (const double y : {-0.5 * l, 0.5 * l}) {
            model.normals.emplace_back(std::sin(a), 0.0, std::cos(a));
            model.points.push_back(r * model.normals.back() + glm::dvec3(0, y, 0));
        }
    }
    join_grid(model, around, 2, false);
    return model;
}

SeenForm see(const FormScene& form, const fs::path& folder, const std::string& name) {
    fs::create_directories(folder);
    const fs::path file = folder / (name + ".ply");
    cli_test::write_ply(file, form.model);
    cli_test::SceneText scene;
    scene.model = "file = \"" + file.string() + "\"\nup = \"+y\"\n" + form.more_model;
    scene.pose = form.pose;
    scene.image = "px_per_mm = " + std::to_string(form.px_per_mm) +
                  "\nsamples = " + std::to_string(form.samples) + "\n";
    scene.passes = form.passes + "[pass.silhouette]\n";
    cli_test::write_file(folder / (name + ".toml"), scene.text());
    const auto rendered = cli_test::render(folder / (name + ".toml"), folder / name);
    const cli_test::ManifestCamera camera(rendered.manifest);
    rakelight::LoadOptions options;
    options.cache.folder = cli_test::root_folder() / "cache" / "reference";
    const ViewMesh mesh(rakelight::load_model(file, options), camera);
    const MeshTracer tracer(mesh, camera);
    const auto& image = rendered.manifest.at("image");
    const SampleGrid grid = trace_samples(tracer, image.at("width_px"), image.at("height_px"),
                                          form.px_per_mm, image.at("samples_per_axis"));
    return {rendered, camera, grid, picture_of(grid)};
}

}  // namespace reference
