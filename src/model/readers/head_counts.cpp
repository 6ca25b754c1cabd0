#include "model/readers/head_counts.hpp"

#include <algorithm>
#include <array>
#include <cstring>
#include <fstream>
#include <vector>

#include "model/readers/ply_header.hpp"
#include "model/readers/stl_layout.hpp"
#include "model/readers/text_scan.hpp"

namespace rakelight {
namespace {

namespace fs = std::filesystem;

/// Different corners of consecutive triangles, per triangle; looked for in a few places of the
/// file.
double corners_per_triangle(const fs::path& file, std::uint64_t triangles) {
    constexpr std::uint64_t places = 8, most_together = 1024;
    const std::uint64_t together = std::min(triangles, most_together);
    std::ifstream in(file, std::ios::binary);
    std::string bytes(together * stl_triangle_bytes, '\0');
    std::uint64_t corners = 0;
    for (std::uint64_t place = 0; place < places; ++place) {
        const std::uint64_t first = (triangles - together) * place / (places - 1);
        in.seekg(static_cast<std::streamoff>(stl_head_bytes + first * stl_triangle_bytes));
        if (!in.read(bytes.data(), static_cast<std::streamsize>(bytes.size()))) return 0.0;
        std::vector<std::array<std::uint32_t, 3>> points(3 * together);
        for (std::size_t c = 0; c < points.size(); ++c)
            std::memcpy(&points[c], bytes.data() + c / 3 * stl_triangle_bytes + 12 + c % 3 * 12,
                        12);
        std::sort(points.begin(), points.end());
        corners +=
            static_cast<std::uint64_t>(std::unique(points.begin(), points.end()) - points.begin());
    }
    return static_cast<double>(corners) / static_cast<double>(places * together);
}

// A closed surface has half as many vertices as triangles (L. Euler 1758, V - E + F = 2, E = 3 F /
// 2). In a strip of such a surface one triangle brings one corner; more than that is loose pieces,
// or triangles in no order, of which nobody knows.
double vertices_per_triangle(const fs::path& file, std::uint64_t triangles) {
    constexpr double of_strips = 1.1;
    const double found = corners_per_triangle(file, triangles);
    return found > of_strips ? found : 0.5;
}

std::optional<HeadCounts> stl_counts(const fs::path& file, const std::string& head,
                                     std::uint64_t file_bytes) {
    if (head.size() < stl_head_bytes) return std::nullopt;
    const std::uint64_t claimed = stl_claimed_triangles(head);
    const std::uint64_t held = (file_bytes - stl_head_bytes) / stl_triangle_bytes;
    if (is_text_stl(head, file_bytes) || claimed > held) return std::nullopt;
    const std::uint64_t triangles = claimed > 0 ? claimed : held;
    if (triangles == 0) return std::nullopt;
    const double vertices = vertices_per_triangle(file, triangles) * static_cast<double>(triangles);
    return HeadCounts{{static_cast<std::uint64_t>(vertices), triangles}, false};
}

/// The elements of a PLY that surfaces are made of; null: there is none.
struct PlyParts {
    const PlyElement* vertex;
    const PlyElement* face;
    const PlyElement* strips;
};

PlyParts ply_parts(const PlyHeader& header) {
    const auto named = [&](const char* name) {
        const auto found = std::find_if(header.elements.begin(), header.elements.end(),
                                        [&](const PlyElement& e) { return e.name == name; });
        return found == header.elements.end() ? nullptr : &*found;
    };
    return {named("vertex"), named("face"), named("tristrips")};
}

const PlyProperty* list_of(const PlyElement& element) {
    const auto list = std::find_if(element.properties.begin(), element.properties.end(),
                                   [](const PlyProperty& p) { return p.count_type.has_value(); });
    return list == element.properties.end() ? nullptr : &*list;
}

// As long as most numbers of vertices are, with a blank behind each.
std::uint64_t text_bytes_per_corner(std::uint64_t vertices) {
    std::uint64_t bytes = 2;
    for (; vertices > 100; vertices /= 10) ++bytes;
    return bytes;
}

/// Most corners that the strips and faces can have in so large a file.
std::uint64_t most_corners(const PlyHeader& header, const PlyParts& parts,
                           std::uint64_t file_bytes) {
    constexpr std::uint64_t least_text_vertex = 6;  // "0 0 0\n"
    const bool text = header.format == PlyFormat::ascii;
    std::uint64_t other =
        header.bytes +
        parts.vertex->count * (text ? least_text_vertex : parts.vertex->scalar_bytes());
    std::uint64_t corner_bytes = text ? text_bytes_per_corner(parts.vertex->count) : 8;
    for (const PlyElement* element : {parts.face, parts.strips}) {
        const PlyProperty* list = element == nullptr ? nullptr : list_of(*element);
        if (list == nullptr || text) continue;
        other += element->count * (element->scalar_bytes() + size_of(*list->count_type));
        corner_bytes = std::min(corner_bytes, std::uint64_t{size_of(list->type)});
    }
    return (file_bytes - std::min(file_bytes, other)) / corner_bytes;
}

// Polygons become their corners less two, each corner of a strip but two a triangle; how many
// corners, the file's size bounds.
std::uint64_t ply_triangles(const PlyHeader& header, const PlyParts& parts,
                            std::uint64_t file_bytes) {
    const std::uint64_t faces = parts.face == nullptr ? 0 : parts.face->count;
    if (header.has_strips()) return most_corners(header, parts, file_bytes);
    if (header.format == PlyFormat::ascii) return 2 * faces;  // quads at the most
    if (list_of(*parts.face) == nullptr) return faces;
    const std::uint64_t corners = most_corners(header, parts, file_bytes);
    return corners - std::min(corners, 2 * faces);
}

std::optional<HeadCounts> ply_counts(const std::string& head, std::uint64_t file_bytes) {
    try {
        const PlyHeader header = read_ply_header(head);
        const PlyParts parts = ply_parts(header);
        if (parts.vertex == nullptr || (parts.face == nullptr && !header.has_strips()))
            return std::nullopt;
        // A head that promises more than the file can hold is refused by its reader.
        for (const PlyElement* element : {parts.vertex, parts.face, parts.strips})
            if (element != nullptr && element->count > file_bytes) return std::nullopt;
        return HeadCounts{{parts.vertex->count, ply_triangles(header, parts, file_bytes)},
                          parts.vertex->find("nx").has_value()};
    } catch (const Unfamiliar&) {
        return std::nullopt;
    }
}

}  // namespace

std::string first_bytes_of(const fs::path& file, std::size_t most) {
    std::ifstream in(file, std::ios::binary);
    std::string bytes(most, '\0');
    in.read(bytes.data(), static_cast<std::streamsize>(bytes.size()));
    bytes.resize(static_cast<std::size_t>(std::max<std::streamsize>(in.gcount(), 0)));
    return bytes;
}

std::optional<HeadCounts> head_counts(const fs::path& file, std::uint64_t file_bytes) {
    constexpr std::size_t most_head_bytes = 1 << 16;
    const std::string extension = lower(file.extension().string());
    std::optional<HeadCounts> counts;
    if (extension == ".ply") counts = ply_counts(first_bytes_of(file, most_head_bytes), file_bytes);
    if (extension == ".stl")
        counts = stl_counts(file, first_bytes_of(file, most_head_bytes), file_bytes);
    return counts && counts->size.triangles > 0 ? counts : std::nullopt;
}

}  // namespace rakelight
