// The flat mesh file, as an import that was taken over could write it: the target makes all
// checksums right, so that what they guard is reached. It is mapped or refused, and all that a
// mapped one promises can be read.

#include <unistd.h>
#include <xxhash.h>

#include <algorithm>
#include <array>
#include <cstring>

#include "fuzz_input.hpp"
#include "model/mesh_file.hpp"

using namespace rakelight;

namespace {

// FileHeader's members, see mesh_file.cpp.
constexpr std::size_t header_bytes = 168, version_at = 8, size_at = 16, sections_at = 24,
                      sums_at = 120, header_sum_at = 160;
constexpr std::array<std::size_t, 6> element_bytes{
    1, sizeof(Vertex), 4, sizeof(Cluster), sizeof(DetailVertex), 2};

std::uint64_t number(const std::string& bytes, std::size_t at) {
    std::uint64_t value = 0;
    std::memcpy(&value, bytes.data() + at, sizeof value);
    return value;
}

void put(std::string& bytes, std::size_t at, std::uint64_t value) {
    std::memcpy(bytes.data() + at, &value, sizeof value);
}

std::string_view section(const std::string& bytes, std::size_t i) {
    const std::uint64_t offset = number(bytes, sections_at + 16 * i);
    const std::uint64_t count = number(bytes, sections_at + 16 * i + 8);
    if (offset > bytes.size() || count > (bytes.size() - offset) / element_bytes[i]) return {};
    return std::string_view(bytes).substr(offset, count * element_bytes[i]);
}

// Of one block, which is all that an input of libFuzzer's size has.
std::uint64_t sum_of(std::string_view part) {
    const std::uint64_t hash = XXH3_64bits(part.data(), part.size());
    return XXH3_64bits(&hash, part.empty() ? 0 : sizeof hash);
}

void make_sums_right(std::string& bytes) {
    std::memcpy(bytes.data() + version_at, &mesh_file_version, sizeof mesh_file_version);
    put(bytes, size_at, bytes.size());
    for (std::size_t i = 1; i < element_bytes.size(); ++i)
        put(bytes, sums_at + 8 * (i - 1), sum_of(section(bytes, i)));
    put(bytes, header_sum_at, 0);
    const std::string_view json = section(bytes, 0);
    const std::uint64_t seed = XXH3_64bits(bytes.data(), header_bytes);
    put(bytes, header_sum_at, XXH3_64bits_withSeed(json.data(), json.size(), seed));
}

void read_all(const Mesh& mesh) {
    double sum = 0.0;
    for (const std::uint32_t index : mesh.indices()) sum += mesh.vertices()[index].position[0];
    std::uint64_t clustered = 0, triangles = 0, stored = 0, vertices = mesh.vertices().size();
    for (const Cluster& cluster : mesh.clusters()) clustered += cluster.triangle_count;
    for (std::size_t i = 0; i < mesh.parts().size(); ++i) {
        const Part& part = mesh.parts()[i];
        const PartSurface surface = mesh.surface(i);
        fuzz::require(surface.indices().size() == 3 * std::size_t{part.triangle_count},
                      "a part has all its triangles");
        triangles += part.triangle_count;
        if (part.triangle_count > 0) sum += surface.corners(part.triangle_count - 1)[0].x;
        if (part.copy == no_copy) {
            stored += part.triangle_count;
            continue;
        }
        const PartCopy& copy = mesh.copies()[part.copy];
        fuzz::require(copy.first_placed == vertices, "a copy's vertices follow the others");
        vertices += copy.vertex_count;
        for (const std::uint32_t index : surface.indices())
            fuzz::require(index - copy.first_vertex < copy.vertex_count, "they are the copy's");
    }
    fuzz::require(3 * stored == mesh.indices().size(), "parts cover what is stored");
    fuzz::require(triangles == mesh.triangle_count(), "parts cover all triangles");
    fuzz::require(clustered == mesh.triangle_count(), "clusters cover all triangles");
    fuzz::require(vertices == mesh.vertex_count(), "all vertices are counted");
    for (const TexturePlane& plane : mesh.planes())
        sum += mesh.texels()[plane.first + texel_count(plane) - 1];
    volatile double kept = sum;
    (void)kept;
}

// A part, a copy of it, and pictures: every section has something in it.
FlatMesh sound_mesh() {
    FlatMesh mesh;
    for (const float x : {0.0F, 1.0F, 2.0F}) mesh.vertices.push_back({{x, x * x, 0.0F}, {}});
    for (const std::uint32_t i : {0U, 1U, 2U}) mesh.indices.push_back(i);
    mesh.clusters = {{0, 1, {}, {}}, {1, 1, {}, {}}};
    mesh.parts = {{"a", "", 0, 1, {}, 0}, {"b", "", 1, 1, {}, 0, 0}};
    mesh.copies = {{0, {}, 0, 3, 0}};
    mesh.detail_vertices.resize(3, DetailVertex{});
    mesh.planes.push_back({1, 1, 1, 1.0, 0});
    mesh.texels.push_back(0);
    mesh.details.emplace_back();
    mesh.details.back().heights = DetailMap{};
    return mesh;
}

std::string bytes_of(int descriptor) {
    std::string bytes(static_cast<std::size_t>(::lseek(descriptor, 0, SEEK_END)), '\0');
    fuzz::require(
        ::pread(descriptor, bytes.data(), bytes.size(), 0) == static_cast<ssize_t>(bytes.size()),
        "a file of our own is read");
    return bytes;
}

}  // namespace

// That the sums are made where the reader looks for them: else everything would be refused unread.
extern "C" int LLVMFuzzerInitialize(int*, char***) {
    const fuzz::MemoryFile written{std::string()};
    write_mesh_file(written.descriptor(), sound_mesh());
    std::string bytes = bytes_of(written.descriptor());
    std::fill_n(bytes.begin() + sums_at, header_bytes - sums_at, '\0');
    make_sums_right(bytes);
    const fuzz::MemoryFile file(bytes);
    const auto mapping = map_mesh_file(file.descriptor());
    fuzz::require(mapping != nullptr, "a sound mesh file is taken");
    read_all(Mesh(mapping));
    return 0;
}

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    std::string bytes(fuzz::text_of(data, size));
    if (bytes.size() >= header_bytes) make_sums_right(bytes);
    const fuzz::MemoryFile file(bytes);
    if (auto mapping = map_mesh_file(file.descriptor())) read_all(Mesh(mapping));
    return 0;
}
