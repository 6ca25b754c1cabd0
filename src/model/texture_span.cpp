#include "model/texture_span.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "model/flat_mesh.hpp"

namespace rakelight {

PlaceFrame frame_of(const std::array<glm::dvec3, 3>& corners,
                    const std::array<glm::dvec2, 3>& places) {
    const glm::dvec3 b = corners[1] - corners[0], c = corners[2] - corners[0];
    const glm::dvec2 sb = places[1] - places[0], sc = places[2] - places[0];
    PlaceFrame frame;
    frame.area = 0.5 * glm::length(glm::cross(b, c));
    const double det = sb.x * sc.y - sc.x * sb.y;
    if (!(std::fabs(det) > 1e-20)) return frame;
    frame.signed_area = 0.5 * det;
    frame.along_s = (b * sc.y - c * sb.y) / det;
    frame.along_t = (c * sb.x - b * sc.x) / det;
    return frame;
}

namespace {

struct PlaceBox {
    glm::dvec2 low{std::numeric_limits<double>::max()};
    glm::dvec2 high{std::numeric_limits<double>::lowest()};
};

}  // namespace

MapSpan span_of(const Soup& soup, std::uint32_t detail, const DetailMap& map) {
    double area = 0.0, along_s = 0.0, along_t = 0.0;
    PlaceBox box;
    for (const PartRange& part : soup.parts) {
        if (part.detail != detail) continue;
        for (std::size_t i = 3 * std::size_t{part.first_triangle},
                         end = i + 3 * std::size_t{part.triangle_count};
             i < end; i += 3) {
            std::array<glm::dvec3, 3> corners;
            std::array<glm::dvec2, 3> places;
            for (std::size_t k = 0; k < 3; ++k) {
                corners[k] = soup.positions[soup.indices[i + k]];
                places[k] = soup.places[soup.indices[i + k]];
                box.low = glm::min(box.low, places[k]);
                box.high = glm::max(box.high, places[k]);
            }
            const PlaceFrame frame = frame_of(corners, places);
            if (frame.signed_area == 0.0 || !std::isfinite(frame.area)) continue;
            area += frame.area;
            along_s += frame.area * glm::length(frame.along_s);
            along_t += frame.area * glm::length(frame.along_t);
        }
    }
    if (!(area > 0.0 && along_s > 0.0 && along_t > 0.0)) return {};
    constexpr double beyond = 0.02;
    const bool leaves = box.low.x < -beyond || box.low.y < -beyond || box.high.x > 1.0 + beyond ||
                        box.high.y > 1.0 + beyond;
    return {along_s / area, along_t / area,
            leaves && map.wrap_u == Wrap::repeat && map.wrap_v == Wrap::repeat};
}

namespace {

double angle_between(glm::dvec3 a, glm::dvec3 b) {
    return std::atan2(glm::length(glm::cross(a, b)), glm::dot(a, b));
}

void add_triangle(const FlatMesh& mesh, std::size_t first, Array<glm::vec3>& sums) {
    std::array<glm::dvec3, 3> corners;
    std::array<glm::dvec2, 3> places;
    for (std::size_t k = 0; k < 3; ++k) {
        const std::uint32_t v = mesh.indices[first + k];
        const auto& p = mesh.vertices[v].position;
        corners[k] = {p[0], p[1], p[2]};
        places[k] = {mesh.detail_vertices[v].place[0], mesh.detail_vertices[v].place[1]};
    }
    const PlaceFrame frame = frame_of(corners, places);
    const double length = glm::length(frame.along_s);
    if (frame.signed_area == 0.0 || !(length > 0.0)) return;
    for (std::size_t k = 0; k < 3; ++k) {
        const glm::dvec3 ahead = corners[(k + 1) % 3] - corners[k];
        const glm::dvec3 behind = corners[(k + 2) % 3] - corners[k];
        sums[mesh.indices[first + k]] +=
            glm::vec3(frame.along_s * (angle_between(ahead, behind) / length));
    }
}

/// Square to the normal, of length 1, whatever is given.
glm::dvec3 square_to(glm::dvec3 normal, glm::dvec3 tangent) {
    tangent -= glm::dot(tangent, normal) * normal;
    if (glm::length(tangent) > 1e-6) return glm::normalize(tangent);
    const glm::dvec3 axis = std::fabs(normal.x) < 0.7 ? glm::dvec3(1, 0, 0) : glm::dvec3(0, 1, 0);
    return glm::normalize(axis - glm::dot(axis, normal) * normal);
}

}  // namespace

void add_tangents(FlatMesh& mesh) {
    Array<glm::vec3> sums;
    sums.resize(mesh.vertices.size());
    std::fill(sums.begin(), sums.end(), glm::vec3(0.0F));
    for (const Part& part : mesh.parts) {
        if (part.detail == no_detail) continue;
        for (std::uint32_t t = 0; t < part.triangle_count; ++t)
            add_triangle(mesh, 3 * (std::size_t{part.first_triangle} + t), sums);
    }
    for (std::size_t i = 0; i < sums.size(); ++i) {
        const glm::dvec3 normal = decode_octahedral(mesh.vertices[i].normal);
        mesh.detail_vertices[i].tangent = encode_octahedral(square_to(normal, sums[i]));
    }
}

}  // namespace rakelight
