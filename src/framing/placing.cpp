#include "framing/placing.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <set>

#include "error.hpp"
#include "framing/fit.hpp"
#include "framing/projected_outline.hpp"

namespace rakelight {
namespace {

// The subject's nearest point comes no closer to the eye than this leaves, as a share of the eye's
// distance: else a subject that looks small from in front could be pulled into the eye.
constexpr double closest_to_eye = 0.98;
// A subject is scaled up by no more than this over parallel rays: one that lies wholly behind the
// plane through its middle shrinks with distance as it grows, and might never fill the area.
constexpr double most_foreshortening = 1e3;

FitArea fit_area(const BlankGeometry& blank, const FramingSettings& framing) {
    const BlankSettings& settings = blank.settings();
    const double half_height = 0.5 * settings.height_mm;
    if (framing.fit == Fit::none) return {&blank, 0.0, -half_height, half_height};
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
    places.reserve(hull.size());
    for (const auto& corner : hull) places.push_back(corner.place);
    return places;
}

PlaneFit fit_parallel(const std::vector<glm::dvec3>& points, const FitArea& area) {
    return fit_in_plane(places_of(projected_hull(points, 1.0, 0.0)), area);
}

// Where a falling function crosses zero between low and high, by the Illinois variant of regula
// falsi; `high` where it is still positive there.
double crossing(const std::function<double(double)>& f, double low, double high) {
    double f_high = f(high);
    if (f_high >= 0.0) return high;
    double f_low = f(low);
    for (int i = 0; i < 60; ++i) {
        const double x = (low * f_high - high * f_low) / (f_high - f_low);
        const double value = f(x);
        if (std::abs(value) < 0.1 * fit_slack) return x;
        double& near = value > 0.0 ? low : high;
        double& f_near = value > 0.0 ? f_low : f_high;
        double& f_other = value > 0.0 ? f_high : f_low;
        near = x;
        f_near = value;
        f_other *= 0.5;
    }
    return low;
}

// In perspective the scale says how near the subject stands to the eye.
class PerspectiveFit {
public:
    PerspectiveFit(const std::vector<glm::dvec3>& points, const FitArea& area, double eye_mm)
        : points_(points), area_(area), eye_mm_(eye_mm) {}

    // Solved on the few points that were a corner of the outline at some scale tried so far, until
    // no others are.
    PlaneFit solve() {
        const double parallel = fit_parallel(points_, area_).scale;
        double most = most_foreshortening * parallel;
        const double nearest = depth_range(points_).near;
        if (nearest * most > closest_to_eye * eye_mm_) most = closest_to_eye * eye_mm_ / nearest;
        double scale = std::min(parallel, most);
        while (add_corners(scale)) scale = largest_on_corners(most);
        const auto places = places_of(projected_hull(points_, scale, eye_mm_));
        return {scale, centred_offset_mm(places, area_, 1.0)};
    }

private:
    // Whether there were any new ones.
    bool add_corners(double scale) {
        const std::size_t before = corners_.size();
        for (const auto& corner : projected_hull(points_, scale, eye_mm_)) {
            if (sources_.insert(corner.source).second) corners_.push_back(points_[corner.source]);
        }
        return corners_.size() > before;
    }

    // By how much the corners at a scale could still grow in the plane, as a logarithm: nearly a
    // straight line over the logarithm of the scale, of slope -1 where rays are nearly parallel.
    double room(double scale) const {
        const auto places = places_of(projected_hull(corners_, scale, eye_mm_));
        return std::log(largest_scale(places, area_)) - fit_slack;
    }

    double largest_on_corners(double most) const {
        double low = most / most_foreshortening;
        while (room(low) <= 0.0) low /= most_foreshortening;
        const auto f = [&](double log_scale) { return room(std::exp(log_scale)); };
        return std::exp(crossing(f, std::log(low), std::log(most)));
    }

    const std::vector<glm::dvec3>& points_;
    const FitArea& area_;
    double eye_mm_;
    std::set<std::size_t> sources_;
    std::vector<glm::dvec3> corners_;
};

double eye_distance_mm(const Scene& scene) {
    if (scene.pose.projection == Projection::parallel) return 0.0;
    const double side = std::max(scene.blank.width_mm, scene.blank.height_mm);
    return 0.5 * side / std::tan(0.5 * glm::radians(scene.pose.view_deg));
}

PlaneFit fixed_size(const FramingSettings& framing, const FitArea& area) {
    if (framing.mm_per_unit) return {*framing.mm_per_unit, area.middle_mm()};
    throw Error(ExitCode::bad_scene,
                "[framing] fit: found \"none\" without mm_per_unit; expected the size of one "
                "model unit on the blank, as in mm_per_unit = 1.0");
}

PlaneFit place(const Scene& scene, const std::vector<glm::dvec3>& points, const FitArea& area) {
    if (scene.framing.fit == Fit::none) return fixed_size(scene.framing, area);
    if (scene.pose.projection == Projection::parallel) return fit_parallel(points, area);
    return PerspectiveFit(points, area, eye_distance_mm(scene)).solve();
}

}  // namespace

Camera camera_from_pose(const Scene& scene, const BlankGeometry& blank, const Subject& subject,
                        const glm::dmat3& turn) {
    auto points = subject.points;
    for (auto& point : points) point = turn * (point - subject.centre);
    const FitArea area = fit_area(blank, scene.framing);
    const PlaneFit fit = place(scene, points, area);
    const double zoom = scene.framing.zoom;
    Camera camera;
    camera.projection = scene.pose.projection;
    camera.view_from_model = turn;
    camera.centre_model = subject.centre;
    camera.mm_per_unit = zoom * fit.scale;
    camera.eye_mm = zoom * eye_distance_mm(scene);
    camera.picture_mm =
        area.middle_mm() + zoom * (fit.offset_mm - area.middle_mm()) + scene.framing.shift_mm;
    return camera;
}

}  // namespace rakelight
