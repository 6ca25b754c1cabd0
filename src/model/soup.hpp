#pragma once
// Triangle soup: what the importer hands to the repair, before anything is known about how the
// triangles hang together. Private to model/.

#include <cstdint>
#include <cstdlib>
#include <string>
#include <vector>

#include <glm/glm.hpp>

#include "model/mesh.hpp"
#include "model/texture.hpp"
#include "unset.hpp"

namespace rakelight {

/// Throws std::bad_alloc. To be freed by free_array with the same size.
void* allocate_array(std::size_t bytes);
void free_array(void* array, std::size_t bytes) noexcept;

/// Large arrays lie on large pages where the system has them, which spares thousands of page
/// faults.
template <class T>
struct UnsetAllocator : UnsetElements<T> {
    T* allocate(std::size_t count) { return static_cast<T*>(allocate_array(count * sizeof(T))); }
    void deallocate(T* array, std::size_t count) noexcept { free_array(array, count * sizeof(T)); }
    template <class U>
    struct rebind {
        using other = UnsetAllocator<U>;
    };
};

/// A vector whose resize does not write; read nothing from it before you wrote it.
template <class T>
using Array = std::vector<T, UnsetAllocator<T>>;

/// Frees what the array takes, which neither clearing it nor assigning {} does.
template <class T>
void drop(Array<T>& array) {
    Array<T>().swap(array);
}

inline constexpr std::uint32_t no_index = 0xFFFFFFFF;

/// The same run again, elsewhere.
struct RangeCopy {
    std::string name;
    Placement placement;
    std::uint32_t order = 0;  ///< see PartRange
};

/// A run of triangles that came from one node and one mesh of the file.
struct PartRange {
    std::string name;
    std::string material;
    std::uint32_t first_triangle = 0;
    std::uint32_t triangle_count = 0;
    bool has_normals = false;          ///< the file gave this part normals
    std::uint32_t detail = no_detail;  ///< number in Soup::details
    std::uint32_t order = 0;           ///< of parts and copies in the file; 0: as they lie here
    std::uint32_t first_vertex = 0;    ///< where it has copies: of the soup's vertices, its own run
    std::uint32_t vertex_count = 0;
    std::vector<RangeCopy> copies{};  ///< then it is mended by itself, whatever touches it
};

/// Triangles in model units with global transforms applied. Vertices may repeat and may be NaN.
struct Soup {
    Array<glm::vec3> positions;
    Array<glm::vec3> normals;      ///< as long as positions, or empty: no part has any; any length
    Array<std::uint32_t> indices;  ///< three per triangle, all < positions.size()
    std::vector<PartRange> parts;  ///< in order, without gaps
    Array<std::uint32_t> fans;     ///< only where a cage was asked for: how many triangles each
                                   ///< polygon of the file became, all from its first corner
    Array<glm::vec2> places;       ///< on the pictures; as long as positions, or empty: no detail
    std::vector<SurfaceDetail> details;
    std::vector<TexturePlane> planes;
    Array<std::int16_t> texels;  ///< of all planes
    bool facet_normals = false;  ///< the normals do not tell what is smooth and what is flat
    ModelFacts facts;
};

/// The next and the previous corner of the same triangle.
inline std::uint32_t next_corner(std::uint32_t c) {
    return c % 3 == 2 ? c - 2 : c + 1;
}
inline std::uint32_t previous_corner(std::uint32_t c) {
    return c % 3 == 0 ? c + 2 : c - 1;
}

}  // namespace rakelight
