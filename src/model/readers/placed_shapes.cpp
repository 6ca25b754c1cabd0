#include "model/readers/placed_shapes.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>

#include "error.hpp"
#include "model/import_bytes.hpp"
#include "model/readers/plain_readers.hpp"
#include "model/readers/xml.hpp"

namespace rakelight {

bool PlacedShapes::repeats(const void* shape, const glm::dmat4& model_from_shape,
                           const std::string& name,
                           const std::function<std::uint64_t()>& triangles) {
    const std::uint32_t order = begun_++;
    first_vertex_ = soup_.positions.size();
    first_triangle_ = soup_.indices.size() / 3;
    if (!keeps_copies_) return false;
    if (copies_.is_doubled(shape, model_from_shape)) {
        soup_.facts.dropped_doubled += triangles();
        return true;
    }
    const auto copied = copies_.find(shape, model_from_shape, CopySizes::alike);
    if (!copied || !is_closed(soup_.parts[copied->stored])) return false;
    soup_.parts[copied->stored].copies.push_back({name, copied->placement, order});
    return true;
}

void PlacedShapes::store(const void* shape, const glm::dmat4& model_from_shape,
                         const std::string& name, const std::string& material) {
    const std::size_t vertices = soup_.positions.size(), triangles = soup_.indices.size() / 3;
    check_count(vertices, triangles);
    check_room_for({vertices, triangles}, false);
    copies_.store(shape, model_from_shape, soup_.parts.size(), box_from(first_vertex_));
    soup_.parts.push_back({name, material, static_cast<std::uint32_t>(first_triangle_),
                           static_cast<std::uint32_t>(triangles - first_triangle_), false,
                           no_detail, begun_ - 1, static_cast<std::uint32_t>(first_vertex_),
                           static_cast<std::uint32_t>(vertices - first_vertex_)});
}

Bounds PlacedShapes::box_from(std::size_t first_vertex) const {
    constexpr double far = std::numeric_limits<double>::max();
    Bounds box{glm::dvec3(far), glm::dvec3(-far)};
    for (std::size_t v = first_vertex; v < soup_.positions.size(); ++v) {
        box.low = glm::min(box.low, glm::dvec3(soup_.positions[v]));
        box.high = glm::max(box.high, glm::dvec3(soup_.positions[v]));
    }
    return box;
}

// The normals are made, which depend on what is welded to an open edge.
bool PlacedShapes::is_closed(const PartRange& part) {
    if (!part.copies.empty()) return true;
    const auto [known, is_new] = closed_.try_emplace(part.order, false);
    if (is_new)
        known->second = is_closed_shape(std::span<const std::uint32_t>(soup_.indices)
                                            .subspan(3 * std::size_t{part.first_triangle},
                                                     3 * std::size_t{part.triangle_count}));
    return known->second;
}

void OpenObjects::open(const void* object, const std::string& id) {
    constexpr std::size_t most_levels = 100;
    constexpr std::uint64_t most_places = 1'000'000;
    const std::string sound =
        std::string("expected a sound ") + words_.format + " file; export the model again";
    if (std::find(open_.begin(), open_.end(), object) != open_.end())
        throw Error(ExitCode::bad_model, "its object \"" + id + "\" has itself among its " +
                                             words_.places + "; " + sound);
    if (open_.size() >= most_levels)
        throw Error(ExitCode::bad_model, "its objects lie more than " +
                                             std::to_string(most_levels) + " deep in each other; " +
                                             sound);
    if (++places_ > most_places)
        throw Error(ExitCode::bad_model,
                    std::string("its ") + words_.places + " repeat objects more than " +
                        std::to_string(most_places) +
                        " times: it was made to exhaust the machine; expected a model; do not "
                        "trust where it came from");
    open_.push_back(object);
}

std::size_t take_corner(std::string_view& text, std::size_t vertices) {
    const std::string_view whole = text;
    const double index = take_number(text, "a corner of a triangle");
    if (std::isnan(index))
        throw Error(ExitCode::bad_model, "a corner of a triangle is \"" + std::string(whole) +
                                             "\"; expected a number; export the model again");
    if (!(index >= 0.0 && index < double(vertices)))
        refuse_index(static_cast<std::int64_t>(std::clamp(index, -1e15, 1e15)), vertices, 0);
    return static_cast<std::size_t>(index);
}

}  // namespace rakelight
