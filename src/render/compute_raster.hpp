#pragma once
// Private to render/: the G-buffer in compute shaders, where the context has them. A data-centre
// GPU draws triangles on a few of its units only, and computes on all. Triangles are sorted into
// bins of pixels, and each bin is rastered and resolved at once, its samples in shared memory; see
// shaders/tile.comp.

#include <map>
#include <memory>
#include <string>

#include "render/gbuffer_request.hpp"
#include "render/gpu_clock.hpp"
#include "render/gpu_mesh.hpp"
#include "render/maps.hpp"
#include "render/read_back.hpp"

namespace rakelight {

class ComputeRaster {
public:
    /// Whether this way can draw the picture: compute shaders, storage buffers that hold the mesh,
    /// no triangle that reaches the eye, and a subject within 2^17 samples, so that places are
    /// exact.
    static bool can_draw(const GpuMesh& mesh, const GBufferRequest& request);

    /// As GBuffer::draw.
    GBufferExtras draw(const GpuMesh& mesh, const GBufferRequest& request, const PixelMaps& maps,
                       GpuClock& clock);

private:
    struct Layout;
    const Program& program(const std::string& name, const char* source, const std::string& defines);
    void upload_runs(const GpuMesh& mesh, const GBufferRequest& request, Layout& layout);
    void place(const GpuMesh& mesh, const GBufferRequest& request);
    void count_bins(const GpuMesh& mesh, const GBufferRequest& request, const Layout& layout);
    void fill_bins(const GpuMesh& mesh, const GBufferRequest& request, const Layout& layout);
    void run_over_triangles(const GpuMesh& mesh, const Program& program,
                            const GBufferRequest& request, const Layout& layout);
    void reserve_samples(const GpuMesh& mesh, const GBufferRequest& request, const Layout& layout);
    void draw_bands(const GpuMesh& mesh, const GBufferRequest& request, const Layout& layout,
                    const PixelMaps& maps, GpuClock& clock);
    void draw_band(const GpuMesh& mesh, const GBufferRequest& request, const Layout& layout,
                   const PixelMaps& maps, int first_row);
    void draw_extras(const GBufferRequest& request, const Layout& layout, const PixelMaps& maps,
                     int first_row);

    Storage places_;
    Storage normals_;
    Storage runs_;
    Storage counts_;
    Storage starts_;
    Storage listed_;
    std::size_t listed_capacity_ = 0;
    Storage maps_;
    Storage samples_;
    Storage part_starts_;
    Storage contour_;
    std::vector<Storage> masks_;
    ReadBack sum_;
    std::map<std::string, std::unique_ptr<Program>> programs_;
};

}  // namespace rakelight
