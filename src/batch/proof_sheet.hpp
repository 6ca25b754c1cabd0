#pragma once
// The proof sheet of a scene: its passes as a person wants to see them.

#include <cstddef>
#include <memory>
#include <string>
#include <vector>

#include "batch/passes.hpp"

namespace rakelight {

/// Makes a panel of a picture that comes in whole rows.
AreaReduction panel_reduction(const ImageGrid& grid);

/// Panels that are no pass: the relief under a low lamp, and the blank's regions in one.
class ProofExtras {
public:
    explicit ProofExtras(const ImageGrid& grid);
    /// Each may run beside the other.
    void add_lamp(const PictureRows& rows);
    void add_blank(const PictureRows& rows);

    Image16 lamp() const;
    Image16 blank() const { return blank_.image(); }

private:
    AreaReduction lamp_;
    AreaReduction blank_;
};

/// The bytes of an 8-bit PNG: the lamp, the passes side by side, the blank. Curvature is shown with
/// its contrast raised, as the caption says; the pass itself is not.
/// @param passes  settled
std::vector<std::byte> proof_sheet(const std::string& scene_name, const ImageGrid& grid,
                                   const std::vector<std::unique_ptr<Pass>>& passes,
                                   const ProofExtras& extras);

}  // namespace rakelight
