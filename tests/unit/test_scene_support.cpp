#include "test_scene_support.hpp"

#include <iomanip>
#include <sstream>

namespace rakelight::test {

namespace {

class Dump {
public:
    template <typename T>
    void add(const char* name, const T& value) {
        out_ << name << " = ";
        put(value);
        out_ << '\n';
    }
    std::string text() const { return out_.str(); }

private:
    void put(double value) { out_ << std::hexfloat << value; }
    void put(int value) { out_ << value; }
    void put(bool value) { out_ << value; }
    void put(const std::string& value) { out_ << std::quoted(value); }
    void put(const std::filesystem::path& value) { out_ << value; }
    void put(const glm::dvec2& value) { put(std::array{value.x, value.y}); }
    void put(const glm::dvec3& value) { put(std::array{value.x, value.y, value.z}); }
    void put(const glm::dmat3& value) {
        for (int column = 0; column < 3; ++column) put(value[column]);
    }
    void put(const SourceChoice& value) { put(std::vector{int(value.pass), int(value.named)}); }
    void put(const NamedSource& value) {
        out_ << value.name << ' ' << value.what.index() << ' ';
        put(value.centre_mm);
        put(value.turn_deg);
        std::visit([this](const auto& what) { put_source(what); }, value.what);
    }
    void put_source(const ImageSource& source) {
        put(source.file);
        put(source.width_mm);
    }
    void put_source(const ShapeSource& source) {
        put(source.form);
        put(source.size_mm);
        put(std::array{source.corner_mm, source.soft_mm});
    }
    void put_source(const GradientSource& source) {
        put(source.form);
        put(source.from_mm);
        put(source.to_mm);
    }
    void put_source(const PartSource& source) {
        put(source.name);
        put(source.depth);
    }
    void put_source(const RegionSource& source) { put(source.name); }
    template <typename T>
    requires std::is_enum_v<T>
    void put(T value) { out_ << static_cast<int>(value); }
    template <typename T>
    void put(const std::optional<T>& value) {
        if (value) return put(*value);
        out_ << "none";
    }
    template <typename T, std::size_t N>
    void put(const std::array<T, N>& values) {
        for (const T& value : values) put(value), out_ << ' ';
    }
    template <typename T>
    void put(const std::vector<T>& values) {
        for (const T& value : values) put(value), out_ << ' ';
    }
    std::ostringstream out_;
};

void add_subject(Dump& out, const Scene& scene) {
    const BlankSettings& blank = scene.blank;
    out.add("shape", blank.shape);
    out.add("width", blank.width_mm);
    out.add("height", blank.height_mm);
    out.add("corner", blank.corner_radius_mm);
    out.add("rim", blank.rim_mm);
    out.add("rim height", blank.rim_height_mm);
    out.add("exergue", blank.exergue_mm);
    out.add("hole", blank.hole ? std::vector{blank.hole->diameter_mm, blank.hole->from_top_mm}
                               : std::vector<double>{});
    const ModelSettings& model = scene.model;
    out.add("file", model.file);
    out.add("as written", model.file_as_written);
    out.add("up", model.up);
    out.add("front", model.front);
    out.add("unit", model.mm_per_unit);
    out.add("use", model.use);
    out.add("skip", model.skip);
    out.add("normals", model.reading.normals);
    out.add("crease", model.reading.crease_deg);
    const PosingSettings& posing = model.reading.posing;
    out.add("rest", posing.rest);
    out.add("clip", posing.clip);
    out.add("clip time", posing.clip_time_s);
    out.add("frame", posing.frame);
    for (const auto& [name, weight] : posing.shapes) out.add(name.c_str(), weight);
}

void add_view(Dump& out, const Scene& scene) {
    out.add("yaw", scene.pose.yaw_deg);
    out.add("pitch", scene.pose.pitch_deg);
    out.add("roll", scene.pose.roll_deg);
    out.add("projection", scene.pose.projection);
    out.add("view", scene.pose.view_deg);
    const FramingSettings& framing = scene.framing;
    out.add("fit", framing.fit);
    out.add("margin", framing.margin_mm);
    out.add("clear hole", framing.clear_hole);
    out.add("shift", framing.shift_mm);
    out.add("zoom", framing.zoom);
    out.add("mm per unit", framing.mm_per_unit);
    out.add("covers", scene.image.covers);
    out.add("px", scene.image.px_per_mm);
    out.add("samples", scene.image.samples);
}

void add_passes(Dump& out, const PassSettings& passes) {
    if (passes.depth) {
        out.add("depth near", passes.depth->near_margin);
        out.add("depth far", passes.depth->far_margin);
        out.add("depth range", passes.depth->range_mm);
        out.add("depth clipping", passes.depth->allow_clipping);
    }
    if (passes.occlusion) out.add("occlusion", passes.occlusion->reach_mm);
    if (passes.curvature) {
        out.add("curvature scale", passes.curvature->scale_mm);
        out.add("curvature max", passes.curvature->h_max_per_mm);
        out.add("curvature clipping", passes.curvature->allow_clipping);
    }
    out.add("silhouette", passes.silhouette.has_value());
    if (passes.contour) out.add("contour", passes.contour->step_mm);
    out.add("normal", passes.normal.has_value());
    out.add("blank", passes.blank.has_value());
    if (passes.undercut) {
        out.add("undercut least", passes.undercut->least_mm);
        out.add("undercut most", passes.undercut->most_mm);
        out.add("undercut clipping", passes.undercut->allow_clipping);
    }
    if (passes.steep) {
        out.add("steep draft", passes.steep->draft_deg);
        out.add("steep scale", passes.steep->depth_scale);
    }
    if (passes.parts) {
        out.add("parts", passes.parts->names);
        out.add("parts depth", passes.parts->depth);
    }
}

void add_relief(Dump& out, const ReliefSettings& relief) {
    out.add("relief", std::array{relief.height_mm, relief.base_mm});
    out.add("relief ground", std::array{relief.dome_mm, relief.rim ? 1.0 : 0.0});
    out.add("relief as", std::array{relief.sunk, relief.mirrored, relief.floats});
    const FadeSettings& fade = relief.fade;
    out.add("fade", std::array{fade.edge_mm, fade.rim_mm, fade.rim_below_mm, fade.exergue_mm});
    out.add("fade line", fade.exergue_line_mm);
    out.add("sources", relief.sources);
    out.add("forms", std::array{relief.forms.squeeze, relief.forms.detail});
    out.add("forms sizes", std::array{relief.forms.detail_mm, relief.forms.lip_mm});
    for (const ReliefLayer& layer : relief.layers) {
        out.add("layer", layer.source);
        out.add("place", layer.place);
        out.add("mix", layer.mix);
        out.add("values", std::array{layer.blur_mm, layer.levels.black, layer.levels.white,
                                     layer.levels.gamma, layer.opacity, layer.amount_mm});
        out.add("clip", layer.clip_percent);
        out.add("curve", layer.curve);
        out.add("mask", layer.mask);
        out.add("mask reversed", layer.mask_reversed);
    }
}

void add_locked(Dump& out, const LockedCamera& camera) {
    out.add("projection", camera.projection);
    out.add("view from model", camera.view_from_model);
    out.add("centre", camera.centre_model);
    out.add("mm per unit", camera.mm_per_unit);
    out.add("picture", camera.picture_mm);
    out.add("eye", camera.eye_mm);
    out.add("model hash", camera.model_hash);
    out.add("settings hash", camera.settings_hash);
}

}  // namespace

std::string dump(const Scene& scene) {
    Dump out;
    out.add("path", scene.path);
    out.add("name", scene.name);
    add_subject(out, scene);
    add_view(out, scene);
    add_passes(out, scene.passes);
    if (scene.relief) add_relief(out, *scene.relief);
    out.add("output", scene.output_folder);
    out.add("files", scene.output_files);
    if (scene.locked) add_locked(out, *scene.locked);
    return out.text();
}

}  // namespace rakelight::test
