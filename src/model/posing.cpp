#include "model/posing.hpp"

#include <algorithm>
#include <string_view>
#include <vector>

#include "model/rig/rig_pose.hpp"
#include "scene/words.hpp"

namespace rakelight {
namespace {

template <class Fact>
std::vector<std::string_view> names_of(const std::vector<Fact>& facts) {
    std::vector<std::string_view> names;
    for (const Fact& fact : facts) names.push_back(fact.name);
    return names;
}

std::string listed(const std::vector<std::string_view>& names) {
    constexpr std::size_t most_listed = 12;
    std::string list;
    for (std::size_t i = 0; i < names.size(); ++i) {
        if (i == most_listed) return list + ", ...";
        list += (i == 0 ? "" : ", ") + scene_file::shown(names[i]);
    }
    return list;
}

/// @param what  "clip" or "shape"
std::string unknown(std::string_view key, std::string_view what, const std::string& name,
                    const std::vector<std::string_view>& known) {
    std::string text = std::string(key) + ": found " + scene_file::shown(name);
    if (known.empty())
        return text.append(", but the file has no ")
            .append(what)
            .append("s; expected none; take the key away or name another file");
    text.append(", which is the name of no ").append(what).append("; expected one of ");
    text += listed(known) + " (`rakelight inspect` lists them)";
    if (const auto near = scene_file::nearest(name, known))
        text += ". Did you mean " + scene_file::shown(*near) + "?";
    return text;
}

std::string frame_fault(int frame, std::uint64_t frames) {
    if (frames == 0)
        return "frame: found " + std::to_string(frame) +
               ", but the file has no vertex frames; expected none; take the key away, or name a "
               "clip";
    return "frame: found " + std::to_string(frame) + "; expected 0 to " +
           std::to_string(frames - 1) + ": the file has " + scene_file::counted(frames, "frame");
}

}  // namespace

std::string posing_fault(const PosingSettings& posing, const RigFacts& rig) {
    const auto clips = names_of(rig.clips);
    if (!posing.clip.empty() && !index_of_clip(posing.clip, clips))
        return unknown("clip", "clip", posing.clip, clips);
    const auto shapes = names_of(rig.shapes);
    for (const auto& [name, weight] : posing.shapes)
        if (std::find(shapes.begin(), shapes.end(), name) == shapes.end())
            return unknown("shapes", "shape", name, shapes);
    if (posing.frame && static_cast<std::uint64_t>(*posing.frame) >= rig.frames)
        return frame_fault(*posing.frame, rig.frames);
    return {};
}

}  // namespace rakelight
