#pragma once
// Folders, scenes and runs that the tests of the command share.

#include <doctest/doctest.h>

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "process.hpp"

namespace cli_test {

using Json = nlohmann::json;

/// The folder of this run of the test program; removed at its end.
const fs::path& root_folder();

/// An empty folder for one test.
class Place {
public:
    Place();
    fs::path operator/(const std::string& name) const { return folder_ / name; }
    const fs::path& folder() const { return folder_; }

private:
    fs::path folder_;
};

void write_file(const fs::path& file, const std::string& bytes);
std::string read_file(const fs::path& file);
bool contains(const std::string& text, const std::string& part);

/// Every file under a folder with its bytes; names relative to it.
using Snapshot = std::map<std::string, std::string>;
Snapshot snapshot(const fs::path& folder);
/// The same without any timings.json, which alone may differ between equal runs.
Snapshot lasting_files(const fs::path& folder);
/// The names that differ or are on one side only.
std::vector<std::string> differences(const Snapshot& a, const Snapshot& b);

/// A scene's text, table by table. As it stands: the model "model.ply" beside the scene, one unit
/// of it one millimetre, its z to the viewer, on a round blank of 20 mm.
struct SceneText {
    std::string blank = "shape = \"round\"\nwidth_mm = 20.0\n";
    std::string model = "file = \"model.ply\"\nup = \"+y\"\n";
    std::string pose;
    std::string framing = "fit = \"none\"\nmm_per_unit = 1.0\n";
    std::string image = "px_per_mm = 10.0\n";
    std::string passes = "[pass.depth]\n[pass.silhouette]\n";
    std::string more;
    std::string text() const;
};

/// The same with a relief.
/// @param relief  keys and tables that follow its header
SceneText with_relief(const std::string& relief);

/// Checks that a run ended with this code and said why: every word on stderr, nothing on stdout.
void check_refused(const Ended& ended, int code, const Words& words);

/// A finished render.
struct Rendered {
    fs::path folder;
    Json manifest;
    Ended ended;
    const Json& numbers(const std::string& pass) const;
};

/// Renders without a proof and requires exit code 0.
Rendered render(const fs::path& scene, const fs::path& out, Words more = {});
/// Writes the scene to NAME.toml and renders it to the folder NAME.
Rendered render(const Place& place, const SceneText& scene, const std::string& name = "scene",
                Words more = {});

}  // namespace cli_test
