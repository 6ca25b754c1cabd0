#include "model/rig/node_poses.hpp"

#include <glm/gtc/matrix_transform.hpp>

namespace rakelight {
namespace {

struct Parts {
    glm::dvec3 place, scale;
    glm::dquat turn;
};

/// What a node's own matrix is made of, for a channel that moves only some of it.
Parts parts_of(const aiNode& node) {
    aiVector3D scale, place;
    aiQuaternion turn;
    node.mTransformation.Decompose(scale, turn, place);
    Parts parts{{place.x, place.y, place.z},
                {scale.x, scale.y, scale.z},
                glm::dquat(turn.w, turn.x, turn.y, turn.z)};
    if (!is_usable(parts.turn)) parts.turn = glm::dquat(1.0, 0.0, 0.0, 0.0);
    return parts;
}

/// Translation, then rotation, then scale, from left to right: glTF 2.0 specification, 3.5.2.
glm::dmat4 moved(const aiNode& node, const NodeTrack& track, double time_s) {
    Parts parts = parts_of(node);
    if (!track.place.keys.empty()) parts.place = value_at(track.place, time_s);
    if (!track.turn.keys.empty()) parts.turn = value_at(track.turn, time_s);
    if (!track.scale.keys.empty()) parts.scale = value_at(track.scale, time_s);
    return glm::scale(
        glm::translate(glm::dmat4(1.0), parts.place) * glm::mat4_cast(settled(parts.turn)),
        parts.scale);
}

}  // namespace

std::vector<glm::dmat4> pose_nodes(const Rig& rig, const Clip* clip, double time_s) {
    std::vector<glm::dmat4> matrices;
    matrices.reserve(rig.nodes.size());
    for (const RigNode& node : rig.nodes) matrices.push_back(node.parent_from_node);
    if (clip != nullptr) {
        for (const NodeTrack& track : clip->nodes) {
            if (track.place.keys.empty() && track.turn.keys.empty() && track.scale.keys.empty())
                continue;
            matrices[track.node] = moved(*rig.nodes[track.node].node, track, time_s);
        }
    }
    for (std::size_t i = 0; i < matrices.size(); ++i) {
        const std::uint32_t parent = rig.nodes[i].parent;
        matrices[i] = (parent == no_index ? rig.model_from_file : matrices[parent]) * matrices[i];
    }
    return matrices;
}

}  // namespace rakelight
