#include "model/repair/file_normals.hpp"

#include <atomic>
#include <cmath>
#include <utility>

#include "model/parallel.hpp"
#include "model/repair/absent_normal.hpp"

namespace rakelight {
namespace {

constexpr std::size_t chunk_size = 1 << 14;

// Positive: the normal is on the side of the winding; negative: against it; 0: NaN, infinite or
// zero, or in the plane of the face.
double side(glm::vec3 normal, glm::vec3 face) {
    const double d = glm::dot(glm::dvec3(normal), glm::dvec3(face));
    return std::isfinite(d) ? d : 0.0;
}

bool is_direction(glm::vec3 normal) {
    const double length_2 = glm::dot(glm::dvec3(normal), glm::dvec3(normal));
    return std::isfinite(length_2) && length_2 > 1e-20;  // shorter than 1e-10 is no direction
}

/// Calls visit(triangle) for every triangle of the parts that have normals.
template <class Visit>
void for_shaded_triangles(const Surface& surface, const Visit& visit) {
    for (const PartRange& part : surface.parts) {
        if (!part.has_normals) continue;
        parallel_chunks(part.triangle_count, chunk_size, [&](auto, std::size_t i, std::size_t end) {
            visit(part.first_triangle + i, part.first_triangle + end);
        });
    }
}

// Per piece the number of corners whose normal is with the winding less those against it.
std::vector<std::atomic<std::int64_t>> vote(const Soup& soup, const Surface& surface) {
    std::vector<std::atomic<std::int64_t>> votes(surface.piece_count);
    for_shaded_triangles(surface, [&](std::size_t t, std::size_t last) {
        std::uint32_t piece = surface.pieces[t];
        std::int64_t sum = 0;
        for (; t < last; ++t) {
            if (surface.pieces[t] != piece) votes[piece] += std::exchange(sum, 0);
            piece = surface.pieces[t];
            const glm::vec3 face = surface.normal(t);
            for (std::size_t c = 3 * t; c < 3 * t + 3; ++c) {
                const double s = side(soup.normals[surface.vertices[c]], face);
                sum += (s > 0.0) - (s < 0.0);
            }
        }
        votes[piece] += sum;
    });
    return votes;
}

}  // namespace

FileNormals judge_file_normals(const Soup& soup, const Surface& surface) {
    FileNormals own;
    const auto votes = vote(soup, surface);
    own.signs.resize(votes.size());
    for (std::size_t i = 0; i < votes.size(); ++i) own.signs[i] = votes[i] < 0 ? -1.0f : 1.0f;
    own.sound.assign(surface.points.size(), 0);
    std::atomic<std::uint64_t> broken{0}, missing{0};
    for_shaded_triangles(surface, [&](std::size_t t, std::size_t last) {
        std::uint64_t unsound = 0, absent = 0;
        for (; t < last; ++t) {
            const glm::vec3 face = own.signs[surface.pieces[t]] * surface.normal(t);
            for (std::size_t c = 3 * t; c < 3 * t + 3; ++c) {
                const glm::vec3 normal = soup.normals[surface.vertices[c]];
                own.sound[c] = is_direction(normal) && side(normal, face) >= 0.0;
                unsound += own.sound[c] == 0;
                absent += normal == absent_normal;
            }
        }
        broken += unsound - absent;
        missing += absent;
    });
    own.broken = broken;
    own.missing = missing;
    for (const PartRange& part : surface.parts)
        if (!part.has_normals) own.missing += 3 * std::uint64_t{part.triangle_count};
    return own;
}

}  // namespace rakelight
