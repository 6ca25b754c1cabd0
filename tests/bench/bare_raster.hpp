#pragma once
// The peer of the raster: the least that OpenGL can do for depth and normal at 16 samples a pixel.

#include "batch/job.hpp"
#include "measuring.hpp"

namespace bench {

/// Opens an EGL context, draws the mesh into a target of four times the picture's width and height,
/// takes each pixel's mean and reads view z and normal back as floats. Call it in a child process.
/// @return  {"driver": ..., "runs": [{"draw_s", "resolve_s", "read_s", "all_s", "cpu_s"}, ...]}, a
/// first run
///          that warms up left out
/// Throws rakelight::Error(no_graphics) without a context, std::runtime_error when the target is
/// larger than the driver goes.
Json bare_gl_raster(const rakelight::PreparedScene& scene, int runs);

}  // namespace bench
