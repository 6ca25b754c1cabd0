#pragma once
// The passes of a scene: each turns rows of physical values into codes and writes them, as the rows
// come, or at the end where its range is that of the whole picture.

#include <memory>
#include <string>
#include <vector>

#include "batch/pass_file.hpp"
#include "batch/row_taker.hpp"
#include "batch/visible.hpp"
#include "image/proof.hpp"
#include "scene/scene.hpp"

namespace rakelight {

class ReliefWork;

class Pass : public RowTaker {
public:
    Pass(Picture picture, const PassPlace& place)
        : picture_(std::move(picture)), file_(place), grid_(place.grid) {}

    /// After the last row: writes what was kept.
    virtual void settle(const VisibleSubject& visible) = 0;
    /// Ends the file. May run beside another pass's, and beside the making of the proof.
    void close() { file_.close(); }

    /// What it is; complete after settle().
    const Picture& picture() const { return picture_; }
    void rename_file(const std::string& file) { picture_.file = file; }
    /// On the proof sheet, when one is wanted, and what it is called there.
    virtual std::optional<Image16> panel() const { return file_.panel(); }
    virtual std::string caption() const { return picture_.name; }
    /// What else the proof shows of it, when a proof is wanted.
    virtual std::vector<ProofPanel> more_panels() const { return {}; }

protected:
    Picture picture_;
    PassFile file_;
    const ImageGrid& grid_;
};

/// The reach that a scene's occlusion gets, and the step of its contour, when it does not say.
double occlusion_reach_mm(const OcclusionPass& pass, const BlankGeometry& blank);
double contour_step_mm(const ContourPass& pass, const BlankGeometry& blank);

/// The names of the passes' files, in the order of make_passes.
std::vector<std::string> pass_files(const Scene& scene, const BlankGeometry& blank,
                                    const std::vector<std::string>& part_names);

/// All passes that the scene asks for, in the order of the design's table.
/// @param part_names  of the masks, in the planes' order
/// @param relief      takes the rows for the passes of the relief; null when there is none
/// @param place       outlives the passes
std::vector<std::unique_ptr<Pass>> make_passes(const Scene& scene, const BlankGeometry& blank,
                                               const std::vector<std::string>& part_names,
                                               const std::shared_ptr<ReliefWork>& relief,
                                               const PassPlace& place);

}  // namespace rakelight
