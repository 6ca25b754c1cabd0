#pragma once
// Private to framing/: from pose and fit to the camera.

#include "framing/blank.hpp"
#include "framing/camera.hpp"
#include "framing/subject.hpp"
#include "scene/scene.hpp"

namespace rakelight {

/// The camera that the scene's pose and framing ask for.
/// @param turn  the rotation from the model's axes to the view's
/// Throws Error(bad_scene) when there is no room for the subject, or fit = none has no scale.
Camera camera_from_pose(const Scene& scene, const BlankGeometry& blank, const Subject& subject,
                        const glm::dmat3& turn);

}  // namespace rakelight
