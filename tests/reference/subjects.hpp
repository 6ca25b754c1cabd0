#pragma once
// The models that the passes are proved on, and the views of each.

#include <filesystem>
#include <string>
#include <vector>

#include "support.hpp"

namespace reference {

namespace fs = std::filesystem;

struct Subject {
    std::string name;
    fs::path file;
    double yaw_limit_deg = 180.0;  ///< of its drawn poses: a flat plate is no picture from the side
    double pitch_limit_deg = 60.0;
};

/// Where models come from; those that are not there are left out.
struct Sources {
    fs::path demo;    ///< the demo's ammonite
    fs::path assimp;  ///< folder of Assimp's test models
    fs::path npm;     ///< folder of unpacked npm packages, each in a folder of its name
};

/// The closed forms, written into a folder: sphere, torus, grooves, crooked.
std::vector<Subject> closed_forms(const fs::path& folder);
/// All others that are there; says on stderr which are not.
/// @param folder  models that no importer reads are written here as PLY
std::vector<Subject> found_models(const Sources& sources, const fs::path& folder);

struct View {
    Subject subject;
    int pose = 0;
    bool perspective = false;
    double yaw_deg = 0.0, pitch_deg = 0.0, roll_deg = 0.0;
    double px_per_mm = 20.0;

    std::string name() const;  ///< for files and tables
    cli_test::SceneText scene() const;
};

/// Poses from a draw with a fixed seed, each seen in both projections.
std::vector<View> views_of(const Subject& subject, int poses, double px_per_mm);

}  // namespace reference
