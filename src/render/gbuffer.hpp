#pragma once
// Private to render/: rasterises the mesh at samples per pixel, tile by tile, and resolves it to
// pixel maps; contour and part masks are taken while a tile's samples are there.

#include <map>
#include <memory>
#include <vector>

#include "render/compute_raster.hpp"
#include "render/gbuffer_request.hpp"
#include "render/gpu_clock.hpp"
#include "render/gpu_mesh.hpp"
#include "render/maps.hpp"

namespace rakelight {

/// A piece of the work area whose samples are held at once.
struct SampleTile {
    PixelRect own;      ///< in the map's pixels
    PixelRect guarded;  ///< own with a guard of a pixel, cut to the map
    BlankBox box;       ///< of the guarded pixels
};

class GBuffer {
public:
    explicit GBuffer(int max_texture_px) : max_texture_px_(max_texture_px) {}
    /// @param kind  compute is taken where ComputeRaster::can_draw
    GBufferExtras draw(const GpuMesh& mesh, const GBufferRequest& request, const PixelMaps& maps,
                       ShaderKind kind, GpuClock& clock);

private:
    struct Targets;
    const Program& program(const std::string& name, const char* vertex, const char* fragment,
                           const std::string& defines);
    void raster(const GpuMesh& mesh, const GBufferRequest& request, const SampleTile& tile,
                const Targets& targets);
    void resolve(const GBufferRequest& request, const SampleTile& tile, const Targets& targets);
    void draw_contour(const GBufferRequest& request, const SampleTile& tile, const Targets& targets,
                      const PixelMaps& maps);
    void draw_masks(const GBufferRequest& request, const SampleTile& tile, const Targets& targets);

    int max_texture_px_;
    ComputeRaster compute_;
    VertexArray empty_;
    std::map<std::string, std::unique_ptr<Program>> programs_;
};

}  // namespace rakelight
