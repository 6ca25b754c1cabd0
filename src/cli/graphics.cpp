// rakelight graphics: which context and driver is used, and its limits.

#include <CLI/CLI.hpp>
#include <cstdio>
#include <memory>
#include <nlohmann/json.hpp>

#include "cli/commands.hpp"
#include "cli/options.hpp"

namespace rakelight {
namespace {

struct GraphicsOptions {
    TalkOptions talk;
    DeviceChoice choice = DeviceChoice::automatic;
};

void print_json(const GraphicsFacts& facts) {
    nlohmann::ordered_json json = {{"context", facts.way},
                                   {"vendor", facts.vendor},
                                   {"renderer", facts.renderer},
                                   {"software", facts.software},
                                   {"opengl", facts.gl_version},
                                   {"glsl", facts.glsl_version},
                                   {"max_texture_px", facts.max_texture_px},
                                   {"max_viewport_px", facts.max_viewport_px},
                                   {"max_uniform_block_bytes", facts.max_uniform_block_bytes}};
    json["tried"] = nlohmann::ordered_json::array();
    for (const auto& attempt : facts.attempts) {
        json["tried"].push_back(
            {{"way", attempt.way}, {"taken", attempt.taken}, {"outcome", attempt.outcome}});
    }
    std::puts(json.dump(2).c_str());
}

void print_driver(const GraphicsFacts& facts) {
    std::printf("renderer   %s%s\n", facts.renderer.c_str(),
                facts.software ? ", on the processor" : "");
    std::printf("vendor     %s\n", facts.vendor.c_str());
    std::printf("OpenGL     %s\n", facts.gl_version.c_str());
    std::printf("GLSL       %s\n", facts.glsl_version.c_str());
    std::printf("limits     textures to %d px, viewports to %d px, uniform blocks to %d bytes\n",
                facts.max_texture_px, facts.max_viewport_px, facts.max_uniform_block_bytes);
}

void print_text(const GraphicsFacts& facts) {
    std::printf("context    %s\n", facts.way.c_str());
    if (!facts.renderer.empty()) print_driver(facts);
    std::printf("tried\n");
    for (const auto& attempt : facts.attempts) {
        std::printf("  %s: %s\n", attempt.way.c_str(), attempt.outcome.c_str());
    }
}

}  // namespace

void add_graphics(CLI::App& app, Command& command) {
    auto options = std::make_shared<GraphicsOptions>();
    CLI::App* sub = app.add_subcommand(
        "graphics", "Say what draws here: a GPU or the processor, its limits, what was tried");
    add_talk_options(*sub, options->talk);
    add_context_option(*sub, options->choice);
    sub->footer("Example:\n  rakelight graphics --context egl");
    sub->final_callback([options, &command] {
        command = [options] {
            const DeviceRenderer renderer(options->choice);
            if (options->talk.json) {
                print_json(renderer.facts());
            } else {
                print_text(renderer.facts());
            }
        };
    });
}

}  // namespace rakelight
