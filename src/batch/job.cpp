#include "batch/job.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "batch/manifest.hpp"
#include "batch/proof_sheet.hpp"
#include "batch/relief_files.hpp"
#include "batch/tasks.hpp"
#include "batch/wall_passes.hpp"
#include "error.hpp"
#include "image/output_set.hpp"
#include "interrupt.hpp"
#include "model/posing.hpp"
#include "relief/recipe.hpp"
#include "stopwatch.hpp"
#include "version.hpp"

namespace rakelight {
namespace {

void tell(const RenderOptions& options, const std::string& step) {
    if (options.on_step) options.on_step(step);
    stop_if_interrupted();
}

std::vector<std::string> mask_names(const PreparedScene& prepared) {
    std::vector<std::string> names;
    for (const auto part : prepared.mask_parts) names.push_back(prepared.mesh.parts()[part].name);
    return names;
}

bool shows_relief(const PreparedScene& prepared, const RenderOptions& options) {
    return prepared.scene.relief && options.companion != nullptr &&
           options.companion->shows_relief();
}

// Hands each stretch of rows to everything that is made of them, on all cores.
class RowDesk {
public:
    RowDesk(const PreparedScene& prepared, const BlankGeometry& blank, const RenderOptions& options,
            OutputSet& outputs)
        : grid_(prepared.framing.grid),
          blank_(blank),
          companion_(options.companion),
          meter_(grid_.px_per_mm) {
        const Scene& scene = prepared.scene;
        shows_relief_ = shows_relief(prepared, options);
        if (shows_relief_ || (scene.relief && options.passes)) {
            relief_ = std::make_shared<ReliefWork>(*scene.relief, prepared.recipe, blank, grid_);
        }
        if (!options.passes) return;
        passes_ = make_passes(scene, blank, mask_names(prepared), relief_,
                              {outputs, prepared.framing.grid, options.proof});
        if (options.proof) extras_.emplace(grid_);
    }

    void take(const RenderedPlanes& planes, int first_row) {
        const auto masks = blank_masks(blank_, grid_, first_row, planes.coverage.height);
        const PictureRows rows{planes, masks, first_row};
        std::vector<std::function<void()>> tasks;
        for (const auto& pass : passes_) {
            tasks.emplace_back([&] {
                stop_if_interrupted();
                pass->add(rows);
            });
        }
        if (relief_) tasks.emplace_back([&] { relief_->add(rows); });
        tasks.emplace_back([&] { meter_.add(planes, masks, first_row); });
        if (companion_ != nullptr) tasks.emplace_back([&] { companion_->add(rows); });
        if (extras_) {
            tasks.emplace_back([&] { extras_->add_lamp(rows); });
            tasks.emplace_back([&] { extras_->add_blank(rows); });
        }
        run_tasks(tasks);
    }

    VisibleSubject visible() const { return meter_.subject(); }

    /// Writes what had to wait for the whole picture.
    std::vector<Picture> settle(const VisibleSubject& visible) {
        for_passes([&](Pass& pass) { pass.settle(visible); }, {});
        std::vector<Picture> pictures;
        for (const auto& pass : passes_) pictures.push_back(pass->picture());
        return pictures;
    }

    /// Ends all files, and makes the proof and what else shows the relief meanwhile.
    void close(const Scene& scene, const RenderOptions& options, OutputSet& outputs) {
        for_passes([](Pass& pass) { pass.close(); },
                   [&] {
                       if (!extras_) return;
                       outputs.add(output_name(scene, "proof", ".png"),
                                   proof_sheet(scene.name, grid_, passes_, *extras_));
                   });
        if (!relief_ || !options.passes) return;
        // One after the other: each works on all cores.
        for (const ReliefFile& file : relief_files(scene, options.proof)) {
            stop_if_interrupted();
            outputs.add(file.file, file.bytes(*relief_));
        }
    }

    /// What the companion shows; null: no relief.
    const Relief* shown_relief() { return shows_relief_ ? &relief_->relief() : nullptr; }

private:
    template <typename Step>
    void for_passes(const Step& step, const std::function<void()>& beside) {
        std::vector<std::function<void()>> tasks;
        if (beside) tasks.push_back(beside);
        for (const auto& pass : passes_) {
            tasks.emplace_back([&] {
                stop_if_interrupted();
                step(*pass);
            });
        }
        run_tasks(tasks);
    }

    const ImageGrid& grid_;
    const BlankGeometry& blank_;
    std::shared_ptr<ReliefWork> relief_;
    std::vector<std::unique_ptr<Pass>> passes_;
    Companion* companion_;
    bool shows_relief_ = false;
    VisibleMeter meter_;
    std::optional<ProofExtras> extras_;
};

// One pixel as a share of what fills the field, rounded down to a power of two: then a cage is not
// subdivided anew for every small change of the resolution.
double one_pixel_share(const Scene& scene) {
    const glm::dvec2 field_mm = BlankGeometry(scene.blank).field_size_mm();
    const double pixels = std::max(field_mm.x, field_mm.y) * std::max(scene.framing.zoom, 1.0) *
                          scene.image.px_per_mm;
    return std::exp2(-std::ceil(std::log2(std::max(pixels, 1.0))));
}

PreparedScene framed(LoadedScene loaded) {
    const Stopwatch watch;
    Framing framing = frame(loaded.scene, loaded.mesh, *loaded.subject);
    return {std::move(loaded.scene),
            std::move(loaded.mesh),
            std::move(loaded.used),
            std::move(loaded.mask_parts),
            std::move(framing),
            loaded.load_s,
            loaded.subject_s + watch.seconds(),
            std::move(loaded.recipe)};
}

void add_pass_warnings(RenderedScene& done) {
    for (const auto& picture : done.pictures) {
        for (const auto& warning : picture.warnings)
            done.warnings.push_back("the " + picture.name + " pass: " + warning);
    }
}

// In the order of writing.
// What stands beside the passes; the manifest vouches for all.
struct NamesBeside {
    explicit NamesBeside(const Scene& scene)
        : proof(output_name(scene, "proof", ".png")),
          timings(output_name(scene, "timings", ".json")),
          manifest(output_name(scene, "manifest", ".json")) {}
    std::string proof, timings, manifest;
};

std::vector<std::string> files_of(std::vector<std::string> passes, const Scene& scene,
                                  bool with_proof) {
    const NamesBeside names(scene);
    for (const ReliefFile& file : relief_files(scene, with_proof)) passes.push_back(file.file);
    if (with_proof) passes.push_back(names.proof);
    passes.insert(passes.end(), {names.timings, names.manifest});
    return passes;
}

std::vector<std::string> files_of(const std::vector<Picture>& pictures, const Scene& scene,
                                  const RenderOptions& options) {
    if (!options.passes) return {};
    std::vector<std::string> passes;
    for (const auto& picture : pictures) passes.push_back(picture.file);
    return files_of(std::move(passes), scene, options.proof);
}

// The last vouches for the others.
std::vector<std::string> last_files(const NamesBeside& names, const RenderOptions& options) {
    std::vector<std::string> last{names.timings, names.manifest};
    if (options.companion != nullptr) last.push_back(options.companion->last_file());
    return last;
}

RenderRequest request_of(const PreparedScene& prepared, const BlankGeometry& blank,
                         const RenderOptions& options) {
    RenderRequest request = picture_request(prepared);
    if (options.passes) {
        request = render_request(prepared, blank);
    } else if (shows_relief(prepared, options)) {
        request = relief_request(prepared, blank);
    }
    if (options.companion != nullptr) options.companion->ask(request);
    return request;
}

void warn_of_hole(const VisibleSubject& visible, std::vector<std::string>& warnings) {
    if (visible.over_hole_mm2 <= 0.0) return;
    char text[96];
    std::snprintf(text, sizeof text, "%.2f mm2 of the subject lie where the hole will be",
                  visible.over_hole_mm2);
    warnings.emplace_back(text);
}

}  // namespace

void refuse_edge_on(const PreparedScene& prepared) {
    if (prepared.framing.subject.edge_on)
        throw Error(ExitCode::unusable_picture, std::string(edge_on_text));
}

RenderRequest picture_request(const PreparedScene& prepared) {
    RenderRequest request;
    request.camera = prepared.framing.camera;
    request.grid = prepared.framing.grid;
    request.samples = prepared.scene.image.samples;
    request.texture = prepared.scene.model.texture;
    return request;
}

namespace {

// A recipe may use what the scene does not ask for as a pass; it gets the usual settings then.
void ask_for_layers(const ReliefSettings& relief, const BlankGeometry& blank,
                    RenderRequest& request) {
    const ReliefNeeds needs = needs_of(relief);
    if (needs.occlusion && !request.occlusion_reach_mm)
        request.occlusion_reach_mm = occlusion_reach_mm(OcclusionPass{}, blank);
    if (needs.curvature && !request.curvature_scale_mm)
        request.curvature_scale_mm = CurvaturePass{}.scale_mm;
    if (needs.contour && !request.contour_step_mm)
        request.contour_step_mm = contour_step_mm(ContourPass{}, blank);
    if (needs.undercut && !request.undercut_least_mm)
        request.undercut_least_mm = UndercutPass{}.least_mm;
    if (needs.steep && !request.steep_slope) request.steep_slope = steep_slope(SteepPass{});
}

}  // namespace

RenderRequest render_request(const PreparedScene& prepared, const BlankGeometry& blank) {
    const PassSettings& passes = prepared.scene.passes;
    RenderRequest request = picture_request(prepared);
    if (passes.occlusion) request.occlusion_reach_mm = occlusion_reach_mm(*passes.occlusion, blank);
    if (passes.curvature) request.curvature_scale_mm = passes.curvature->scale_mm;
    if (passes.contour) request.contour_step_mm = contour_step_mm(*passes.contour, blank);
    if (passes.undercut) request.undercut_least_mm = passes.undercut->least_mm;
    if (passes.steep) request.steep_slope = steep_slope(*passes.steep);
    if (prepared.scene.relief) ask_for_layers(*prepared.scene.relief, blank, request);
    request.mask_parts = prepared.mask_parts;
    request.mask_heights = passes.parts && passes.parts->depth;
    return request;
}

RenderRequest relief_request(const PreparedScene& prepared, const BlankGeometry& blank) {
    const ReliefSettings& relief = *prepared.scene.relief;
    const ReliefNeeds needs = needs_of(relief);
    RenderRequest request = render_request(prepared, blank);
    if (!needs.occlusion) request.occlusion_reach_mm.reset();
    if (!needs.curvature) request.curvature_scale_mm.reset();
    if (!needs.contour) request.contour_step_mm.reset();
    if (!needs.undercut) request.undercut_least_mm.reset();
    if (!needs.steep) request.steep_slope.reset();
    const bool parts = std::any_of(
        relief.sources.begin(), relief.sources.end(),
        [](const NamedSource& source) { return std::holds_alternative<PartSource>(source.what); });
    if (parts) return request;
    request.mask_parts.clear();
    request.mask_heights = false;
    return request;
}

std::vector<std::string> PreparedScene::warnings() const {
    std::vector<std::string> all = scene.warnings;
    const auto& model = mesh.facts().warnings;
    all.insert(all.end(), model.begin(), model.end());
    all.insert(all.end(), framing.warnings.begin(), framing.warnings.end());
    return all;
}

LoadedScene load_scene(Scene scene, LoadOptions load) {
    Stopwatch watch;
    load.reading = scene.model.reading;
    load.reading.cage.edge_share = one_pixel_share(scene);
    Mesh mesh = load_model(scene.model.file, load);
    const double load_s = watch.lap();
    if (const auto fault = posing_fault(load.reading.posing, mesh.facts().rig); !fault.empty())
        throw Error(ExitCode::bad_scene, "[model] " + fault);
    auto used = used_parts(scene.model, mesh);
    std::vector<std::uint32_t> masks;
    if (scene.passes.parts)
        masks = parts_matching(scene.passes.parts->names, mesh, "[pass.parts] names");
    auto recipe = std::make_shared<const RecipeInputs>(recipe_inputs(scene, mesh, masks));
    watch.lap();
    auto subject = std::make_shared<const Subject>(subject_of(mesh, used));
    return {std::move(scene),   std::move(mesh), std::move(used), std::move(masks),
            std::move(subject), load_s,          watch.lap(),     std::move(recipe)};
}

PreparedScene prepare_scene(Scene scene, LoadOptions load) {
    return framed(load_scene(std::move(scene), std::move(load)));
}

PreparedScene prepare_pose(const LoadedScene& loaded, const PoseCandidate& candidate,
                           double px_per_mm) {
    LoadedScene turned = loaded;
    turned.scene.pose = candidate.pose;
    turned.scene.framing.zoom = candidate.zoom;
    turned.scene.image.px_per_mm = px_per_mm;
    turned.scene.locked.reset();
    turned.subject_s = 0.0;                            // made once for all poses
    turned.scene.output_files = Scene{}.output_files;  // each pose has a folder of its own
    return framed(std::move(turned));
}

std::vector<std::string> planned_files(const PreparedScene& prepared, bool proof) {
    refuse_edge_on(prepared);
    const BlankGeometry blank(prepared.scene.blank);
    return files_of(pass_files(prepared.scene, blank, mask_names(prepared)), prepared.scene, proof);
}

RenderedScene render_scene(const PreparedScene& prepared, Renderer& renderer,
                           const RenderOptions& options) {
    refuse_edge_on(prepared);
    RenderedScene done;
    done.warnings = prepared.warnings();
    const BlankGeometry blank(prepared.scene.blank);
    const NamesBeside names(prepared.scene);
    OutputSet outputs(options.folder);
    RowDesk desk(prepared, blank, options, outputs);

    tell(options, "preparing the model");
    Stopwatch watch;
    renderer.set_mesh(prepared.mesh, prepared.used);
    done.times.upload_s = watch.lap();
    tell(options, "rendering");
    const RenderRequest request = request_of(prepared, blank, options);
    renderer.render(
        request,
        [&](const RenderedPlanes& rows, int first_row) {
            const Stopwatch taking;
            desk.take(rows, first_row);
            done.times.encode_s += taking.seconds();
        },
        &done.times.render);
    done.visible = desk.visible();
    const SubjectOnBlank& subject = prepared.framing.subject;
    flatten_rounding(done.visible, subject.near_mm - subject.far_mm);
    warn_of_hole(done.visible, done.warnings);

    tell(options, "writing");
    watch.lap();
    done.pictures = desk.settle(done.visible);
    refuse_clipping(done.pictures, done.warnings);
    add_pass_warnings(done);
    desk.close(prepared.scene, options, outputs);
    if (options.passes) {
        outputs.add(names.manifest, manifest_text(prepared, done.pictures, done.visible,
                                                  renderer.facts(request), done.warnings));
    }
    done.times.write_s = watch.lap();
    if (options.passes) outputs.add(names.timings, timings_text(prepared, done.times));
    done.files = files_of(done.pictures, prepared.scene, options);
    if (options.companion != nullptr) options.companion->write(outputs, done, desk.shown_relief());
    stop_if_interrupted();
    outputs.commit(last_files(names, options), {names.timings});
    return done;
}

}  // namespace rakelight
