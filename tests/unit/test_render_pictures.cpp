// The same normal map in several formats gives the same normals.

#include <doctest/doctest.h>

#include <cmath>

#include "render/processor_renderer.hpp"
#include "test_picture_support.hpp"
#include "test_render_meshes.hpp"
#include "test_texture_support.hpp"

using namespace rakelight;
using namespace render_test;
using texture_test::sheet;

namespace {

constexpr int side = 64;
constexpr double largest_share = 0.6;  // of x and y each

/// x and y of 8 bits, the same in each block of 4 x 4, so that BC5 has them exactly.
int byte_of(int x, int y, int channel) {
    const double phase = channel == 0 ? 0.7 * (x / 4) + 0.2 * (y / 4) : 0.5 * (y / 4) + 1.0;
    return static_cast<int>(std::lround(127.5 + 127.5 * largest_share * std::sin(phase)));
}

std::uint16_t code_of(int x, int y, int channel) {
    if (channel < 2) return static_cast<std::uint16_t>(257 * byte_of(x, y, channel));
    const double nx = byte_of(x, y, 0) / 127.5 - 1.0, ny = byte_of(x, y, 1) / 127.5 - 1.0;
    return static_cast<std::uint16_t>(
        std::lround(65535.0 * 0.5 * (1.0 + std::sqrt(1.0 - nx * nx - ny * ny))));
}

std::string as_png() {
    return texture_test::png(side, side, 3, [](double u, double v, int c) {
        return code_of(static_cast<int>(u * side), static_cast<int>((1.0 - v) * side), c) / 65535.0;
    });
}

/// BC5 whose two ends are equal and all picks the first one (Khronos Data Format Specification 1.3,
/// chapter 19).
std::string as_bc5() {
    std::string blocks;
    for (int y = 0; y < side; y += 4)
        for (int x = 0; x < side; x += 4)
            for (int c = 0; c < 2; ++c)
                blocks +=
                    std::string(2, static_cast<char>(byte_of(x, y, c))) + std::string(6, '\0');
    return picture_test::dds(side, side, {.code = "ATI2"}, blocks);
}

RenderedPlanes drawn(const std::string& picture) {
    RenderRequest request;
    request.grid = {120, 120, 10.0, -6.0, 6.0};
    ProcessorRenderer renderer(std::int64_t{1} << 19);
    const Mesh mesh = texture_test::load(sheet(10.0, 2), picture);
    REQUIRE(mesh.facts().warnings.empty());
    REQUIRE(mesh.details().size() == 1);
    renderer.set_mesh(mesh, all_parts(mesh));
    return whole(renderer, request);
}

}  // namespace

TEST_CASE("a TIFF normal map gives the normals of the PNG of the same texels, to the bit") {
    const RenderedPlanes png = drawn(as_png());
    const RenderedPlanes tiff = drawn(picture_test::tiff16(side, side, code_of));
    CHECK(png.normal_x.values == tiff.normal_x.values);
    CHECK(png.normal_y.values == tiff.normal_y.values);
    CHECK(png.normal_z.values == tiff.normal_z.values);
    // The map tells: its normals are not those of the sheet.
    float largest = 0.0F;
    for (const float v : png.normal_x.values) largest = std::max(largest, std::fabs(v));
    CHECK(largest > 0.4F);
}

TEST_CASE("a BC5 normal map in DDS gives the normals of the PNG, whose blue is rounded") {
    const RenderedPlanes png = drawn(as_png()), bc5 = drawn(as_bc5());
    // x and y are the same. The PNG's z is off by half a code, 1/65535: a slope x / z by |x| / z^2
    // times that, with |x| <= 0.6 and z^2 >= 1 - 2 * 0.36. Slopes are kept in steps of the largest
    // one over 32767, each off by half. No normal turns further than its slope.
    const double z2 = 1.0 - 2.0 * largest_share * largest_share;
    const double slope = largest_share / std::sqrt(z2);
    const double bound = std::sqrt(2.0) * (largest_share / z2 / 65535.0 + slope / 32767.0);
    double worst = 0.0;
    for (const auto plane :
         {&RenderedPlanes::normal_x, &RenderedPlanes::normal_y, &RenderedPlanes::normal_z}) {
        const auto &from = (png.*plane).values, &to = (bc5.*plane).values;
        REQUIRE(from.size() == to.size());
        for (std::size_t i = 0; i < from.size(); ++i)
            worst = std::max<double>(worst, std::fabs(from[i] - to[i]));
    }
    CHECK(worst < bound + 1e-6);  // and single precision
}
