// A closed triangle mesh out of rings of points.
#pragma once

#include <cstddef>
#include <cstdint>
#include <glm/ext/vector_uint3_sized.hpp>
#include <glm/vec3.hpp>
#include <vector>

struct Mesh {
    std::vector<glm::dvec3> positions;
    std::vector<glm::u32vec3> triangles;
};

// Grows a tube ring by ring. Every ring goes round in even steps from the same place and may
// have more or fewer points than the last; a ring of one point closes an end.
class TubeBuilder {
public:
    void add_ring(const std::vector<glm::dvec3>& ring);
    // The mesh; the builder is empty then.
    Mesh take();

private:
    void stitch(std::uint32_t old_first, std::uint32_t old_size, std::uint32_t new_size);

    Mesh mesh_;
    std::uint32_t last_ring_size_ = 0;
};

// How many triangles lie between two rings of these sizes.
constexpr std::size_t triangles_between(std::size_t old_size, std::size_t new_size) {
    return (old_size > 1 ? old_size : 0) + (new_size > 1 ? new_size : 0);
}
