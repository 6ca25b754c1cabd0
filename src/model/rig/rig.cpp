// What is said here about the importer was read in the source of Assimp 5.2.5.

#include "model/rig/rig.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <string_view>
#include <unordered_map>
#include <utility>

#include "printable.hpp"

#include "error.hpp"

namespace rakelight {
namespace {

using NodesByName = std::unordered_map<std::string_view, std::vector<std::uint32_t>>;

std::string_view view(const aiString& name) {
    return {name.data, std::min<std::size_t>(name.length, sizeof name.data)};
}

void add_instances(const aiScene& scene, std::uint32_t index, Rig& rig) {
    const aiNode* node = rig.nodes[index].node;
    for (unsigned i = 0; i < node->mNumMeshes; ++i) {
        if (node->mMeshes[i] >= scene.mNumMeshes)
            throw Error(ExitCode::bad_model,
                        "a node names a mesh that does not exist; expected a sound file; export "
                        "the model again");
        rig.instances.push_back({index, node, scene.mMeshes[node->mMeshes[i]], {}, {}});
    }
}

// Of an MDL file with bones the importer hangs all bones on one node of this name, side by side;
// how they hang on each other is said by the parents that they name, and by nothing else.
std::uint32_t true_parent(const Rig& rig, const aiNode& node, std::uint32_t parent) {
    if (parent == no_index || view(rig.nodes[parent].node->mName) != "<MDL_bones>") return parent;
    const auto named = std::find_if(rig.nodes.begin(), rig.nodes.end(), [&](const RigNode& other) {
        return other.node == node.mParent;
    });
    return named == rig.nodes.end() ? parent
                                    : static_cast<std::uint32_t>(named - rig.nodes.begin());
}

// Of several groups in a RAW file the importer keeps one node; the others' meshes are still there.
void add_stray_meshes(const aiScene& scene, Rig& rig) {
    for (unsigned i = scene.mNumMeshes; i-- > 0;) {
        const aiMesh* mesh = scene.mMeshes[i];
        const bool placed = std::any_of(rig.instances.begin(), rig.instances.end(),
                                        [&](const Instance& other) { return other.mesh == mesh; });
        if (!placed)
            rig.instances.insert(rig.instances.begin(), {0, scene.mRootNode, mesh, {}, {}});
    }
}

void list_nodes(const aiScene& scene, Rig& rig) {
    std::vector<std::pair<const aiNode*, std::uint32_t>> open{{scene.mRootNode, no_index}};
    bool lost_nodes = false;
    while (!open.empty()) {
        const auto [node, above] = open.back();
        open.pop_back();
        lost_nodes = lost_nodes || node == nullptr;
        if (node == nullptr) continue;
        const std::uint32_t parent = true_parent(rig, *node, above);
        const auto index = static_cast<std::uint32_t>(rig.nodes.size());
        const std::uint32_t depth = parent == no_index ? 0 : rig.nodes[parent].depth + 1;
        rig.nodes.push_back({node, parent, depth, to_glm(node->mTransformation)});
        add_instances(scene, index, rig);
        // From the last to the first, so that the first comes off the pile first.
        for (unsigned i = node->mNumChildren; i-- > 0;)
            open.emplace_back(node->mChildren[i], index);
    }
    if (lost_nodes) add_stray_meshes(scene, rig);
}

NodesByName by_name(const Rig& rig) {
    NodesByName names;
    for (std::uint32_t i = 0; i < rig.nodes.size(); ++i)
        names[view(rig.nodes[i].node->mName)].push_back(i);
    return names;
}

/// Depth of the last node that both have above them.
std::uint32_t shared_depth(const Rig& rig, std::uint32_t a, std::uint32_t b) {
    // A parent's index is below its child's, so that the larger one climbs.
    while (a != b) (a > b ? a : b) = rig.nodes[std::max(a, b)].parent;
    return rig.nodes[a].depth;
}

/// The node of that name. Two figures in one file may have bones of the same names: that one is
/// meant which hangs nearest to the mesh.
std::uint32_t nearest_node(const Rig& rig, const NodesByName& names, const aiString& name,
                           std::uint32_t mesh_node) {
    const auto found = names.find(view(name));
    if (found == names.end()) return no_index;
    std::uint32_t best = found->second.front();
    if (found->second.size() == 1) return best;
    std::uint32_t deepest = 0;
    for (const std::uint32_t node : found->second) {
        const std::uint32_t depth = shared_depth(rig, node, mesh_node);
        if (depth > deepest) deepest = depth, best = node;
    }
    return best;
}

/// What moves the geometry of an FBX object and not its children: the importer makes nodes of it
/// right above the object's own.
glm::dmat4 geometry_of(const Rig& rig, std::uint32_t node) {
    glm::dmat4 object_from_geometry(1.0);
    for (std::uint32_t above = rig.nodes[node].parent; above != no_index;
         above = rig.nodes[above].parent) {
        const std::string_view name = view(rig.nodes[above].node->mName);
        if (name.find("_$AssimpFbx$_Geometric") == name.npos || name.ends_with("Inverse")) break;
        object_from_geometry = rig.nodes[above].parent_from_node * object_from_geometry;
    }
    return object_from_geometry;
}

// FBX SDK, FbxCluster and FbxNode (geometric transformation), from memory: a cluster's matrices are
// of the objects, without the geometry's own place in them, which comes before.
void add_bones(const Rig& rig, const NodesByName& names, Instance& instance) {
    if (instance.mesh->mNumBones == 0) return;
    const glm::dmat4 mesh_from_geometry = geometry_of(rig, instance.node_index);
    for (unsigned i = 0; i < instance.mesh->mNumBones; ++i) {
        const aiBone& bone = *instance.mesh->mBones[i];
        std::uint32_t node = nearest_node(rig, names, bone.mName, instance.node_index);
        glm::dmat4 matrix = to_glm(bone.mOffsetMatrix) * mesh_from_geometry;
        if (node != no_index) matrix = glm::inverse(geometry_of(rig, node)) * matrix;
        if (!is_finite(matrix)) node = no_index;
        instance.bones.push_back({node, matrix});
    }
}

// The importer states 1 for every target of an FBX file that has no stages in between, whatever
// the file says, and 1 where a COLLADA file says 0. Models are made to be seen without.
double weight_in_file(const aiAnimMesh& shape, const std::string& format) {
    const double weight = shape.mWeight;
    if (!std::isfinite(weight) || format == "FBX") return 0.0;
    return format == "COLLADA" && weight == 1.0 ? 0.0 : weight;
}

void add_shapes(const std::string& format, Instance& instance) {
    for (unsigned i = 0; i < instance.mesh->mNumAnimMeshes; ++i) {
        const aiAnimMesh& shape = *instance.mesh->mAnimMeshes[i];
        std::string name = usable_name(shape.mName);
        if (name.empty()) name = std::to_string(i + 1);
        instance.shapes.push_back({std::move(name), weight_in_file(shape, format)});
    }
}

/// Seconds of a clip's ticks. Where the file has no ticks per second the importer says 0 and its
/// own viewer takes 25.
double seconds_per_tick(const aiAnimation& clip) {
    const double rate = clip.mTicksPerSecond;
    return std::isfinite(rate) && rate > 0.0 ? 1.0 / rate : 1.0 / 25.0;
}

Track<glm::dvec3> track_of(const aiVectorKey* keys, unsigned count, double tick_s) {
    Track<glm::dvec3> track;
    for (unsigned i = 0; keys != nullptr && i < count; ++i)
        track.keys.push_back(
            {keys[i].mTime * tick_s, {keys[i].mValue.x, keys[i].mValue.y, keys[i].mValue.z}});
    tidy(track);
    return track;
}

Track<glm::dquat> track_of(const aiQuatKey* keys, unsigned count, double tick_s) {
    Track<glm::dquat> track;
    for (unsigned i = 0; keys != nullptr && i < count; ++i) {
        const aiQuaternion& q = keys[i].mValue;
        track.keys.push_back({keys[i].mTime * tick_s, glm::dquat(q.w, q.x, q.y, q.z)});
    }
    tidy(track);
    return track;
}

/// Nodes by the names of channels; the second channel of a name is for the second node of it.
class Targets {
public:
    explicit Targets(const NodesByName& names) : names_(names) {}
    std::uint32_t take(std::string_view name) {
        const auto found = names_.find(name);
        if (found == names_.end()) return no_index;
        const std::size_t turn = taken_[name]++;
        return turn < found->second.size() ? found->second[turn] : no_index;
    }

private:
    const NodesByName& names_;
    std::unordered_map<std::string_view, std::size_t> taken_;
};

void add_node_tracks(const aiAnimation& from, const NodesByName& names, double tick_s, Clip& clip) {
    Targets targets(names);
    for (unsigned i = 0; i < from.mNumChannels; ++i) {
        const aiNodeAnim& channel = *from.mChannels[i];
        const std::uint32_t node = targets.take(view(channel.mNodeName));
        if (node == no_index) continue;
        clip.nodes.push_back({node,
                              track_of(channel.mPositionKeys, channel.mNumPositionKeys, tick_s),
                              track_of(channel.mRotationKeys, channel.mNumRotationKeys, tick_s),
                              track_of(channel.mScalingKeys, channel.mNumScalingKeys, tick_s)});
    }
}

// A key names only those shapes that change at its time.
void add_weights(const aiMeshMorphAnim& channel, std::uint32_t node, double tick_s, Clip& clip) {
    std::vector<Track<double>> tracks;
    constexpr unsigned most_shapes = 100'000;
    for (unsigned i = 0; i < channel.mNumKeys; ++i) {
        const aiMeshMorphKey& key = channel.mKeys[i];
        for (unsigned k = 0; k < key.mNumValuesAndWeights; ++k) {
            const unsigned shape = key.mValues[k];
            if (shape >= most_shapes) continue;
            if (shape >= tracks.size()) tracks.resize(shape + 1);
            tracks[shape].keys.push_back({key.mTime * tick_s, key.mWeights[k]});
        }
    }
    for (std::uint32_t shape = 0; shape < tracks.size(); ++shape) {
        tidy(tracks[shape]);
        if (!tracks[shape].keys.empty()) clip.shapes.push_back({node, shape, tracks[shape]});
    }
}

void add_shape_tracks(const aiAnimation& from, const NodesByName& names, double tick_s,
                      Clip& clip) {
    Targets targets(names);
    for (unsigned i = 0; i < from.mNumMorphMeshChannels; ++i) {
        const aiMeshMorphAnim& channel = *from.mMorphMeshChannels[i];
        const std::string_view name = view(channel.mName);
        std::uint32_t node = targets.take(name);
        // Of an FBX file it is the node's name, a star and the number of the geometry.
        if (node == no_index) node = targets.take(name.substr(0, name.rfind('*')));
        if (node != no_index) add_weights(channel, node, tick_s, clip);
    }
}

template <class T>
void widen(const Track<T>& track, std::size_t fewest, Clip& clip) {
    if (track.keys.size() < fewest || track.keys.empty()) return;
    clip.from_s = std::min(clip.from_s, track.keys.front().time_s);
    clip.to_s = std::max(clip.to_s, track.keys.back().time_s);
}

void widen_by_all(std::size_t fewest, Clip& clip) {
    clip.from_s = std::numeric_limits<double>::infinity();
    clip.to_s = -clip.from_s;
    for (const NodeTrack& track : clip.nodes) {
        widen(track.place, fewest, clip);
        widen(track.turn, fewest, clip);
        widen(track.scale, fewest, clip);
    }
    for (const ShapeTrack& track : clip.shapes) widen(track.weight, fewest, clip);
}

std::vector<Clip> make_clips(const aiScene& scene, const NodesByName& names) {
    std::vector<Clip> clips;
    std::unordered_map<std::string, int> seen;
    for (unsigned i = 0; i < scene.mNumAnimations; ++i) {
        const aiAnimation& from = *scene.mAnimations[i];
        Clip clip;
        clip.name = usable_name(from.mName);
        if (clip.name.empty()) clip.name = std::to_string(i + 1);
        // Repeated names are told apart as those of parts are.
        while (const int count = seen[clip.name]++) clip.name += "#" + std::to_string(count + 1);
        const double tick_s = seconds_per_tick(from);
        add_node_tracks(from, names, tick_s, clip);
        add_shape_tracks(from, names, tick_s, clip);
        measure(clip);
        clips.push_back(std::move(clip));
    }
    return clips;
}

}  // namespace

glm::dmat4 to_glm(const aiMatrix4x4& m) {
    return {m.a1, m.b1, m.c1, m.d1, m.a2, m.b2, m.c2, m.d2,
            m.a3, m.b3, m.c3, m.d3, m.a4, m.b4, m.c4, m.d4};
}

bool is_finite(const glm::dmat4& m) {
    for (int column = 0; column < 4; ++column)
        for (int row = 0; row < 4; ++row)
            if (!std::isfinite(m[column][row])) return false;
    return true;
}

std::string usable_name(const aiString& name) {
    std::string text(view(name));
    if ((text.starts_with('<') && text.ends_with('>')) || text.starts_with("$ColladaAutoName$"))
        return {};
    return printable(text);
}

void measure(Clip& clip) {
    widen_by_all(2, clip);
    if (clip.from_s > clip.to_s) widen_by_all(1, clip);
    if (clip.from_s > clip.to_s) clip.from_s = clip.to_s = 0.0;
}

Rig make_rig(const aiScene& scene, const std::string& format) {
    Rig rig;
    list_nodes(scene, rig);
    const NodesByName names = by_name(rig);
    for (Instance& instance : rig.instances) {
        add_bones(rig, names, instance);
        add_shapes(format, instance);
    }
    rig.clips = make_clips(scene, names);
    return rig;
}

}  // namespace rakelight
