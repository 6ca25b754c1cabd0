#include "traced_picture.hpp"

#include <unordered_map>

#include "parallel_rows.hpp"

namespace reference {
namespace {

double top_of(const ViewMesh& mesh) {
    double top = -1e300;
    for (const auto& p : mesh.points) top = std::max(top, p.z);
    return top;
}

// The triangle's plane and the line of sight in double precision: Embree says which triangle, not
// where exactly.
struct Crossing {
    double z;
    glm::dvec3 facet;  // unit
    glm::dvec3 shares;
};

Crossing cross(const std::array<glm::dvec3, 3>& corner, const cli_test::Sight& sight) {
    const glm::dvec3 facet =
        glm::cross(corner[1] - corner[0], corner[2] - corner[0]);  // twice the area
    const double size = glm::length(facet);
    Crossing crossing;
    crossing.facet = facet / size;
    const double across = glm::dot(facet, sight.along);
    crossing.z = std::abs(across) > 1e-12 * size ? glm::dot(facet, corner[0] - sight.at) / across
                                                 : corner[0].z;  // seen edge on
    const double low = std::min({corner[0].z, corner[1].z, corner[2].z});
    const double high = std::max({corner[0].z, corner[1].z, corner[2].z});
    crossing.z = std::clamp(crossing.z, low, high);
    const glm::dvec3 at = sight.at + crossing.z * sight.along;
    for (int c = 0; c < 3; ++c) {
        const glm::dvec3 a = corner[(c + 1) % 3], b = corner[(c + 2) % 3];
        crossing.shares[c] =
            std::clamp(glm::dot(glm::cross(a - at, b - at), facet) / (size * size), 0.0, 1.0);
    }
    return crossing;
}

// A surface of these slopes does not rise by more than this between two samples.
bool is_step(const Sample& a, const Sample& b, double spacing_mm) {
    if (a.hit() != b.hit()) return true;
    if (!a.hit()) return false;
    const double slope = std::max(a.slope, b.slope);
    return std::abs(a.at.z - b.at.z) > (1.0 + 2.0 * slope) * spacing_mm;
}

void see_steps(const SampleGrid& grid, int x, int y, TracedPixel& pixel) {
    const int n = grid.per_axis;
    const double spacing_mm = 1.0 / (grid.px_per_mm * n);
    for (int j = 0; j < n; ++j) {
        for (int i = 0; i < n; ++i) {
            const int column = x * n + i, row = y * n + j;
            const Sample& here = grid.at(column, row);
            if (column + 1 < grid.columns()) {
                pixel.step |= is_step(here, grid.at(column + 1, row), spacing_mm);
            }
            if (row + 1 < grid.rows()) {
                pixel.step |= is_step(here, grid.at(column, row + 1), spacing_mm);
            }
        }
    }
}

TracedPixel pixel_of(const SampleGrid& grid, int x, int y) {
    TracedPixel pixel;
    const int n = grid.per_axis;
    bool one_part = true;
    for (int k = 0; k < n * n; ++k) {
        const Sample& sample = grid.at(x * n + k % n, y * n + k / n);
        if (k == 0) pixel.part = sample.part;
        one_part = one_part && sample.part == pixel.part;
        if (!sample.hit()) continue;
        ++pixel.covered;
        pixel.z_mm += sample.at.z;
        pixel.slope = std::max<double>(pixel.slope, sample.slope);
    }
    if (!one_part) pixel.part = Sample::nothing;
    if (pixel.covered > 0) pixel.z_mm /= pixel.covered;
    if (pixel.covered > 0) see_steps(grid, x, y, pixel);
    return pixel;
}

bool uniform_around(const TracedPicture& picture, int x, int y) {
    const int covered = picture.at(x, y).covered;
    if (covered != 0 && covered != picture.samples) return false;
    for (int j = std::max(y - 1, 0); j <= std::min(y + 1, picture.height - 1); ++j) {
        for (int i = std::max(x - 1, 0); i <= std::min(x + 1, picture.width - 1); ++i) {
            if (picture.at(i, j).covered != covered) return false;
        }
    }
    return true;
}

}  // namespace

ViewMesh::ViewMesh(const rakelight::Mesh& mesh, const cli_test::ManifestCamera& camera) {
    const glm::dmat4 view = camera.view_from_model();
    for (std::uint32_t k = 0; k < mesh.parts().size(); ++k) {
        part_names.push_back(mesh.parts()[k].name);
        add_part(mesh, k, view);
    }
}

// Each part gets vertices of its own, wherever its triangles are stored.
void ViewMesh::add_part(const rakelight::Mesh& mesh, std::uint32_t part, const glm::dmat4& view) {
    const rakelight::PartSurface surface = mesh.surface(part);
    const std::uint32_t copy = mesh.parts()[part].copy;
    const glm::dmat3 turn =
        glm::dmat3(view) *
        (copy == rakelight::no_copy ? glm::dmat3(1.0) : mesh.copies()[copy].placement.linear);
    std::unordered_map<std::uint32_t, std::uint32_t> numbers;
    const auto number_of = [&](std::uint32_t index) {
        const auto [known, is_new] =
            numbers.try_emplace(index, static_cast<std::uint32_t>(points.size()));
        if (is_new) {
            points.emplace_back(view * glm::dvec4(surface.point(index), 1.0));
            normals.push_back(
                glm::normalize(turn * rakelight::decode_octahedral(mesh.vertices()[index].normal)));
        }
        return known->second;
    };
    const auto indices = surface.indices();
    for (std::size_t i = 0; i + 2 < indices.size(); i += 3) {
        triangles.push_back(
            {number_of(indices[i]), number_of(indices[i + 1]), number_of(indices[i + 2])});
        parts.push_back(part);
    }
}

MeshTracer::MeshTracer(const ViewMesh& mesh, const cli_test::ManifestCamera& camera)
    : mesh_(mesh), camera_(camera), tracer_(mesh.points, mesh.triangles), top_mm_(top_of(mesh)) {}

Sample MeshTracer::look(double u, double v) const {
    const cli_test::Sight sight = camera_.sight_in_view(u, v);
    const double start = top_mm_ + 1.0;
    const auto met = tracer_.first(sight.at + start * sight.along, -sight.along);
    Sample sample;
    if (!met) return sample;
    const Triangle& t = mesh_.triangles[*met];
    const Crossing crossing =
        cross({mesh_.points[t[0]], mesh_.points[t[1]], mesh_.points[t[2]]}, sight);
    sample.at = sight.at + crossing.z * sight.along;
    sample.part = mesh_.parts[*met];
    const glm::dvec3 to_viewer = glm::normalize(sight.along);
    sample.to_viewer = to_viewer;
    const double cosine = glm::dot(crossing.facet, to_viewer);
    sample.slope = static_cast<float>(std::sqrt(std::max(1.0 - cosine * cosine, 0.0)) /
                                      std::max(std::abs(cosine), 1e-6));
    glm::dvec3 normal(0.0);
    for (int c = 0; c < 3; ++c) normal += crossing.shares[c] * mesh_.normals[t[c]];
    if (cosine < 0.0) normal = -normal;
    // An interpolated normal may turn away from the viewer; the surface that is seen does not.
    normal -= std::min(glm::dot(normal, to_viewer), 0.0) * to_viewer;
    sample.normal = glm::normalize(normal);
    return sample;
}

std::optional<double> MeshTracer::next_below(double u, double v, double z_mm) const {
    // Two triangles that share an edge are met at one place.
    constexpr double apart_mm = 1e-4;
    const cli_test::Sight sight = camera_.sight_in_view(u, v);
    const auto met = tracer_.first(sight.at + (z_mm - apart_mm) * sight.along, -sight.along);
    if (!met) return std::nullopt;
    const Triangle& t = mesh_.triangles[*met];
    return std::min(cross({mesh_.points[t[0]], mesh_.points[t[1]], mesh_.points[t[2]]}, sight).z,
                    z_mm);
}

std::vector<Crossed> MeshTracer::through(double u, double v) const {
    const cli_test::Sight sight = camera_.sight_in_view(u, v);
    const double start = top_mm_ + 1.0;
    std::vector<Crossed> crossed;
    for (const std::uint32_t met : tracer_.all(sight.at + start * sight.along, -sight.along)) {
        const Triangle& t = mesh_.triangles[met];
        const Crossing crossing =
            cross({mesh_.points[t[0]], mesh_.points[t[1]], mesh_.points[t[2]]}, sight);
        const double cosine = glm::dot(crossing.facet, glm::normalize(sight.along));
        crossed.push_back(
            {crossing.z,
             std::sqrt(std::max(1.0 - cosine * cosine, 0.0)) / std::max(std::abs(cosine), 1e-6),
             cosine > 0.0});
    }
    std::sort(crossed.begin(), crossed.end(),
              [](const Crossed& a, const Crossed& b) { return a.z_mm > b.z_mm; });
    return crossed;
}

MeshTracer::PixelBox MeshTracer::box(int width, int height) const {
    glm::dvec2 low(1e9), high(-1e9);
    for (const auto& p : mesh_.points) {
        low = glm::min(low, camera_.pixel(p));
        high = glm::max(high, camera_.pixel(p));
    }
    const glm::ivec2 size(width, height);
    return {glm::clamp(glm::ivec2(glm::floor(low)) - 1, glm::ivec2(0), size),
            glm::clamp(glm::ivec2(glm::ceil(high)) + 1, glm::ivec2(0), size)};
}

SampleGrid trace_samples(const MeshTracer& tracer, int width, int height, double px_per_mm,
                         int per_axis, double shift_px) {
    SampleGrid grid{width, height, per_axis, px_per_mm, tracer.box(width, height), {}};
    const glm::ivec2 first = per_axis * grid.box.first;
    const glm::ivec2 count = per_axis * (grid.box.end - grid.box.first);
    grid.samples.resize(static_cast<std::size_t>(count.x) * count.y);
    parallel_rows(count.y, [&](int row) {
        for (int column = 0; column < count.x; ++column) {
            grid.samples[static_cast<std::size_t>(row) * count.x + column] = tracer.look(
                (first.x + column + 0.5) / per_axis + shift_px, (first.y + row + 0.5) / per_axis);
        }
    });
    return grid;
}

bool TracedPicture::inner(int x, int y) const {
    if (x < 1 || y < 1 || x + 1 >= width || y + 1 >= height) return false;
    for (int k = 0; k < 9; ++k) {
        const TracedPixel& pixel = at(x + k % 3 - 1, y + k / 3 - 1);
        if (pixel.covered != samples || pixel.step) return false;
    }
    return true;
}

bool TracedPicture::inner_of_part(int x, int y) const {
    if (!inner(x, y)) return false;
    for (int k = 0; k < 9; ++k) {
        if (at(x + k % 3 - 1, y + k / 3 - 1).part != at(x, y).part) return false;
    }
    return at(x, y).part != Sample::nothing;
}

TracedPicture picture_of(const SampleGrid& grid) {
    TracedPicture picture{grid.width, grid.height, grid.per_axis * grid.per_axis, {}};
    picture.pixels.resize(static_cast<std::size_t>(grid.width) * grid.height);
    parallel_rows(grid.height, [&](int y) {
        for (int x = 0; x < grid.width; ++x) {
            picture.pixels[static_cast<std::size_t>(y) * grid.width + x] = pixel_of(grid, x, y);
        }
    });
    return picture;
}

double traced_area_px(const MeshTracer& tracer, const TracedPicture& picture) {
    constexpr int fine = 8;
    std::vector<double> rows(static_cast<std::size_t>(picture.height), 0.0);
    parallel_rows(picture.height, [&](int y) {
        for (int x = 0; x < picture.width; ++x) {
            double& sum = rows[static_cast<std::size_t>(y)];
            if (uniform_around(picture, x, y)) {
                sum += picture.at(x, y).covered > 0 ? 1.0 : 0.0;
                continue;
            }
            int hits = 0;
            for (int k = 0; k < fine * fine; ++k) {
                hits += tracer.look(x + (k % fine + 0.5) / fine, y + (k / fine + 0.5) / fine).hit();
            }
            sum += hits / static_cast<double>(fine * fine);
        }
    });
    double area = 0.0;
    for (const double sum : rows) area += sum;
    return area;
}

}  // namespace reference
