#pragma once
// One scene from its file to its finished outputs.

#include <filesystem>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "batch/picture.hpp"
#include "batch/recipe_inputs.hpp"
#include "batch/row_taker.hpp"
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
    std::shared_ptr<const RecipeInputs> recipe = no_recipe_inputs();  ///< never null

    /// What the scene, the model and the framing have to say, in that order.
    std::vector<std::string> warnings() const;
};

/// A scene with its model, before anything is framed.
struct LoadedScene {
    Scene scene;
    Mesh mesh;
    std::vector<bool> used;                  ///< one flag per part
    std::vector<std::uint32_t> mask_parts;   ///< parts that get a mask
    std::shared_ptr<const Subject> subject;  ///< of the used parts; never null
    double load_s = 0.0;
    double subject_s = 0.0;                                           ///< to make the subject
    std::shared_ptr<const RecipeInputs> recipe = no_recipe_inputs();  ///< never null
};

/// Call it before a graphics context exists (the import forks).
/// @param load  limits and cache; how the file is read comes from the scene
/// Throws what load_model, used_parts, parts_matching and recipe_inputs throw.
LoadedScene load_scene(Scene scene, LoadOptions load);

/// Loads and frames. Call it before a graphics context exists (the import forks).
/// @param load  limits and cache; how the file is read comes from the scene
/// Throws what read_scene, load_model and frame throw.
PreparedScene prepare_scene(Scene scene, LoadOptions load);

/// The loaded scene in a pose; a camera that the scene has locked is left aside.
/// Throws what frame throws.
PreparedScene prepare_pose(const LoadedScene& loaded, const PoseCandidate& candidate,
                           double px_per_mm);

/// Throws Error(unusable_picture) when the subject is flat and seen along its face.
void refuse_edge_on(const PreparedScene& prepared);

/// What a renderer is asked for without any pass: coverage, height and normal.
RenderRequest picture_request(const PreparedScene& prepared);

/// What a renderer is asked for.
RenderRequest render_request(const PreparedScene& prepared, const BlankGeometry& blank);

/// What a renderer is asked for where only the scene's relief is wanted. It must have one.
RenderRequest relief_request(const PreparedScene& prepared, const BlankGeometry& blank);

struct RenderedScene;
struct Relief;
class OutputSet;

/// What somebody makes of a picture beside its passes, in the same set of files.
class Companion : public RowTaker {
public:
    /// Adds what it needs rendered.
    virtual void ask(RenderRequest&) const {}
    /// It shows the scene's relief, if there is one, which is mixed then, passes or not.
    virtual bool shows_relief() const { return false; }
    /// After the last row, when the passes are done: adds its files.
    /// @param done    complete but for the companion's files
    /// @param relief  null where it shows none
    virtual void write(OutputSet& outputs, const RenderedScene& done, const Relief* relief) = 0;
    /// The file that vouches for all others; the last to get its name.
    virtual std::string last_file() const = 0;
};

struct RenderOptions {
    std::filesystem::path folder;    ///< for the outputs; made when missing
    bool passes = true;              ///< write the passes, the manifest and timings.json
    bool proof = true;               ///< of the passes
    Companion* companion = nullptr;  ///< may be null
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

/// The names of the files that render_scene would write into the folder, in their order. Nothing is
/// rendered or written. Throws Error(unusable_picture) where the framing already shows that there
/// would be no picture.
std::vector<std::string> planned_files(const PreparedScene& prepared, bool proof);

/// Renders all passes and writes them with manifest.json, timings.json and proof.png: all or none.
/// Throws Error of the stage that failed; then the folder is as it was.
RenderedScene render_scene(const PreparedScene& prepared, Renderer& renderer,
                           const RenderOptions& options);

}  // namespace rakelight
