#pragma once
// What a recipe needs beside the scene and the passes: the user's pictures, and which masks its
// parts are.

#include <cstddef>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "model/grey_picture.hpp"
#include "model/mesh.hpp"
#include "scene/scene.hpp"

namespace rakelight {

/// Both lists go along with ReliefSettings::sources.
struct RecipeInputs {
    std::vector<std::optional<GreyPicture>> pictures;  ///< of images
    std::vector<std::vector<std::size_t>> masks;       ///< of parts: which of the scene's masks

    /// Of all pictures; empty without any.
    std::string hash() const;
};

inline std::shared_ptr<const RecipeInputs> no_recipe_inputs() {
    return std::make_shared<const RecipeInputs>();
}

/// @param mask_parts  the parts that get a mask, as in LoadedScene
/// Throws what load_grey_picture throws, and Error(bad_scene) for a part that no mask shows.
RecipeInputs recipe_inputs(const Scene& scene, const Mesh& mesh,
                           const std::vector<std::uint32_t>& mask_parts);

}  // namespace rakelight
