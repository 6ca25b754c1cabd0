#pragma once
// What a picture was made of, as build systems want to be told: a rule in the format of Make.

#include <filesystem>
#include <string>
#include <vector>

#include "model/mesh.hpp"
#include "scene/scene.hpp"

namespace rakelight {

/// A file, and those that it is made of.
struct MadeOf {
    std::filesystem::path target;
    std::vector<std::filesystem::path> inputs;
};

/// All files that a scene is made of: its own, the model's, those that the model refers to and that
/// are there, and its recipe's with their pictures. What was looked for in vain is left out: a
/// build would fail for want of it.
/// @param scene_file  as the user named it; when it is relative so are the others, to the current
///                    folder, but for a model that the scene names by an absolute path
std::vector<std::filesystem::path> input_files(const Scene& scene, const Mesh& mesh,
                                               const std::filesystem::path& scene_file);

/// A path within the scene's reach, spelled as `scene_file` is: relative to the current folder, or
/// absolute.
/// @param path  absolute
std::filesystem::path spelled_as(const std::filesystem::path& scene_file,
                                 const std::filesystem::path& path);

/// The rules `target: inputs`, and one without inputs and recipe for each input, so that Make does
/// not fail when one was renamed, but makes the target anew. Read alike by GNU Make 4.3 and Ninja
/// 1.11: spaces, `#`, `$` and `:` are escaped.
/// Throws Error(wrong_use) naming a path that cannot be written so that both read it: one with a
/// control character or one of ' " ` & | ; < > ^ * ? [ ]; with a backslash at its end or before a
/// space, `#` or `:`; that begins with `~`, or ends with `)` behind a `(`; or a target with `%` or
/// `=`. Found out by running both.
std::string depfile_text(const std::vector<MadeOf>& rules);

}  // namespace rakelight
