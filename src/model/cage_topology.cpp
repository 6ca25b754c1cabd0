#include "model/cage_topology.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "model/repair/point_table.hpp"

namespace rakelight {
namespace {

// The corners of a polygon from the triangles of its fan, which a mirrored part has the other way
// round, from the last to the first.
void ring_of(const Soup& soup, std::size_t first_triangle, std::uint32_t fan,
             std::vector<std::uint32_t>& ring) {
    const std::uint32_t* index = &soup.indices[3 * first_triangle];
    const bool forward = fan < 2 || index[2] == index[4];
    ring.assign({index[0]});
    for (std::uint32_t i = 0; i < fan; ++i) {
        const std::uint32_t* t = index + 3 * std::size_t{forward ? i : fan - 1 - i};
        if (i == 0) ring.push_back(t[1]);
        ring.push_back(t[2]);
    }
}

class Builder {
public:
    Builder(const Soup& soup, bool triangles, ModelFacts& facts)
        : soup_(soup), facts_(facts), triangles_(triangles), table_(soup.positions.size()) {}

    std::vector<Cage> build() {
        std::vector<Cage> cages;
        std::size_t polygon = 0, triangle = 0;
        for (std::uint32_t part = 0; part < soup_.parts.size(); ++part) {
            if (part == 0 || soup_.parts[part].name != soup_.parts[part - 1].name) {
                cages.emplace_back();
                local_.clear();
            }
            const std::size_t end = triangle + soup_.parts[part].triangle_count;
            for (; triangle < end; triangle += soup_.fans[polygon++])
                add(triangle, soup_.fans[polygon], part, cages.back());
        }
        std::erase_if(cages, [](const Cage& cage) { return cage.sizes.empty(); });
        return cages;
    }

private:
    void add(std::size_t triangle, std::uint32_t fan, std::uint32_t part, Cage& cage) {
        ring_of(soup_, triangle, fan, ring_);
        for (std::uint32_t& corner : ring_) {
            const glm::vec3 p = soup_.positions[corner] + 0.0f;
            if (!(std::isfinite(p.x) && std::isfinite(p.y) && std::isfinite(p.z))) {
                facts_.dropped_not_finite += fan;
                return;
            }
            corner = table_.number_of(p, hash_of(p));
        }
        ring_.erase(std::unique(ring_.begin(), ring_.end()), ring_.end());
        if (ring_.size() > 1 && ring_.front() == ring_.back()) ring_.pop_back();
        sorted_ = ring_;
        std::sort(sorted_.begin(), sorted_.end());
        const bool twice = std::adjacent_find(sorted_.begin(), sorted_.end()) != sorted_.end();
        if (ring_.size() < 3 || twice) {
            facts_.dropped_degenerate += fan;
            return;
        }
        for (std::uint32_t& corner : ring_) corner = point_in(cage, corner);
        if (!triangles_) return put(cage, part, ring_);
        for (std::size_t k = 2; k < ring_.size(); ++k)
            put(cage, part, {ring_[0], ring_[k - 1], ring_[k]});
    }

    static void put(Cage& cage, std::uint32_t part, const std::vector<std::uint32_t>& ring) {
        cage.sizes.push_back(static_cast<int>(ring.size()));
        cage.parts.push_back(part);
        for (const std::uint32_t corner : ring) cage.corners.push_back(static_cast<int>(corner));
    }

    // Points of the soup to those of the cage at hand.
    std::uint32_t point_in(Cage& cage, std::uint32_t number) {
        if (local_.size() <= number) local_.resize(number + 1, no_index);
        if (local_[number] == no_index) {
            local_[number] = static_cast<std::uint32_t>(cage.points.size());
            cage.points.push_back(table_.positions[number]);
        }
        return local_[number];
    }

    const Soup& soup_;
    ModelFacts& facts_;
    bool triangles_;
    PointTable table_;
    std::vector<std::uint32_t> ring_, sorted_, local_;
};

/// An edge of a polygon, its smaller point first.
struct Side {
    int low, high;
    std::uint32_t polygon;
    bool operator<(const Side& b) const {
        return std::tie(low, high, polygon) < std::tie(b.low, b.high, b.polygon);
    }
};

template <class Take>
void for_sides(const Cage& cage, const Take& take) {
    std::size_t first = 0;
    for (std::uint32_t i = 0; i < cage.polygons(); ++i) {
        const auto size = static_cast<std::size_t>(cage.sizes[i]);
        for (std::size_t k = 0; k < size; ++k) {
            const int a = cage.corners[first + k], b = cage.corners[first + (k + 1) % size];
            take(Side{std::min(a, b), std::max(a, b), i});
        }
        first += size;
    }
}

// Newell's method: the area vector, which a polygon that is not flat has too.
std::vector<glm::dvec3> normals_of(const Cage& cage) {
    std::vector<glm::dvec3> normals;
    std::size_t first = 0;
    for (const int size : cage.sizes) {
        glm::dvec3 sum(0.0);
        const glm::dvec3 origin = cage.points[static_cast<std::size_t>(cage.corners[first])];
        for (int k = 0; k < size; ++k) {
            const auto at = [&](int i) {
                const auto corner = first + static_cast<std::size_t>(i % size);
                return glm::dvec3(cage.points[static_cast<std::size_t>(cage.corners[corner])]) -
                       origin;
            };
            sum += glm::cross(at(k), at(k + 1));
        }
        const double length = glm::length(sum);
        normals.push_back(length > 0.0 ? sum / length : glm::dvec3(0.0));
        first += static_cast<std::size_t>(size);
    }
    return normals;
}

}  // namespace

std::vector<Cage> find_cages(const Soup& soup, bool triangles, ModelFacts& facts) {
    return Builder(soup, triangles, facts).build();
}

std::vector<int> creases_of(const Cage& cage, double crease_deg) {
    std::vector<int> pairs;
    if (crease_deg >= 180.0) return pairs;
    const double least = std::cos(crease_deg * std::numbers::pi / 180.0);
    const std::vector<glm::dvec3> normals = normals_of(cage);
    std::vector<Side> sides;
    for_sides(cage, [&](const Side& side) { sides.push_back(side); });
    std::sort(sides.begin(), sides.end());
    for (std::size_t i = 0; i + 1 < sides.size(); ++i) {
        const Side &a = sides[i], &b = sides[i + 1];
        if (a.low != b.low || a.high != b.high) continue;
        if (glm::dot(normals[a.polygon], normals[b.polygon]) >= least) continue;
        pairs.insert(pairs.end(), {a.low, a.high});
    }
    return pairs;
}

double longest_edge(const std::vector<Cage>& cages) {
    double longest = 0.0;
    for (const Cage& cage : cages)
        for_sides(cage, [&](const Side& side) {
            const glm::dvec3 a = cage.points[static_cast<std::size_t>(side.low)];
            const glm::dvec3 b = cage.points[static_cast<std::size_t>(side.high)];
            longest = std::max(longest, glm::distance(a, b));
        });
    return longest;
}

}  // namespace rakelight
