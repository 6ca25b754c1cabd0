#pragma once
// Private to render/: the G-buffer in compute shaders, where the context has them. A data-centre
// GPU draws triangles on a few of its units only, and computes on all. Triangles are sorted into
// bins of 16 x 16 pixels, and each bin is rastered and resolved at once, its samples in registers;
// see shaders/tile.comp.

#include <map>
#include <memory>
#include <string>

#include "render/gbuffer_request.hpp"
#include "render/gpu_clock.hpp"
#include "render/gpu_mesh.hpp"
#include "render/maps.hpp"

namespace rakelight {

class ComputeRaster {
public:
    /// Whether this way can draw the picture: compute shaders, storage buffers that hold the mesh,
    /// no triangle that reaches the eye, and a subject within 2^17 samples, so that places are
    /// exact.
    static bool can_draw(const GpuMesh& mesh, const GBufferRequest& request);

    /// As GBuffer::draw; the extras have been made.
    void draw(const GpuMesh& mesh, const GBufferRequest& request, const PixelMaps& maps,
              const GBufferExtras& extras, GpuClock& clock);

private:
    struct Layout;
    const Program& program(const std::string& name, const char* source, const std::string& defines);
    void place(const GpuMesh& mesh, const GBufferRequest& request);
    void sort_into_bins(const GpuMesh& mesh, const GBufferRequest& request, const Layout& layout);
    void run_over_triangles(const GpuMesh& mesh, const Program& program, const Layout& layout);
    void scan(const Layout& layout);
    std::uint32_t listed_count(const Layout& layout);
    void draw_band(const GpuMesh& mesh, const GBufferRequest& request, const Layout& layout,
                   const PixelMaps& maps, const GBufferExtras& extras, int first_row);
    void draw_extras(const GBufferRequest& request, const Layout& layout, const PixelMaps& maps,
                     const GBufferExtras& extras, int first_row);

    Buffer places_;
    Buffer normals_;
    Buffer runs_;
    Buffer counts_;
    Buffer starts_;
    Buffer listed_;
    Buffer staging_;
    Buffer sample_lifts_;
    Buffer sample_parts_;
    Buffer part_starts_;
    std::map<std::string, std::unique_ptr<Program>> programs_;
};

}  // namespace rakelight
