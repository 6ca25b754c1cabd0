#pragma once
// Recipes of a relief that are kept apart from a scene: in a file of their own, or built in.

#include <filesystem>
#include <optional>
#include <string_view>
#include <vector>

#include "scene/node.hpp"
#include "scene/report.hpp"

namespace rakelight::scene_file {

/// The names of those that are built in.
std::vector<std::string_view> built_in_recipes();

/// Lays the scene's own [relief] over the recipe that its key `recipe` names, if there is one: its
/// keys take the place of the recipe's, its layers follow the recipe's. Where neither brings a
/// layer, those of the struck medal come in.
/// @param root    the scene's tables; its relief loses the key `recipe`
/// @param folder  of the scene file
/// @return the recipe's file, absolute, when it is one
/// Throws Error(bad_scene) when the file cannot be read, is no TOML, or has more than [relief].
std::optional<std::filesystem::path> merge_recipe(Table& root, const std::filesystem::path& folder,
                                                  Report& report);

}  // namespace rakelight::scene_file
