#include "model/rig/rig_pose.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <set>

#include "model/rig/node_poses.hpp"
#include "scene/words.hpp"

namespace rakelight {
namespace {

using scene_file::number_text;

/// The moment that is shown.
struct Moment {
    bool rest = false;
    const Clip* clip = nullptr;
    double time_s = 0.0;
};

// Six digits: times come from ticks and are seldom short.
std::string seconds_text(double time_s) {
    std::array<char, 32> digits{};
    const auto [end, fault] = std::to_chars(digits.data(), digits.data() + digits.size(), time_s,
                                            std::chars_format::general, 6);
    return std::string(digits.data(), end) + " s";
}

std::vector<std::string_view> names_of(const std::vector<Clip>& clips) {
    std::vector<std::string_view> names;
    for (const Clip& clip : clips) names.push_back(clip.name);
    return names;
}

Moment moment(const Rig& rig, const PosingSettings& settings, std::vector<std::string>& warnings) {
    if (settings.rest) return {.rest = true};
    const auto index =
        settings.clip.empty() ? std::nullopt : index_of_clip(settings.clip, names_of(rig.clips));
    if (!index) return {};
    const Clip& clip = rig.clips[*index];
    const double time_s = std::clamp(settings.clip_time_s, clip.from_s, clip.to_s);
    // What is less than a thousandth of a second off is so by how the time was written.
    constexpr double told_s = 0.001;
    if (std::abs(time_s - settings.clip_time_s) > told_s)
        warnings.push_back("clip_time_s is " + number_text(settings.clip_time_s) +
                           ", but the clip " + scene_file::shown(clip.name) + " runs from " +
                           seconds_text(clip.from_s) + " to " + seconds_text(clip.to_s) + ": its " +
                           (time_s == clip.to_s ? "end" : "beginning") + " is shown");
    return {.clip = &clip, .time_s = time_s};
}

/// The bone of the mesh that hangs nearest to the root.
const Bone* topmost_bone(const Rig& rig, const Instance& instance) {
    const Bone* top = nullptr;
    std::uint32_t least = no_index;
    for (const Bone& bone : instance.bones) {
        if (bone.node == no_index) continue;
        const std::uint32_t depth = rig.nodes[bone.node].depth;
        if (depth < least) least = depth, top = &bone;
    }
    return top;
}

// At rest a mesh hangs as one piece on its topmost bone: its own node has no say where bones carry
// it (glTF 2.0 specification, 3.7.3.2, says so outright), and by their nodes a head and its body
// may lie apart.
glm::dmat4 at_rest(const Rig& rig, const Instance& instance,
                   const std::vector<glm::dmat4>& model_from_node) {
    const Bone* top = topmost_bone(rig, instance);
    if (top == nullptr) return model_from_node[instance.node_index];
    const glm::dmat4 matrix = model_from_node[top->node] * top->bone_from_mesh;
    return is_finite(matrix) ? matrix : model_from_node[instance.node_index];
}

std::vector<glm::dmat4> bone_matrices(const Instance& instance,
                                      const std::vector<glm::dmat4>& model_from_node) {
    std::vector<glm::dmat4> matrices;
    for (const Bone& bone : instance.bones)
        matrices.push_back(bone.node == no_index
                               ? model_from_node[instance.node_index]
                               : model_from_node[bone.node] * bone.bone_from_mesh);
    return matrices;
}

std::vector<double> weights_of(const Instance& instance, const Moment& shown,
                               const PosingSettings& settings) {
    std::vector<double> weights;
    for (const Shape& shape : instance.shapes) weights.push_back(shown.rest ? 0.0 : shape.weight);
    if (shown.clip != nullptr)
        for (const ShapeTrack& track : shown.clip->shapes)
            if (track.node == instance.node_index && track.shape < weights.size())
                weights[track.shape] = value_at(track.weight, shown.time_s);
    for (std::size_t i = 0; i < weights.size(); ++i)
        if (const auto set = settings.shapes.find(instance.shapes[i].name);
            set != settings.shapes.end())
            weights[i] = set->second;
    return weights;
}

std::string shown_words(const RigFacts& rig, const Moment& shown, std::optional<int> frame) {
    if (rig.frames > 0) return "frame " + std::to_string(frame.value_or(0));
    if (rig.bones == 0 && rig.clips.empty() && rig.shapes.empty()) return {};
    if (shown.rest) return "the mesh as modelled, not moved by bones or shapes";
    if (shown.clip == nullptr) return "as the file stands";
    return "the clip " + scene_file::shown(shown.clip->name) + " at " + seconds_text(shown.time_s);
}

void state_facts(const Rig& rig, RigFacts& facts) {
    std::set<std::uint32_t> bones;
    std::set<std::string_view> shapes;
    for (const Instance& instance : rig.instances) {
        for (const Bone& bone : instance.bones)
            if (bone.node != no_index) bones.insert(bone.node);
        for (const Shape& shape : instance.shapes)
            if (shapes.insert(shape.name).second)
                facts.shapes.push_back({shape.name, shape.weight});
    }
    facts.bones = bones.size();
    for (const Clip& clip : rig.clips) facts.clips.push_back({clip.name, clip.from_s, clip.to_s});
}

void warn_of_lost_bones(const Rig& rig, std::vector<std::string>& warnings) {
    std::size_t lost = 0;
    for (const Instance& instance : rig.instances)
        for (const Bone& bone : instance.bones) lost += bone.node == no_index;
    if (lost > 0)
        warnings.push_back(scene_file::counted(lost, "bone") +
                           " of the file cannot be found among its nodes: what hangs on such a "
                           "bone stays at the place of its mesh");
}

}  // namespace

std::optional<std::size_t> index_of_clip(const std::string& wanted,
                                         const std::vector<std::string_view>& names) {
    const auto found = std::find(names.begin(), names.end(), wanted);
    if (found != names.end()) return static_cast<std::size_t>(found - names.begin());
    std::size_t number = 0;
    const char* end = wanted.data() + wanted.size();
    const auto read = std::from_chars(wanted.data(), end, number);
    if (read.ec != std::errc{} || read.ptr != end || number < 1 || number > names.size())
        return std::nullopt;
    return number - 1;
}

std::vector<MeshPose> pose_rig(const Rig& rig, const PosingSettings& settings, ModelFacts& facts) {
    state_facts(rig, facts.rig);
    warn_of_lost_bones(rig, facts.warnings);
    const Moment shown = moment(rig, settings, facts.warnings);
    facts.rig.shown = shown_words(facts.rig, shown, settings.frame);
    const auto model_from_node = pose_nodes(rig, shown.clip, shown.time_s);
    std::vector<MeshPose> poses;
    for (const Instance& instance : rig.instances) {
        MeshPose pose;
        pose.model_from_mesh = shown.rest ? at_rest(rig, instance, model_from_node)
                                          : model_from_node[instance.node_index];
        if (!shown.rest) pose.by_bone = bone_matrices(instance, model_from_node);
        pose.weights = weights_of(instance, shown, settings);
        poses.push_back(std::move(pose));
    }
    return poses;
}

}  // namespace rakelight
