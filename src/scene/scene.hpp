#pragma once
// The scene: everything a scene file says, checked and with its defaults filled in. Plain data;
// later stages read it and never change it. Lengths are millimetres on the finished blank.

#include <array>
#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <glm/glm.hpp>

#include "scene/relief_settings.hpp"

namespace rakelight {

enum class BlankShape {
    round,      ///< a disc of width_mm
    oval,       ///< an ellipse
    rectangle,  ///< corners rounded by corner_radius_mm
    tag,        ///< straight sides, each short end one full half-round
};

struct HoleSettings {
    double diameter_mm = 3.0;
    double from_top_mm = 2.5;  ///< from the blank's topmost point down to the hole's centre
};

struct BlankSettings {
    BlankShape shape = BlankShape::round;
    double width_mm = 38.0;
    double height_mm = 38.0;
    double corner_radius_mm = 0.0;  ///< rectangle only
    double rim_mm = 0.0;  ///< width of the raised edge; the field is the blank less the rim
    std::optional<double> rim_height_mm;  ///< of its top over the field; empty: by its width
    double exergue_mm = 0.0;  ///< height of the field's lowest segment, kept free for the date
    std::optional<HoleSettings> hole;
};

/// One of the six directions of a model file's axes.
enum class Axis { plus_x, minus_x, plus_y, minus_y, plus_z, minus_z };

enum class NormalSource {
    automatic,  ///< the file's own where they are sound, made otherwise
    file,       ///< the file's own; made only where missing or broken
    made,       ///< always made from the faces, smooth up to the crease angle
};

/// Rules by which a coarse mesh, its cage, is made smooth.
enum class CageRule { none, catmull_clark, loop };

struct CageSettings {
    CageRule rule = CageRule::none;
    std::optional<int> times;   ///< 1 to 7; empty: until an edge is short enough
    double crease_deg = 180.0;  ///< edges at which the cage bends by more stay sharp
    /// times is empty: how long an edge may be, as a share of the longest side of the model's box.
    double edge_share = 1.0 / 1024.0;
};

/// Which moment of a model that can move is shown. As it stands here: as the file stands.
struct PosingSettings {
    bool rest = false;         ///< as the mesh was modelled, before any bone or shape moved it
    std::string clip;          ///< a clip's name, or its number from 1; empty: none
    double clip_time_s = 0.0;  ///< from the clip's own zero
    std::optional<int> frame;  ///< of a file of vertex frames, from 0
    std::map<std::string, double> shapes;  ///< weights in place of the file's or the clip's
    bool operator==(const PosingSettings&) const = default;
};

/// How a model's file is read: all that makes another mesh of the same file.
struct ReadingSettings {
    NormalSource normals = NormalSource::automatic;
    double crease_deg = 60.0;    ///< faces that meet at more than this stay sharp
    bool outside_files = false;  ///< the file may refer to others outside its folder
    CageSettings cage{};
    PosingSettings posing{};
    bool maps = true;         ///< read the pictures that hold surface detail
    bool green_down = false;  ///< in normal maps green points to the picture's foot
};

/// How the detail that is in a model's pictures is rendered.
struct TextureSettings {
    double strength = 1.0;  ///< factor on all heights and slopes
    double bump_mm = 0.15;  ///< what white lies over black in bump and displacement maps
    bool in_depth = false;  ///< it moves depth, beside normal, curvature and occlusion
};

/// Canonical text: equal settings give equal text, others another. The mesh cache's key has it.
std::string reading_text(const ReadingSettings& reading);

struct ModelSettings {
    std::filesystem::path file;   ///< absolute, resolved against the scene file
    std::string file_as_written;  ///< as it stands in the scene file, for messages and manifest
    std::optional<Axis> up;       ///< empty: what the file states, or its format's convention
    std::optional<Axis> front;    ///< the side that faces the viewer at yaw 0; empty: by `up`
    std::optional<double> mm_per_unit;  ///< from `unit`; empty: by the file or its format
    std::vector<std::string> use;       ///< part names, `*` and `?` allowed; empty: all
    std::vector<std::string> skip;      ///< taken away after `use`
    ReadingSettings reading;
    TextureSettings texture;
};

enum class Projection { parallel, perspective };

/// Turns of the model about the subject's centre, applied yaw first, then pitch, then roll.
struct PoseSettings {
    double yaw_deg = 0.0;    ///< about the up axis; positive turns the front to the viewer's right
    double pitch_deg = 0.0;  ///< positive tips the top towards the viewer
    double roll_deg = 0.0;   ///< positive is counter-clockwise as seen
    Projection projection = Projection::parallel;
    double view_deg = 30.0;  ///< perspective: the angle under which the blank's longer side is seen
};

enum class Fit { field, blank, none };

struct FramingSettings {
    Fit fit = Fit::field;
    double margin_mm = 0.8;         ///< kept free between the subject and the edge of what it fits
    bool clear_hole = true;         ///< fit below the hole rather than across it
    glm::dvec2 shift_mm{0.0, 0.0};  ///< after the fit; +x right, +y up
    double zoom = 1.0;              ///< after the fit, about the middle of what it fits
    std::optional<double> mm_per_unit;  ///< fit = none: size of one model unit on the blank
};

/// A pose to try.
struct PoseCandidate {
    std::string name;  ///< unique; letters, digits and .+-_ alone, so that it can name a folder
    PoseSettings pose;
    double zoom = 1.0;
};

/// The poses that a sweep tries; see pose_candidates().
struct PosesSettings {
    std::vector<PoseCandidate> named;  ///< with what they leave out taken from [pose], [framing]
    /// Values for each combination; a key that is empty keeps the scene's own value.
    std::vector<double> yaw_deg, pitch_deg, roll_deg, view_deg, zoom;
};

enum class Covers { blank, field };

struct ImageSettings {
    Covers covers = Covers::blank;
    double px_per_mm = 40.0;
    int samples = 4;  ///< supersampling per axis, 1 to 8
};

struct DepthPass {
    double near_margin = 0.01;  ///< share of the code range kept free above the nearest point
    double far_margin = 0.01;   ///< share kept free below the farthest point
    /// Fixed range instead of the image's own extremes: {near, far}, distance along the view axis
    /// from the plane through the subject's centre, away from the viewer positive.
    std::optional<std::array<double, 2>> range_mm;
    bool allow_clipping = false;
};
struct OcclusionPass {
    std::optional<double> reach_mm;  ///< empty: an eighth of the field's shorter side
};
struct CurvaturePass {
    double scale_mm = 0.15;
    std::optional<double> h_max_per_mm;  ///< empty: the image's own largest |H|
    bool allow_clipping = false;
};
struct SilhouettePass {};
struct ContourPass {
    std::optional<double> step_mm;  ///< smallest inner depth step drawn; empty: 2 % of the field's
                                    ///< shorter side
};
struct NormalPass {};
struct BlankPass {};
struct UndercutPass {
    double least_mm = 0.01;         ///< a gap must be as wide as this to be one
    std::optional<double> most_mm;  ///< empty: the image's own largest
    bool allow_clipping = false;
};
struct SteepPass {
    double draft_deg = 5.0;    ///< between a wall and the view axis; less than this is steep
    double depth_scale = 1.0;  ///< what the relief will make of the depth: 0.2 is a fifth of it
};
struct PartsPass {
    std::vector<std::string> names;  ///< one mask each; `*` and `?` allowed
    bool depth = false;              ///< each part's own depth too, in its own range
};

/// The passes to render; an empty optional is a pass that the scene does not ask for.
struct PassSettings {
    std::optional<DepthPass> depth;
    std::optional<OcclusionPass> occlusion;
    std::optional<CurvaturePass> curvature;
    std::optional<SilhouettePass> silhouette;
    std::optional<ContourPass> contour;
    std::optional<NormalPass> normal;
    std::optional<BlankPass> blank;
    std::optional<UndercutPass> undercut;
    std::optional<SteepPass> steep;
    std::optional<PartsPass> parts;
};

/// A camera as `rakelight lock` wrote it. View space: +x right, +y up, +z to the viewer, in mm on
/// the blank; see framing/camera.hpp for the meaning of each number.
struct LockedCamera {
    Projection projection = Projection::parallel;
    glm::dmat3 view_from_model{1.0};  ///< a rotation
    glm::dvec3 centre_model{0.0};     ///< in model units, the file's own axes
    double mm_per_unit = 1.0;
    glm::dvec2 picture_mm{0.0};  ///< where the view axis meets the blank, from its middle
    double eye_mm = 0.0;         ///< perspective: eye to the plane through the centre
    std::string model_hash;      ///< of the model's file when it was locked
    std::string settings_hash;   ///< of model.up, pose, framing and blank when it was locked
};

struct Scene {
    std::filesystem::path path;  ///< the scene file, absolute
    std::string name;            ///< the file's stem; outputs are called by it
    BlankSettings blank;
    ModelSettings model;
    PoseSettings pose;
    FramingSettings framing;
    ImageSettings image;
    PassSettings passes;
    PosesSettings poses;
    std::optional<ReliefSettings> relief;                ///< empty: no height map is mixed
    std::optional<std::filesystem::path> output_folder;  ///< absolute; empty: the command decides
    std::string output_files = "{pass}";                 ///< what they are called, see output_name
    std::optional<LockedCamera> locked;
    /// Canonical text of [blank], [model], [framing], [image] and [pass], overrides included: two
    /// scenes of equal content and pose give the same pictures of the same model.
    std::string content;
    std::vector<std::string> warnings;
};

/// One `--set key=value`: the key dotted (`pose.yaw_deg`), the value as TOML, or a bare word that
/// is taken as a string.
struct Override {
    std::string key;
    std::string value;
};

/// Splits "key=value". Throws Error(wrong_use) when there is no key or no "=".
Override parse_override(const std::string& text);

/// Reads and checks a scene file.
/// @param path       the scene file
/// @param overrides  applied in order before checking
/// Throws Error(bad_scene) with "path:line:column: what was found, what was expected": the first
/// fault in the file's order. Unknown keys name the nearest known key of that table. A fault that
/// an override brought in is reported at "--set key=value". Warnings go to Scene::warnings.
Scene read_scene(const std::filesystem::path& path, const std::vector<Override>& overrides = {});

/// The same from text in memory; `path` is used for messages and to resolve relative paths.
Scene parse_scene(const std::string& text, const std::filesystem::path& path,
                  const std::vector<Override>& overrides = {});

/// All poses to try: the named ones, then each combination of the values, the first key slowest,
/// called by them ("yaw20_pitch-15"). Empty when the scene has none.
std::vector<PoseCandidate> pose_candidates(const Scene& scene);

/// 16 hex digits of XXH3-64.
std::string text_hash(std::string_view text);

/// A hash (as text_hash) over all that a locked camera came from: model.up, front, use,
/// skip and what is shown of its clips and shapes, pose, framing and blank. Equal settings give
/// equal hashes on every machine.
std::string settings_hash(const Scene& scene);

/// What a file of the scene's is called in its folder: Scene::output_files with its fields {scene}
/// and {pass} filled in, then the ending.
/// @param pass    "depth"; also "manifest", "proof" and "timings"
/// @param ending  ".png"
std::string output_name(const Scene& scene, std::string_view pass, std::string_view ending);

}  // namespace rakelight
