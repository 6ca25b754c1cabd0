#include "batch/memory_need.hpp"

#include <algorithm>

#include "batch/ranged_pass.hpp"
#include "batch/relief_proofs.hpp"
#include "error.hpp"
#include "framing/blank_masks.hpp"
#include "image/png.hpp"
#include "render/picture_need.hpp"

namespace rakelight {
namespace {

// Measured: the program and its libraries, before there is a model.
constexpr std::uint64_t program_bytes = std::uint64_t{20} << 20;
// Panels of the proof, its lettering and its file; the tile, sketch and page of a pose.
constexpr std::uint64_t proof_bytes = std::uint64_t{24} << 20;
constexpr std::uint64_t companion_bytes = std::uint64_t{32} << 20;

// Measured: 66 with the usual recipe. The passes it is mixed from, slopes and their weights, and
// the solver's grids, all whole.
constexpr std::uint64_t relief_bytes_a_pixel = 120;
constexpr std::uint64_t source_bytes_a_pixel = 8;  // values and shares of a source of the user's

struct Output {
    std::uint64_t channels = 1;
    bool ranged = false;  ///< keeps its values until the range of the whole picture is known
};

std::vector<Output> outputs_of(const PreparedScene& prepared) {
    const PassSettings& passes = prepared.scene.passes;
    std::vector<Output> outputs;
    const auto add = [&](bool wanted, Output output, std::size_t count = 1) {
        if (wanted) outputs.insert(outputs.end(), count, output);
    };
    const std::size_t parts = prepared.mask_parts.size();
    add(passes.depth.has_value(), {1, true});
    add(passes.occlusion.has_value(), {});
    add(passes.curvature.has_value(), {1, true});
    add(passes.silhouette.has_value(), {});
    add(passes.contour.has_value(), {});
    add(passes.normal.has_value(), {3, false});
    add(passes.undercut.has_value(), {1, true});
    add(passes.steep.has_value(), {});
    add(passes.parts.has_value(), {}, parts);
    add(passes.parts && passes.parts->depth, {1, true}, parts);
    add(prepared.scene.relief.has_value(), {});
    add(prepared.scene.relief && prepared.scene.relief->making.has_limits(), {3, false});
    add(prepared.scene.relief && prepared.scene.relief->making.has_steps(), {});
    add(passes.blank.has_value(), {}, blank_regions(BlankGeometry(prepared.scene.blank)).size());
    return outputs;
}

// What waits for the end of the picture: values without their codes, and filtered rows that are
// packed as a whole, with what is packed of them. A vector that grows has its old values besides.
std::uint64_t waiting_bytes(const std::vector<Output>& outputs, std::uint64_t pixels) {
    std::uint64_t bytes = 0;
    for (const Output& output : outputs) {
        const std::uint64_t codes = pixels * output.channels * sizeof(std::uint16_t);
        if (codes <= most_packed_at_once) bytes += 2 * codes;
        if (output.ranged)
            bytes += 2 * sizeof(float) * std::min<std::uint64_t>(pixels, most_in_memory);
    }
    return bytes;
}

std::uint64_t model_bytes(const Mesh& mesh) {
    // Its points in double precision, and those of them that are left, while they are sought.
    constexpr std::uint64_t points = 2 * sizeof(glm::dvec3);
    constexpr std::uint64_t points_of_copies = 4 << 20;  // those within the others go in between
    constexpr std::uint64_t a_part = 1500;               // its facts, and what they are read from
    const std::uint64_t stored = mesh.vertices().size();
    const std::uint64_t copied =
        std::min<std::uint64_t>(mesh.vertex_count() - stored, points_of_copies);
    return stored * sizeof(Vertex) + (stored + copied) * points + mesh.parts().size() * a_part +
           mesh.indices().size_bytes() + mesh.detail_vertices().size_bytes() +
           mesh.texels().size_bytes();
}

std::uint64_t pixels_of_picture(const PreparedScene& prepared) {
    const ImageGrid& grid = prepared.framing.grid;
    return static_cast<std::uint64_t>(grid.width) * static_cast<std::uint64_t>(grid.height);
}

MemoryNeed need_of(const PreparedScene& prepared, const RenderRequest& request, bool passes) {
    MemoryNeed need{model_bytes(prepared.mesh),
                    picture_bytes(request, prepared.mesh, prepared.used)};
    if (passes) need.picture += waiting_bytes(outputs_of(prepared), pixels_of_picture(prepared));
    // A pose shows its relief without passes too.
    if (const auto& relief = prepared.scene.relief)
        need.picture += pixels_of_picture(prepared) *
                        (relief_bytes_a_pixel + source_bytes_a_pixel * relief->sources.size());
    return need;
}

}  // namespace

std::uint64_t mib_of(std::uint64_t bytes) {
    return (bytes + (std::uint64_t{1} << 20) - 1) >> 20;
}

std::uint64_t MemoryNeed::total(std::size_t pictures) const {
    return program_bytes + model + pictures * picture;
}

MemoryNeed memory_need(const PreparedScene& prepared, bool proof) {
    const BlankGeometry blank(prepared.scene.blank);
    MemoryNeed need = need_of(prepared, render_request(prepared, blank), true);
    if (!proof) return need;
    need.picture += proof_bytes;
    if (const auto& relief = prepared.scene.relief; relief && relief->proof)
        need.picture += relief_proofs_bytes(*relief->proof);
    return need;
}

MemoryNeed memory_need_of_pose(const PreparedScene& prepared, bool passes) {
    const BlankGeometry blank(prepared.scene.blank);
    MemoryNeed need = need_of(prepared, render_request(prepared, blank), passes);
    need.picture += companion_bytes + 2 * sizeof(float) * pixels_of_picture(prepared);
    return need;
}

MemoryNeed together(const MemoryNeed& a, const MemoryNeed& b) {
    return {a.model + b.model, std::max(a.picture, b.picture)};
}

std::size_t pictures_within(std::uint64_t limit_mib, const MemoryNeed& need, std::size_t wanted,
                            const std::string& about) {
    const std::uint64_t limit = limit_mib << 20;
    if (need.total() <= limit)
        return std::clamp<std::size_t>((limit - need.total(0)) / need.picture, 1, wanted);
    throw Error(ExitCode::unusable_picture,
                about + ": rendering may take up to " + std::to_string(mib_of(need.total())) +
                    " MiB: " + std::to_string(mib_of(need.model)) + " for the model and " +
                    std::to_string(mib_of(need.picture)) + " for the picture; expected at most " +
                    std::to_string(limit_mib) +
                    " MiB (--memory): lower image.px_per_mm, leave passes out, use a simpler "
                    "model, or allow more");
}

}  // namespace rakelight
