#include "poses/pose_companion.hpp"

#include <utility>

#include "batch/tasks.hpp"
#include "image/output_set.hpp"
#include "image/png8.hpp"

namespace rakelight {

PoseCompanion::PoseCompanion(const PreparedScene& prepared, const FacingSurface& surface,
                             PoseRecord record)
    : prepared_(prepared),
      record_(std::move(record)),
      meter_(prepared.scene, surface, prepared.framing),
      tile_(prepared.scene.blank, prepared.framing.grid) {}

void PoseCompanion::ask(RenderRequest& request) const {
    ask_for_figures(request, prepared_.scene, BlankGeometry(prepared_.scene.blank));
}

void PoseCompanion::add(const PictureRows& rows) {
    run_tasks({[&] { meter_.add(rows); }, [&] { tile_.add(rows); }});
}

void PoseCompanion::write(OutputSet& outputs, const RenderedScene& done) {
    const Image8 relief = tile_.relief();
    record_.width_px = relief.width;
    record_.height_px = relief.height;
    record_.px_per_mm *= static_cast<double>(relief.width) / prepared_.framing.grid.width;
    record_.figures = meter_.figures();
    record_.files = done.files;
    record_.files.insert(record_.files.end(), {piece_file, surface_file});
    record_.warnings = done.warnings;
    outputs.add(piece_file, encode_png8(relief));
    outputs.add(surface_file, encode_png8(tile_.surface(), PngEffort::small));
    outputs.add(pose_record_file, pose_record_text(record_));
}

}  // namespace rakelight
