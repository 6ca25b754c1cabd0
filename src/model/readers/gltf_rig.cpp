// Sections in comments are those of the glTF 2.0 specification.

#include "model/readers/gltf_rig.hpp"

#include <nlohmann/json.hpp>
#include <optional>
#include <system_error>
#include <utility>

#include "model/readers/gltf_document.hpp"

namespace rakelight {
namespace {

using nlohmann::json;

/// For each node of the file the rig's, or no_index.
using RigNodes = std::vector<std::uint32_t>;

std::vector<std::size_t> roots_of(const json& file) {
    return whole_members(file.at("scenes").at(whole_member(file, "scene", 0)), "nodes");
}

/// The importer keeps the order of children and puts a node above several roots. Nothing when its
/// tree is another one than the file's.
std::optional<RigNodes> match_nodes(const json& file, const Rig& rig) {
    const json& nodes = file.at("nodes");
    RigNodes matched(nodes.size(), no_index);
    std::vector<std::vector<std::uint32_t>> children(rig.nodes.size());
    for (std::uint32_t i = 1; i < rig.nodes.size(); ++i) children[rig.nodes[i].parent].push_back(i);
    std::vector<std::pair<std::size_t, std::uint32_t>> open;
    const auto pair_up = [&](const std::vector<std::size_t>& of_file,
                             const std::vector<std::uint32_t>& of_rig) {
        if (of_file.size() != of_rig.size()) return false;
        for (std::size_t i = 0; i < of_file.size(); ++i) open.emplace_back(of_file[i], of_rig[i]);
        return true;
    };
    const auto roots = roots_of(file);
    if (!pair_up(roots, roots.size() == 1 ? std::vector<std::uint32_t>{0} : children[0]))
        return std::nullopt;
    while (!open.empty()) {
        const auto [from, to] = open.back();
        open.pop_back();
        matched.at(from) = to;
        if (!pair_up(whole_members(nodes.at(from), "children"), children[to])) return std::nullopt;
    }
    return matched;
}

/// 3.7.3.1: JOINTS count in the skin's list of joints, as the importer's bones do.
void match_bones(const json& skin, const RigNodes& matched, Instance& instance) {
    const json& joints = skin.at("joints");
    if (joints.size() != instance.bones.size()) return;
    for (std::size_t i = 0; i < joints.size(); ++i)
        if (is_finite(instance.bones[i].bone_from_mesh))
            instance.bones[i].node = matched.at(whole_number(joints[i]));
}

void match_instances(const json& file, const RigNodes& matched, Rig& rig) {
    std::vector<const json*> node_of(rig.nodes.size(), nullptr);
    for (std::size_t i = 0; i < matched.size(); ++i)
        if (matched[i] != no_index) node_of[matched[i]] = &file.at("nodes")[i];
    for (Instance& instance : rig.instances) {
        const json* node = node_of[instance.node_index];
        if (node == nullptr) continue;
        if (const auto skin = node->find("skin"); skin != node->end())
            match_bones(file.at("skins").at(whole_number(*skin)), matched, instance);
        // 3.7.2.2: a node's weights go before its mesh's.
        const auto weights = node->value("weights", std::vector<double>());
        for (std::size_t i = 0; i < std::min(weights.size(), instance.shapes.size()); ++i)
            instance.shapes[i].weight = weights[i];
    }
}

Between between_of(const json& sampler) {
    const std::string name = sampler.value("interpolation", "LINEAR");
    return name == "STEP" ? Between::step : name == "CUBICSPLINE" ? Between::curve : Between::line;
}

glm::dvec3 value_from(const double* n, const glm::dvec3&) {
    return {n[0], n[1], n[2]};
}
glm::dquat value_from(const double* n, const glm::dquat&) {
    return glm::dquat(n[3], n[0], n[1], n[2]);  // the file has w last
}
double value_from(const double* n, double) {
    return *n;
}

/// A sampler's keys (3.11). With curves an in-tangent, a value and an out-tangent stand for each
/// key, each for all shapes at once (C.5).
struct Samples {
    std::vector<double> times, values;
    Between between;
    std::size_t per_key;  ///< numbers in a value
};

template <class T>
Track<T> track_of(const Samples& samples, std::size_t offset) {
    const bool curve = samples.between == Between::curve;
    Track<T> track{{}, samples.between};
    track.keys.reserve(samples.times.size());
    for (std::size_t i = 0; i < samples.times.size(); ++i) {
        const auto at = [&](std::size_t k) {
            return value_from(&samples.values[k * samples.per_key + offset], T{});
        };
        if (curve)
            track.keys.push_back({samples.times[i], at(3 * i + 1), at(3 * i), at(3 * i + 2)});
        else
            track.keys.push_back({samples.times[i], at(i)});
    }
    tidy(track);
    return track;
}

/// @param components  in each element of the output: 3, 4, or 1 for weights
std::optional<Samples> read_samples(GltfDocument& document, const json& sampler,
                                    std::size_t components) {
    auto times = document.numbers(whole_number(sampler.at("input")), 1);
    auto values = document.numbers(whole_number(sampler.at("output")), components);
    if (!times || !values) return std::nullopt;
    const Between between = between_of(sampler);
    const std::size_t values_per_key = between == Between::curve ? 3 : 1;
    const std::size_t per_key = values->size() / (times->size() * values_per_key);
    if (per_key == 0 || per_key * values_per_key * times->size() != values->size() ||
        (components > 1 && per_key != components))
        return std::nullopt;
    return Samples{std::move(*times), std::move(*values), between, per_key};
}

template <class T>
Track<T> stated(const json& node, const char* member, const std::vector<double>& otherwise) {
    const auto numbers = node.value(member, otherwise);
    if (numbers.size() != otherwise.size()) return {};
    Track<T> track{{{0.0, value_from(numbers.data(), T{})}}};
    tidy(track);
    return track;
}

/// The node's track; a new one holds what the node states (3.5.2), since a channel for one of the
/// three leaves the others.
NodeTrack& track_for(std::uint32_t node, const json& from, Clip& clip) {
    for (NodeTrack& track : clip.nodes)
        if (track.node == node) return track;
    NodeTrack track{node, {}, {}, {}};
    if (!from.contains("matrix")) {
        track.place = stated<glm::dvec3>(from, "translation", {0.0, 0.0, 0.0});
        track.turn = stated<glm::dquat>(from, "rotation", {0.0, 0.0, 0.0, 1.0});
        track.scale = stated<glm::dvec3>(from, "scale", {1.0, 1.0, 1.0});
    }
    clip.nodes.push_back(std::move(track));
    return clip.nodes.back();
}

bool add_channel(GltfDocument& document, const json& sampler, const std::string& path,
                 std::pair<std::size_t, std::uint32_t> target, Clip& clip) {
    const json& node = document.tree().at("nodes").at(target.first);
    const std::size_t components = path == "rotation" ? 4 : path == "weights" ? 1 : 3;
    const auto samples = read_samples(document, sampler, components);
    if (!samples) return false;
    if (path == "weights") {
        for (std::uint32_t shape = 0; shape < samples->per_key; ++shape)
            clip.shapes.push_back({target.second, shape, track_of<double>(*samples, shape)});
        std::erase_if(clip.shapes, [](const auto& track) { return track.weight.keys.empty(); });
        return true;
    }
    NodeTrack& track = track_for(target.second, node, clip);
    if (path == "translation") track.place = track_of<glm::dvec3>(*samples, 0);
    if (path == "rotation") track.turn = track_of<glm::dquat>(*samples, 0);
    if (path == "scale") track.scale = track_of<glm::dvec3>(*samples, 0);
    return true;
}

/// The clip's channels read anew; nothing where one of them cannot be read.
std::optional<Clip> read_clip(GltfDocument& document, const json& animation,
                              const RigNodes& matched, const std::string& name) {
    Clip clip;
    clip.name = name;
    for (const json& channel : animation.at("channels")) {
        const json& target = channel.at("target");
        if (!target.contains("node")) continue;  // 3.11: such a channel is to be ignored
        const std::size_t node = whole_number(target.at("node"));
        if (matched.at(node) == no_index) continue;
        const json& sampler = animation.at("samplers").at(whole_number(channel.at("sampler")));
        if (!add_channel(document, sampler, target.at("path"), {node, matched[node]}, clip))
            return std::nullopt;
    }
    measure(clip);
    return clip;
}

void read_clips(GltfDocument& document, const RigNodes& matched, Rig& rig) {
    const json animations = document.tree().value("animations", json::array());
    if (animations.size() != rig.clips.size()) return;
    for (std::size_t i = 0; i < rig.clips.size(); ++i)
        if (auto clip = read_clip(document, animations[i], matched, rig.clips[i].name))
            rig.clips[i] = std::move(*clip);
}

bool can_move(const Rig& rig) {
    for (const Instance& instance : rig.instances)
        if (!instance.bones.empty() || !instance.shapes.empty()) return true;
    return !rig.clips.empty();
}

}  // namespace

void complete_gltf_rig(const std::filesystem::path& file, RecordingIo& io, Rig& rig) {
    if (!can_move(rig)) return;
    Rig completed = rig;
    try {
        GltfDocument document(file, io);
        const auto matched = match_nodes(document.tree(), completed);
        if (!matched) return;
        match_instances(document.tree(), *matched, completed);
        read_clips(document, *matched, completed);
    } catch (const json::exception&) {
        return;  // the importer understood more of it
    } catch (const std::out_of_range&) {
        return;
    } catch (const std::system_error&) {
        return;
    }
    rig = std::move(completed);
}

}  // namespace rakelight
