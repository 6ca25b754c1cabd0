#pragma once
// The pictures of a model's materials, from the importer's scene to planes. Runs in the child
// process only. Private to model/.

#include <filesystem>
#include <map>
#include <memory>
#include <vector>

#include "model/readers/obj_libraries.hpp"
#include "model/readers/recording_io.hpp"
#include "model/soup.hpp"
#include "scene/scene.hpp"

struct aiMaterial;
struct aiMesh;
struct aiScene;

namespace rakelight {

/// Reads the pictures of materials as they are asked for, each once. A picture that is missing or
/// cannot be read is a warning in the facts, and its material goes without.
class TextureImport {
public:
    /// @param libraries  of an OBJ file: they say what its materials use; of others none
    TextureImport(const aiScene& scene, const std::filesystem::path& model, RecordingIo& io,
                  const ReadingSettings& reading, const ObjLibraries& libraries, Soup& soup);
    ~TextureImport();
    TextureImport(const TextureImport&) = delete;
    TextureImport& operator=(const TextureImport&) = delete;

    /// Whether the mesh's material has pictures that are read.
    bool has_detail(const aiMesh& mesh);

    /// Gives the vertices from `first_vertex` on, which are the mesh's, their places on the
    /// material's maps. Returns the number of the detail, no_detail where there is none.
    std::uint32_t add(const aiMesh& mesh, std::size_t first_vertex);

    /// Integrates normal maps, once all triangles are in the soup.
    void end();

private:
    struct Work;
    std::unique_ptr<Work> work_;
};

}  // namespace rakelight
