#include "framing/frame.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <functional>
#include <limits>
#include <set>

#include "error.hpp"
#include "framing/fit.hpp"
#include "framing/outline_hull.hpp"

namespace rakelight {
namespace {

constexpr double closest_to_eye = 0.98;  // of the eye's distance, for the subject's nearest point
constexpr double seen_mm = 5e-4;         // an overshoot below this is rounding, not a picture

// The points of the parts in use, turned to view axes about the subject's centre, model units.
class TurnedSubject {
public:
    TurnedSubject(const Mesh& mesh, const std::vector<bool>& used, const glm::dmat3& turn);
    glm::dvec3 centre() const { return centre_; }
    const std::vector<glm::dvec3>& points() const { return points_; }
    double nearest() const { return nearest_; }
    double farthest() const { return farthest_; }

private:
    glm::dvec3 centre_;
    std::vector<glm::dvec3> points_;
    double nearest_ = std::numeric_limits<double>::lowest();
    double farthest_ = std::numeric_limits<double>::max();
};

glm::dvec3 centre_of_parts(const Mesh& mesh, const std::vector<bool>& used) {
    Bounds all{glm::dvec3(std::numeric_limits<double>::max()),
               glm::dvec3(std::numeric_limits<double>::lowest())};
    for (std::size_t i = 0; i < used.size(); ++i) {
        if (!used[i]) continue;
        all.low = glm::min(all.low, mesh.parts()[i].bounds.low);
        all.high = glm::max(all.high, mesh.parts()[i].bounds.high);
    }
    return all.centre();
}

std::vector<bool> vertices_in_use(const Mesh& mesh, const std::vector<bool>& used) {
    const bool all = std::find(used.begin(), used.end(), false) == used.end();
    std::vector<bool> flags(mesh.vertices().size(), all);
    if (all) return flags;
    for (std::size_t i = 0; i < used.size(); ++i) {
        if (!used[i]) continue;
        const Part& part = mesh.parts()[i];
        const std::size_t first = std::size_t{3} * part.first_triangle;
        for (const auto index :
             mesh.indices().subspan(first, std::size_t{3} * part.triangle_count)) {
            flags[index] = true;
        }
    }
    return flags;
}

TurnedSubject::TurnedSubject(const Mesh& mesh, const std::vector<bool>& used,
                             const glm::dmat3& turn)
    : centre_(centre_of_parts(mesh, used)) {
    const auto flags = vertices_in_use(mesh, used);
    const auto vertices = mesh.vertices();
    points_.reserve(vertices.size());
    for (std::size_t i = 0; i < vertices.size(); ++i) {
        if (!flags[i]) continue;
        const auto& p = vertices[i].position;
        const glm::dvec3 point = turn * (glm::dvec3(p[0], p[1], p[2]) - centre_);
        nearest_ = std::max(nearest_, point.z);
        farthest_ = std::min(farthest_, point.z);
        points_.push_back(point);
    }
}

FitArea fit_area(const BlankGeometry& blank, const FramingSettings& framing) {
    const BlankSettings& settings = blank.settings();
    const double half_height = 0.5 * settings.height_mm;
    FitArea area;
    area.blank = &blank;
    area.inset_mm = framing.margin_mm + (framing.fit == Fit::field ? settings.rim_mm : 0.0);
    area.top_mm = half_height - area.inset_mm;
    area.bottom_mm = -area.top_mm;
    if (framing.fit == Fit::field && settings.exergue_mm > 0.0) {
        area.bottom_mm = blank.exergue_line_mm() + framing.margin_mm;
    }
    if (settings.hole && framing.clear_hole) {
        const double hole = blank.hole_centre_mm().y;
        const double clear = 0.5 * settings.hole->diameter_mm + framing.margin_mm;
        if (hole >= 0.0) area.top_mm = std::min(area.top_mm, hole - clear);
        if (hole < 0.0) area.bottom_mm = std::max(area.bottom_mm, hole + clear);
    }
    return area;
}

std::vector<glm::dvec2> places_of(const std::vector<HullCorner>& hull) {
    std::vector<glm::dvec2> places;
    for (const auto& corner : hull) places.push_back(corner.place);
    return places;
}

// Points in view units to the plane, for one scale; see Camera::blank_mm.
std::vector<glm::dvec2> project(const std::vector<glm::dvec3>& points, double mm_per_unit,
                                double eye_mm) {
    std::vector<glm::dvec2> places(points.size());
    for (std::size_t i = 0; i < points.size(); ++i) {
        const glm::dvec3 view = mm_per_unit * points[i];
        places[i] = glm::dvec2(view) * (eye_mm > 0.0 ? eye_mm / (eye_mm - view.z) : 1.0);
    }
    return places;
}

std::vector<HullCorner> hull_of(const std::vector<glm::dvec3>& points, double mm_per_unit,
                                double eye_mm) {
    auto hull = convex_hull(project(points, mm_per_unit, eye_mm));
    if (hull.size() >= 2) return hull;
    throw Error(ExitCode::unusable_picture,
                "seen from this pose the subject is a single point; expected a shape with an "
                "outline: check [model] use and [pose]");
}

PlaneFit fit_parallel(const std::vector<glm::dvec3>& points, const FitArea& area) {
    return fit_in_plane(places_of(hull_of(points, 1.0, 0.0)), area);
}

// Where a falling function crosses zero between low and high, by the Illinois variant of regula
// falsi.
double crossing(const std::function<double(double)>& f, double low, double high) {
    double f_low = f(low);
    double f_high = f(high);
    if (f_high >= 0.0) return high;
    for (int i = 0; i < 60 && high - low > 1e-12 * high; ++i) {
        const double x = (low * f_high - high * f_low) / (f_high - f_low);
        const double value = f(x);
        if (std::abs(value) < 1e-11) return x;
        if (value > 0.0) {
            low = x;
            f_low = value;
            f_high *= 0.5;
        } else {
            high = x;
            f_high = value;
            f_low *= 0.5;
        }
    }
    return 0.5 * (low + high);
}

// In perspective the scale says how near the subject stands to the eye; nearer is larger. Solved on
// the few points that were a corner of the hull at some scale tried so far, then checked on all.
PlaneFit fit_perspective(const TurnedSubject& subject, const FitArea& area, double eye_mm) {
    const double most = closest_to_eye * eye_mm / std::max(subject.nearest(), 1e-300);
    double scale = std::min(fit_parallel(subject.points(), area).scale, 0.9 * most);
    std::set<std::size_t> chosen;
    std::vector<glm::dvec3> candidates;
    for (int round = 0; round < 20; ++round) {
        const std::size_t before = chosen.size();
        for (const auto& corner : hull_of(subject.points(), scale, eye_mm)) {
            if (chosen.insert(corner.source).second) {
                candidates.push_back(subject.points()[corner.source]);
            }
        }
        if (chosen.size() == before) break;
        const auto room = [&](double s) {
            return std::log(largest_scale(places_of(hull_of(candidates, s, eye_mm)), area));
        };
        scale = crossing(room, 1e-3 * scale, most);
    }
    const PlaneFit fit = fit_in_plane(places_of(hull_of(subject.points(), scale, eye_mm)), area);
    return {scale, fit.offset_mm};
}

double eye_distance_mm(const Scene& scene) {
    if (scene.pose.projection == Projection::parallel) return 0.0;
    const double side = std::max(scene.blank.width_mm, scene.blank.height_mm);
    return 0.5 * side / std::tan(0.5 * glm::radians(scene.pose.view_deg));
}

PlaneFit place(const Scene& scene, const TurnedSubject& subject, const FitArea& area) {
    if (scene.framing.fit == Fit::none) return {*scene.framing.mm_per_unit, area.middle_mm()};
    if (scene.pose.projection == Projection::parallel) return fit_parallel(subject.points(), area);
    return fit_perspective(subject, area, eye_distance_mm(scene));
}

Camera camera_from_pose(const Scene& scene, const TurnedSubject& subject, const glm::dmat3& turn,
                        const BlankGeometry& blank) {
    const FitArea area = fit_area(blank, scene.framing);
    const PlaneFit fit = place(scene, subject, area);
    const double zoom = scene.framing.zoom;
    Camera camera;
    camera.projection = scene.pose.projection;
    camera.view_from_model = turn;
    camera.centre_model = subject.centre();
    camera.mm_per_unit = zoom * fit.scale;
    camera.eye_mm = zoom * eye_distance_mm(scene);
    camera.picture_mm =
        area.middle_mm() + zoom * (fit.offset_mm - area.middle_mm()) + scene.framing.shift_mm;
    return camera;
}

Camera camera_from_lock(const LockedCamera& locked) {
    return {locked.projection,  locked.view_from_model, locked.centre_model,
            locked.mm_per_unit, locked.picture_mm,      locked.eye_mm};
}

// All points in view space of the camera, mm.
std::vector<glm::dvec3> view_points(const Mesh& mesh, const std::vector<bool>& used,
                                    const Camera& camera) {
    const auto flags = vertices_in_use(mesh, used);
    std::vector<glm::dvec3> points;
    points.reserve(flags.size());
    for (std::size_t i = 0; i < flags.size(); ++i) {
        const auto& p = mesh.vertices()[i].position;
        if (flags[i]) points.push_back(camera.view_mm({p[0], p[1], p[2]}));
    }
    return points;
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

SubjectOnBlank measure(const std::vector<glm::dvec3>& view, const Camera& camera,
                       const BlankGeometry& blank, const ImageGrid& grid) {
    SubjectOnBlank subject;
    subject.near_mm = std::numeric_limits<double>::lowest();
    subject.far_mm = std::numeric_limits<double>::max();
    for (const auto& point : view) {
        subject.near_mm = std::max(subject.near_mm, point.z);
        subject.far_mm = std::min(subject.far_mm, point.z);
    }
    refuse_behind_eye(camera, subject.near_mm);
    subject.low_mm = glm::dvec2(std::numeric_limits<double>::max());
    subject.high_mm = glm::dvec2(std::numeric_limits<double>::lowest());
    for (const auto& corner : hull_of(view, 1.0, camera.eye_mm)) {
        const glm::dvec2 p = corner.place + camera.picture_mm;
        subject.low_mm = glm::min(subject.low_mm, p);
        subject.high_mm = glm::max(subject.high_mm, p);
        subject.outside_field_mm = std::max(subject.outside_field_mm, blank.field_distance_mm(p));
        subject.outside_image_mm = std::max(subject.outside_image_mm, outside_grid_mm(grid, p));
    }
    return subject;
}

std::string millimetres(double value) {
    char text[64];
    std::snprintf(text, sizeof text, "%.3f mm", value);
    return text;
}

void warn_of_overshoot(const SubjectOnBlank& subject, std::vector<std::string>& warnings) {
    if (subject.outside_field_mm > seen_mm) {
        warnings.push_back("the subject reaches " + millimetres(subject.outside_field_mm) +
                           " over the edge of the field");
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

// `*` stands for any run of characters, `?` for one. After a mismatch only the last star needs
// another try, so that no pattern takes longer than both lengths multiplied.
bool matches(const std::string& pattern, const std::string& name) {
    std::size_t p = 0;
    std::size_t star = std::string::npos;
    std::size_t star_name = 0;
    for (std::size_t n = 0; n < name.size();) {
        if (p < pattern.size() && pattern[p] == '*') {
            star = p++;
            star_name = n;
        } else if (p < pattern.size() && (pattern[p] == '?' || pattern[p] == name[n])) {
            ++p;
            ++n;
        } else if (star != std::string::npos) {
            p = star + 1;
            n = ++star_name;
        } else {
            return false;
        }
    }
    return pattern.find_first_not_of('*', p) == std::string::npos;
}

std::string names_of(const Mesh& mesh) {
    std::string names;
    std::size_t listed = 0;
    for (const auto& part : mesh.parts()) {
        if (listed++ == 12) return names + ", ...";
        names += (names.empty() ? "" : ", ") + ("\"" + part.name + "\"");
    }
    return names;
}

}  // namespace

glm::dvec3 axis_vector(Axis axis) {
    const int index = static_cast<int>(axis);
    glm::dvec3 v(0.0);
    v[index / 2] = index % 2 == 0 ? 1.0 : -1.0;
    return v;
}

std::string axis_name(Axis axis) {
    static constexpr const char* names[] = {"+x", "-x", "+y", "-y", "+z", "-z"};
    return names[static_cast<int>(axis)];
}

Axis axis_from_name(const std::string& name) {
    for (int i = 0; i < 6; ++i) {
        if (axis_name(static_cast<Axis>(i)) == name) return static_cast<Axis>(i);
    }
    throw std::logic_error("no axis is called " + name);
}

glm::dmat3 view_from_model(const PoseSettings& pose, Axis up, std::optional<Axis> front) {
    // Where a file has z up, its front looks along -y; otherwise along +z, and for z down along +y:
    // the usual front views of the two conventions.
    Axis facing = Axis::plus_z;
    if (up == Axis::plus_z) facing = Axis::minus_y;
    if (up == Axis::minus_z) facing = Axis::plus_y;
    const glm::dvec3 y = axis_vector(up);
    const glm::dvec3 z = axis_vector(front.value_or(facing));
    const glm::dmat3 upright = glm::transpose(glm::dmat3(glm::cross(y, z), y, z));
    const auto sine = [](double deg) { return std::sin(glm::radians(deg)); };
    const auto cosine = [](double deg) { return std::cos(glm::radians(deg)); };
    const double sy = sine(pose.yaw_deg), cy = cosine(pose.yaw_deg);
    const double sp = sine(pose.pitch_deg), cp = cosine(pose.pitch_deg);
    const double sr = sine(pose.roll_deg), cr = cosine(pose.roll_deg);
    const glm::dmat3 yaw(cy, 0, -sy, 0, 1, 0, sy, 0, cy);  // columns
    const glm::dmat3 pitch(1, 0, 0, 0, cp, sp, 0, -sp, cp);
    const glm::dmat3 roll(cr, sr, 0, -sr, cr, 0, 0, 0, 1);
    return roll * pitch * yaw * upright;
}

std::vector<std::uint32_t> parts_matching(const std::vector<std::string>& patterns,
                                          const Mesh& mesh, const std::string& key) {
    std::set<std::uint32_t> found;
    for (const auto& pattern : patterns) {
        bool any = false;
        for (std::uint32_t i = 0; i < mesh.parts().size(); ++i) {
            if (!matches(pattern, mesh.parts()[i].name)) continue;
            found.insert(i);
            any = true;
        }
        if (any) continue;
        throw Error(ExitCode::bad_scene, key + ": found \"" + pattern +
                                             "\", which is the name of no part; expected one of " +
                                             names_of(mesh) + " (`rakelight inspect` lists them)");
    }
    return {found.begin(), found.end()};
}

std::vector<bool> used_parts(const ModelSettings& settings, const Mesh& mesh) {
    std::vector<bool> used(mesh.parts().size(), settings.use.empty());
    for (const auto part : parts_matching(settings.use, mesh, "[model] use")) used[part] = true;
    for (const auto part : parts_matching(settings.skip, mesh, "[model] skip")) used[part] = false;
    if (std::find(used.begin(), used.end(), true) != used.end()) return used;
    throw Error(ExitCode::bad_scene, "[model] use and skip leave no part of " +
                                         settings.file_as_written + "; expected at least one of " +
                                         names_of(mesh));
}

Framing frame(const Scene& scene, const Mesh& mesh, const std::vector<bool>& used) {
    const BlankGeometry blank(scene.blank);
    Framing framing;
    framing.grid = make_grid(blank, scene.image);
    framing.locked = scene.locked.has_value();
    if (framing.locked) {
        framing.camera = camera_from_lock(*scene.locked);
        warn_of_lock(scene, mesh, framing.warnings);
    } else {
        const Axis up = scene.model.up.value_or(axis_from_name(mesh.facts().up));
        const glm::dmat3 turn = view_from_model(scene.pose, up, scene.model.front);
        framing.camera = camera_from_pose(scene, TurnedSubject(mesh, used, turn), turn, blank);
    }
    const auto view = view_points(mesh, used, framing.camera);
    framing.subject = measure(view, framing.camera, blank, framing.grid);
    refuse_empty_picture(framing.subject, framing.grid);
    warn_of_overshoot(framing.subject, framing.warnings);
    return framing;
}

LockedCamera locked_camera(const Scene& scene, const Mesh& mesh, const Camera& camera) {
    return {camera.projection, camera.view_from_model, camera.centre_model, camera.mm_per_unit,
            camera.picture_mm, camera.eye_mm,          mesh.hash(),         settings_hash(scene)};
}

}  // namespace rakelight
