#include "model/flat_mesh.hpp"

#include <limits>
#include <string_view>
#include <unordered_map>

#include "error.hpp"
#include "model/copies.hpp"
#include "model/parallel.hpp"
#include "model/texture_span.hpp"
#include "printable.hpp"

namespace rakelight {
namespace {

std::vector<Cluster> cut_clusters(const std::vector<PartRange>& parts) {
    std::vector<Cluster> clusters;
    for (const PartRange& part : parts)
        for (std::uint32_t done = 0; done < part.triangle_count;) {
            const std::uint32_t count =
                std::min(most_triangles_in_cluster, part.triangle_count - done);
            clusters.push_back({part.first_triangle + done, count, {}, {}});
            done += count;
        }
    return clusters;
}

void measure(const FlatMesh& mesh, Cluster& cluster) {
    glm::vec3 low(std::numeric_limits<float>::infinity()), high = -low;
    for (std::size_t i = 3 * std::size_t{cluster.first_triangle},
                     end = i + 3 * std::size_t{cluster.triangle_count};
         i < end; ++i) {
        const std::array<float, 3>& p = mesh.vertices[mesh.indices[i]].position;
        low = glm::min(low, glm::vec3(p[0], p[1], p[2]));
        high = glm::max(high, glm::vec3(p[0], p[1], p[2]));
    }
    cluster.low = {low.x, low.y, low.z};
    cluster.high = {high.x, high.y, high.z};
}

void include(Bounds& bounds, const glm::dvec3& low, const glm::dvec3& high, bool first) {
    bounds.low = first ? low : glm::min(bounds.low, low);
    bounds.high = first ? high : glm::max(bounds.high, high);
}

std::vector<Part> name_parts(const std::vector<PartRange>& ranges) {
    std::vector<std::string> names;
    for (const PartRange& range : ranges) names.push_back(range.name);
    names = unique_names(std::move(names));
    std::vector<Part> parts;
    for (std::size_t i = 0; i < ranges.size(); ++i) {
        const PartRange& range = ranges[i];
        parts.push_back({std::move(names[i]),
                         range.material,
                         range.first_triangle,
                         range.triangle_count,
                         {},
                         range.detail});
    }
    return parts;
}

std::string counted(std::uint64_t count, std::string_view one, std::string_view many) {
    return std::to_string(count) + " " + std::string(count == 1 ? one : many);
}

/// What was dropped or mended, in words.
void warn(ModelFacts& facts) {
    const auto add = [&](std::uint64_t count, std::string_view one, std::string_view many) {
        if (count > 0) facts.warnings.push_back(counted(count, one, many));
    };
    add(facts.dropped_lines_points, "line or point was left out: it has no surface",
        "lines or points were left out: they have no surface");
    add(facts.dropped_not_finite, "triangle with a corner that is not a number was dropped",
        "triangles with a corner that is not a number were dropped");
    add(facts.dropped_degenerate, "triangle without any area was dropped",
        "triangles without any area were dropped");
    add(facts.dropped_doubled, "triangle that lay on another one was dropped",
        "triangles that lay on other ones were dropped");
    add(facts.flipped_windings, "triangle was turned over to agree with its neighbours",
        "triangles were turned over to agree with their neighbours");
    add(facts.broken_normals, "broken normal was made anew", "broken normals were made anew");
}

std::uint64_t triangles_in_file(const Soup& soup) {
    // Some were left out already: they lie on others.
    std::uint64_t count = soup.indices.size() / 3 + soup.facts.dropped_doubled;
    for (const PartRange& part : soup.parts)
        count += part.copies.size() * std::uint64_t{part.triangle_count};
    return count;
}

[[noreturn]] void refuse_empty(const ModelFacts& facts) {
    if (facts.triangles_in_file > 0)
        throw Error(ExitCode::bad_model,
                    "none of its " + std::to_string(facts.triangles_in_file) +
                        " triangles is usable: " + std::to_string(facts.dropped_degenerate) +
                        " have no area, " + std::to_string(facts.dropped_not_finite) +
                        " have a corner that is not a number; expected a surface; export the "
                        "model again");
    const std::string found =
        facts.dropped_lines_points > 0
            ? "only " + counted(facts.dropped_lines_points, "line or point", "lines or points")
            : std::string("nothing that has a shape");
    throw Error(ExitCode::bad_model, "it has no triangles, " + found +
                                         "; expected a surface of triangles or polygons; mesh the "
                                         "points or export the model with its faces");
}

void make_printable(std::string& text) {
    text = printable(text);
}

// What a file says of itself ends up in lists, on terminals, and in names that a scene repeats.
void make_printable(std::vector<PartRange>& parts) {
    for (PartRange& part : parts) {
        make_printable(part.name);
        make_printable(part.material);
        for (RangeCopy& copy : part.copies) make_printable(copy.name);
    }
}

void make_printable(ModelFacts& facts) {
    for (std::string* text : {&facts.format, &facts.up_reason, &facts.front_reason,
                              &facts.unit_reason, &facts.subdivision, &facts.rig.shown})
        make_printable(*text);
    for (std::string& warning : facts.warnings) make_printable(warning);
    for (ClipFact& clip : facts.rig.clips) make_printable(clip.name);
    for (ShapeFact& shape : facts.rig.shapes) make_printable(shape.name);
    for (TextureFact& texture : facts.textures) {
        for (std::string* text : {&texture.name, &texture.material, &texture.found, &texture.state})
            make_printable(*text);
        for (std::string& tried : texture.tried) make_printable(tried);
    }
}

}  // namespace

std::vector<std::string> unique_names(std::vector<std::string> names) {
    std::unordered_map<std::string, int> last_number;
    for (const std::string& name : names) last_number.emplace(name, 0);
    for (std::string& name : names) {
        int& number = last_number.at(name);
        if (++number < 2) continue;
        std::string numbered;
        while (last_number.contains(numbered = name + "#" + std::to_string(number))) ++number;
        name = std::move(numbered);
    }
    return names;
}

void measure_parts(FlatMesh& mesh) {
    std::size_t next = 0;
    for (Part& part : mesh.parts) {
        const std::size_t first = next;
        for (const std::uint32_t end = part.first_triangle + part.triangle_count;
             next < mesh.clusters.size() && mesh.clusters[next].first_triangle < end; ++next) {
            const Cluster& c = mesh.clusters[next];
            include(part.bounds, {c.low[0], c.low[1], c.low[2]}, {c.high[0], c.high[1], c.high[2]},
                    next == first);
        }
        include(mesh.bounds, part.bounds.low, part.bounds.high, &part == &mesh.parts.front());
    }
}

FlatMesh flatten(Shaded&& shaded, const std::vector<PartRange>& parts) {
    FlatMesh mesh;
    mesh.vertices = std::move(shaded.vertices);
    mesh.indices = std::move(shaded.indices);
    mesh.detail_vertices = std::move(shaded.detail_vertices);
    mesh.clusters = cut_clusters(parts);
    mesh.parts = name_parts(parts);
    parallel_chunks(mesh.clusters.size(), 8, [&](auto, std::size_t i, std::size_t last) {
        for (; i < last; ++i) measure(mesh, mesh.clusters[i]);
    });
    measure_parts(mesh);
    return mesh;
}

FlatMesh build_flat_mesh(Soup&& soup, const ReadingSettings& reading) {
    make_printable(soup.parts);
    soup.facts.triangles_in_file = triangles_in_file(soup);
    ModelFacts facts = std::move(soup.facts);
    Surface surface = sort_triangles(soup, facts);
    if (surface.parts.empty()) refuse_empty(facts);
    // Each array goes as soon as nobody reads it: the largest models would not fit otherwise.
    drop(soup.indices);
    weld(soup, surface);
    drop(soup.positions);
    drop_doubled(surface, facts);
    std::vector<SurfaceDetail> details = std::move(soup.details);
    std::vector<TexturePlane> planes = std::move(soup.planes);
    Array<std::int16_t> texels = std::move(soup.texels);
    mend_windings(surface, facts);
    const std::vector<PartRange> parts = surface.parts;
    Shaded shaded =
        shade(std::move(soup), std::move(surface), reading.normals, reading.crease_deg, facts);
    surface = {};
    FlatMesh mesh = flatten(std::move(shaded), parts);
    mesh.details = std::move(details);
    mesh.planes = std::move(planes);
    mesh.texels = std::move(texels);
    if (!mesh.detail_vertices.empty()) add_tangents(mesh);
    add_copies(mesh, parts);
    warn(facts);
    make_printable(facts);
    mesh.facts = std::move(facts);
    return mesh;
}

}  // namespace rakelight
