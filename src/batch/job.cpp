#include "batch/job.hpp"

#include <chrono>
#include <cmath>
#include <cstdio>

#include "batch/manifest.hpp"
#include "batch/proof_sheet.hpp"
#include "batch/tasks.hpp"
#include "image/output_set.hpp"
#include "image/png.hpp"
#include "interrupt.hpp"
#include "version.hpp"

namespace rakelight {
namespace {

class Stopwatch {
public:
    double lap() {
        const auto now = Clock::now();
        const double seconds = std::chrono::duration<double>(now - last_).count();
        last_ = now;
        return seconds;
    }

private:
    using Clock = std::chrono::steady_clock;
    Clock::time_point last_ = Clock::now();
};

void tell(const RenderOptions& options, const std::string& step) {
    if (options.on_step) options.on_step(step);
    stop_if_interrupted();
}

RenderRequest request_of(const PreparedScene& prepared, const BlankGeometry& blank) {
    const PassSettings& passes = prepared.scene.passes;
    RenderRequest request;
    request.camera = prepared.framing.camera;
    request.grid = prepared.framing.grid;
    request.samples = prepared.scene.image.samples;
    if (passes.occlusion) request.occlusion_reach_mm = occlusion_reach_mm(*passes.occlusion, blank);
    if (passes.curvature) request.curvature_scale_mm = passes.curvature->scale_mm;
    if (passes.contour) request.contour_step_mm = contour_step_mm(*passes.contour, blank);
    request.mask_parts = prepared.mask_parts;
    return request;
}

std::vector<std::string> mask_names(const PreparedScene& prepared) {
    std::vector<std::string> names;
    for (const auto part : prepared.mask_parts) names.push_back(prepared.mesh.parts()[part].name);
    return names;
}

std::string number_text(double value) {
    char text[32];
    std::snprintf(text, sizeof text, "%.17g", value);
    return text;
}

// The PNG's own words: which pass it is, how to read it, and the numbers of its encoding.
PngInfo png_info(const Picture& picture, double px_per_mm) {
    std::string numbers;
    for (const auto& [name, value] : picture.numbers) {
        numbers += (numbers.empty() ? "" : "; ") + name + " = " + number_text(value);
    }
    return {px_per_mm * 1000.0,
            {{"Title", picture.name},
             {"Software", std::string("rakelight ") + version},
             {"Description", picture.meaning},
             {"Encoding", picture.encoding},
             {"Encoding numbers", numbers}}};
}

// Encodes and writes all pictures on all cores; the proof is one more task among them.
void write_pictures(const PreparedScene& prepared, const std::vector<Picture>& pictures,
                    const std::vector<BlankMask>& masks, const RenderedPlanes& planes,
                    bool with_proof, OutputSet& outputs) {
    std::vector<std::function<void()>> tasks;
    if (with_proof) {
        tasks.emplace_back(
            [&] { outputs.add("proof.png", proof_sheet(prepared, pictures, masks, planes)); });
    }
    for (const auto& picture : pictures) {
        tasks.emplace_back([&] {
            stop_if_interrupted();
            const auto info = png_info(picture, prepared.framing.grid.px_per_mm);
            outputs.add(picture.file, encode_png(picture.image, info));
        });
    }
    run_tasks(tasks);
}

void warn_of_hole(const VisibleSubject& visible, std::vector<std::string>& warnings) {
    if (visible.over_hole_mm2 <= 0.0) return;
    char text[96];
    std::snprintf(text, sizeof text, "%.2f mm2 of the subject lie where the hole will be",
                  visible.over_hole_mm2);
    warnings.emplace_back(text);
}

}  // namespace

std::vector<std::string> PreparedScene::warnings() const {
    std::vector<std::string> all = scene.warnings;
    const auto& model = mesh.facts().warnings;
    all.insert(all.end(), model.begin(), model.end());
    all.insert(all.end(), framing.warnings.begin(), framing.warnings.end());
    return all;
}

PreparedScene prepare_scene(Scene scene, LoadOptions load) {
    Stopwatch watch;
    load.normals = scene.model.normals;
    load.crease_deg = scene.model.crease_deg;
    Mesh mesh = load_model(scene.model.file, load);
    const double load_s = watch.lap();
    auto used = used_parts(scene.model, mesh);
    std::vector<std::uint32_t> masks;
    if (scene.passes.parts) {
        masks = parts_matching(scene.passes.parts->names, mesh, "[pass.parts] names");
    }
    Framing framing = frame(scene, mesh, used);
    return {std::move(scene),   std::move(mesh), std::move(used), std::move(masks),
            std::move(framing), load_s,          watch.lap()};
}

RenderedScene render_scene(const PreparedScene& prepared, Renderer& renderer,
                           const GraphicsFacts& graphics, const RenderOptions& options) {
    RenderedScene done;
    done.warnings = prepared.warnings();
    const BlankGeometry blank(prepared.scene.blank);
    const auto masks = blank_masks(blank, prepared.framing.grid);

    tell(options, "uploading the model");
    Stopwatch watch;
    renderer.set_mesh(prepared.mesh, prepared.used);
    done.times.upload_s = watch.lap();
    tell(options, "rendering");
    RenderedPlanes planes = renderer.render(request_of(prepared, blank), &done.times.render);
    done.visible = measure_visible(planes, masks, prepared.framing.grid.px_per_mm);
    const SubjectOnBlank& subject = prepared.framing.subject;
    flatten_rounding(planes, done.visible, subject.near_mm - subject.far_mm);
    warn_of_hole(done.visible, done.warnings);

    tell(options, "encoding");
    watch.lap();
    const auto pictures =
        make_pictures(prepared.scene, blank, masks, planes, done.visible, mask_names(prepared));
    refuse_clipping(pictures, done.warnings);
    done.times.encode_s = watch.lap();

    tell(options, "writing");
    OutputSet outputs(options.folder);
    write_pictures(prepared, pictures, masks, planes, options.proof, outputs);
    outputs.add("manifest.json",
                manifest_text(prepared, pictures, done.visible, graphics, done.warnings));
    done.times.write_s = watch.lap();
    outputs.add("timings.json", timings_text(prepared, done.times));
    stop_if_interrupted();
    outputs.commit({"timings.json", "manifest.json"});

    for (const auto& picture : pictures) done.files.push_back(picture.file);
    if (options.proof) done.files.emplace_back("proof.png");
    done.files.insert(done.files.end(), {"timings.json", "manifest.json"});
    return done;
}

}  // namespace rakelight
