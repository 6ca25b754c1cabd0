#include "model/copies.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <limits>

#include "error.hpp"
#include "model/parallel.hpp"

namespace rakelight {
namespace {

// Matrices of files are products of numbers in single precision.
constexpr double rounding = 1e-5;
// What is stored is rounded at its own size, and at its distance from the origin: a copy that is
// much larger, or much nearer, would show it.
constexpr double most_scale = 4.0;
constexpr double most_farther = 8.0;
constexpr double most_reach = 1e37;  // a tenth of what a float holds
constexpr std::ptrdiff_t places_compared = 8;

std::array<double, 16> numbers_of(const glm::dmat4& m) {
    std::array<double, 16> numbers;
    static_assert(sizeof numbers == sizeof m);
    std::memcpy(numbers.data(), &m, sizeof m);
    return numbers;
}

/// Whether a matrix turns and scales, and does nothing else.
bool is_turn(const glm::dmat3& m, double least_scale, double greatest_scale) {
    const double scale = std::cbrt(glm::determinant(m));
    if (!(scale >= least_scale && scale <= greatest_scale)) return false;
    const glm::dmat3 should_be_one = glm::transpose(m) * m / (scale * scale);
    for (int i = 0; i < 3; ++i)
        for (int k = 0; k < 3; ++k)
            if (std::abs(should_be_one[i][k] - (i == k ? 1.0 : 0.0)) > rounding) return false;
    return true;
}

bool is_finite(const glm::dmat4& m) {
    for (int i = 0; i < 4; ++i)
        for (int k = 0; k < 4; ++k)
            if (!std::isfinite(m[i][k])) return false;
    return true;
}

/// The largest coordinate, of either sign.
double reach_of(const Bounds& box) {
    const glm::dvec3 far = glm::max(glm::abs(box.low), glm::abs(box.high));
    return std::max({far.x, far.y, far.z});
}

/// The clusters of a part that has its own triangles.
std::span<const Cluster> clusters_of(const FlatMesh& mesh, const Part& part) {
    const auto before = [](const Cluster& c, std::uint32_t t) { return c.first_triangle < t; };
    const auto first =
        std::lower_bound(mesh.clusters.begin(), mesh.clusters.end(), part.first_triangle, before);
    const auto end = std::lower_bound(first, mesh.clusters.end(),
                                      part.first_triangle + part.triangle_count, before);
    return {first, end};
}

/// Where a cluster's triangles lie in a copy; to float outward, so that nothing is outside.
void measure(const FlatMesh& mesh, const Cluster& stored, const Placement& placement,
             Cluster& cluster) {
    constexpr float far = std::numeric_limits<float>::infinity();
    glm::dvec3 low(far), high(-far);
    const std::size_t first = 3 * std::size_t{stored.first_triangle};
    for (std::size_t i = first; i < first + 3 * std::size_t{stored.triangle_count}; ++i) {
        const auto& p = mesh.vertices[mesh.indices[i]].position;
        const glm::dvec3 at = placement.at({p[0], p[1], p[2]});
        low = glm::min(low, at);
        high = glm::max(high, at);
    }
    for (int k = 0; k < 3; ++k) {
        float& lowest = cluster.low[static_cast<std::size_t>(k)];
        float& highest = cluster.high[static_cast<std::size_t>(k)];
        lowest = static_cast<float>(low[k]);
        highest = static_cast<float>(high[k]);
        if (double{lowest} > low[k]) lowest = std::nextafter(lowest, -far);
        if (double{highest} < high[k]) highest = std::nextafter(highest, far);
    }
}

struct VertexRange {
    std::uint32_t first, count;
};

VertexRange vertices_of(const FlatMesh& mesh, const Part& part) {
    const auto first = mesh.indices.begin() + 3 * std::ptrdiff_t{part.first_triangle};
    const auto [low, high] =
        std::minmax_element(first, first + 3 * std::ptrdiff_t{part.triangle_count});
    return {*low, *high - *low + 1};
}

/// Adds one copy; its clusters and its bounds are measured later.
void add_copy(FlatMesh& mesh, std::uint32_t of, VertexRange vertices, const RangeCopy& copy) {
    const Part& last = mesh.parts.back();
    Part part = mesh.parts[of];
    part.first_triangle = last.first_triangle + last.triangle_count;
    part.copy = static_cast<std::uint32_t>(mesh.copies.size());
    mesh.copies.push_back({of, copy.placement, vertices.first, vertices.count, 0});
    mesh.parts.push_back(std::move(part));
}

/// Before their numbers wrap around.
void check_counts(std::uint64_t triangles, std::uint64_t vertices) {
    if (triangles <= most_placed && vertices <= most_placed) return;
    throw Error(ExitCode::bad_model,
                "it repeats its parts until they are " + std::to_string(triangles) +
                    " triangles of " + std::to_string(vertices) + " vertices, or more; expected " +
                    "at most " + std::to_string(most_placed) + " of each; simplify the model");
}

/// The clusters of a copy, the same runs as those of what it shows.
std::vector<Cluster> placed_clusters(const FlatMesh& mesh, const Part& part) {
    const PartCopy& copy = mesh.copies[part.copy];
    const Part& stored = mesh.parts[copy.of];
    std::vector<Cluster> clusters;
    for (const Cluster& own : clusters_of(mesh, stored)) {
        Cluster cluster = own;
        cluster.first_triangle += part.first_triangle - stored.first_triangle;
        measure(mesh, own, copy.placement, cluster);
        clusters.push_back(cluster);
    }
    return clusters;
}

void add_clusters(FlatMesh& mesh, std::size_t first_copy) {
    std::vector<std::vector<Cluster>> clusters(mesh.parts.size() - first_copy);
    parallel_chunks(clusters.size(), 1, [&](auto, std::size_t i, std::size_t end) {
        for (; i < end; ++i) clusters[i] = placed_clusters(mesh, mesh.parts[first_copy + i]);
    });
    for (const std::vector<Cluster>& placed : clusters)
        mesh.clusters.insert(mesh.clusters.end(), placed.begin(), placed.end());
}

/// Names are numbered in the order of the file, in which copies and others take turns.
void name_in_order(FlatMesh& mesh, const std::vector<PartRange>& ranges) {
    struct Named {
        std::uint32_t order;
        const std::string* name;
        std::size_t part;
    };
    std::vector<Named> named;
    for (const PartRange& range : ranges) named.push_back({range.order, &range.name, named.size()});
    for (const PartRange& range : ranges)
        for (const RangeCopy& copy : range.copies)
            named.push_back({copy.order, &copy.name, named.size()});
    std::stable_sort(named.begin(), named.end(),
                     [](const Named& a, const Named& b) { return a.order < b.order; });
    std::vector<std::string> names;
    for (const Named& one : named) names.push_back(*one.name);
    names = unique_names(std::move(names));
    for (std::size_t i = 0; i < named.size(); ++i) mesh.parts[named[i].part].name = names[i];
}

}  // namespace

Bounds placed_box(const Bounds& box, const glm::dmat3& linear, const glm::dvec3& shift) {
    const glm::dvec3 half = 0.5 * box.size();
    const glm::dvec3 centre = linear * box.centre() + shift;
    glm::dvec3 reach(0.0);
    for (int k = 0; k < 3; ++k) reach += glm::abs(linear[k]) * half[k];
    return {centre - reach, centre + reach};
}

bool CopyFinder::is_doubled(const void* shape, const glm::dmat4& model_from_shape) {
    return is_finite(model_from_shape) &&
           !taken_[shape].insert(numbers_of(model_from_shape)).second;
}

std::optional<CopyFinder::Found> CopyFinder::find(const void* shape,
                                                  const glm::dmat4& model_from_shape,
                                                  CopySizes sizes) const {
    const auto places = stored_.find(shape);
    if (places == stored_.end()) return std::nullopt;
    const double greatest = sizes == CopySizes::alike ? most_scale : 1.0 + rounding;
    const std::vector<Place>& list = places->second;
    const auto latest = std::min(places_compared, std::ssize(list));
    for (auto place = list.end() - latest; place != list.end(); ++place) {
        const glm::dmat4 placed = model_from_shape * place->shape_from_model;
        const Placement placement{glm::dmat3(placed), glm::dvec3(placed[3])};
        if (!is_finite(placed) || !is_turn(placement.linear, 1.0 / greatest, greatest)) continue;
        const double scale = std::cbrt(glm::determinant(placement.linear));
        const double here = reach_of(placed_box(place->box, placement.linear, placement.shift));
        if (here < most_reach && scale * reach_of(place->box) <= most_farther * here)
            return Found{place->stored, placement};
    }
    return std::nullopt;
}

void CopyFinder::store(const void* shape, const glm::dmat4& model_from_shape, std::size_t stored,
                       const Bounds& box) {
    if (!is_finite(model_from_shape) || !(reach_of(box) < most_reach)) return;
    const glm::dmat4 shape_from_model = glm::inverse(model_from_shape);
    if (is_finite(shape_from_model)) stored_[shape].push_back({stored, shape_from_model, box});
}

bool is_closed_shape(std::span<const std::uint32_t> indices) {
    std::vector<std::uint64_t> along, against;
    along.reserve(indices.size());
    against.reserve(indices.size());
    for (std::uint32_t c = 0; c < indices.size(); ++c) {
        const std::uint64_t from = indices[c], to = indices[next_corner(c)];
        along.push_back((from << 32) | to);
        against.push_back((to << 32) | from);
    }
    std::sort(along.begin(), along.end());
    std::sort(against.begin(), against.end());
    return std::adjacent_find(along.begin(), along.end()) == along.end() && along == against;
}

void add_copies(FlatMesh& mesh, const std::vector<PartRange>& ranges) {
    const std::size_t first_copy = mesh.parts.size();
    std::uint64_t triangles = mesh.indices.size() / 3, placed = mesh.vertices.size();
    for (std::uint32_t i = 0; i < ranges.size(); ++i) {
        if (ranges[i].copies.empty()) continue;
        const VertexRange vertices = vertices_of(mesh, mesh.parts[i]);
        triangles += ranges[i].copies.size() * std::uint64_t{mesh.parts[i].triangle_count};
        placed += ranges[i].copies.size() * std::uint64_t{vertices.count};
        check_counts(triangles, placed);
        for (const RangeCopy& copy : ranges[i].copies) add_copy(mesh, i, vertices, copy);
    }
    if (mesh.copies.empty()) return;
    name_in_order(mesh, ranges);
    add_clusters(mesh, first_copy);
    measure_parts(mesh);
}

}  // namespace rakelight
