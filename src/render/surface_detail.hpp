#pragma once
// Private to render/: the pictures of a mesh's materials as a picture's samples need them.

#include <optional>
#include <vector>

#include "model/mesh.hpp"
#include "render/texture_sampler.hpp"
#include "scene/scene.hpp"

namespace rakelight {

/// One material's pictures, in millimetres on the blank.
struct DetailMaterial {
    std::optional<TextureSampler> slopes;
    std::optional<TextureSampler> heights;
    std::optional<TextureSampler> mask;
    bool from_normals = false;
    float slope_factor = 1.0F;   ///< bump: mm of the whole span
    float height_factor = 1.0F;  ///< mm per value of heights
    float cut_off = 0.5F;
};

class MeshDetail {
public:
    /// @param mesh  must outlive this
    MeshDetail(const Mesh& mesh, const TextureSettings& settings, double mm_per_unit);

    const Mesh& mesh() const { return mesh_; }
    /// Null for a part that has none.
    const DetailMaterial* of_part(std::uint32_t part) const;
    /// How far any of it leaves its faces, mm.
    double most_height_mm() const { return most_height_mm_; }

private:
    const Mesh& mesh_;
    std::vector<DetailMaterial> materials_;
    double most_height_mm_ = 0.0;
};

/// Whether any part that is drawn has pictures.
bool has_detail(const Mesh& mesh, const std::vector<bool>& used);

}  // namespace rakelight
