#pragma once
// A pose that was tried: all that the sheet, the gallery and a script need to know of it. It lies
// as pose.json in the pose's folder, beside the pictures it names.

#include <cstddef>
#include <filesystem>
#include <string>
#include <vector>

#include "poses/pose_figures.hpp"
#include "scene/scene.hpp"

namespace rakelight {

struct PoseRecord {
    std::string name;        ///< unique in the sweep; good as a file's name
    std::size_t number = 0;  ///< its place among the sweep's candidates, from 0
    std::size_t of = 0;      ///< how many candidates the sweep has
    std::string scene;       ///< the scene's name
    PoseSettings pose;
    double zoom = 1.0;
    std::string key;  ///< of everything that the pictures depend on
    bool usable = true;
    std::string reason;  ///< why it is not usable; then it has no figures and no pictures
    PoseFigures figures;
    BlankSettings blank;
    int width_px = 0;  ///< of the relief picture
    int height_px = 0;
    double px_per_mm = 0.0;  ///< the same
    double peak_mm = 0.0;    ///< what the largest code of a height in surface.png stands for
    std::vector<std::string> files;  ///< beside pose.json, in the order of writing
    std::vector<std::string> warnings;
};

inline constexpr const char* pose_record_file = "pose.json";

std::string pose_record_text(const PoseRecord& record);

/// Throws Error(bad_scene) naming the file and what is wrong in it.
PoseRecord read_pose_record(const std::filesystem::path& file);

}  // namespace rakelight
