#pragma once
// Private to poses/: what a sweep makes of a pose: its figures, its pictures, its record.

#include <optional>

#include "batch/job.hpp"
#include "poses/pose_meter.hpp"
#include "poses/pose_record.hpp"
#include "poses/pose_tile.hpp"

namespace rakelight {

class PoseCompanion final : public Companion {
public:
    /// @param prepared  outlives this
    /// @param record    what is known of the pose before it is rendered
    /// @param surface   of the scene's model; need not outlive this
    PoseCompanion(const PreparedScene& prepared, const FacingSurface& surface, PoseRecord record);

    void ask(RenderRequest& request) const override;
    void add(const PictureRows& rows) override;
    bool shows_relief() const override { return true; }
    void write(OutputSet& outputs, const RenderedScene& done, const Relief* relief) override;
    std::string last_file() const override { return pose_record_file; }

    /// Complete after write().
    const PoseRecord& record() const { return record_; }

private:
    template <typename Tile>
    void write_tile(OutputSet& outputs, const RenderedScene& done, const Tile& tile);

    const PreparedScene& prepared_;
    PoseRecord record_;
    PoseMeter meter_;
    std::optional<PoseTile> tile_;  ///< of a scene without a relief
};

}  // namespace rakelight
