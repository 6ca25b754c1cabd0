#include "tube_mesh.hpp"

#include <algorithm>
#include <cmath>
#include <glm/geometric.hpp>
#include <utility>

void TubeBuilder::add_ring(const std::vector<glm::dvec3>& ring) {
    const auto old_size = last_ring_size_;
    const auto old_first = static_cast<std::uint32_t>(mesh_.positions.size()) - old_size;
    mesh_.positions.insert(mesh_.positions.end(), ring.begin(), ring.end());
    last_ring_size_ = static_cast<std::uint32_t>(ring.size());
    if (old_size > 0) stitch(old_first, old_size, last_ring_size_);
}

// Walks both rings once round, always stepping to the side that gives the shorter diagonal as
// long as neither falls behind the other by more than a step.
void TubeBuilder::stitch(std::uint32_t old_first, std::uint32_t old_size, std::uint32_t new_size) {
    const std::uint32_t new_first = old_first + old_size;
    const std::uint32_t old_steps = old_size > 1 ? old_size : 0;
    const std::uint32_t new_steps = new_size > 1 ? new_size : 0;
    const auto at = [&](std::uint32_t index) { return mesh_.positions[index]; };
    std::uint32_t i = 0;
    std::uint32_t j = 0;
    while (i < old_steps || j < new_steps) {
        const std::uint32_t old_here = old_first + i % old_size;
        const std::uint32_t old_next = old_first + (i + 1) % old_size;
        const std::uint32_t new_here = new_first + j % new_size;
        const std::uint32_t new_next = new_first + (j + 1) % new_size;
        // Where each would stand after its step, as a fraction of the round, times both sizes.
        const double lead =
            static_cast<double>(i + 1) * new_size - static_cast<double>(j + 1) * old_size;
        const bool may_choose = std::abs(lead) < 0.6 * std::min(old_size, new_size);
        const bool old_is_shorter =
            glm::distance(at(old_next), at(new_here)) <= glm::distance(at(old_here), at(new_next));
        const bool step_old = may_choose ? old_is_shorter : lead < 0.0;
        if (j == new_steps || (i < old_steps && step_old)) {
            mesh_.triangles.emplace_back(old_here, old_next, new_here);
            ++i;
        } else {
            mesh_.triangles.emplace_back(old_here, new_next, new_here);
            ++j;
        }
    }
}

Mesh TubeBuilder::take() {
    last_ring_size_ = 0;
    return std::exchange(mesh_, {});
}
