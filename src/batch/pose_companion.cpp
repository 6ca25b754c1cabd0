#include "batch/pose_companion.hpp"

#include <utility>

#include "image/output_set.hpp"

namespace rakelight {

PoseCompanion::PoseCompanion(const PreparedScene& prepared, PoseRecord record)
    : prepared_(prepared), record_(std::move(record)) {}

void PoseCompanion::ask(RenderRequest&) const {}

void PoseCompanion::add(const PictureRows&) {}

void PoseCompanion::write(OutputSet& outputs, const RenderedScene& done) {
    record_.width_px = prepared_.framing.grid.width;
    record_.height_px = prepared_.framing.grid.height;
    record_.figures.field_share = done.visible.field_share;
    record_.figures.depth_mm = done.visible.far_mm - done.visible.near_mm;
    record_.files = done.files;
    record_.warnings = done.warnings;
    outputs.add(pose_record_file, pose_record_text(record_));
}

}  // namespace rakelight
