#pragma once
// Framing: from a scene and a mesh to the camera, and what can be said about the picture before it
// is rendered.

#include <string>
#include <string_view>
#include <vector>

#include "framing/blank.hpp"
#include "framing/camera.hpp"
#include "framing/subject.hpp"
#include "model/mesh.hpp"
#include "scene/scene.hpp"

namespace rakelight {

/// Where the subject lies on the blank. Lengths in mm; exact, from the model's own points.
struct SubjectOnBlank {
    glm::dvec2 low_mm{0.0};  ///< of its bounding box
    glm::dvec2 high_mm{0.0};
    double near_mm = 0.0;  ///< view z of its nearest and farthest point, seen or not
    double far_mm = 0.0;
    double outside_field_mm = 0.0;  ///< how far it reaches over the field's edge; 0: not at all
    double field_gap_mm = 0.0;      ///< from it to the field's edge; below 0: it reaches over
    double outside_image_mm = 0.0;  ///< how far it reaches over the picture's edge
    bool edge_on = false;           ///< it is flat and seen along its face: a line, no picture
    glm::dvec2 size_mm() const { return high_mm - low_mm; }
};

/// What a subject that is edge-on is told by.
inline constexpr std::string_view edge_on_text =
    "seen from this pose the subject is flat and edge-on, so that nothing of it shows; expected a "
    "view of its face: turn it by [pose] yaw_deg or pitch_deg, or set [model] up or front";

struct Framing {
    Camera camera;
    ImageGrid grid;
    SubjectOnBlank subject;
    bool locked = false;  ///< the camera is the scene's locked one
    std::vector<std::string>
        warnings;  ///< overshoots, a replaced model, a pose edited after a lock
};

/// The rotation from the model file's axes to view axes, the pose included.
glm::dmat3 view_from_model(const PoseSettings& pose, Axis up, std::optional<Axis> front);

/// The direction of an axis, a unit vector; and its name as scene files write it.
glm::dvec3 axis_vector(Axis axis);
std::string axis_name(Axis axis);
/// The axis of a name such as "+y". The name is valid: it comes from our own code.
Axis axis_from_name(const std::string& name);

/// One flag per part of the mesh: what `use` and `skip` leave.
/// Throws Error(bad_scene) when a pattern matches no part (naming the parts), or nothing is left.
std::vector<bool> used_parts(const ModelSettings& settings, const Mesh& mesh);

/// Part numbers whose names match any of the patterns, or whose materials match the rest of one
/// that begins with "material:". Throws as used_parts does; `key` is where the patterns stand in
/// the scene file.
std::vector<std::uint32_t> parts_matching(const std::vector<std::string>& patterns,
                                          const Mesh& mesh, const std::string& key);

/// Resolves the camera: the locked one, or pose and fit.
/// @param subject  of the mesh's used_parts
/// Throws Error(bad_scene) when nothing can be fitted (no room, or fit = none without a scale) or
/// the front lies along the up axis that the file states, and Error(unusable_picture) when the
/// subject lies wholly outside the picture or reaches the camera's eye.
Framing frame(const Scene& scene, const Mesh& mesh, const Subject& subject);
/// The same for a mesh that is framed once.
/// @param used  what used_parts gave
Framing frame(const Scene& scene, const Mesh& mesh, const std::vector<bool>& used);

/// The locked camera that `rakelight lock` writes for a framing.
LockedCamera locked_camera(const Scene& scene, const Mesh& mesh, const Camera& camera);

}  // namespace rakelight
