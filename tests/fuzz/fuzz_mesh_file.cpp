// The flat mesh file, as an import that was taken over could write it: the target makes all
// checksums right, so that what they guard is reached. It is mapped or refused, and all that a
// mapped one promises can be read.

#include <xxhash.h>

#include <array>
#include <cstring>

#include "fuzz_input.hpp"
#include "model/mesh_file.hpp"

using namespace rakelight;

namespace {

// FileHeader's members, see mesh_file.cpp.
constexpr std::size_t header_bytes = 120, version_at = 8, size_at = 16, sections_at = 24,
                      sums_at = 88, header_sum_at = 112;
constexpr std::array<std::size_t, 4> element_bytes{1, sizeof(Vertex), 4, sizeof(Cluster)};

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
    for (std::size_t i = 1; i < 4; ++i)
        put(bytes, sums_at + 8 * (i - 1), sum_of(section(bytes, i)));
    put(bytes, header_sum_at, 0);
    const std::string_view json = section(bytes, 0);
    const std::uint64_t seed = XXH3_64bits(bytes.data(), header_bytes);
    put(bytes, header_sum_at, XXH3_64bits_withSeed(json.data(), json.size(), seed));
}

void read_all(const Mesh& mesh) {
    double sum = 0.0;
    for (const std::uint32_t index : mesh.indices()) sum += mesh.vertices()[index].position[0];
    std::uint64_t triangles = 0;
    for (const Cluster& cluster : mesh.clusters()) triangles += cluster.triangle_count;
    fuzz::require(3 * triangles == mesh.indices().size(), "clusters cover all triangles");
    triangles = 0;
    for (const Part& part : mesh.parts()) triangles += part.triangle_count;
    fuzz::require(3 * triangles == mesh.indices().size(), "parts cover all triangles");
    volatile double kept = sum;
    (void)kept;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    std::string bytes(fuzz::text_of(data, size));
    if (bytes.size() >= header_bytes) make_sums_right(bytes);
    const fuzz::MemoryFile file(bytes);
    if (auto mapping = map_mesh_file(file.descriptor())) read_all(Mesh(mapping));
    return 0;
}
