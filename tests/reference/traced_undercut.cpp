#include "traced_undercut.hpp"

#include "model/load.hpp"
#include "parallel_rows.hpp"

namespace reference {
namespace {

// Solid is where more has been entered than left (the winding number). Gaps narrower than least_mm
// are none.
void read_sight(const std::vector<Crossed>& crossed, double least_mm, TracedGaps& pixel) {
    if (crossed.empty()) return;
    ++pixel.covered;
    int inside = 0;
    int gaps = 0;
    double left_mm = 0.0;
    for (std::size_t i = 0; i < crossed.size(); ++i) {
        const Crossed& one = crossed[i];
        pixel.slope = std::max(pixel.slope, one.slope);
        if (one.front && inside == 0 && i > 0 && left_mm - one.z_mm >= least_mm) {
            ++gaps;
            pixel.empty_mm += left_mm - one.z_mm;
        }
        inside += one.front ? 1 : -1;
        pixel.sound = pixel.sound && inside >= 0;
        left_mm = one.z_mm;
    }
    pixel.sound = pixel.sound && inside == 0;
    pixel.layers += gaps;
    pixel.with_hidden += gaps > 0 ? 1 : 0;
}

}  // namespace

bool GapPicture::inner(int x, int y) const {
    if (x < 1 || y < 1 || x + 1 >= width || y + 1 >= height) return false;
    for (int k = 0; k < 9; ++k) {
        const TracedGaps& pixel = at(x + k % 3 - 1, y + k / 3 - 1);
        if (!pixel.even(samples) || pixel.layers != at(x, y).layers) return false;
    }
    return true;
}

GapPicture trace_gaps(const SeenForm& seen, const fs::path& model, double least_mm) {
    rakelight::LoadOptions options;
    options.cache.folder = cli_test::root_folder() / "cache" / "reference";
    const ViewMesh mesh(rakelight::load_model(model, options), seen.camera);
    const MeshTracer tracer(mesh, seen.camera);
    const int n = seen.grid.per_axis;
    GapPicture picture{seen.grid.width, seen.grid.height, n * n, {}};
    picture.pixels.resize(static_cast<std::size_t>(picture.width) * picture.height);
    parallel_rows(picture.height, [&](int y) {
        for (int x = 0; x < picture.width; ++x) {
            TracedGaps& pixel = picture.pixels[static_cast<std::size_t>(y) * picture.width + x];
            for (int k = 0; k < n * n; ++k) {
                read_sight(tracer.through(x + (k % n + 0.5) / n, y + (k / n + 0.5) / n), least_mm,
                           pixel);
            }
            if (pixel.covered > 0) pixel.empty_mm /= pixel.covered;
        }
    });
    return picture;
}

}  // namespace reference
