#include "poses/pose_companion.hpp"

#include <utility>

#include "batch/tasks.hpp"
#include "image/output_set.hpp"
#include "image/png8.hpp"
#include "interrupt.hpp"
#include "poses/relief_tile.hpp"

namespace rakelight {

PoseCompanion::PoseCompanion(const PreparedScene& prepared, const FacingSurface& surface,
                             PoseRecord record)
    : prepared_(prepared),
      record_(std::move(record)),
      meter_(prepared.scene, surface, prepared.framing) {
    if (!prepared.scene.relief) tile_.emplace(prepared.scene.blank, prepared.framing.grid);
}

void PoseCompanion::ask(RenderRequest& request) const {
    ask_for_figures(request, prepared_.scene, BlankGeometry(prepared_.scene.blank));
}

void PoseCompanion::add(const PictureRows& rows) {
    if (!tile_) return meter_.add(rows);
    run_tasks({[&] { meter_.add(rows); }, [&] { tile_->add(rows); }});
}

void PoseCompanion::write(OutputSet& outputs, const RenderedScene& done, const Relief* relief) {
    const BlankGeometry blank(prepared_.scene.blank);
    if (tile_) {
        record_.peak_mm = tile_peak_mm(blank);
        return write_tile(outputs, done, *tile_);
    }
    stop_if_interrupted();
    const ReliefTile tile(relief->height_mm, *prepared_.scene.relief, blank,
                          prepared_.framing.grid);
    stop_if_interrupted();
    record_.peak_mm = tile.peak_mm();
    write_tile(outputs, done, tile);
}

template <typename Tile>
void PoseCompanion::write_tile(OutputSet& outputs, const RenderedScene& done, const Tile& tile) {
    const Image8 piece = tile.relief();
    record_.width_px = piece.width;
    record_.height_px = piece.height;
    record_.px_per_mm *= static_cast<double>(piece.width) / prepared_.framing.grid.width;
    record_.figures = meter_.figures();
    record_.files = done.files;
    record_.files.insert(record_.files.end(), {piece_file, surface_file});
    record_.warnings = done.warnings;
    outputs.add(piece_file, encode_png8(piece));
    outputs.add(surface_file, encode_png8(tile.surface(), PngEffort::small));
    outputs.add(pose_record_file, pose_record_text(record_));
}

}  // namespace rakelight
