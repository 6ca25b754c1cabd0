#include "model/mesh_file.hpp"

#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <cerrno>
#include <cmath>
#include <cstring>
#include <exception>
#include <system_error>

#include "model/copies.hpp"
#include "model/facts_json.hpp"
#include "model/parallel.hpp"
#include "model/xxh3.hpp"

namespace rakelight {
namespace {

constexpr std::uint64_t alignment = 64;
constexpr std::array<char, 8> mesh_file_magic{'R', 'A', 'K', 'E', 'M', 'E', 'S', 'H'};
constexpr std::uint32_t byte_order_mark = 0x01020304;

struct Section {
    std::uint64_t offset = 0;  ///< bytes from the file's start
    std::uint64_t count = 0;   ///< elements
};

struct FileHeader {
    std::array<char, 8> magic = mesh_file_magic;
    std::uint32_t version = mesh_file_version;
    std::uint32_t byte_order = byte_order_mark;
    std::uint64_t file_size = 0;
    Section json, vertices, indices, clusters, detail_vertices, texels;
    std::array<std::uint64_t, 5> checksums{};  ///< of the sections behind the JSON
    std::uint64_t header_checksum = 0;  ///< of this header with 0 here, continued over the JSON
};
static_assert(sizeof(FileHeader) == 168);

std::uint64_t header_checksum(FileHeader header, std::string_view json) {
    header.header_checksum = 0;
    const std::uint64_t seed = XXH3_64bits(&header, sizeof header);
    return XXH3_64bits_withSeed(json.data(), json.size(), seed);
}

// Bytes that one core's cache holds, so that what is done with them besides costs little.
constexpr std::size_t block_bytes = 1 << 18;

/// XXH3-64 of the list of XXH3-64 of every block, so that threads share the work.
/// @param visit  called with each block, a span, by any thread
template <class T, class Visit>
std::uint64_t checksum(std::span<const T> values, const Visit& visit) {
    constexpr std::size_t block = block_bytes / sizeof(T);
    std::vector<std::uint64_t> hashes(chunk_count(values.size(), block));
    parallel_chunks(values.size(), block, [&](std::size_t number, std::size_t i, std::size_t last) {
        const std::span<const T> part = values.subspan(i, last - i);
        hashes[number] = XXH3_64bits(part.data(), part.size_bytes());
        visit(part);
    });
    return XXH3_64bits(hashes.data(), hashes.size() * sizeof hashes[0]);
}

template <class T>
std::uint64_t checksum(std::span<const T> values) {
    return checksum(values, [](const auto&) {});
}

Section place(std::uint64_t& end, std::uint64_t count, std::uint64_t element_size) {
    if (count == 0) return {};  // the file would end before it
    const Section section{(end + alignment - 1) / alignment * alignment, count};
    end = section.offset + count * element_size;
    return section;
}

void write_at(int descriptor, std::uint64_t offset, const void* data, std::uint64_t size) {
    const char* from = static_cast<const char*>(data);
    while (size > 0) {
        const ssize_t count = ::pwrite(descriptor, from, size, static_cast<off_t>(offset));
        if (count < 0 && errno == EINTR) continue;
        if (count < 0) throw std::system_error(errno, std::generic_category());
        from += count;
        offset += static_cast<std::uint64_t>(count);
        size -= static_cast<std::uint64_t>(count);
    }
}

/// The elements of a section, or false when it does not lie in the file.
template <class T>
bool view(const Mesh::Mapping& mapping, const Section& section, std::span<const T>& elements) {
    if (section.offset % alignment != 0 || section.offset > mapping.size) return false;
    if (section.count > (mapping.size - section.offset) / sizeof(T)) return false;
    elements = {reinterpret_cast<const T*>(static_cast<const char*>(mapping.base) + section.offset),
                section.count};
    return true;
}

std::shared_ptr<Mesh::Mapping> map_whole_file(int descriptor) {
    struct stat status {};
    if (::fstat(descriptor, &status) != 0 || !S_ISREG(status.st_mode)) return nullptr;
    const auto size = static_cast<std::uint64_t>(status.st_size);
    if (size < sizeof(FileHeader)) return nullptr;
    int flags = MAP_PRIVATE;
#ifdef MAP_POPULATE
    flags |= MAP_POPULATE;  // all of it is read at once below
#endif
    void* base = ::mmap(nullptr, size, PROT_READ, flags, descriptor, 0);
    if (base == MAP_FAILED) return nullptr;
    return std::make_shared<Mesh::Mapping>(base, size);
}

bool read_header(Mesh::Mapping& mapping, FileHeader& header) {
    std::memcpy(&header, mapping.base, sizeof header);
    if (header.magic != mesh_file_magic || header.version != mesh_file_version ||
        header.byte_order != byte_order_mark || header.file_size != mapping.size)
        return false;
    std::span<const char> json;
    if (!view(mapping, header.json, json)) return false;
    const std::string_view text(json.data(), json.size());
    if (header_checksum(header, text) != header.header_checksum) return false;
    try {
        from_json(text, mapping);
    } catch (const std::exception&) {
        return false;
    }
    return true;
}

/// Whether all are less than `count`. Up to 2^31 the subtraction goes below zero, seen at the top
/// bit, for what is not less, and what would come around again has that bit itself: two operations
/// that every processor does on many numbers at once, which is not so for comparing.
bool all_less(std::span<const std::uint32_t> values, std::size_t count) {
    constexpr std::uint32_t top = 0x80000000;
    if (count == 0 || count > top)
        return std::all_of(values.begin(), values.end(), [&](auto v) { return v < count; });
    const auto last = static_cast<std::uint32_t>(count - 1);
    std::uint32_t bits = 0;
    for (const std::uint32_t v : values) bits |= v | (last - v);
    return (bits & top) == 0;
}

/// Whether the checksum is right and all indices are less than `vertices`.
bool indices_sound(std::span<const std::uint32_t> indices, std::size_t vertices,
                   std::uint64_t expected) {
    std::atomic<bool> sound{true};
    const std::uint64_t found = checksum(indices, [&](const auto& block) {
        if (!all_less(block, vertices)) sound = false;
    });
    return found == expected && sound;
}

bool read_sections(Mesh::Mapping& mapping, const FileHeader& header) {
    return view(mapping, header.vertices, mapping.vertices) &&
           view(mapping, header.indices, mapping.indices) &&
           view(mapping, header.clusters, mapping.clusters) &&
           view(mapping, header.detail_vertices, mapping.detail_vertices) &&
           view(mapping, header.texels, mapping.texels) &&
           checksum(mapping.vertices) == header.checksums[0] &&
           indices_sound(mapping.indices, mapping.vertices.size(), header.checksums[1]) &&
           checksum(mapping.clusters) == header.checksums[2] &&
           checksum(mapping.detail_vertices) == header.checksums[3] &&
           checksum(mapping.texels) == header.checksums[4];
}

/// Whether the runs lie one after the other without gaps and cover all triangles.
template <class Runs>
bool covers(const Runs& runs, std::uint64_t triangles, std::uint64_t most_in_one) {
    std::uint64_t next = 0;
    for (const auto& run : runs) {
        if (run.first_triangle != next || run.triangle_count > most_in_one) return false;
        next += run.triangle_count;
    }
    return next == triangles;
}

bool is_finite(const Bounds& b) {
    for (int k = 0; k < 3; ++k)
        if (!std::isfinite(b.low[k]) || !std::isfinite(b.high[k]) || b.low[k] > b.high[k])
            return false;
    return true;
}

/// Whether every number of a plane, a map and a detail names something that is there.
bool details_sound(const Mesh::Mapping& mapping) {
    const auto known = [&](const std::optional<DetailMap>& map, std::uint32_t channels) {
        return !map || (map->plane < mapping.planes.size() &&
                        mapping.planes[map->plane].channels == channels);
    };
    for (const TexturePlane& plane : mapping.planes) {
        const std::uint64_t most = std::uint64_t{1} << 20;
        if (plane.width == 0 || plane.height == 0 || plane.width > most || plane.height > most ||
            plane.channels == 0 || plane.channels > 2 || plane.first > mapping.texels.size() ||
            texel_count(plane) > mapping.texels.size() - plane.first)
            return false;
    }
    for (const SurfaceDetail& d : mapping.details)
        if (!known(d.slopes, 2) || !known(d.heights, 1) || !known(d.mask, 1)) return false;
    for (const Part& part : mapping.parts)
        if (part.detail != no_detail &&
            (part.detail >= mapping.details.size() || mapping.detail_vertices.empty()))
            return false;
    return mapping.detail_vertices.empty() ||
           mapping.detail_vertices.size() == mapping.vertices.size();
}

bool is_finite(const Placement& placement) {
    double sum = 0.0;
    for (int k = 0; k < 3; ++k)
        sum += glm::dot(placement.linear[k], placement.linear[k]) +
               placement.shift[k] * placement.shift[k];
    return std::isfinite(sum) && glm::determinant(placement.linear) > 0.0;
}

/// Numbers the vertices of the copies, and tells whether each is one of a part that has triangles,
/// whose vertices it names. Stored triangles come first, then copy after copy.
bool number_copies(Mesh::Mapping& mapping) {
    if (mapping.copies.size() > mapping.parts.size()) return false;
    std::uint64_t vertices = mapping.vertices.size(), triangles = 0;
    std::size_t next = 0;
    for (const Part& part : mapping.parts) {
        triangles += part.triangle_count;
        if (part.copy == no_copy && next == 0) continue;
        if (part.copy != next || next == mapping.copies.size()) return false;
        PartCopy& copy = mapping.copies[next++];
        const std::size_t own = mapping.parts.size() - mapping.copies.size();
        const std::uint64_t end = std::uint64_t{copy.first_vertex} + copy.vertex_count;
        if (copy.of >= own || part.triangle_count != mapping.parts[copy.of].triangle_count ||
            part.detail != mapping.parts[copy.of].detail || end > mapping.vertices.size() ||
            !is_finite(copy.placement))
            return false;
        copy.first_placed = static_cast<std::uint32_t>(vertices);
        vertices += copy.vertex_count;
        if (vertices > most_placed || triangles > most_placed) return false;
    }
    mapping.triangle_count = static_cast<std::uint32_t>(triangles);
    mapping.vertex_count = static_cast<std::uint32_t>(vertices);
    return next == mapping.copies.size();
}

/// Whether each copy's triangles are of the vertices that it names.
bool copies_sound(const Mesh::Mapping& mapping) {
    for (std::size_t i = 0; i < mapping.copies.size(); ++i) {
        const PartCopy& copy = mapping.copies[i];
        const bool looked_at = i > 0 && mapping.copies[i - 1].of == copy.of &&
                               mapping.copies[i - 1].first_vertex == copy.first_vertex &&
                               mapping.copies[i - 1].vertex_count == copy.vertex_count;
        if (looked_at) continue;
        const Part& part = mapping.parts[copy.of];
        const auto indices = mapping.indices.subspan(3 * std::size_t{part.first_triangle},
                                                     3 * std::size_t{part.triangle_count});
        for (const std::uint32_t index : indices)
            if (index - copy.first_vertex >= copy.vertex_count) return false;
    }
    return true;
}

/// Whether no cluster lies across two parts. Both cover all triangles in order.
bool clusters_keep_to_parts(const Mesh::Mapping& mapping) {
    auto part = mapping.parts.begin();
    for (const Cluster& cluster : mapping.clusters) {
        const std::uint32_t end = cluster.first_triangle + cluster.triangle_count;
        while (part->first_triangle + part->triangle_count < end) {
            if (++part == mapping.parts.end()) return false;
        }
        if (cluster.first_triangle < part->first_triangle) return false;
    }
    return true;
}

std::uint64_t stored_triangles(const Mesh::Mapping& mapping) {
    std::uint64_t count = 0;
    for (const Part& part : mapping.parts)
        if (part.copy == no_copy) count += part.triangle_count;
    return count;
}

bool is_sound(Mesh::Mapping& mapping) {
    if (!number_copies(mapping)) return false;
    const std::uint64_t triangles = mapping.triangle_count;
    return mapping.indices.size() % 3 == 0 && triangles > 0 &&
           mapping.indices.size() / 3 == stored_triangles(mapping) &&
           covers(mapping.parts, triangles, triangles) &&
           covers(mapping.clusters, triangles, most_triangles_in_cluster) &&
           clusters_keep_to_parts(mapping) && is_finite(mapping.bounds) && details_sound(mapping) &&
           copies_sound(mapping) &&
           std::all_of(mapping.parts.begin(), mapping.parts.end(),
                       [](const Part& part) { return is_finite(part.bounds); });
}

}  // namespace

Mesh::Mapping::~Mapping() {
    ::munmap(base, size);
}

void write_mesh_file(int descriptor, const FlatMesh& mesh) {
    const std::string json = to_json(mesh);
    FileHeader header;
    std::uint64_t end = sizeof header;
    header.json = place(end, json.size(), 1);
    header.vertices = place(end, mesh.vertices.size(), sizeof(Vertex));
    header.indices = place(end, mesh.indices.size(), sizeof(std::uint32_t));
    header.clusters = place(end, mesh.clusters.size(), sizeof(Cluster));
    header.detail_vertices = place(end, mesh.detail_vertices.size(), sizeof(DetailVertex));
    header.texels = place(end, mesh.texels.size(), sizeof(std::int16_t));
    header.file_size = end;
    header.checksums = {checksum(std::span<const Vertex>(mesh.vertices)),
                        checksum(std::span<const std::uint32_t>(mesh.indices)),
                        checksum(std::span<const Cluster>(mesh.clusters)),
                        checksum(std::span<const DetailVertex>(mesh.detail_vertices)),
                        checksum(std::span<const std::int16_t>(mesh.texels))};
    header.header_checksum = header_checksum(header, json);
    write_at(descriptor, 0, &header, sizeof header);
    write_at(descriptor, header.json.offset, json.data(), json.size());
    write_at(descriptor, header.vertices.offset, mesh.vertices.data(),
             mesh.vertices.size() * sizeof(Vertex));
    write_at(descriptor, header.indices.offset, mesh.indices.data(),
             mesh.indices.size() * sizeof(std::uint32_t));
    write_at(descriptor, header.clusters.offset, mesh.clusters.data(),
             mesh.clusters.size() * sizeof(Cluster));
    write_at(descriptor, header.detail_vertices.offset, mesh.detail_vertices.data(),
             mesh.detail_vertices.size() * sizeof(DetailVertex));
    write_at(descriptor, header.texels.offset, mesh.texels.data(),
             mesh.texels.size() * sizeof(std::int16_t));
}

std::shared_ptr<Mesh::Mapping> map_mesh_file(int descriptor) {
    std::shared_ptr<Mesh::Mapping> mapping = map_whole_file(descriptor);
    FileHeader header;
    if (!mapping || !read_header(*mapping, header) || !read_sections(*mapping, header) ||
        !is_sound(*mapping))
        return nullptr;
    return mapping;
}

Mesh::Mesh(std::shared_ptr<const Mapping> mapping) : mapping_(std::move(mapping)) {}
std::span<const Vertex> Mesh::vertices() const {
    return mapping_->vertices;
}
std::span<const std::uint32_t> Mesh::indices() const {
    return mapping_->indices;
}
std::span<const Part> Mesh::parts() const {
    return mapping_->parts;
}
std::span<const PartCopy> Mesh::copies() const {
    return mapping_->copies;
}
std::uint32_t Mesh::triangle_count() const {
    return mapping_->triangle_count;
}
std::uint32_t Mesh::vertex_count() const {
    return mapping_->vertex_count;
}
PartSurface Mesh::surface(std::size_t number) const {
    const Part& part = mapping_->parts[number];
    const PartCopy* copy = part.copy == no_copy ? nullptr : &mapping_->copies[part.copy];
    const Part& stored = copy == nullptr ? part : mapping_->parts[copy->of];
    return {mapping_->vertices,
            mapping_->indices.subspan(3 * std::size_t{stored.first_triangle},
                                      3 * std::size_t{stored.triangle_count}),
            copy == nullptr ? nullptr : &copy->placement};
}
std::span<const Cluster> Mesh::clusters() const {
    return mapping_->clusters;
}
std::span<const DetailVertex> Mesh::detail_vertices() const {
    return mapping_->detail_vertices;
}
std::span<const SurfaceDetail> Mesh::details() const {
    return mapping_->details;
}
std::span<const TexturePlane> Mesh::planes() const {
    return mapping_->planes;
}
std::span<const std::int16_t> Mesh::texels() const {
    return mapping_->texels;
}
const ModelFacts& Mesh::facts() const {
    return mapping_->facts;
}
const Bounds& Mesh::bounds() const {
    return mapping_->bounds;
}
const std::string& Mesh::hash() const {
    return mapping_->hash;
}
std::uint64_t Mesh::file_bytes() const {
    return mapping_->file_bytes;
}
std::vector<std::filesystem::path> Mesh::side_files() const {
    std::vector<std::filesystem::path> there;
    for (const SideFile& side : mapping_->side_files)
        if (side.hash) there.emplace_back(side.path);
    return there;
}
bool Mesh::from_cache() const {
    return mapping_->from_cache;
}

}  // namespace rakelight
