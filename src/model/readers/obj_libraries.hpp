#pragma once
// Where an OBJ file's material libraries lie, and what they say of surface detail. Private to
// model/.

#include <filesystem>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "model/readers/mtl_reader.hpp"
#include "model/readers/recording_io.hpp"

namespace rakelight {

/// Looks for libraries as for pictures: as they are written, then by their last folder and name,
/// then by their name alone, whatever their slashes and letter case; where none of a line is there,
/// for one that is called as the model is. All that is looked for is noted in `io`.
class ObjLibraries {
public:
    ObjLibraries(std::filesystem::path model, RecordingIo& io);

    /// Reads what a "mtllib" line names: one library, in whose name blanks may be, or several.
    /// Says in `io` what is missing. Returns the libraries' materials as lines "newmtl NAME".
    std::string take(std::string_view names);

    /// nullptr where no library has it. Of several, the first that was named counts.
    const MtlMaterial* find(const std::string& material) const;

    /// Whether any material has pictures of surface detail.
    bool has_maps() const;

private:
    using Path = std::filesystem::path;
    bool take_exact(const std::string& name, std::string& materials);
    bool take_one(const std::string& name, std::string& materials);
    bool take_each(const std::vector<std::string>& names, std::string& materials);
    bool take_stand_in(std::string& materials);
    const std::string& read(const Path& library);

    Path model_;
    RecordingIo* io_;
    std::map<std::string, std::string> taken_;  ///< by line
    std::map<Path, std::string> read_;          ///< the materials of a file, as take() gives them
    std::map<std::string, MtlMaterial> materials_;
    int searches_ = 0;
};

}  // namespace rakelight
