// Binary STL: 80 bytes of anything, the number of triangles, and for each triangle its normal, its
// corners and two bytes (3D Systems 1989, "StereoLithography Interface Specification"; all numbers
// little-endian). Text STL has a reader of its own.

#include <array>
#include <bit>
#include <cstring>

#include "error.hpp"
#include "model/parallel.hpp"
#include "model/readers/plain_readers.hpp"
#include "model/readers/stl_layout.hpp"
#include "model/readers/text_scan.hpp"
#include "model/repair/point_table.hpp"

namespace rakelight {
namespace {

static_assert(std::endian::native == std::endian::little, "numbers are read as they lie");

constexpr std::size_t head_bytes = stl_head_bytes, triangle_bytes = stl_triangle_bytes;

/// The triangles that are there. Counts that are wrong occur: 0 from programs that never went back
/// to fill it in, and bytes of their own that some add behind.
std::uint32_t count_triangles(std::string_view bytes, ModelFacts& facts) {
    if (bytes.size() < head_bytes) throw Unfamiliar();
    const std::uint32_t claimed = stl_claimed_triangles(bytes);
    const std::uint64_t room = bytes.size() - head_bytes;
    if (room == claimed * std::uint64_t{triangle_bytes} && claimed > 0) return claimed;
    const std::uint64_t held = room / triangle_bytes;
    if (claimed == 0) {
        if (held == 0 || room % triangle_bytes != 0 || held > 0xFFFFFFF0 / 3) throw Unfamiliar();
        facts.warnings.push_back("the file says that it has no triangles; it has " +
                                 std::to_string(held));
        return static_cast<std::uint32_t>(held);
    }
    if (held < claimed)
        throw Error(ExitCode::bad_model,
                    "it is cut short: it says that it has " + std::to_string(claimed) +
                        " triangles, and ends after " + std::to_string(held) + "; expected " +
                        std::to_string(head_bytes + claimed * std::uint64_t{triangle_bytes}) +
                        " bytes, found " + std::to_string(bytes.size()) +
                        "; download or export it again");
    facts.warnings.push_back(std::to_string(room - claimed * std::uint64_t{triangle_bytes}) +
                             " bytes after the last triangle were left out");
    return claimed;
}

/// The triangle's normal, then its corners.
std::array<glm::vec3, 4> triangle_at(const char* triangles, std::size_t number) {
    static_assert(sizeof(std::array<glm::vec3, 4>) == 48);
    std::array<glm::vec3, 4> vectors;
    std::memcpy(vectors.data(), triangles + number * triangle_bytes, sizeof vectors);
    return vectors;
}

// Corners of one position become one vertex at once: three separate ones for every triangle would
// take six times the memory.
void share_vertices(const MappedFile& file, std::string_view triangles, Soup& soup) {
    constexpr std::size_t block = 16, released = 1 << 14;
    const std::size_t count = triangles.size() / triangle_bytes;
    soup.indices.resize(3 * count);
    PointTable table(count);
    std::array<glm::vec3, 3 * block> corners;
    std::array<std::uint64_t, 3 * block> hashes{};
    for (std::size_t first = 0; first < count; first += block) {
        const std::size_t in_block = std::min(block, count - first);
        for (std::size_t t = 0; t < in_block; ++t) {
            const auto vectors = triangle_at(triangles.data(), first + t);
            for (std::size_t k = 0; k < 3; ++k) {
                corners[3 * t + k] = vectors[k + 1] + 0.0f;  // -0 becomes 0
                hashes[3 * t + k] = hash_of(corners[3 * t + k]);
                table.prefetch(hashes[3 * t + k]);
            }
        }
        for (std::size_t i = 0; i < 3 * in_block; ++i)
            soup.indices[3 * first + i] = corners[i] == corners[i]
                                              ? table.number_of(corners[i], hashes[i])
                                              : table.number_apart(corners[i]);
        if (first % released == 0 && first > 0)
            file.release(
                triangles.substr((first - released) * triangle_bytes, released * triangle_bytes));
    }
    soup.positions = std::move(table.positions);
}

// Normals differ from triangle to triangle, and so do the vertices.
void separate_vertices(std::string_view triangles, Soup& soup) {
    const std::size_t count = triangles.size() / triangle_bytes;
    soup.indices.resize(3 * count);
    soup.positions.resize(3 * count);
    soup.normals.resize(3 * count);
    parallel_chunks(count, 1 << 15, [&](auto, std::size_t t, std::size_t last) {
        for (; t < last; ++t) {
            const auto vectors = triangle_at(triangles.data(), t);
            for (std::size_t i = 3 * t, k = 1; k <= 3; ++i, ++k) {
                soup.indices[i] = static_cast<std::uint32_t>(i);
                soup.positions[i] = vectors[k];
                soup.normals[i] = vectors[0];
            }
        }
    });
}

}  // namespace

Soup read_stl(const MappedFile& file, NormalSource normals) {
    if (is_text_stl(file.bytes(), file.bytes().size())) return read_text_stl(file, normals);
    Soup soup;
    const std::uint32_t count = count_triangles(file.bytes(), soup.facts);
    check_count(0, count);
    const std::string_view triangles =
        file.bytes().substr(head_bytes, count * std::size_t{triangle_bytes});
    // The normals of an STL are those of its faces, which nobody asks for unless told to.
    const bool with_normals = normals == NormalSource::file;
    with_normals ? separate_vertices(triangles, soup) : share_vertices(file, triangles, soup);
    soup.parts = {{"part", "DefaultMaterial", 0, count, with_normals}};
    return soup;
}

}  // namespace rakelight
