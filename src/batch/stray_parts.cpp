// Parts that came along: the ground that a figure stood on, the dome that lit it.

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

#include "batch/turnaround.hpp"
#include "framing/frame.hpp"
#include "scene/words.hpp"

namespace rakelight {
namespace {

// Shares chosen by what such parts look like; common practice has none.
constexpr double flat_share = 0.02;    // height of a ground over its shorter side
constexpr double sunk_share = 0.05;    // of the rest's height, that a ground may reach up
constexpr double larger = 1.2;         // than the rest, a ground is each way
constexpr double roomy = 0.9;          // of a dome's size, that the rest takes one way at the most
constexpr double shell_share = 0.1;    // how far a dome's vertices lie off its form
constexpr double most_vertices = 0.8;  // of a dome, that lie on its form

Bounds empty_box() {
    constexpr double most = std::numeric_limits<double>::max();
    return {glm::dvec3(most), glm::dvec3(-most)};
}

// x to the right, y up, z to the front.
Bounds turned(const Bounds& box, const glm::dmat3& upright) {
    const glm::dvec3 a = upright * box.low;
    const glm::dvec3 b = upright * box.high;
    return {glm::min(a, b), glm::max(a, b)};
}

Bounds together(const Bounds& a, const Bounds& b) {
    return {glm::min(a.low, b.low), glm::max(a.high, b.high)};
}

class StrayFinder {
public:
    StrayFinder(const Mesh& mesh, Axis up)
        : mesh_(mesh), upright_(view_from_model({}, up, std::nullopt)) {
        for (const auto& part : mesh.parts()) boxes_.push_back(turned(part.bounds, upright_));
        left_.assign(boxes_.size(), true);
    }

    // Takes one away, if there is one.
    std::optional<StrayPart> take() {
        if (std::count(left_.begin(), left_.end(), true) < 2) return std::nullopt;
        const std::vector<Bounds> after = boxes_after();
        Bounds before = empty_box();
        for (std::uint32_t i = 0; i < boxes_.size(); ++i) {
            if (!left_[i]) continue;
            const Bounds rest = together(before, after[i + 1]);
            before = together(before, boxes_[i]);
            const char* looks_like = nullptr;
            if (is_ground(boxes_[i], rest)) {
                looks_like = "a ground plane: it is flat, lies below everything else and is larger";
            } else if (encloses(boxes_[i], rest) && is_shell(i)) {
                looks_like = "a dome or a box around everything else";
            }
            if (looks_like == nullptr) continue;
            left_[i] = false;
            const std::string name = scene_file::toml_string(mesh_.parts()[i].name);
            return StrayPart{i, name + " looks like " + looks_like + ". To leave it out: skip = [" +
                                    name + "] in [model]"};
        }
        return std::nullopt;
    }

private:
    // Of the parts that are left: for each number the box around all from there on.
    std::vector<Bounds> boxes_after() const {
        std::vector<Bounds> after(boxes_.size() + 1, empty_box());
        for (std::size_t i = boxes_.size(); i-- > 0;)
            after[i] = left_[i] ? together(after[i + 1], boxes_[i]) : after[i + 1];
        return after;
    }

    static bool is_ground(const Bounds& box, const Bounds& rest) {
        const glm::dvec3 size = box.size();
        const glm::dvec3 other = rest.size();
        return size.y <= flat_share * std::min(size.x, size.z) &&
               box.high.y <= rest.low.y + sunk_share * other.y && size.x >= larger * other.x &&
               size.z >= larger * other.z;
    }

    static bool encloses(const Bounds& box, const Bounds& rest) {
        const glm::dvec3 spare = 0.01 * box.size();
        return glm::all(glm::lessThanEqual(box.low - spare, rest.low)) &&
               glm::all(glm::lessThanEqual(rest.high, box.high + spare)) &&
               glm::all(glm::greaterThan(box.size(), glm::dvec3(0.0))) &&
               glm::any(glm::lessThan(rest.size(), roomy * box.size()));
    }

    // Whether nearly all of a part's corners lie on one of the forms that a dome has.
    bool is_shell(std::uint32_t part) const {
        const Bounds& box = boxes_[part];
        const glm::dvec3 half = 0.5 * box.size();
        const glm::dvec3 foot(box.centre().x, box.low.y, box.centre().z);
        std::size_t on_ellipsoid = 0, on_half = 0, on_box = 0;
        const PartSurface surface = mesh_.surface(part);
        for (const std::uint32_t index : surface.indices()) {
            const glm::dvec3 at = upright_ * surface.point(index);
            const glm::dvec3 from_middle = (at - box.centre()) / half;
            const glm::dvec3 from_foot = (at - foot) / glm::dvec3(half.x, 2.0 * half.y, half.z);
            const glm::dvec3 out = glm::abs(from_middle);
            on_ellipsoid += std::fabs(glm::length(from_middle) - 1.0) < shell_share ? 1 : 0;
            on_half += std::fabs(glm::length(from_foot) - 1.0) < shell_share ? 1 : 0;
            on_box += std::max({out.x, out.y, out.z}) > 1.0 - shell_share ? 1 : 0;
        }
        const auto most = most_vertices * static_cast<double>(surface.indices().size());
        return static_cast<double>(std::max({on_ellipsoid, on_half, on_box})) >= most;
    }

    const Mesh& mesh_;
    glm::dmat3 upright_;
    std::vector<Bounds> boxes_;
    std::vector<bool> left_;
};

}  // namespace

std::vector<StrayPart> stray_parts(const Mesh& mesh, Axis up) {
    StrayFinder finder(mesh, up);
    std::vector<StrayPart> found;
    // A ground within a dome is found once the dome is away; a third is no scene any more.
    while (found.size() < 3) {
        const auto stray = finder.take();
        if (!stray) break;
        found.push_back(*stray);
    }
    return found;
}

}  // namespace rakelight
