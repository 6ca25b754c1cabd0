#pragma once
// The polygons of a cage, welded. Private to model/.

#include <cstdint>
#include <vector>

#include "model/soup.hpp"

namespace rakelight {

/// Polygons of parts that make one surface, over points of their own.
struct Cage {
    std::vector<glm::vec3> points;     ///< no two are equal
    std::vector<int> sizes;            ///< corners of each polygon, at least 3
    std::vector<int> corners;          ///< polygon after polygon: indices of points
    std::vector<std::uint32_t> parts;  ///< of each polygon: its number in the soup's parts

    std::size_t polygons() const { return sizes.size(); }
};

/// One cage for each run of parts of one name. Polygons with fewer than three different corners,
/// with one that they pass twice, or with one that is no number are left out and counted in the
/// facts; those of four and more are cut into triangles where `triangles` asks for it.
std::vector<Cage> find_cages(const Soup& soup, bool triangles, ModelFacts& facts);

/// Pairs of points whose edge has two polygons that bend there by more than an angle.
std::vector<int> creases_of(const Cage& cage, double crease_deg);

/// The longest edge of all.
double longest_edge(const std::vector<Cage>& cages);

}  // namespace rakelight
