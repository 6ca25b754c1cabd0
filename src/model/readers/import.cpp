#include "model/readers/import.hpp"

#include <assimp/commonMetaData.h>
#include <assimp/config.h>
#include <assimp/postprocess.h>
#include <assimp/scene.h>

#include <algorithm>
#include <assimp/Importer.hpp>
#include <limits>
#include <new>
#include <optional>
#include <string_view>
#include <unordered_map>

#include "error.hpp"
#include "model/cage.hpp"
#include "model/copies.hpp"
#include "model/import_bytes.hpp"
#include "model/readers/check_whole.hpp"
#include "model/readers/collada_text.hpp"
#include "model/readers/conventions.hpp"
#include "model/readers/dxf_text.hpp"
#include "model/readers/fbx_visibility.hpp"
#include "model/readers/first_bytes.hpp"
#include "model/readers/gltf_mend.hpp"
#include "model/readers/gltf_rig.hpp"
#include "model/readers/import_textures.hpp"
#include "model/readers/importer_words.hpp"
#include "model/readers/mend_text.hpp"
#include "model/readers/obj_text.hpp"
#include "model/readers/packed_x.hpp"
#include "model/readers/plain_readers.hpp"
#include "model/readers/text_scan.hpp"
#include "model/readers/x3d_uses.hpp"
#include "model/repair/absent_normal.hpp"
#include "model/rig/rig_pose.hpp"
#include "model/rig/vertex_frames.hpp"
#include "scene/words.hpp"

namespace rakelight {
namespace {

namespace fs = std::filesystem;

// The importer would also guess from the content; a wrong guess is worse than a clear refusal.
void check_extension(const Assimp::Importer& importer, const fs::path& file) {
    aiString list;  // "*.3ds;*.obj;..."
    importer.GetExtensionList(list);
    const std::string name = lower(file.filename().string());
    std::string_view rest(list.C_Str());
    int count = 0;
    while (!rest.empty()) {
        const std::string_view pattern = rest.substr(0, rest.find(';'));
        rest.remove_prefix(std::min(rest.size(), pattern.size() + 1));
        ++count;
        if (pattern.size() > 1 && name.ends_with(pattern.substr(1))) return;
    }
    const std::string extension = file.extension().string();
    if (lower(extension) == ".wrl" || lower(extension) == ".wrz")
        throw Error(ExitCode::bad_model,
                    "this is VRML, which is not taken; export the model as X3D, glTF or OBJ");
    throw Error(ExitCode::bad_model,
                (extension.empty() ? "the name has no extension"
                                   : "the extension \"" + extension + "\" is not known") +
                    "; expected one of " + std::to_string(count) +
                    ", such as .ply .stl .obj .gltf .glb .fbx .3mf .dae .3ds .off .amf; rename the "
                    "file or convert it");
}

// What the importer cannot take as it stands.
void prepare(const fs::path& file, RecordingIo& io) {
    constexpr auto whole = std::numeric_limits<std::size_t>::max();
    const std::string extension = lower(file.extension().string());
    if (extension == ".x3d") {
        if (auto text = without_uses(io.start_of(file, whole)))
            io.put_in_place(file, std::move(*text));
    }
    if (extension == ".dae") {
        if (auto text = prepared_collada(io.start_of(file, whole)))
            io.put_in_place(file, std::move(*text));
    }
    if (extension == ".dxf") {
        if (auto text = prepared_dxf(io.start_of(file, whole)))
            io.put_in_place(file, std::move(*text));
    }
    if (extension == ".fbx") {
        if (auto text = with_visibility(io.start_of(file, whole)))
            io.put_in_place(file, std::move(*text));
    }
    if (extension == ".gltf" || extension == ".glb") {
        if (auto text = mended_gltf(file, io)) io.put_in_place(file, std::move(*text));
    }
    if (extension == ".x" && begins_packed_x(io.start_of(file, 16)))
        refuse_packed_bomb(io.start_of(file, whole));
}

// For a second try. Whether there is something to be tried.
bool mend(const fs::path& file, RecordingIo& io) {
    const std::string extension = lower(file.extension().string());
    if (extension != ".dae" && extension != ".ogex") return false;
    auto text = mended_text(extension, io.start_of(file, std::numeric_limits<std::size_t>::max()));
    if (text) io.put_in_place(file, std::move(*text));
    return text.has_value();
}

// Never deleted: it would delete the io with it, and to tear a large scene down takes longer than
// to end the process, which comes next.
Assimp::Importer& new_importer(RecordingIo& io, const ReadingSettings& reading,
                               std::uint64_t frames) {
    Assimp::Importer& importer = *new Assimp::Importer();
    importer.SetIOHandler(&io);
    const PosingSettings& posing = reading.posing;
    if (posing.frame && static_cast<std::uint64_t>(*posing.frame) < frames)
        importer.SetPropertyInteger(AI_CONFIG_IMPORT_GLOBAL_KEYFRAME, *posing.frame);
    // As one node each, an object's children would inherit what is its geometry's alone, turns that
    // are to be taken back would not be, and a clip that moves them would move nothing.
    importer.SetPropertyBool(AI_CONFIG_IMPORT_FBX_PRESERVE_PIVOTS, true);
    importer.SetPropertyBool(AI_CONFIG_IMPORT_FBX_READ_TEXTURES, reading.maps);
    importer.SetPropertyBool(AI_CONFIG_IMPORT_COLLADA_USE_COLLADA_NAMES, true);
    // Otherwise a file with bones and no surface gets one, made of the bones.
    importer.SetPropertyBool(AI_CONFIG_IMPORT_NO_SKELETON_MESHES, true);
    return importer;
}

const aiScene& read_scene(const fs::path& file, RecordingIo& io, const ReadingSettings& reading,
                          std::uint64_t frames) {
    const unsigned steps =
        reading.cage.rule == CageRule::none ? unsigned{aiProcess_Triangulate} : 0U;
    Assimp::Importer* importer = &new_importer(io, reading, frames);
    check_extension(*importer, file);
    prepare(file, io);
    const aiScene* scene = importer->ReadFile(file.string(), steps);
    if (scene == nullptr && mend(file, io)) {
        // A new one: what it read before it stumbled may still lie in the other.
        importer = &new_importer(io, reading, frames);
        scene = importer->ReadFile(file.string(), steps);
    }
    if (importer_lacked_memory()) throw std::bad_alloc();
    if (scene != nullptr && scene->mRootNode != nullptr) return *scene;
    const std::string reason = importer->GetErrorString();
    if (reason.find("bad_alloc") != std::string::npos) throw std::bad_alloc();
    if (lower(file.extension().string()) == ".obj")
        refuse_bad_corner(io.start_of(file, std::numeric_limits<std::size_t>::max()));
    throw refusal(reason, file, io);
}

std::string importer_name(const aiScene& scene) {
    aiString name;
    if (scene.mMetaData != nullptr && scene.mMetaData->Get(AI_METADATA_SOURCE_FORMAT, name))
        return name.C_Str();
    return "unknown";
}

// "nodes[7]" and "meshes[7]-1": made up by the importer, but they tell at least where in a glTF
// file something stands.
bool is_place(std::string_view name) {
    return name.starts_with("nodes[") || name.starts_with("meshes[");
}

// The node's name comes first: the meshes of one node differ by material, which is told apart, and
// the names that importers give them follow no rule.
std::string part_name(const Instance& instance) {
    std::string node = usable_name(instance.node->mName);
    // What the importer adds to the names of an FBX file's pivots.
    node = node.substr(0, node.find("_$AssimpFbx$_"));
    if (!node.empty() && !is_place(node)) return node;
    std::string mesh = usable_name(instance.mesh->mName);
    if (!mesh.empty() && !is_place(mesh)) return mesh;
    return node.empty() ? "part" : node;
}

std::string material_name(const aiScene& scene, const aiMesh& mesh) {
    aiString name;
    if (mesh.mMaterialIndex >= scene.mNumMaterials ||
        scene.mMaterials[mesh.mMaterialIndex]->Get(AI_MATKEY_NAME, name) != aiReturn_SUCCESS)
        return {};
    return usable_name(name);
}

std::string listed(const std::vector<std::string>& names) {
    constexpr std::size_t most_listed = 12;
    std::string list;
    for (std::size_t i = 0; i < names.size() && i < most_listed; ++i)
        list += (i == 0 ? "" : ", ") + scene_file::shown(names[i]);
    return names.size() > most_listed ? list + ", ..." : list;
}

// What was only hidden while the model was made is often still there: helpers, coarser variants.
// Who hid all there is did not mean to leave an empty file.
void leave_out_hidden(Rig& rig, std::vector<std::string>& warnings) {
    const std::vector<bool> hidden = hidden_nodes(rig);
    const auto is_hidden = [&](const Instance& i) { return hidden[i.node_index]; };
    std::vector<std::string> names;
    for (const Instance& i : rig.instances)
        if (is_hidden(i) && (names.empty() || names.back() != part_name(i)))
            names.push_back(part_name(i));
    if (names.empty()) return;
    if (std::all_of(rig.instances.begin(), rig.instances.end(), is_hidden)) {
        warnings.push_back("all objects are hidden in the file: " + listed(names) +
                           "; they are taken as if they were not");
        return;
    }
    std::erase_if(rig.instances, is_hidden);
    warnings.push_back("hidden in the file and left out: " + listed(names) +
                       "; if they belong to the model, show them there and export it again");
}

/// Which instances repeat an earlier one, so that their triangles need not be stored again.
class CopyPlan {
public:
    CopyPlan(const std::vector<Instance>& instances, const std::vector<MeshPose>& poses,
             const ReadingSettings& reading, TextureImport& textures)
        : doubled_(instances.size()), copies_(instances.size()) {
        // A cage becomes as fine as each of its places needs.
        if (reading.cage.rule != CageRule::none) return;
        std::unordered_map<const aiMesh*, int> uses;
        for (const Instance& i : instances) ++uses[i.mesh];
        for (std::size_t i = 0; i < instances.size(); ++i) {
            const aiMesh& mesh = *instances[i].mesh;
            if (uses[&mesh] > 1 && is_stiff(poses[i]) && stands_alone(mesh, reading))
                plan(i, mesh, poses[i].model_from_mesh, textures);
        }
    }

    /// It stands where an earlier one stands.
    bool is_doubled(std::size_t instance) const { return doubled_[instance]; }
    /// The number of an earlier one, and where the instance stands to it.
    const std::optional<CopyFinder::Found>& copied(std::size_t instance) const {
        return copies_[instance];
    }
    bool is_stored(std::size_t instance) const { return !doubled_[instance] && !copies_[instance]; }

private:
    /// What is made of a shape depends on nothing beside it, and where its points lie.
    struct Shape {
        bool is_closed = false;
        Bounds box;
    };

    static bool is_stiff(const MeshPose& pose) {
        return pose.by_bone.empty() && std::all_of(pose.weights.begin(), pose.weights.end(),
                                                   [](double weight) { return weight == 0.0; });
    }

    void plan(std::size_t number, const aiMesh& mesh, const glm::dmat4& place,
              TextureImport& textures) {
        doubled_[number] = finder_.is_doubled(&mesh, place);
        if (doubled_[number]) return;
        // Surface detail is measured in mm: no copy of it may be larger.
        copies_[number] = finder_.find(
            &mesh, place, textures.has_detail(mesh) ? CopySizes::same : CopySizes::alike);
        if (copies_[number]) return;
        finder_.store(&mesh, place, number,
                      placed_box(shape_of(mesh).box, glm::dmat3(place), glm::dvec3(place[3])));
    }

    // Where normals are made, a neighbour that is welded to an open edge makes it smooth.
    bool stands_alone(const aiMesh& mesh, const ReadingSettings& reading) {
        if (mesh.HasNormals() && reading.normals != NormalSource::made) return true;
        return shape_of(mesh).is_closed;
    }

    const Shape& shape_of(const aiMesh& mesh) {
        const auto [known, is_new] = shapes_.try_emplace(&mesh);
        if (is_new) known->second = {is_closed(mesh), box_of(mesh)};
        return known->second;
    }

    static Bounds box_of(const aiMesh& mesh) {
        constexpr double far = std::numeric_limits<double>::max();
        Bounds box{glm::dvec3(far), glm::dvec3(-far)};
        for (unsigned v = 0; v < mesh.mNumVertices; ++v) {
            const aiVector3D& p = mesh.mVertices[v];
            box.low = glm::min(box.low, glm::dvec3(p.x, p.y, p.z));
            box.high = glm::max(box.high, glm::dvec3(p.x, p.y, p.z));
        }
        return box;
    }

    static bool is_closed(const aiMesh& mesh) {
        std::vector<std::uint32_t> indices;
        for (unsigned f = 0; f < mesh.mNumFaces; ++f) {
            const aiFace& face = mesh.mFaces[f];
            if (face.mNumIndices != 3) return false;
            indices.insert(indices.end(), face.mIndices, face.mIndices + 3);
        }
        return !indices.empty() && is_closed_shape(indices);
    }

    CopyFinder finder_;
    std::unordered_map<const aiMesh*, Shape> shapes_;
    std::vector<bool> doubled_;
    std::vector<std::optional<CopyFinder::Found>> copies_;
};

/// Appends instances to a soup.
class SoupBuilder {
public:
    SoupBuilder(const std::vector<Instance>& instances, const CopyPlan& plan, CageRule cage,
                Soup& soup)
        : soup_(soup),
          plan_(plan),
          keep_polygons_(cage != CageRule::none),
          part_of_(instances.size(), no_index) {
        std::uint64_t vertices = 0, faces = 0;
        bool any_normals = false;
        for (std::size_t n = 0; n < instances.size(); ++n) {
            if (!plan.is_stored(n)) continue;
            const Instance& i = instances[n];
            vertices += i.mesh->mNumVertices;
            faces += i.mesh->mNumFaces;
            any_normals = any_normals || i.mesh->HasNormals();
        }
        constexpr std::uint64_t most = 0xFFFFFFF0;
        if (vertices > most || 3 * faces > most)
            throw Error(ExitCode::bad_model, "it has " + std::to_string(faces) +
                                                 " faces; expected at most " +
                                                 std::to_string(most / 3) + "; simplify the model");
        check_room_for({vertices, faces}, any_normals);
        soup.positions.reserve(vertices);
        soup.indices.reserve(3 * faces);
        if (any_normals) soup.normals.resize(vertices);
    }

    /// @param number  of the instance
    void add(std::size_t number, const Instance& instance, const MeshPose& pose,
             std::string material, TextureImport& textures) {
        const auto order = static_cast<std::uint32_t>(number);
        if (plan_.is_doubled(number)) {
            soup_.facts.dropped_doubled += instance.mesh->mNumFaces;
            return;
        }
        if (const auto& copied = plan_.copied(number)) {
            PartRange& part = soup_.parts[part_of_[copied->stored]];
            part.copies.push_back({part_name(instance), copied->placement, order});
            return;
        }
        part_of_[number] = static_cast<std::uint32_t>(soup_.parts.size());
        const std::size_t first_vertex = soup_.positions.size();
        const std::size_t first_index = soup_.indices.size();
        soup_.positions.resize(first_vertex + instance.mesh->mNumVertices);
        const PlacedMesh placed =
            place_mesh(instance, pose, soup_.positions.data() + first_vertex,
                       soup_.normals.empty() ? nullptr : soup_.normals.data() + first_vertex);
        add_faces(*instance.mesh, placed.mirrored, static_cast<std::uint32_t>(first_vertex));
        soup_.parts.push_back(
            {part_name(instance), std::move(material), static_cast<std::uint32_t>(first_index / 3),
             static_cast<std::uint32_t>((soup_.indices.size() - first_index) / 3),
             placed.has_normals, textures.add(*instance.mesh, first_vertex), order,
             static_cast<std::uint32_t>(first_vertex), instance.mesh->mNumVertices});
    }

private:
    void add_faces(const aiMesh& mesh, bool mirrored, std::uint32_t first_vertex) {
        for (unsigned f = 0; f < mesh.mNumFaces; ++f) {
            const aiFace& face = mesh.mFaces[f];
            soup_.facts.dropped_lines_points += face.mNumIndices < 3;
            if (keep_polygons_ && face.mNumIndices > 2) soup_.fans.push_back(face.mNumIndices - 2);
            // A cage's polygons are put together again. Others were split already; should one be
            // left, a fan is better than a hole.
            for (unsigned k = 2; k < face.mNumIndices; ++k) {
                const std::uint32_t a = face.mIndices[0], b = face.mIndices[k - 1],
                                    c = face.mIndices[k];
                check_index(std::max({a, b, c}), mesh);
                soup_.indices.push_back(first_vertex + a);
                soup_.indices.push_back(first_vertex + (mirrored ? c : b));
                soup_.indices.push_back(first_vertex + (mirrored ? b : c));
            }
        }
    }

    static void check_index(std::uint32_t index, const aiMesh& mesh) {
        if (index < mesh.mNumVertices) return;
        throw Error(ExitCode::bad_model, "a face names vertex " + std::to_string(index) + " of " +
                                             std::to_string(mesh.mNumVertices) +
                                             " (counted from 0); expected a sound file; export the "
                                             "model again");
    }

    Soup& soup_;
    const CopyPlan& plan_;
    bool keep_polygons_;
    std::vector<std::uint32_t> part_of_;  ///< of each instance that is stored
};

// A file of points without faces has meshes without faces.
std::uint64_t count_loose_points(const std::vector<Instance>& instances) {
    std::uint64_t count = 0;
    for (const Instance& i : instances)
        if (i.mesh->mNumFaces == 0) count += i.mesh->mNumVertices;
    return count;
}

// The polygons of a cage. The readers of our own give triangles.
Soup read_cage(const fs::path& file, RecordingIo& io, const ReadingSettings& reading) {
    if (!has_triangles_only(file)) return read_with_importer(file, io, reading);
    auto soup = read_plain_format(file, io, reading);
    if (!soup) return read_with_importer(file, io, reading);
    soup->fans.assign(soup->indices.size() / 3, 1);
    return std::move(*soup);
}

}  // namespace

Soup read_soup(const fs::path& file, RecordingIo& io, const ReadingSettings& reading) {
    check_first_bytes(file);
    check_whole(file);
    if (reading.cage.rule != CageRule::none)
        return subdivide(read_cage(file, io, reading), reading.cage);
    if (auto soup = read_plain_format(file, io, reading)) return std::move(*soup);
    return read_with_importer(file, io, reading);
}

Soup read_with_importer(const fs::path& file, RecordingIo& io, const ReadingSettings& reading) {
    const std::vector<std::string>& warnings = importer_warnings();
    Soup soup;
    soup.facts.rig.frames = count_vertex_frames(file);
    const ObjLibraries libraries = prepare_obj(file, io);
    const aiScene& scene = read_scene(file, io, reading, soup.facts.rig.frames);
    apply_conventions(importer_name(scene), scene, file, io, soup);
    Rig rig = make_rig(scene, soup.facts.format);
    rig.model_from_file = to_glm(model_from_file(scene));
    if (soup.facts.format == "glTF 2.0") complete_gltf_rig(file, io, rig);
    if (soup.facts.format == "FBX") leave_out_hidden(rig, soup.facts.warnings);
    const std::vector<MeshPose> poses = pose_rig(rig, reading.posing, soup.facts);
    TextureImport textures(scene, file, io, reading, libraries, soup);
    const CopyPlan plan(rig.instances, poses, reading, textures);
    SoupBuilder builder(rig.instances, plan, reading.cage.rule, soup);
    for (std::size_t i = 0; i < rig.instances.size(); ++i)
        builder.add(i, rig.instances[i], poses[i], material_name(scene, *rig.instances[i].mesh),
                    textures);
    textures.end();
    // The importer puts zeros where an OBJ gives a corner no normal.
    if (soup.facts.format == "OBJ")
        std::replace(soup.normals.begin(), soup.normals.end(), glm::vec3(0.0F), absent_normal);
    soup.facts.dropped_lines_points += count_loose_points(rig.instances);
    if (soup.indices.empty() && soup.facts.dropped_lines_points == 0)
        throw no_surface(soup.facts.format, scene);
    soup.facts.warnings.insert(soup.facts.warnings.end(), warnings.begin(), warnings.end());
    return soup;
}

}  // namespace rakelight
