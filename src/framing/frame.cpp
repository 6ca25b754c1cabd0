#include "framing/frame.hpp"

#include <algorithm>
#include <cstdio>
#include <limits>

#include "error.hpp"
#include "framing/placing.hpp"
#include "framing/projected_outline.hpp"

namespace rakelight {
namespace {

constexpr double seen_mm = 5e-4;  // an overshoot below this is rounding, not a picture

Camera camera_from_lock(const LockedCamera& locked) {
    return {locked.projection,  locked.view_from_model, locked.centre_model,
            locked.mm_per_unit, locked.picture_mm,      locked.eye_mm};
}

// The file's own front belongs to its own up.
std::optional<Axis> front_of(const Scene& scene, const Mesh& mesh, Axis up) {
    const ModelFacts& facts = mesh.facts();
    if (scene.model.front || facts.front.empty() || axis_name(up) != facts.up)
        return scene.model.front;
    return axis_from_name(facts.front);
}

// `up` may come from the model's file: then the scene's reader could not check `front` against it.
Camera camera_from_scene(const Scene& scene, const Mesh& mesh, const BlankGeometry& blank,
                         const Subject& subject) {
    const Axis up = scene.model.up.value_or(axis_from_name(mesh.facts().up));
    const auto front = front_of(scene, mesh, up);
    if (front && glm::dot(axis_vector(up), axis_vector(*front)) != 0.0) {
        throw Error(ExitCode::bad_scene,
                    "[model] front: found \"" + axis_name(*front) + "\", but " +
                        scene.model.file_as_written + " has its top at " + axis_name(up) + " (" +
                        mesh.facts().up_reason +
                        "); expected a front on another axis than up: set front, or up too");
    }
    return camera_from_pose(scene, blank, subject, view_from_model(scene.pose, up, front));
}

double outside_grid_mm(const ImageGrid& grid, glm::dvec2 p) {
    const double right = grid.left_mm + grid.width / grid.px_per_mm;
    const double bottom = grid.top_mm - grid.height / grid.px_per_mm;
    return std::max({grid.left_mm - p.x, p.x - right, p.y - grid.top_mm, bottom - p.y});
}

void refuse_behind_eye(const Camera& camera, double near_mm) {
    if (camera.projection == Projection::parallel || near_mm < 0.999 * camera.eye_mm) return;
    throw Error(ExitCode::unusable_picture,
                "the subject reaches the camera's eye; expected all of it in front: use a smaller "
                "view_deg, zoom or mm_per_unit");
}

// Corners come in single precision: what a line spans across is then some 1e-7 of its length.
bool is_line(const std::vector<HullCorner>& hull) {
    double doubled_area = 0.0, longest2 = 0.0;
    for (std::size_t i = 1; i < hull.size(); ++i) {
        const glm::dvec2 a = hull[i - 1].place - hull[0].place, b = hull[i].place - hull[0].place;
        doubled_area += a.x * b.y - a.y * b.x;
        longest2 = std::max(longest2, glm::dot(b, b));
    }
    return doubled_area <= 1e-6 * longest2;
}

SubjectOnBlank measure(const std::vector<glm::dvec3>& view, const Camera& camera,
                       const BlankGeometry& blank, const ImageGrid& grid) {
    const DepthRange depth = depth_range(view);
    refuse_behind_eye(camera, depth.near);
    SubjectOnBlank subject;
    subject.near_mm = depth.near;
    subject.far_mm = depth.far;
    subject.low_mm = glm::dvec2(std::numeric_limits<double>::max());
    subject.high_mm = glm::dvec2(std::numeric_limits<double>::lowest());
    subject.field_gap_mm = std::numeric_limits<double>::max();
    const auto hull = projected_hull(view, 1.0, camera.eye_mm);
    subject.edge_on = is_line(hull);
    for (const auto& corner : hull) {
        const glm::dvec2 p = corner.place + camera.picture_mm;
        subject.low_mm = glm::min(subject.low_mm, p);
        subject.high_mm = glm::max(subject.high_mm, p);
        subject.field_gap_mm = std::min(subject.field_gap_mm, -blank.field_distance_mm(p));
        subject.outside_image_mm = std::max(subject.outside_image_mm, outside_grid_mm(grid, p));
    }
    subject.outside_field_mm = std::max(-subject.field_gap_mm, 0.0);
    return subject;
}

std::string millimetres(double value) {
    char text[64];
    std::snprintf(text, sizeof text, "%.3f mm", value);
    return text;
}

// A subject that is fitted to the whole blank is meant to lie on the rim.
void warn_of_overshoot(const Scene& scene, const SubjectOnBlank& subject,
                       std::vector<std::string>& warnings) {
    const bool on_rim = scene.framing.fit == Fit::blank;
    const double outside = subject.outside_field_mm - (on_rim ? scene.blank.rim_mm : 0.0);
    if (outside > seen_mm) {
        warnings.push_back("the subject reaches " + millimetres(outside) +
                           " over the edge of the " + (on_rim ? "blank" : "field"));
    }
    if (subject.outside_image_mm > seen_mm) {
        warnings.push_back("the subject reaches " + millimetres(subject.outside_image_mm) +
                           " over the edge of the picture and is cut there");
    }
}

void warn_of_lock(const Scene& scene, const Mesh& mesh, std::vector<std::string>& warnings) {
    if (scene.locked->model_hash != mesh.hash()) {
        warnings.push_back("the model's file is not the one the camera was locked on (" +
                           scene.model.file_as_written +
                           " was replaced or edited); the locked camera is kept");
    }
    if (scene.locked->settings_hash != settings_hash(scene)) {
        warnings.push_back(
            "blank, pose, framing or the model's axes and parts were edited after the camera was "
            "locked; the locked camera is kept: `rakelight lock --again` takes the edits over");
    }
}

void refuse_empty_picture(const SubjectOnBlank& subject, const ImageGrid& grid) {
    const double right = grid.left_mm + grid.width / grid.px_per_mm;
    const double bottom = grid.top_mm - grid.height / grid.px_per_mm;
    const bool touches = subject.low_mm.x < right && subject.high_mm.x > grid.left_mm &&
                         subject.low_mm.y < grid.top_mm && subject.high_mm.y > bottom;
    if (touches) return;
    throw Error(ExitCode::unusable_picture,
                "nothing is in the picture: the subject lies wholly outside it; expected some of "
                "it inside: check [framing] shift_mm and zoom");
}

}  // namespace

Framing frame(const Scene& scene, const Mesh& mesh, const std::vector<bool>& used) {
    return frame(scene, mesh, subject_of(mesh, used));
}

Framing frame(const Scene& scene, const Mesh& mesh, const Subject& subject) {
    const BlankGeometry blank(scene.blank);
    Framing framing;
    framing.grid = make_grid(blank, scene.image);
    framing.locked = scene.locked.has_value();
    if (framing.locked) {
        framing.camera = camera_from_lock(*scene.locked);
        warn_of_lock(scene, mesh, framing.warnings);
    } else {
        framing.camera = camera_from_scene(scene, mesh, blank, subject);
    }
    auto view = subject.points;
    for (auto& point : view) point = framing.camera.view_mm(point);
    framing.subject = measure(view, framing.camera, blank, framing.grid);
    refuse_empty_picture(framing.subject, framing.grid);
    if (framing.subject.edge_on) framing.warnings.emplace_back(edge_on_text);
    warn_of_overshoot(scene, framing.subject, framing.warnings);
    return framing;
}

LockedCamera locked_camera(const Scene& scene, const Mesh& mesh, const Camera& camera) {
    return {camera.projection, camera.view_from_model, camera.centre_model, camera.mm_per_unit,
            camera.picture_mm, camera.eye_mm,          mesh.hash(),         settings_hash(scene)};
}

}  // namespace rakelight
