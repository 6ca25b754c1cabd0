#pragma once
// Which faces of an OBJ file make a part. Private to model/.

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "model/soup.hpp"

namespace rakelight {

/// A line that does not hold geometry, and how much geometry was before it.
struct ObjStatement {
    enum class Kind : std::uint8_t { object, group, material, library } kind;
    std::string_view name;
    std::uint64_t elements = 0;   ///< faces, lines and points before it
    std::uint64_t triangles = 0;  ///< that come of the faces before it
};

/// Which lines "o" and "g" begin a part: those of another name than what is under way.
class ObjNames {
public:
    /// @param kind  object or group
    bool begins(ObjStatement::Kind kind, std::string_view name);

private:
    std::string active_, group_;
};

/// Follows the statements through the file. A part begins with an object or a group of another name
/// than what is under way, and with another material once its part has both a material and faces;
/// it is called by its object or group, or by its material where that has no name. The importer is
/// held to the same rules (obj_text.hpp), so that parts are the same whoever reads the file.
class ObjParts {
public:
    /// Throws Unfamiliar for names that are empty or too long: the importer has its own ways with
    /// those.
    void follow(const ObjStatement& statement);

    /// The parts, in order. `has_normals` is left open.
    std::vector<PartRange> end(std::uint64_t triangles);

private:
    struct Piece {
        std::string name;
        std::string material;
        std::uint64_t first_element, first_triangle;
    };
    void start_default(const ObjStatement& next);
    void take_material(const ObjStatement& statement);
    void start_piece(const std::string& name, const ObjStatement& statement);

    std::vector<Piece> pieces_;
    ObjNames names_;
    std::string material_;
};

}  // namespace rakelight
