// Made normals are those of the faces around a point, weighted by the angle that each face takes
// there (G. Thürmer and C. A. Wüthrich 1998, "Computing Vertex Normals from Polygonal Facets",
// Journal of Graphics Tools 3(1)): they do not depend on how a polygon was cut into triangles.

#include "model/repair/normals.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <numbers>
#include <numeric>
#include <tuple>

#include "model/parallel.hpp"
#include "model/repair/edges.hpp"
#include "model/repair/file_normals.hpp"

namespace rakelight {
namespace {

using Code = std::array<std::int16_t, 2>;

// Cosines between normals kept as floats are off by less than this: faces that meet at exactly the
// crease angle are smooth.
constexpr double cosine_slack = 1e-6;

// A code is off by up to 6.5e-5 rad. A normal closer than this to the plane of its face could
// change its side by being encoded.
constexpr double least_cosine = 2e-4;

// More triangles than this at one edge, and which of them go on smoothly is not asked.
constexpr std::size_t most_at_edge = 16;

/// The code of `normal`, or of one nearby that lies on the side of `face` even after rounding.
Code encode_on_side(glm::dvec3 normal, glm::dvec3 face) {
    const double cosine = glm::dot(normal, face);
    if (cosine >= least_cosine) return encode_octahedral(normal);
    const Code code = encode_octahedral(glm::normalize(normal + (least_cosine - cosine) * face));
    // What floats and rounding cost here is far below least_cosine; be safe all the same.
    return glm::dot(decode_octahedral(code), face) > 0.0 ? code : encode_octahedral(face);
}

/// The faces of a run of triangles, made in one go; others are made when they are asked for. A
/// point is numbered by its first use and triangles lie in spatial order, so that nearly all faces
/// at a run of points are of the run of triangles where those are first used.
class NearbyFaces {
public:
    NearbyFaces(const Surface& surface, std::size_t first, std::size_t last)
        : surface_(surface), first_(first) {
        faces_.resize(last - first);
        for (std::size_t i = 0; i < faces_.size(); ++i) faces_[i] = surface.face(first + i);
    }

    Face operator[](std::size_t triangle) const {
        const std::size_t i = triangle - first_;  // large where triangle is less
        return i < faces_.size() ? faces_[i] : surface_.face(triangle);
    }

private:
    const Surface& surface_;
    std::size_t first_;
    Array<Face> faces_;
};

/// Works out the normals of the corners on one point after the other. One per thread.
class PointShader {
public:
    PointShader(const Soup& soup, const Surface& surface, const FileNormals& own,
                const NearbyFaces& faces, double crease_deg, bool any_crowded)
        : soup_(soup), surface_(surface), own_(own), any_crowded_(any_crowded), faces_(faces) {
        const double crease = std::min(crease_deg, 180.0) * std::numbers::pi / 180.0;
        crease_cosine_ = std::cos(crease) - cosine_slack;
        half_crease_cosine_ = std::cos(crease / 2.0) + cosine_slack;
    }

    /// The codes of the corners of `point`, in the order of the fan.
    const std::vector<Code>& shade(std::uint32_t point) {
        const std::uint32_t first = surface_.fans.first[point];
        corners_ = {&surface_.fans.corners[first], surface_.fans.first[point + 1] - first};
        codes_.resize(corners_.size());
        normals_.resize(corners_.size());
        weighted_.resize(corners_.size());
        for (std::size_t i = 0; i < corners_.size(); ++i) {
            const std::uint32_t triangle = corners_[i] / 3;
            const Face face = faces_[triangle];
            normals_[i] = glm::dvec3(face.normal);
            weighted_[i] = double{face.angles[corners_[i] - 3 * triangle]} * normals_[i];
        }
        bool make = !own_.any();
        for (const std::uint32_t c : corners_) make = make || own_.sound[c] == 0;
        if (make) make_normals();
        if (own_.any()) take_own_normals();
        return codes_;
    }

private:
    const glm::dvec3& face(std::size_t i) const { return normals_[i]; }

    void take_own_normals() {
        for (std::size_t i = 0; i < corners_.size(); ++i) {
            const std::uint32_t c = corners_[i];
            if (own_.sound[c] == 0) continue;
            const double sign = own_.signs[surface_.pieces[c / 3]];
            const glm::dvec3 normal(soup_.normals[surface_.vertices[c]]);
            codes_[i] = encode_on_side(glm::normalize(normal) * sign, face(i));
        }
    }

    void make_normals() {
        if (make_one_normal()) return;
        group_corners();
        sums_.assign(corners_.size(), glm::dvec3(0.0));
        for (std::size_t i = 0; i < corners_.size(); ++i) sums_[group(i)] += weighted_[i];
        for (std::size_t i = 0; i < corners_.size(); ++i) {
            const glm::dvec3 sum = sums_[group(i)];
            const double length = glm::length(sum);
            // Faces that cancel out, or a fold that hides this face behind the others.
            const bool usable = length > 1e-6 && glm::dot(sum, face(i)) >= 0.0;
            codes_[i] = encode_on_side(usable ? sum / length : face(i), face(i));
        }
    }

    // Where all faces lie within half the crease angle of their mean, any two lie within the
    // crease angle: one group, and no need to look at edges. This is most points of most models.
    bool make_one_normal() {
        glm::dvec3 sum(0.0);
        for (std::size_t i = 0; i < corners_.size(); ++i) sum += weighted_[i];
        const double length = glm::length(sum);
        if (length < 1e-6) return false;
        sum /= length;
        const double least = std::max(half_crease_cosine_, least_cosine);
        for (std::size_t i = 0; i < corners_.size(); ++i)
            if (glm::dot(sum, face(i)) < least) return false;
        if (any_crowded_ && is_crowded()) return false;
        std::fill(codes_.begin(), codes_.end(), encode_octahedral(sum));
        return true;
    }

    // Whether more than two triangles share an edge at the point.
    bool is_crowded() {
        bool crowded = false;
        for_edges([&](std::span<const std::uint64_t> keys) { crowded |= keys.size() > 2; });
        return crowded;
    }

    // Joins corners whose triangles share an edge at the point and meet there within the crease.
    void group_corners() {
        parents_.resize(corners_.size());
        std::iota(parents_.begin(), parents_.end(), std::size_t{0});
        for_edges([&](std::span<const std::uint64_t> keys) {
            if (keys.size() == 2) join(keys[0], keys[1]);
            if (keys.size() > 2 && keys.size() <= most_at_edge) join_at_edge(keys);
        });
    }

    /// Calls visit(keys) for each edge at the point, with the keys of the corners beside it.
    template <class Visit>
    void for_edges(const Visit& visit) {
        keys_.clear();
        for (std::size_t i = 0; i < corners_.size(); ++i) {
            add_key(surface_.points[next_corner(corners_[i])], i, outward);
            add_key(surface_.points[previous_corner(corners_[i])], i, inward);
        }
        sort_few(keys_);
        for (std::size_t i = 0, end; i < keys_.size(); i = end) {
            for (end = i + 1; end < keys_.size() && keys_[end] >> 32 == keys_[i] >> 32;) ++end;
            visit(std::span<const std::uint64_t>(&keys_[i], end - i));
        }
    }

    /// A corner beside one of its triangle's edges at the point.
    /// @param way  how the triangle runs along it
    void add_key(std::uint32_t other_end, std::size_t corner, std::uint64_t way) {
        keys_.push_back(std::uint64_t{other_end} << 32 | corner << 1 | way);
    }
    static std::size_t corner_of(std::uint64_t key) { return (key & 0xFFFFFFFF) >> 1; }
    double cosine(std::uint64_t a, std::uint64_t b) const {
        return glm::dot(face(corner_of(a)), face(corner_of(b)));
    }

    void join(std::uint64_t a, std::uint64_t b) {
        if (cosine(a, b) >= crease_cosine_) parents_[group(corner_of(a))] = group(corner_of(b));
    }

    // An inner wall meets the skin there, or two shells touch: each triangle goes on in one other
    // at the most, that runs along the edge the other way; those that lie flattest do so first.
    void join_at_edge(std::span<const std::uint64_t> keys) {
        pairs_.clear();
        for (const std::uint64_t a : keys)
            for (const std::uint64_t b : keys)
                if ((a & 1) == outward && (b & 1) == inward)
                    pairs_.push_back({-cosine(a, b), a, b});
        std::sort(pairs_.begin(), pairs_.end());
        while (!pairs_.empty()) {
            const auto [bend, a, b] = pairs_.front();
            join(a, b);
            std::erase_if(pairs_, [a = a, b = b](const Pair& pair) {
                return std::get<1>(pair) == a || std::get<2>(pair) == b;
            });
        }
    }

    std::size_t group(std::size_t i) {
        while (parents_[i] != i) i = parents_[i] = parents_[parents_[i]];
        return i;
    }

    const Soup& soup_;
    const Surface& surface_;
    const FileNormals& own_;
    bool any_crowded_;  ///< whether the surface has edges of more than two triangles
    double crease_cosine_ = 0.0;
    double half_crease_cosine_ = 0.0;
    const NearbyFaces& faces_;
    std::span<const std::uint32_t> corners_;
    std::vector<glm::dvec3> normals_, weighted_;  // of the faces at the corners; by their angles
    std::vector<Code> codes_;
    std::vector<std::size_t> parents_;
    static constexpr std::uint64_t outward = 0, inward = 1;
    using Pair = std::tuple<double, std::uint64_t, std::uint64_t>;
    std::vector<std::uint64_t> keys_;  ///< other end of an edge, corner, way
    std::vector<Pair> pairs_;
    std::vector<glm::dvec3> sums_;
};

/// Where the corners of triangles lie on pictures, and on which side the bitangent is.
class CornerPlaces {
public:
    CornerPlaces(const Soup& soup, const Surface& surface) : soup_(soup), surface_(surface) {}

    bool any() const { return !soup_.places.empty(); }

    DetailVertex operator[](std::uint32_t corner) const {
        const glm::vec2 a = at(corner);
        const glm::dvec2 b = glm::dvec2(at(next_corner(corner))) - glm::dvec2(a);
        const glm::dvec2 c = glm::dvec2(at(previous_corner(corner))) - glm::dvec2(a);
        // 0 and -0 are one place, and a triangle without area there is of no side.
        return {{a.x + 0.0f, a.y + 0.0f}, {0, 0}, b.x * c.y - c.x * b.y < 0.0 ? -1 : 1};
    }

private:
    glm::vec2 at(std::uint32_t corner) const { return soup_.places[surface_.vertices[corner]]; }

    const Soup& soup_;
    const Surface& surface_;
};

/// Vertices of a run of points, with what lies beside each where there are pictures.
struct VertexRun {
    Array<Vertex> vertices;
    Array<DetailVertex> details;
};

/// The vertices of one point: one for each distinct code, and place where there are pictures.
class VertexSharer {
public:
    VertexSharer(VertexRun& run, const CornerPlaces& places)
        : vertices_(run.vertices), details_(run.details), places_(places) {}

    void add_point(glm::vec3 position, std::span<const std::uint32_t> corners,
                   const std::vector<Code>& codes, Array<std::uint32_t>& indices) {
        if (places_.any())
            share_placed(position, corners, codes, indices);
        else if (codes.size() <= few)
            share_few(position, corners, codes, indices);
        else
            share_many(position, corners, codes, indices);
    }

private:
    static constexpr std::size_t few = 32;

    static std::uint32_t bits(Code code) { return std::bit_cast<std::uint32_t>(code); }

    std::uint32_t add(glm::vec3 p, Code code) {
        vertices_.push_back({{p.x, p.y, p.z}, code});
        return static_cast<std::uint32_t>(vertices_.size() - 1);
    }

    using PlaceKey = std::tuple<std::uint32_t, float, float, std::int32_t>;

    void share_placed(glm::vec3 position, std::span<const std::uint32_t> corners,
                      const std::vector<Code>& codes, Array<std::uint32_t>& indices) {
        placed_.clear();
        for (std::size_t i = 0; i < codes.size(); ++i) {
            const DetailVertex d = places_[corners[i]];
            placed_.push_back({{bits(codes[i]), d.place[0], d.place[1], d.side}, i});
        }
        std::sort(placed_.begin(), placed_.end());
        std::uint32_t vertex = 0;
        for (std::size_t k = 0; k < placed_.size(); ++k) {
            const auto& [key, i] = placed_[k];
            if (k == 0 || key != placed_[k - 1].first) {
                vertex = add(position, codes[i]);
                details_.push_back(places_[corners[i]]);
            }
            indices[corners[i]] = vertex;
        }
    }

    void share_few(glm::vec3 position, std::span<const std::uint32_t> corners,
                   const std::vector<Code>& codes, Array<std::uint32_t>& indices) {
        for (std::size_t i = 0; i < codes.size(); ++i) {
            std::size_t j = 0;
            while (bits(codes[j]) != bits(codes[i])) ++j;
            indices[corners[i]] = j == i ? add(position, codes[i]) : indices[corners[j]];
        }
    }

    void share_many(glm::vec3 position, std::span<const std::uint32_t> corners,
                    const std::vector<Code>& codes, Array<std::uint32_t>& indices) {
        order_.clear();
        for (std::size_t i = 0; i < codes.size(); ++i)
            order_.push_back((std::uint64_t{bits(codes[i])} << 32) | i);
        std::sort(order_.begin(), order_.end());
        std::uint32_t vertex = 0;
        for (std::size_t k = 0; k < order_.size(); ++k) {
            const std::size_t i = order_[k] & 0xFFFFFFFF;
            if (k == 0 || order_[k] >> 32 != order_[k - 1] >> 32) vertex = add(position, codes[i]);
            indices[corners[i]] = vertex;
        }
    }

    Array<Vertex>& vertices_;
    Array<DetailVertex>& details_;
    const CornerPlaces& places_;
    std::vector<std::pair<PlaceKey, std::size_t>> placed_;
    std::vector<std::uint64_t> order_;
};

void describe(const FileNormals& own, ModelFacts& facts) {
    const std::uint64_t made = own.broken + own.missing;
    if (!own.any())
        facts.normals = "made";
    else if (made == 0)
        facts.normals = "from the file";
    else
        facts.normals = "from the file, " + std::to_string(made) + " made";
    facts.broken_normals = own.broken;
}

}  // namespace

Shaded shade(Soup&& soup, Surface&& surface, NormalSource source, double crease_deg,
             ModelFacts& facts) {
    const bool use_own =
        !soup.normals.empty() && (source == NormalSource::file ||
                                  (source == NormalSource::automatic && !soup.facet_normals));
    const FileNormals own = use_own ? judge_file_normals(soup, surface) : FileNormals{};
    describe(own, facts);
    if (!own.any()) drop(surface.pieces);

    constexpr std::size_t points_per_chunk = 1 << 13;
    const std::size_t points = surface.positions.size();
    std::vector<VertexRun> chunks(chunk_count(points, points_per_chunk));
    const CornerPlaces places(soup, surface);
    Shaded shaded;
    shaded.indices.resize(surface.points.size());
    parallel_chunks(points, points_per_chunk, [&](auto chunk, std::size_t p, std::size_t last) {
        const auto first_use = [&](std::size_t point) {
            return point < points ? surface.fans.corners[surface.fans.first[point]] / 3
                                  : surface.triangle_count();
        };
        const NearbyFaces faces(surface, first_use(p), first_use(last));
        PointShader shader(soup, surface, own, faces, crease_deg, facts.crowded_edges > 0);
        VertexRun run;
        run.vertices.reserve(last - p);
        VertexSharer sharer(run, places);
        for (; p < last; ++p) {
            const std::uint32_t first = surface.fans.first[p];
            sharer.add_point(surface.positions[p],
                             {&surface.fans.corners[first], surface.fans.first[p + 1] - first},
                             shader.shade(static_cast<std::uint32_t>(p)), shaded.indices);
        }
        chunks[chunk] = std::move(run);
    });

    surface.fans = {};
    drop(surface.positions);
    drop(surface.vertices);
    drop(soup.normals);
    drop(soup.places);

    // Indices count from the chunk's first vertex so far.
    std::size_t vertices = 0;
    bool has_places = false;
    for (const VertexRun& chunk : chunks) {
        vertices += chunk.vertices.size();
        has_places = has_places || !chunk.details.empty();
    }
    if (has_places) shaded.detail_vertices.reserve(vertices);
    shaded.vertices.reserve(vertices);
    std::vector<std::uint32_t> first_vertex;
    for (auto& [run, details] : chunks) {
        first_vertex.push_back(static_cast<std::uint32_t>(shaded.vertices.size()));
        shaded.vertices.insert(shaded.vertices.end(), run.begin(), run.end());
        shaded.detail_vertices.insert(shaded.detail_vertices.end(), details.begin(), details.end());
        drop(run);
        drop(details);
    }
    parallel_chunks(shaded.indices.size(), 1 << 16, [&](auto, std::size_t c, std::size_t last) {
        for (; c < last; ++c)
            shaded.indices[c] += first_vertex[surface.points[c] / points_per_chunk];
    });
    return shaded;
}

}  // namespace rakelight
