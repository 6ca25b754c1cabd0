// rakelight check: everything that can be known without rendering.

#include <CLI/CLI.hpp>
#include <cstdio>
#include <memory>
#include <nlohmann/json.hpp>

#include "batch/job.hpp"
#include "batch/memory_need.hpp"
#include "cli/commands.hpp"
#include "cli/options.hpp"
#include "cli/terminal.hpp"
#include "model/import_need.hpp"

namespace rakelight {
namespace {

struct CheckCommand {
    TalkOptions talk;
    SceneOptions scenes;
    LoadOptions load;
};

std::vector<std::string> passes_of(const PassSettings& passes) {
    std::vector<std::string> names;
    const auto add = [&](const auto& pass, const char* name) {
        if (pass) names.emplace_back(name);
    };
    add(passes.depth, "depth");
    add(passes.occlusion, "occlusion");
    add(passes.curvature, "curvature");
    add(passes.silhouette, "silhouette");
    add(passes.contour, "contour");
    add(passes.normal, "normal");
    add(passes.undercut, "undercut");
    add(passes.steep, "steep");
    add(passes.parts, "parts");
    add(passes.blank, "blank");
    return names;
}

bool only_processor_draws(const PreparedScene& prepared) {
    return only_processor_draws(render_request(prepared, BlankGeometry(prepared.scene.blank)));
}

nlohmann::ordered_json relief_json(const std::optional<ReliefSettings>& relief) {
    if (!relief) return nullptr;
    return {{"height_mm", relief->height_mm},
            {"base_mm", relief->base_mm},
            {"layers", relief->layers.size()}};
}

std::uint64_t import_mib_of(const ModelSettings& model, const Mesh& mesh, LoadOptions load) {
    load.reading = model.reading;
    return mib_of(import_need(model.file, mesh.file_bytes(), load).bytes);
}

// What importing and rendering will take at the most, MiB.
struct Memory {
    Memory(const PreparedScene& prepared, const LoadOptions& load)
        : import_mib(import_mib_of(prepared.scene.model, prepared.mesh, load)),
          render_mib(mib_of(memory_need(prepared, true).total())),
          limit_mib(memory_limit_mib(load)) {}
    std::uint64_t import_mib, render_mib, limit_mib;
};

nlohmann::ordered_json json_of(const Memory& memory) {
    return {{"import_mib", memory.import_mib},
            {"render_mib", memory.render_mib},
            {"limit_mib", memory.limit_mib}};
}

nlohmann::ordered_json json_of(const PreparedScene& prepared, const Memory& memory) {
    const Framing& framing = prepared.framing;
    return {{"scene", prepared.scene.path.string()},
            {"width_px", framing.grid.width},
            {"height_px", framing.grid.height},
            {"triangles", prepared.mesh.triangle_count()},
            {"size_mm", {framing.subject.size_mm().x, framing.subject.size_mm().y}},
            {"depth_mm", framing.subject.near_mm - framing.subject.far_mm},
            {"mm_per_unit", framing.camera.mm_per_unit},
            {"outside_field_mm", framing.subject.outside_field_mm},
            {"outside_image_mm", framing.subject.outside_image_mm},
            {"locked", framing.locked},
            {"passes", passes_of(prepared.scene.passes)},
            {"relief", relief_json(prepared.scene.relief)},
            {"only_processor_draws", only_processor_draws(prepared)},
            {"memory", json_of(memory)},
            {"warnings", prepared.warnings()}};
}

void print_text(const PreparedScene& prepared, const Memory& memory) {
    const Framing& framing = prepared.framing;
    const glm::dvec2 size = framing.subject.size_mm();
    std::printf("%s: good%s\n", prepared.scene.name.c_str(), framing.locked ? ", locked" : "");
    std::printf("  picture   %d x %d px, %.4g px/mm\n", framing.grid.width, framing.grid.height,
                framing.grid.px_per_mm);
    std::printf("  subject   %s mm on the blank, %.2f mm deep, %.6g mm to a model unit\n",
                size_text(size.x, size.y, 2).c_str(),
                framing.subject.near_mm - framing.subject.far_mm, framing.camera.mm_per_unit);
    std::printf("  model     %s triangles in %zu part%s\n",
                count_text(prepared.mesh.triangle_count()).c_str(), prepared.mesh.parts().size(),
                prepared.mesh.parts().size() == 1 ? "" : "s");
    std::string passes;
    for (const auto& name : passes_of(prepared.scene.passes)) {
        passes += (passes.empty() ? "" : ", ") + name;
    }
    std::printf("  passes    %s%s\n", passes.c_str(),
                only_processor_draws(prepared) ? "; the processor draws them" : "");
    if (const auto& relief = prepared.scene.relief) {
        std::printf("  relief    %.4g mm high, %.4g mm over the field at its lowest; %zu layer%s\n",
                    relief->height_mm, relief->base_mm, relief->layers.size(),
                    relief->layers.size() == 1 ? "" : "s");
    }
    std::printf("  memory    at most %s MiB to import, %s MiB to render, one picture at a time\n",
                count_text(memory.import_mib).c_str(), count_text(memory.render_mib).c_str());
}

std::vector<std::string> beyond(const Memory& memory) {
    if (memory.render_mib <= memory.limit_mib) return {};
    return {"rendering may take up to " + std::to_string(memory.render_mib) + " MiB, and " +
            std::to_string(memory.limit_mib) +
            " MiB may be used: `render` will refuse; lower image.px_per_mm, leave passes out, or "
            "allow more with --memory"};
}

void run(const CheckCommand& options) {
    auto json = nlohmann::ordered_json::array();
    for (auto& scene : read_scenes(options.scenes)) {
        const PreparedScene prepared = prepare_scene(std::move(scene), options.load);
        say_warnings(options.talk, prepared.scene.name, prepared.warnings());
        const Memory memory(prepared, options.load);
        say_warnings(options.talk, prepared.scene.name, beyond(memory));
        json.push_back(json_of(prepared, memory));
        if (!options.talk.json && !options.talk.quiet) print_text(prepared, memory);
    }
    if (options.talk.json) std::puts(json.dump(2).c_str());
}

}  // namespace

void add_check(CLI::App& app, Command& command) {
    auto options = std::make_shared<CheckCommand>();
    CLI::App* sub = app.add_subcommand(
        "check", "Say everything that can be known without rendering: faults, sizes, overshoots");
    add_scene_options(*sub, options->scenes);
    add_load_options(*sub, options->load);
    add_talk_options(*sub, options->talk);
    sub->footer("Example:\n  rakelight check medal.toml tag.toml");
    sub->final_callback([options, &command] { command = [options] { run(*options); }; });
}

}  // namespace rakelight
