#include "model/facts_json.hpp"

#include <concepts>
#include <limits>
#include <nlohmann/json.hpp>
#include <stdexcept>

// Found by nlohmann-json through the namespace of the types.
namespace rakelight {

using nlohmann::json;

namespace {

/// A whole number that fits. The library converts what is none without a look; the file may be of
/// an import that was taken over.
class Whole {
public:
    explicit Whole(const json& value) : value_(value) {}
    template <std::unsigned_integral T>
    operator T() const {  // NOLINT: what it is assigned to says which
        if (!value_.is_number_unsigned()) throw std::out_of_range("no whole number");
        const auto number = value_.get<std::uint64_t>();
        if (number > std::numeric_limits<T>::max()) throw std::out_of_range("too large a number");
        return static_cast<T>(number);
    }

private:
    const json& value_;
};

/// A member of the facts, of whatever kind it is.
template <class T>
void read_fact(const json& value, T& fact) {
    if constexpr (std::unsigned_integral<T> && !std::same_as<T, bool>) {
        fact = Whole(value);
    } else {
        value.get_to(fact);
    }
}

Wrap wrap_from(const json& value) {
    const std::uint32_t number = Whole(value);
    if (number > static_cast<std::uint32_t>(Wrap::mirror)) throw std::out_of_range("no wrap");
    return static_cast<Wrap>(number);
}

}  // namespace

static void to_json(json& j, const TextureFact& f) {
    j = {{"name", f.name},   {"use", f.use},     {"material", f.material}, {"found", f.found},
         {"state", f.state}, {"width", f.width}, {"height", f.height},     {"tried", f.tried}};
}

static void from_json(const json& j, TextureFact& f) {
    f = {j.at("name"),  j.at("use"),          j.at("material"),      j.at("found"),
         j.at("state"), Whole(j.at("width")), Whole(j.at("height")), j.at("tried")};
}

static void to_json(json& j, const TexturePlane& p) {
    j = {p.width, p.height, p.channels, p.scale, p.first};
}

static void from_json(const json& j, TexturePlane& p) {
    p = {Whole(j.at(0)), Whole(j.at(1)), Whole(j.at(2)), j.at(3), Whole(j.at(4))};
}

static void to_json(json& j, const DetailMap& m) {
    j = {m.plane, static_cast<int>(m.wrap_u), static_cast<int>(m.wrap_v), m.place};
}

static void from_json(const json& j, DetailMap& m) {
    m = {Whole(j.at(0)), wrap_from(j.at(1)), wrap_from(j.at(2)), j.at(3)};
}

namespace {

json optional_json(const std::optional<DetailMap>& map) {
    return map ? json(*map) : json(nullptr);
}

std::optional<DetailMap> optional_from(const json& j) {
    if (j.is_null()) return std::nullopt;
    return j.get<DetailMap>();
}

json detail_json(const SurfaceDetail& d) {
    return {{"slopes", optional_json(d.slopes)},
            {"heights", optional_json(d.heights)},
            {"mask", optional_json(d.mask)},
            {"from_normals", d.from_normals},
            {"strength", d.strength},
            {"cut_off", d.cut_off}};
}

SurfaceDetail detail_from(const json& j) {
    return {optional_from(j.at("slopes")), optional_from(j.at("heights")),
            j.at("from_normals"),          j.at("strength"),
            optional_from(j.at("mask")),   j.at("cut_off")};
}

json bounds_json(const Bounds& b) {
    return {b.low.x, b.low.y, b.low.z, b.high.x, b.high.y, b.high.z};
}

Bounds bounds_from(const json& j) {
    const auto v = j.get<std::array<double, 6>>();
    return {{v[0], v[1], v[2]}, {v[3], v[4], v[5]}};
}

}  // namespace

void to_json(json& j, const ClipFact& clip) {
    j = {clip.name, clip.from_s, clip.to_s};
}
void from_json(const json& j, ClipFact& clip) {
    clip = {j.at(0), j.at(1), j.at(2)};
}
void to_json(json& j, const ShapeFact& shape) {
    j = {shape.name, shape.weight};
}
void from_json(const json& j, ShapeFact& shape) {
    shape = {j.at(0), j.at(1)};
}

namespace {

/// Calls visit(key, member) for every member of the facts, so that reading and writing agree.
template <class Facts, class Visit>
void for_each_fact(Facts& facts, const Visit& visit) {
    visit("format", facts.format);
    visit("up", facts.up);
    visit("up_reason", facts.up_reason);
    visit("front", facts.front);
    visit("front_reason", facts.front_reason);
    visit("mm_per_unit", facts.mm_per_unit);
    visit("unit_reason", facts.unit_reason);
    visit("subdivision", facts.subdivision);
    visit("normals", facts.normals);
    visit("triangles_in_file", facts.triangles_in_file);
    visit("dropped_degenerate", facts.dropped_degenerate);
    visit("dropped_not_finite", facts.dropped_not_finite);
    visit("dropped_lines_points", facts.dropped_lines_points);
    visit("dropped_doubled", facts.dropped_doubled);
    visit("flipped_windings", facts.flipped_windings);
    visit("broken_normals", facts.broken_normals);
    visit("boundary_edges", facts.boundary_edges);
    visit("crowded_edges", facts.crowded_edges);
    visit("borders", facts.borders);
    visit("t_junctions", facts.t_junctions);
    visit("spikes", facts.spikes);
    visit("inner_shells", facts.inner_shells);
    visit("shells", facts.shells);
    visit("closed", facts.closed);
    visit("bones", facts.rig.bones);
    visit("clips", facts.rig.clips);
    visit("shapes", facts.rig.shapes);
    visit("frames", facts.rig.frames);
    visit("shown", facts.rig.shown);
    visit("textures", facts.textures);
    visit("warnings", facts.warnings);
}

// Lists, not members with names: a file may have a million parts.

json part_json(const Part& part) {
    return {part.name,
            part.material,
            part.first_triangle,
            part.triangle_count,
            bounds_json(part.bounds),
            part.detail,
            part.copy};
}

Part part_from(const json& j) {
    return {j.at(0),        j.at(1),       Whole(j.at(2)), Whole(j.at(3)), bounds_from(j.at(4)),
            Whole(j.at(5)), Whole(j.at(6))};
}

json copy_json(const PartCopy& copy) {
    const glm::dmat3& m = copy.placement.linear;
    const glm::dvec3& at = copy.placement.shift;
    return {
        copy.of,
        copy.first_vertex,
        copy.vertex_count,
        {m[0].x, m[0].y, m[0].z, m[1].x, m[1].y, m[1].z, m[2].x, m[2].y, m[2].z, at.x, at.y, at.z}};
}

PartCopy copy_from(const json& j) {
    const auto v = j.at(3).get<std::array<double, 12>>();
    const Placement placement{glm::dmat3(v[0], v[1], v[2], v[3], v[4], v[5], v[6], v[7], v[8]),
                              {v[9], v[10], v[11]}};
    return {Whole(j.at(0)), placement, Whole(j.at(1)), Whole(j.at(2)), 0};
}

}  // namespace

std::string to_json(const FlatMesh& mesh) {
    json facts = json::object();
    for_each_fact(mesh.facts, [&](const char* key, const auto& value) { facts[key] = value; });
    json parts = json::array();
    for (const Part& part : mesh.parts) parts.push_back(part_json(part));
    json copies = json::array();
    for (const PartCopy& copy : mesh.copies) copies.push_back(copy_json(copy));
    json side_files = json::array();
    for (const SideFile& file : mesh.side_files)
        side_files.push_back({file.path, file.hash ? json(*file.hash) : json(nullptr)});
    json details = json::array();
    for (const SurfaceDetail& detail : mesh.details) details.push_back(detail_json(detail));
    const json all = {
        {"details", details}, {"planes", mesh.planes},         {"facts", facts},
        {"parts", parts},     {"side_files", side_files},      {"bounds", bounds_json(mesh.bounds)},
        {"hash", mesh.hash},  {"file_bytes", mesh.file_bytes}, {"copies", copies}};
    return all.dump(-1, ' ', false, json::error_handler_t::replace);
}

void from_json(std::string_view text, Mesh::Mapping& mapping) {
    const json all = json::parse(text);
    const json& facts = all.at("facts");
    for_each_fact(mapping.facts,
                  [&](const char* key, auto& value) { read_fact(facts.at(key), value); });
    for (const json& part : all.at("parts")) mapping.parts.push_back(part_from(part));
    for (const json& copy : all.at("copies")) mapping.copies.push_back(copy_from(copy));
    for (const json& detail : all.at("details")) mapping.details.push_back(detail_from(detail));
    all.at("planes").get_to(mapping.planes);
    for (const json& file : all.at("side_files")) {
        SideFile side{file.at(0), std::nullopt};
        if (!file.at(1).is_null()) side.hash = file.at(1).get<std::string>();
        mapping.side_files.push_back(std::move(side));
    }
    mapping.bounds = bounds_from(all.at("bounds"));
    mapping.hash = all.at("hash");
    mapping.file_bytes = Whole(all.at("file_bytes"));
}

}  // namespace rakelight
