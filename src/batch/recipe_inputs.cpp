#include "batch/recipe_inputs.hpp"

#include <algorithm>

#include "error.hpp"
#include "framing/frame.hpp"

namespace rakelight {
namespace {

std::vector<std::size_t> masks_of(const NamedSource& source, const PartSource& part,
                                  const Mesh& mesh, const std::vector<std::uint32_t>& mask_parts,
                                  bool with_depth) {
    const std::string label = "[relief.source." + source.name + "] part";
    std::vector<std::size_t> masks;
    for (const std::uint32_t wanted : parts_matching({part.name}, mesh, label)) {
        const auto found = std::find(mask_parts.begin(), mask_parts.end(), wanted);
        if (found == mask_parts.end()) {
            throw Error(ExitCode::bad_scene, label + ": found \"" + mesh.parts()[wanted].name +
                                                 "\", which has no mask; expected a part that "
                                                 "[pass.parts] names; add it there");
        }
        masks.push_back(static_cast<std::size_t>(found - mask_parts.begin()));
    }
    if (part.depth && !with_depth)
        throw Error(ExitCode::bad_scene, label +
                                             ": found depth = true of a part whose depth is not "
                                             "rendered; expected depth = true in [pass.parts] "
                                             "too; add it there");
    return masks;
}

}  // namespace

std::string RecipeInputs::hash() const {
    std::string all;
    for (const auto& picture : pictures)
        if (picture) all += picture->hash();
    return all;
}

RecipeInputs recipe_inputs(const Scene& scene, const Mesh& mesh,
                           const std::vector<std::uint32_t>& mask_parts) {
    RecipeInputs inputs;
    if (!scene.relief) return inputs;
    for (const NamedSource& source : scene.relief->sources) {
        auto& picture = inputs.pictures.emplace_back();
        auto& masks = inputs.masks.emplace_back();
        if (const auto* image = std::get_if<ImageSource>(&source.what)) {
            picture = load_grey_picture(
                image->file, "[relief.source." + source.name + "] image, " + image->file.string());
        }
        if (const auto* part = std::get_if<PartSource>(&source.what))
            masks = masks_of(source, *part, mesh, mask_parts,
                             scene.passes.parts && scene.passes.parts->depth);
    }
    return inputs;
}

}  // namespace rakelight
