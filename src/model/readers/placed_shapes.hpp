#pragma once
// What the readers of formats share whose files place shapes: each is stored once where that will
// do, and a file that places more than anybody can see is refused. Private to model/.

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "model/copies.hpp"
#include "model/soup.hpp"

namespace rakelight {

/// Makes the parts of a soup, in the order of the file.
class PlacedShapes {
public:
    /// @param copies  false: what the file repeats is stored as often
    PlacedShapes(Soup& soup, bool copies) : soup_(soup), keeps_copies_(copies) {}

    /// Begins the next part. True when it repeats an earlier one, and nothing is to be stored.
    /// @param shape      has an address of its own, and the same triangles wherever it stands
    /// @param triangles  counts them
    bool repeats(const void* shape, const glm::dmat4& model_from_shape, const std::string& name,
                 const std::function<std::uint64_t()>& triangles);

    /// Ends the part: it is what was appended to the soup since it was begun.
    /// Throws Error(bad_model), without the file's name, when that is too much.
    void store(const void* shape, const glm::dmat4& model_from_shape, const std::string& name,
               const std::string& material);

private:
    Bounds box_from(std::size_t first_vertex) const;
    bool is_closed(const PartRange& part);

    Soup& soup_;
    bool keeps_copies_;
    CopyFinder copies_;
    std::unordered_map<std::uint32_t, bool> closed_;  ///< of parts, by their order
    std::uint32_t begun_ = 0;
    std::size_t first_vertex_ = 0, first_triangle_ = 0;  ///< of the part that was begun
};

/// How a format names what it places, for refusals.
struct PlacingWords {
    const char* format;  ///< "3MF"
    const char* places;  ///< "components"
};

/// The objects that a walk has open, one within the other. A few that each have the one before
/// twice are millions of places, though each of them is a short line. No exporter nests so deep or
/// repeats so often (common practice).
class OpenObjects {
public:
    explicit OpenObjects(PlacingWords words) : words_(words) {}

    /// Throws Error(bad_model), without the file's name.
    /// @param object  has an address of its own
    void open(const void* object, const std::string& id);
    void close() { open_.pop_back(); }

private:
    PlacingWords words_;
    std::vector<const void*> open_;
    std::uint64_t places_ = 0;
};

/// A triangle's corner, from `text` up to the next blank or the end: the number of one of so many
/// vertices, counted from 0. Throws Error(bad_model), without the file's name.
std::size_t take_corner(std::string_view& text, std::size_t vertices);

}  // namespace rakelight
