#include "render/sample_mesh.hpp"

#include <algorithm>
#include <atomic>
#include <cmath>

#include "image/row_bands.hpp"

namespace rakelight {
namespace {

constexpr std::uint32_t vertices_at_a_time = 8192;

// The part of a convex polygon where inside(corner) >= 0; what lies between two corners is linear.
template <typename Corner, typename Inside, typename Mix>
std::vector<Corner> keep_inside(const std::vector<Corner>& polygon, const Inside& inside,
                                const Mix& mix) {
    std::vector<Corner> kept;
    for (std::size_t i = 0; i < polygon.size(); ++i) {
        const Corner& here = polygon[i];
        const Corner& next = polygon[(i + 1) % polygon.size()];
        const double a = inside(here);
        const double b = inside(next);
        if (a >= 0.0) kept.push_back(here);
        if ((a >= 0.0) != (b >= 0.0)) kept.push_back(mix(here, next, a / (a - b)));
    }
    return kept;
}

// A corner before it is seen.
struct Corner {
    glm::dvec3 view_mm;
    glm::dvec3 normal;
    DetailCorner detail;  // w is 1
};

DetailCorner mix(const DetailCorner& a, const DetailCorner& b, double t) {
    return {glm::mix(a.s, b.s, t), glm::mix(a.t, b.t, t), glm::mix(a.w, b.w, t),
            glm::mix(a.tangent, b.tangent, t)};
}

DetailCorner times(const DetailCorner& d, double w) {
    return {d.s * w, d.t * w, d.w * w, d.tangent * w};
}

}  // namespace

SampleMesh::SampleMesh(const Mesh& mesh, const DrawnClusters& drawn, const Camera& camera,
                       const ImageGrid& grid, const WorkArea& area, int samples,
                       const MeshDetail* detail)
    : mesh_(mesh),
      drawn_(drawn),
      detail_(detail),
      stored_(mesh.vertices()),
      indices_(mesh.indices().data()),
      stored_triangles_(mesh.indices().size() / 3),
      camera_(camera),
      top_mm_(area.top_mm),
      floor_mm_(area.floor_mm),
      eye_lift_mm_(static_cast<float>(camera.eye_mm - area.floor_mm)),
      sub_samples_per_mm_(grid.px_per_mm * samples * sub_samples),
      origin_mm_(grid.left_mm + area.rect.x / grid.px_per_mm,
                 grid.top_mm - area.rect.y / grid.px_per_mm),
      vertices_(mesh.vertex_count()) {
    find_runs();
    std::atomic<bool> all_placed{true};
    for_bands([&](const Run& run, std::uint32_t first, std::uint32_t end) {
        if (!place_vertices(run, first, end)) all_placed = false;
    });
    all_placed_ = all_placed;
    if (detail_ != nullptr) {
        detail_corners_.resize(vertices_.size());
        for_bands([&](const Run& run, std::uint32_t first, std::uint32_t end) {
            place_details(run, first, end);
        });
    }
    if (!all_placed_) cut_clusters();
}

// Copies that are not drawn have vertices too, which nobody asks for.
void SampleMesh::find_runs() {
    runs_.push_back({0, 0, static_cast<std::uint32_t>(mesh_.vertices().size()), camera_});
    std::uint32_t last = no_copy;
    for (const std::uint32_t part : drawn_.parts) {
        const std::uint32_t number = mesh_.parts()[part].copy;
        if (number == no_copy || number == last) continue;
        last = number;
        const PartCopy& copy = mesh_.copies()[number];
        runs_.push_back({copy.first_placed, copy.first_vertex, copy.vertex_count,
                         camera_of_stored(camera_, copy.placement)});
    }
}

// Calls take(run, first, end) for bands of the vertices of all runs, on all cores.
template <typename Take>
void SampleMesh::for_bands(const Take& take) const {
    struct Band {
        const Run* run;
        std::uint32_t first;
    };
    std::vector<Band> bands;
    for (const Run& run : runs_)
        for (std::uint32_t done = 0; done < run.count; done += vertices_at_a_time)
            bands.push_back({&run, run.first + done});
    for_row_bands(static_cast<int>(bands.size()), 1, [&](int band, int end) {
        for (; band < end; ++band) {
            const auto& [run, first] = bands[static_cast<std::size_t>(band)];
            take(*run, first, std::min(first + vertices_at_a_time, run->first + run->count));
        }
    });
}

// Returns whether all of them could be placed.
bool SampleMesh::place_vertices(const Run& run, std::uint32_t first, std::uint32_t end) {
    bool all = true;
    for (std::uint32_t v = first; v < end; ++v) {
        const glm::dvec3 view = view_mm(run, v);
        const Seen seen = see(view, normal_view(run, v));
        if (whole(seen, view.z)) {
            vertices_[v] = place(seen);
        } else {
            vertices_[v].x = not_placed;
            all = false;
        }
    }
    return all;
}

SampleMesh::Indices SampleMesh::copied_indices_of(std::size_t triangle) const {
    const Part& part = mesh_.parts()[part_of(mesh_, static_cast<std::uint32_t>(triangle))];
    const PartCopy& copy = mesh_.copies()[part.copy];
    const std::size_t stored =
        triangle - part.first_triangle + mesh_.parts()[copy.of].first_triangle;
    return {indices_ + 3 * stored, copy.first_placed - copy.first_vertex};
}

const SampleMesh::Run& SampleMesh::run_of(std::uint32_t vertex) const {
    const auto after =
        std::upper_bound(runs_.begin(), runs_.end(), vertex,
                         [](std::uint32_t wanted, const Run& run) { return wanted < run.first; });
    return *(after - 1);
}

std::uint32_t SampleMesh::part(TriangleRef ref) const {
    return part_of(mesh_, static_cast<std::uint32_t>(triangle(ref)));
}

std::size_t SampleMesh::triangle(TriangleRef ref) const {
    return (ref & piece_bit) != 0 ? pieces_[ref ^ piece_bit].of_triangle : ref;
}

DetailCorner SampleMesh::detail_of(const Run& run, std::uint32_t vertex) const {
    const DetailVertex& from = mesh_.detail_vertices()[vertex - run.first + run.first_stored];
    return {from.place[0], from.place[1], 1.0,
            run.camera.view_from_model * decode_octahedral(from.tangent)};
}

// What makes a surface's value linear over the picture.
double SampleMesh::linear_factor(double z_mm) const {
    return perspective() ? camera_.eye_mm / (camera_.eye_mm - z_mm) : 1.0;
}

void SampleMesh::place_details(const Run& run, std::uint32_t first, std::uint32_t end) {
    for (std::uint32_t v = first; v < end; ++v) {
        if (vertices_[v].x == not_placed) continue;
        detail_corners_[v] = times(detail_of(run, v), linear_factor(view_mm(run, v).z));
    }
}

glm::dvec3 SampleMesh::view_mm(const Run& run, std::uint32_t vertex) const {
    const auto& p = stored_[vertex - run.first + run.first_stored].position;
    return run.camera.view_mm({p[0], p[1], p[2]});
}

glm::dvec3 SampleMesh::normal_view(const Run& run, std::uint32_t vertex) const {
    return run.camera.view_from_model *
           decode_octahedral(stored_[vertex - run.first + run.first_stored].normal);
}

SampleMesh::Seen SampleMesh::see(glm::dvec3 view_mm, glm::dvec3 normal) const {
    const glm::dvec2 from_origin = camera_.blank_mm(view_mm) - origin_mm_;
    const glm::dvec2 at(from_origin.x * sub_samples_per_mm_, -from_origin.y * sub_samples_per_mm_);
    if (!perspective()) return {at, view_mm.z - floor_mm_, normal, {}};
    const double distance_mm = camera_.eye_mm - view_mm.z;
    return {at, (view_mm.z - floor_mm_) / distance_mm, normal * (camera_.eye_mm / distance_mm), {}};
}

bool SampleMesh::whole(const Seen& seen, double z_mm) const {
    constexpr auto most = static_cast<double>(most_sub_samples);
    const bool in_front = !perspective() || z_mm <= top_mm_;
    return in_front && std::abs(seen.at.x) < most && std::abs(seen.at.y) < most;
}

SampleVertex SampleMesh::place(const Seen& seen) const {
    return {static_cast<std::int32_t>(std::floor(seen.at.x + 0.5)),
            static_cast<std::int32_t>(std::floor(seen.at.y + 0.5)),
            static_cast<float>(seen.nearness),
            {static_cast<float>(seen.normal.x), static_cast<float>(seen.normal.y),
             static_cast<float>(seen.normal.z)}};
}

bool SampleMesh::is_placed(std::size_t triangle) const {
    const Indices index = indices_of(triangle);
    return vertices_[index[0]].x != not_placed && vertices_[index[1]].x != not_placed &&
           vertices_[index[2]].x != not_placed;
}

void SampleMesh::cut_clusters() {
    for (const auto& run : drawn_.clusters) {
        for (std::size_t t = run.first_triangle; t < run.first_triangle + run.triangle_count; ++t) {
            if (is_placed(t)) continue;
            const auto polygon = cut(t);
            for (std::size_t k = 2; k < polygon.size(); ++k) {
                pieces_.push_back({t, vertices_.size()});
                for (const Seen* seen : {&polygon[0], &polygon[k - 1], &polygon[k]}) {
                    vertices_.push_back(place(*seen));
                    if (detail_ != nullptr) detail_corners_.push_back(seen->detail);
                }
            }
        }
    }
}

std::vector<SampleMesh::Seen> SampleMesh::cut(std::size_t triangle) const {
    std::vector<Corner> corners;
    const Indices index = indices_of(triangle);
    const Run& run = run_of(index[0]);
    for (std::size_t k = 0; k < 3; ++k) {
        corners.push_back({view_mm(run, index[k]), normal_view(run, index[k]),
                           detail_ != nullptr ? detail_of(run, index[k]) : DetailCorner{}});
    }
    if (perspective()) {
        corners = keep_inside(
            corners, [&](const Corner& c) { return top_mm_ - c.view_mm.z; },
            [](const Corner& a, const Corner& b, double t) {
                return Corner{glm::mix(a.view_mm, b.view_mm, t), glm::mix(a.normal, b.normal, t),
                              mix(a.detail, b.detail, t)};
            });
    }
    std::vector<Seen> seen;
    for (const auto& corner : corners) {
        seen.push_back(see(corner.view_mm, corner.normal));
        seen.back().detail = times(corner.detail, linear_factor(corner.view_mm.z));
    }
    constexpr double most = 0.999 * static_cast<double>(most_sub_samples);
    for (const glm::dvec2 side :
         {glm::dvec2(1, 0), glm::dvec2(-1, 0), glm::dvec2(0, 1), glm::dvec2(0, -1)}) {
        seen = keep_inside(
            seen, [&](const Seen& s) { return most - glm::dot(side, s.at); },
            [](const Seen& a, const Seen& b, double t) {
                return Seen{glm::mix(a.at, b.at, t), glm::mix(a.nearness, b.nearness, t),
                            glm::mix(a.normal, b.normal, t), mix(a.detail, b.detail, t)};
            });
    }
    return seen;
}

}  // namespace rakelight
