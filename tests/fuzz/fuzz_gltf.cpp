// What is read of a glTF 2.0 file beside the importer: how much it holds, how it is mended, and its
// rig. The input is the JSON, and behind a byte of zero the binary chunk of a .glb; or a whole
// .glb. The rig that the importer would give is made from the JSON's own nodes, so that the two can
// be matched.

#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>

#include "error.hpp"
#include "fuzz_input.hpp"
#include "model/pictures/image_file.hpp"
#include "model/readers/gltf_contents.hpp"
#include "model/readers/gltf_document.hpp"
#include "model/readers/gltf_mend.hpp"
#include "model/readers/gltf_rig.hpp"
#include "model/rig/node_poses.hpp"

using namespace rakelight;
using nlohmann::json;

namespace {

constexpr std::size_t most_nodes = 64, most_bones = 16, most_shapes = 8, most_clips = 8;
const aiNode any_node;

std::string little(std::size_t value) {
    std::string out;
    for (int i = 0; i < 4; ++i, value >>= 8) out += static_cast<char>(value);
    return out;
}

/// glTF 2.0 specification, 4.4.
std::string glb_of(std::string_view text, std::string_view binary) {
    return "glTF" + little(2) + little(28 + text.size() + binary.size()) + little(text.size()) +
           "JSON" + std::string(text) + little(binary.size()) + std::string("BIN\0", 4) +
           std::string(binary);
}

/// Nodes breadth first, children in their order, under one more where there are several roots.
class RigOfFile {
public:
    explicit RigOfFile(const json& file) : file_(file) {
        const auto roots =
            whole_members(file.at("scenes").at(whole_member(file, "scene", 0)), "nodes");
        if (roots.size() != 1) add(no_index, json::object());
        for (const std::size_t root : roots)
            open_.emplace_back(root, roots.size() == 1 ? no_index : 0);
        for (std::size_t i = 0; i < open_.size() && i < most_nodes; ++i) add_of_file(open_[i]);
        rig.clips.resize(std::min(file.value("animations", json::array()).size(), most_clips));
    }
    Rig rig;

private:
    void add(std::uint32_t parent, const json& node) {
        const auto index = static_cast<std::uint32_t>(rig.nodes.size());
        const std::uint32_t depth = parent == no_index ? 0 : rig.nodes[parent].depth + 1;
        rig.nodes.push_back({&any_node, parent, depth, glm::dmat4(1.0)});
        if (!node.contains("mesh")) return;
        Instance instance{index, &any_node, nullptr, {}, {}};
        if (node.contains("skin")) {
            const json& joints = file_.at("skins").at(whole_number(node.at("skin"))).at("joints");
            instance.bones.resize(std::min(joints.size(), most_bones), {0, glm::dmat4(1.0)});
        }
        instance.shapes.resize(std::min(node.value("weights", json::array()).size(), most_shapes));
        rig.instances.push_back(std::move(instance));
    }

    void add_of_file(std::pair<std::size_t, std::uint32_t> place) {
        const json& node = file_.at("nodes").at(place.first);
        const auto index = static_cast<std::uint32_t>(rig.nodes.size());
        add(place.second, node);
        for (const std::size_t child : whole_members(node, "children"))
            if (open_.size() < most_nodes) open_.emplace_back(child, index);
    }

    const json& file_;
    std::vector<std::pair<std::size_t, std::uint32_t>> open_;
};

Rig rig_of(std::string_view text) {
    try {
        return RigOfFile(json::parse(text)).rig;
    } catch (const json::exception&) {
    } catch (const std::out_of_range&) {
    }
    Rig rig;
    rig.nodes.push_back({&any_node, no_index, 0, glm::dmat4(1.0)});
    rig.clips.resize(1);
    return rig;
}

template <class T>
void check_track(const Track<T>& track) {
    for (std::size_t i = 0; i < track.keys.size(); ++i) {
        fuzz::require(is_usable(track.keys[i].time_s) && is_usable(track.keys[i].value),
                      "keys that are numbers");
        fuzz::require(i == 0 || track.keys[i - 1].time_s < track.keys[i].time_s,
                      "keys one after the other");
    }
}

void check_clip(const Rig& rig, const Clip& clip) {
    fuzz::require(std::isfinite(clip.from_s) && clip.from_s <= clip.to_s, "a span of time");
    for (const NodeTrack& track : clip.nodes) {
        fuzz::require(track.node < rig.nodes.size(), "a track of a node that is there");
        check_track(track.place);
        check_track(track.turn);
        check_track(track.scale);
    }
    for (const double time_s : {clip.from_s, 0.5 * (clip.from_s + clip.to_s), clip.to_s}) {
        pose_nodes(rig, &clip, time_s);
        for (const ShapeTrack& track : clip.shapes) {
            check_track(track.weight);
            fuzz::require(!track.weight.keys.empty(), "no track without keys");
            value_at(track.weight, time_s);
        }
    }
}

void check_rig(const Rig& rig) {
    for (const Instance& instance : rig.instances)
        for (const Bone& bone : instance.bones)
            fuzz::require(bone.node == no_index || bone.node < rig.nodes.size(),
                          "a bone of a node that is there");
    for (const Clip& clip : rig.clips) check_clip(rig, clip);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string_view input = fuzz::text_of(data, size);
    const std::size_t cut = input.starts_with("glTF") ? std::string_view::npos : input.find('\0');
    const std::string_view text = input.substr(0, cut);
    const fuzz::MemoryFile file(
        cut == std::string_view::npos ? std::string(input) : glb_of(text, input.substr(cut + 1)));
    Rig rig = rig_of(text);
    // A name without a folder of its own: buffers of other files are not there.
    RecordingIo io("/nowhere/model.gltf", {});
    complete_gltf_rig(file.path(), io, rig);
    check_rig(rig);
    try {
        if (const auto mended = mended_gltf(file.path(), io))
            fuzz::require(mended->starts_with("glTF") || json::accept(*mended), "JSON again");
    } catch (const Error&) {
        // It requires what is not known.
    }
    if (const auto contents = gltf_contents(file.path(), io, {})) {
        fuzz::require(contents->largest_texels <= most_picture_texels, "a picture that is read");
        // A cut-out counts by halves.
        fuzz::require(contents->largest_texels <= 2 * contents->texels + 1,
                      "all are no less than one");
    }
    return 0;
}
