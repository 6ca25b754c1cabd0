#include "batch/relief_files.hpp"

#include <algorithm>

#include "batch/relief_proofs.hpp"
#include "image/float_tiff.hpp"

namespace rakelight {
namespace {

std::vector<std::byte> floats_of(ReliefWork& work) {
    Plane height_mm = work.relief().height_mm;
    if (work.settings().mirrored) {
        for (auto row = height_mm.values.begin(); row != height_mm.values.end();
             row += height_mm.width)
            std::reverse(row, row + height_mm.width);
    }
    return encode_float_tiff(height_mm, work.grid().px_per_mm);
}

}  // namespace

std::vector<ReliefFile> relief_files(const Scene& scene, bool proofs) {
    std::vector<ReliefFile> files;
    if (!scene.relief) return files;
    const ReliefSettings& relief = *scene.relief;
    if (relief.floats) {
        files.push_back({output_name(scene, "relief", ".tiff"),
                         "height in mm over the field, 32-bit floats; never reversed", floats_of});
    }
    if (!proofs) return files;
    for (ReliefFile& proof : relief_proofs(scene)) files.push_back(std::move(proof));
    return files;
}

}  // namespace rakelight
