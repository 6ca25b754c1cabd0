#include "poses/joined_poses.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <limits>
#include <set>
#include <system_error>

#include "batch/blank_json.hpp"
#include "error.hpp"

namespace rakelight {
namespace fs = std::filesystem;
namespace {

constexpr const char* render_again = "run `rakelight poses` again on that folder";

[[noreturn]] void refuse(const std::string& text) {
    throw Error(ExitCode::bad_scene, text);
}

bool has_record(const fs::path& folder) {
    std::error_code ignored;
    return fs::is_regular_file(folder / pose_record_file, ignored);
}

// Sorted, so that messages do not depend on the file system's order.
std::vector<fs::path> pose_folders(const fs::path& folder) {
    std::error_code error;
    if (!fs::is_directory(folder, error))
        refuse(folder.string() + ": found no folder; expected one that `rakelight poses` wrote");
    if (has_record(folder)) return {folder};
    std::vector<fs::path> found;
    for (fs::directory_iterator entry(folder, error), end; !error && entry != end;
         entry.increment(error)) {
        if (has_record(entry->path())) found.push_back(entry->path());
    }
    if (error)
        refuse(folder.string() + ": cannot be read (" + error.message() +
               "); expected a folder that `rakelight poses` wrote");
    std::sort(found.begin(), found.end());
    return found;
}

std::string record_path(const JoinedPose& pose) {
    return (pose.folder / pose_record_file).string();
}

std::string sweep_text(const PoseRecord& record) {
    return "\"" + record.scene + "\" with " + std::to_string(record.of) + " poses";
}

void check_one_sweep(const JoinedPose& first, const JoinedPose& other) {
    const PoseRecord& a = first.record;
    const PoseRecord& b = other.record;
    if (b.number >= b.of)
        refuse(record_path(other) + ": found pose number " + std::to_string(b.number) + " of " +
               std::to_string(b.of) + "; expected a smaller number: " + render_again);
    if (a.scene != b.scene || a.of != b.of)
        refuse(record_path(other) + ": found a pose of " + sweep_text(b) + "; expected one of " +
               sweep_text(a) + ", as " + record_path(first) +
               " is: join the folders of one sweep alone");
    if (blank_json(a.blank) != blank_json(b.blank))
        refuse(record_path(other) + ": found another blank than in " + record_path(first) +
               "; expected poses of one sweep: " + render_again);
}

void check_none_twice(const std::vector<JoinedPose>& poses) {
    for (std::size_t i = 1; i < poses.size(); ++i) {
        if (poses[i].record.number != poses[i - 1].record.number) continue;
        refuse(record_path(poses[i]) + ": found pose number " +
               std::to_string(poses[i].record.number) + " a second time, after " +
               record_path(poses[i - 1]) + "; expected each once: leave one folder out");
    }
    std::set<std::string> names;
    for (const JoinedPose& pose : poses) {
        if (!names.insert(pose.record.name).second)
            refuse(record_path(pose) + ": found a second pose of the name \"" + pose.record.name +
                   "\"; expected each once: " + render_again);
    }
}

std::vector<std::size_t> missing_numbers(const std::vector<JoinedPose>& poses) {
    std::vector<std::size_t> missing;
    std::size_t expected = 0;
    for (const JoinedPose& pose : poses) {
        for (; expected < pose.record.number; ++expected) missing.push_back(expected);
        expected = pose.record.number + 1;
    }
    for (; expected < poses.front().record.of; ++expected) missing.push_back(expected);
    return missing;
}

void refuse_missing(const std::vector<std::size_t>& missing, const PoseRecord& record) {
    constexpr std::size_t most_listed = 8;
    std::string list;
    for (std::size_t i = 0; i < std::min(missing.size(), most_listed); ++i)
        list += (i > 0 ? ", " : "") + std::to_string(missing[i]);
    if (missing.size() > most_listed) list += ", ...";
    refuse("found " + std::to_string(record.of - missing.size()) + " of the " +
           std::to_string(record.of) + " poses of \"" + record.scene + "\"; missing: " + list +
           " (numbers from 0); expected all: give the folders of all shards, finish the sweep, or "
           "accept a part");
}

// A sweep of more could not be a gallery; so large a number is a spoilt record.
constexpr std::size_t most_poses = 100000;

}  // namespace

JoinedPoses join_poses(const std::vector<fs::path>& folders, Completeness wanted) {
    JoinedPoses joined;
    for (const fs::path& folder : folders) {
        for (const fs::path& of_pose : pose_folders(folder))
            joined.poses.push_back({read_pose_record(of_pose / pose_record_file), of_pose});
    }
    if (joined.poses.empty())
        refuse((folders.empty() ? std::string("no folder") : folders.front().string()) +
               ": found no " + pose_record_file +
               " in it or in its subfolders; expected a folder that `rakelight poses` wrote");
    const PoseRecord first = joined.poses.front().record;
    if (first.of > most_poses)
        refuse(record_path(joined.poses.front()) + ": found a sweep of " +
               std::to_string(first.of) + " poses; expected at most " + std::to_string(most_poses) +
               ": " + render_again);
    for (const JoinedPose& pose : joined.poses) check_one_sweep(joined.poses.front(), pose);
    std::stable_sort(
        joined.poses.begin(), joined.poses.end(),
        [](const JoinedPose& a, const JoinedPose& b) { return a.record.number < b.record.number; });
    check_none_twice(joined.poses);
    joined.missing = missing_numbers(joined.poses);
    if (!joined.missing.empty() && wanted == Completeness::all)
        refuse_missing(joined.missing, first);
    return joined;
}

std::vector<std::byte> read_pose_file(const JoinedPose& pose, const std::string& name) {
    const fs::path path = pose.folder / name;
    std::ifstream stream(path, std::ios::binary);
    if (!stream)
        refuse(path.string() + ": found no picture that can be read; expected the one that its " +
               pose_record_file + " goes with: " + render_again);
    std::vector<std::byte> bytes;
    std::array<char, 1 << 16> chunk;
    do {
        stream.read(chunk.data(), chunk.size());
        const auto* from = reinterpret_cast<const std::byte*>(chunk.data());
        bytes.insert(bytes.end(), from, from + stream.gcount());
    } while (stream);
    return bytes;
}

PosePicture read_pose_picture(const JoinedPose& pose, const std::string& name) {
    const fs::path path = pose.folder / name;
    PosePicture picture;
    picture.file = read_pose_file(pose, name);
    try {
        picture.image = decode_png8(picture.file);
    } catch (const UnreadablePng& error) {
        refuse(path.string() + ": found a spoilt picture, " + error.what() +
               "; expected the one that `rakelight poses` wrote: " + render_again);
    }
    return picture;
}

std::vector<std::size_t> best_poses(const std::vector<JoinedPose>& poses, const PoseFigure* by,
                                    std::optional<std::size_t> most) {
    std::vector<std::size_t> order;
    for (std::size_t i = 0; i < poses.size(); ++i) {
        if (poses[i].record.usable) order.push_back(i);
    }
    // Small is first; what is not known is larger than all.
    const auto rank = [&](std::size_t i) {
        const double value = poses[i].record.figures.*by->value;
        if (!std::isfinite(value)) return std::numeric_limits<double>::infinity();
        return by->better == Better::high ? -value : value;
    };
    if (by != nullptr) {
        std::stable_sort(order.begin(), order.end(),
                         [&](std::size_t a, std::size_t b) { return rank(a) < rank(b); });
    }
    if (most && *most < order.size()) order.resize(*most);
    return order;
}

std::string figure_text(const PoseFigure& figure, double value) {
    if (!std::isfinite(value)) return "not known";
    char text[64];
    if (figure.unit.empty()) {
        std::snprintf(text, sizeof text, "%.*f %%", std::abs(value) < 0.0995 ? 1 : 0,
                      100.0 * value + 0.0);
    } else {
        std::snprintf(text, sizeof text, "%.*f %.16s", std::abs(value) < 9.95 ? 2 : 1, value + 0.0,
                      std::string(figure.unit).c_str());
    }
    return text;
}

}  // namespace rakelight
