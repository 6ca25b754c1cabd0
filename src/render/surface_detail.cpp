#include "render/surface_detail.hpp"

#include <algorithm>

namespace rakelight {

MeshDetail::MeshDetail(const Mesh& mesh, const TextureSettings& settings, double mm_per_unit)
    : mesh_(mesh) {
    const auto sampler = [&](const std::optional<DetailMap>& map, bool directed) {
        if (!map) return std::optional<TextureSampler>();
        return std::optional<TextureSampler>(std::in_place, *map, mesh.planes()[map->plane],
                                             mesh.texels(), directed);
    };
    for (const SurfaceDetail& detail : mesh.details()) {
        DetailMaterial material;
        const bool flat = settings.strength == 0.0;
        if (!flat) material.slopes = sampler(detail.slopes, true);
        if (!flat) material.heights = sampler(detail.heights, false);
        material.mask = sampler(detail.mask, false);
        material.from_normals = detail.from_normals;
        const double strength = settings.strength * detail.strength;
        material.slope_factor =
            static_cast<float>(detail.from_normals ? strength : strength * settings.bump_mm);
        material.height_factor =
            static_cast<float>(strength * (detail.from_normals ? mm_per_unit : settings.bump_mm));
        material.cut_off = static_cast<float>(detail.cut_off);
        if (material.heights)
            most_height_mm_ = std::max(most_height_mm_, double{std::fabs(material.height_factor)} *
                                                            material.heights->most());
        materials_.push_back(material);
    }
}

const DetailMaterial* MeshDetail::of_part(std::uint32_t part) const {
    const std::uint32_t number = mesh_.parts()[part].detail;
    return number == no_detail ? nullptr : &materials_[number];
}

bool has_detail(const Mesh& mesh, const std::vector<bool>& used) {
    for (std::size_t i = 0; i < mesh.parts().size(); ++i)
        if (used[i] && mesh.parts()[i].detail != no_detail) return true;
    return false;
}

}  // namespace rakelight
