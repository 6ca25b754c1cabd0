#pragma once
// One scene from its file to its finished outputs.

#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "batch/picture.hpp"
#include "batch/visible.hpp"
#include "framing/frame.hpp"
#include "model/load.hpp"
#include "render/renderer.hpp"

namespace rakelight {

/// A scene with its model loaded and its camera resolved: all that is known without rendering.
struct PreparedScene {
    Scene scene;
    Mesh mesh;
    std::vector<bool> used;                 ///< one flag per part
    std::vector<std::uint32_t> mask_parts;  ///< parts that get a mask
    Framing framing;
    double load_s = 0.0;
    double frame_s = 0.0;

    /// What the scene, the model and the framing have to say, in that order.
    std::vector<std::string> warnings() const;
};

/// Loads and frames. Call it before a graphics context exists (the import forks).
/// @param load  limits and cache; how the file is read comes from the scene
/// Throws what read_scene, load_model and frame throw.
PreparedScene prepare_scene(Scene scene, LoadOptions load);

/// What a renderer is asked for.
RenderRequest render_request(const PreparedScene& prepared, const BlankGeometry& blank);

struct RenderOptions {
    std::filesystem::path folder;  ///< for the outputs; made when missing
    bool proof = true;
    std::function<void(const std::string&)> on_step;  ///< told what begins; may be empty
};

struct StepTimes {
    RenderTimes render;
    double upload_s = 0.0;
    double encode_s = 0.0;
    double write_s = 0.0;
};

struct RenderedScene {
    VisibleSubject visible;
    std::vector<std::string> files;  ///< names within the folder, in the order of writing
    std::vector<Picture> pictures;
    std::vector<std::string> warnings;  ///< all, PreparedScene's included
    StepTimes times;
};

/// Renders all passes and writes them with manifest.json, timings.json and proof.png: all or none.
/// Throws Error of the stage that failed; then the folder is as it was.
RenderedScene render_scene(const PreparedScene& prepared, Renderer& renderer,
                           const RenderOptions& options);

}  // namespace rakelight
