#include "two_layers.hpp"

#include "parallel_rows.hpp"

namespace reference {
namespace {

LayeredSample layers_at(const SampleGrid& grid, const MeshTracer& mesh, int column, int row,
                        int layers) {
    const Sample& first = grid.at(column, row);
    LayeredSample sample;
    if (!first.hit()) return sample;
    const double spacing_mm = 1.0 / (grid.px_per_mm * grid.per_axis);
    sample.top_mm = first.at.z;
    // A wall that is seen edge on shall not eat the samples beside it.
    sample.slack_mm = spacing_mm * std::min<double>(first.slope, 4.0);
    if (layers == 1) return sample;
    const double u = (column + 0.5) / grid.per_axis, v = (row + 0.5) / grid.per_axis;
    const auto leaves = mesh.next_below(u, v, sample.top_mm);
    if (!leaves) return sample;
    sample.low_mm = *leaves;
    if (const auto enters = mesh.next_below(u, v, *leaves)) sample.under_mm = *enters;
    return sample;
}

}  // namespace

LayeredGrid::LayeredGrid(const SampleGrid& grid, const MeshTracer& mesh,
                         const cli_test::ManifestCamera& camera, int layers)
    : grid_(grid),
      camera_(camera),
      samples_(static_cast<std::size_t>(grid.columns()) * grid.rows()) {
    parallel_rows(grid.rows(), [&](int row) {
        for (int column = 0; column < grid.columns(); ++column) {
            samples_[static_cast<std::size_t>(row) * grid.columns() + column] =
                layers_at(grid, mesh, column, row, layers);
        }
    });
}

const LayeredSample* LayeredGrid::at(glm::dvec2 place) const {
    if (place.x < 0.0 || place.y < 0.0 || place.x >= grid_.columns() || place.y >= grid_.rows())
        return nullptr;
    return &samples_[static_cast<std::size_t>(place.y) * grid_.columns() +
                     static_cast<std::size_t>(place.x)];
}

bool LayeredGrid::blocked(glm::dvec3 from, glm::dvec3 direction, double reach_mm) const {
    const double n = grid_.per_axis;
    const glm::dvec2 start = n * camera_.pixel(from);
    const glm::dvec2 way = n * camera_.pixel(from + direction) - start;
    const double across = std::max(glm::length(way), 1e-9);
    // The column that the ray starts from cannot close it: it starts on its surface.
    for (double t = 1.0 / across; t < reach_mm; t += 1.0 / across) {
        const LayeredSample* sample = at(start + t * way);
        if (sample == nullptr) return false;
        if (sample->top_mm == LayeredSample::nothing_mm) continue;
        const double half = 0.5 / across * std::abs(direction.z);
        const double z = from.z + t * direction.z;
        if (z + half < sample->under_mm) return true;
        if (z - half < sample->top_mm - sample->slack_mm && z + half > sample->low_mm) return true;
    }
    return false;
}

}  // namespace reference
