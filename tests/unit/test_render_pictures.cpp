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

/// x, y and z of 8 bits, whose lowest is 1: BC7 has one for all channels.
int odd_byte_of(int x, int y, int channel) {
    return code_of(x, y, channel) / 257 | 1;
}

std::string as_png_of_bytes() {
    return texture_test::png(side, side, 3, [](double u, double v, int c) {
        return odd_byte_of(static_cast<int>(u * side), static_cast<int>((1.0 - v) * side), c) /
               255.0;
    });
}

/// BC7, mode 6, whose two ends are equal: 7 bits a channel, and the lowest one of each end
/// (OpenGL, ARB_texture_compression_bptc).
std::string as_bc7() {
    std::string blocks;
    for (int y = 0; y < side; y += 4)
        for (int x = 0; x < side; x += 4) {
            std::uint64_t low = 1 << 6, high = 1;  // the second end's lowest bit
            for (int c = 0; c < 4; ++c) {
                const auto end = static_cast<std::uint64_t>(c < 3 ? odd_byte_of(x, y, c) / 2 : 127);
                low |= (end | end << 7) << (7 + 14 * c);
            }
            low |= std::uint64_t{1} << 63;  // the first one's
            blocks += picture_test::little(low, 8) + picture_test::little(high, 8);
        }
    return picture_test::dds(side, side, {.code = "DX10", .dxgi = 98}, blocks);
}

/// ASTC, blocks of one colour of 16 bits a channel, of which sRGB has the higher 8 (Khronos Data
/// Format Specification 1.3, chapter 23).
/// @param is_pair  x is grey, y alpha, as many such maps are packed
std::string as_astc(bool is_pair) {
    const auto value = [&](int x, int y, int c) {
        if (is_pair) return 257 * byte_of(x, y, c / 3);
        return c < 3 ? 257 * odd_byte_of(x, y, c) : 65535;
    };
    std::string blocks;
    for (int y = 0; y < side; y += 4)
        for (int x = 0; x < side; x += 4) {
            blocks += "\xFC\xFD" + std::string(6, '\xFF');
            for (int c = 0; c < 4; ++c)
                blocks += picture_test::little(static_cast<std::uint64_t>(value(x, y, c)), 2);
        }
    return picture_test::ktx2(side, side, 158, blocks);
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

TEST_CASE("normal maps in BC7 and ASTC give the normals of the PNG of the same bytes, to the bit") {
    const RenderedPlanes png = drawn(as_png_of_bytes());
    for (const std::string& picture : {as_bc7(), as_astc(false)}) {
        const RenderedPlanes other = drawn(picture);
        CHECK(png.normal_x.values == other.normal_x.values);
        CHECK(png.normal_y.values == other.normal_y.values);
        CHECK(png.normal_z.values == other.normal_z.values);
    }
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

TEST_CASE("an ASTC normal map of grey and alpha gives the normals of the BC5 of the same bytes") {
    const RenderedPlanes bc5 = drawn(as_bc5()), astc = drawn(as_astc(true));
    CHECK(bc5.normal_x.values == astc.normal_x.values);
    CHECK(bc5.normal_y.values == astc.normal_y.values);
    CHECK(bc5.normal_z.values == astc.normal_z.values);
}
