#pragma once
// Which faces of an OBJ file make a part. Private to model/.

#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>
#include <unordered_set>
#include <vector>

#include "model/readers/recording_io.hpp"
#include "model/soup.hpp"

namespace rakelight {

/// A line that does not hold geometry, and how much geometry was before it.
struct ObjStatement {
    enum class Kind : std::uint8_t { object, group, material, library } kind;
    std::string_view name;
    std::uint64_t elements = 0;   ///< faces, lines and points before it
    std::uint64_t triangles = 0;  ///< that come of the faces before it
};

/// Follows the statements through the file. A part begins with an object, with a group of another
/// name than the last one's, and with another material once its part has both a material and faces;
/// it is called by its object or group, or by its material where that has no name. These are the
/// rules of the importer, so that parts are the same whoever reads the file.
class ObjParts {
public:
    /// Throws Unfamiliar for an object that is gone on with, and for names that are empty or too
    /// long: the importer has its own ways with those.
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
    void start_object(const ObjStatement& statement);
    void take_material(const ObjStatement& statement);
    void start_piece(const std::string& name, const ObjStatement& statement);

    std::vector<Piece> pieces_;
    std::unordered_set<std::string> objects_;
    std::string group_, material_;
};

/// Has the io note the file that a "mtllib" names, or the one that the importer would look for in
/// its place, so that it is known whether it changes.
/// @param with_maps  pictures count: throws Unfamiliar() when it has bump maps or the like
void note_library(std::string_view name, const std::filesystem::path& model, RecordingIo& io,
                  bool with_maps);

}  // namespace rakelight
