#pragma once
// Private to render/: what a G-buffer is asked for, and what it gives besides the maps.

#include <cstdint>
#include <optional>
#include <vector>

#include "render/maps.hpp"
#include "render/work_area.hpp"

namespace rakelight {

struct GBufferRequest {
    Camera camera;
    ImageGrid grid;
    WorkArea area;
    int samples = 4;
    std::optional<double> contour_step_mm;
    std::vector<std::uint32_t> mask_parts;
};

/// What is drawn besides the maps; of the work area's size.
struct GBufferExtras {
    std::optional<Drawn> contour;
    std::vector<Drawn> masks;
    /// The maps once more, for reading back: all lifts, all normals with coverage, all ranges.
    std::optional<Rows> maps;
};

/// Places of model space in view space, in single precision without loss where the subject is: set
/// on the program in use.
void set_model_uniforms(const Program& program, const Camera& camera, double floor_mm);

}  // namespace rakelight
