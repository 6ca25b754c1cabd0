#include "subject.hpp"

#include <algorithm>
#include <fstream>

namespace bench {

fs::path Bench::model(int triangles) const {
    const fs::path file = folder / ("ammonite-" + std::to_string(triangles) + ".ply");
    if (!fs::exists(file)) {
        command_cost({GROW_COMMAND, file.string(), "--triangles", std::to_string(triangles)});
    }
    return file;
}

fs::path Bench::scene(int triangles) const {
    const fs::path file = folder / ("ammonite-" + std::to_string(triangles) + ".toml");
    std::ofstream(file) << "[blank]\nshape = \"rectangle\"\nwidth_mm = " << blank_width_mm
                        << "\nheight_mm = " << blank_height_mm << "\n[model]\nfile = \""
                        << model(triangles).filename().string()
                        << "\"\n[pose]\nroll_deg = 90\n[framing]\nmargin_mm = 0\nzoom = 1.3\n"
                        << "[image]\npx_per_mm = " << sizes.px_per_mm << "\nsamples = 4\n";
    return file;
}

Words Bench::render(const fs::path& scene, const Words& more) const {
    Words words{RAKELIGHT_COMMAND, "render",       scene.string(),   "--quiet",       "--no-proof",
                "--out",           out().string(), "--cache-folder", cache().string()};
    words.insert(words.end(), more.begin(), more.end());
    return words;
}

Words Bench::inspect(const fs::path& model, const Words& more) const {
    Words words{RAKELIGHT_COMMAND, "inspect", model.string(), "--json"};
    words.insert(words.end(), more.begin(), more.end());
    return words;
}

double flat_mib(const Bench& bench, const fs::path& file) {
    const fs::path folder = bench.folder / "flat";
    fs::remove_all(folder);
    command_cost(bench.inspect(file, {"--cache-folder", folder.string()}));
    double bytes = 0.0;
    for (const auto& entry : fs::directory_iterator(folder)) {
        if (entry.path().extension() == ".mesh") bytes += static_cast<double>(entry.file_size());
    }
    fs::remove_all(folder);
    return bytes / (1024.0 * 1024.0);
}

rakelight::PreparedScene prepared(const Bench& bench, const fs::path& scene) {
    rakelight::LoadOptions load;
    load.cache.folder = bench.cache();
    return rakelight::prepare_scene(rakelight::read_scene(scene), load);
}

rakelight::RenderRequest bare_request(const rakelight::PreparedScene& scene) {
    rakelight::RenderRequest request;
    request.camera = scene.framing.camera;
    request.grid = scene.framing.grid;
    request.samples = scene.scene.image.samples;
    return request;
}

double Steps::median(const std::string& name) const {
    Runs values;
    for (const auto& run : runs_) values.add({run.at(name).get<double>(), 0.0, 0.0});
    return values.median_s();
}

Json Steps::json() const {
    Json medians = Json::object();
    if (runs_.empty()) return medians;
    for (const auto& [name, value] : runs_.front().items()) {
        if (value.is_number()) medians[name] = median(name);
    }
    return medians;
}

Json last_timings(const Bench& bench) {
    std::ifstream file(bench.out() / "timings.json");
    return Json::parse(file);
}

}  // namespace bench
