// The tile of a pose: closed forms of its light, and of what it keeps for a moving lamp.
#include <doctest/doctest.h>

#include <array>
#include <cmath>

#include "poses/pose_tile.hpp"

using namespace rakelight;

namespace {

// A bare disc of 40 mm with a hole, 4 px/mm; a subject of one height and one normal in its middle.
BlankSettings disc() {
    BlankSettings blank;
    blank.width_mm = blank.height_mm = 40.0;
    blank.hole = HoleSettings{6.0, 6.0};
    return blank;
}

struct Scenery {
    BlankSettings blank = disc();
    ImageGrid grid{160, 160, 4.0, -20.0, 20.0};
    RenderedPlanes planes;

    explicit Scenery(float open = 1.0F, float height_mm = 0.0F) {
        planes.coverage = planes.height_mm = planes.normal_x = planes.normal_y = Plane(160, 160);
        planes.normal_z = planes.occlusion = Plane(160, 160, 1.0F);
        for (int y = 60; y < 100; ++y) {
            for (int x = 60; x < 100; ++x) {
                planes.coverage.at(x, y) = 1.0F;
                planes.height_mm.at(x, y) = height_mm;
                planes.occlusion.at(x, y) = open;
            }
        }
        planes.height_mm.at(80, 99) = 0.0F;  // what lies on the field
    }
    void tilt(float nx, float ny, float nz) {
        for (int y = 60; y < 100; ++y) {
            for (int x = 60; x < 100; ++x) {
                planes.normal_x.at(x, y) = nx;
                planes.normal_y.at(x, y) = ny;
                planes.normal_z.at(x, y) = nz;
            }
        }
    }
    RenderedPlanes rows(int first, int count) const {
        RenderedPlanes some;
        const auto cut = [&](const Plane& from, Plane& to) {
            to = Plane(160, count);
            std::copy_n(from.values.begin() + first * 160, count * 160, to.values.begin());
        };
        cut(planes.coverage, some.coverage);
        cut(planes.height_mm, some.height_mm);
        cut(planes.normal_x, some.normal_x);
        cut(planes.normal_y, some.normal_y);
        cut(planes.normal_z, some.normal_z);
        cut(planes.occlusion, some.occlusion);
        return some;
    }
    void fill(PoseTile& tile, int strip) const {
        const BlankGeometry geometry(blank);
        for (int first = 0; first < 160; first += strip) {
            const int count = std::min(strip, 160 - first);
            const RenderedPlanes some = rows(first, count);
            const auto masks = blank_masks(geometry, grid, first, count);
            tile.add({some, masks, first});
        }
    }
    Image8 relief(const TileLook& look = {}) const {
        PoseTile tile(blank, grid, look);
        fill(tile, 160);
        return tile.relief();
    }
    Image8 surface() const {
        PoseTile tile(blank, grid);
        fill(tile, 160);
        return tile.surface();
    }
};

std::array<int, 3> at(const Image8& image, int x, int y) {
    const auto* codes = image.codes.data() + (static_cast<std::size_t>(y) * image.width + x) * 3;
    return {codes[0], codes[1], codes[2]};
}

// IEC 61966-2-1.
double srgb(double linear) {
    return 255.0 *
           (linear <= 0.0031308 ? 12.92 * linear : 1.055 * std::pow(linear, 1.0 / 2.4) - 0.055);
}

// The header's formula in double, for a normal (0, 0, 1): n.lamp = sin 25, n.fill = sin 12, and
// n.h = cos of half of the lamp's distance from the viewer, (90 - 25) / 2 degrees.
std::array<double, 3> flat_light(double open, double lit = 1.0) {
    const double degree = std::acos(-1.0) / 180.0;
    const double t = std::min(std::max((0.97 - open) / 0.44, 0.0), 1.0);
    const double stain = t * t * (3.0 - 2.0 * t);
    const double lamp = 1.4 * 0.90 * std::sin(25.0 * degree);
    const double rest = 1.4 * (0.14 * std::sin(12.0 * degree) + 0.05 * open * open);
    const double gloss = (1.0 - 0.8 * stain) * 0.6 * std::pow(std::cos(32.5 * degree), 24.0);
    const double metal[3] = {0.70, 0.47, 0.26}, patina[3] = {0.06, 0.042, 0.03};
    std::array<double, 3> light{};
    for (std::size_t c = 0; c < 3; ++c) {
        const double reflects = metal[c] + stain * (patina[c] - metal[c]);
        light[c] = reflects * (lit * lamp + rest) + lit * gloss * metal[c];
    }
    return light;
}

void check_grey(const std::array<int, 3>& seen, const std::array<double, 3>& light) {
    for (std::size_t c = 0; c < 3; ++c) {
        // Half a code of 8 bits, and the first rounding to 16 bits, which moves less than 0.1.
        CHECK(std::abs(seen[c] - srgb(light[c])) < 0.6);
    }
}

}  // namespace

TEST_CASE("tile: a flat disc under the lamp has the closed form's colour") {
    const Image8 flat = Scenery().relief();
    CHECK(flat.width == 160);
    check_grey(at(flat, 80, 80), flat_light(1.0));    // the subject
    check_grey(at(flat, 120, 120), flat_light(1.0));  // the field
    check_grey(at(Scenery(0.6F).relief(), 80, 80), flat_light(0.6));
    check_grey(at(Scenery(0.2F).relief(), 80, 80), flat_light(0.2));
}

TEST_CASE("tile: the hole is a hole, the outside is as quiet") {
    const Image8 flat = Scenery().relief();
    const int quiet = static_cast<int>(std::lround(srgb(0.027)));
    CHECK(at(flat, 0, 0) == std::array<int, 3>{quiet, quiet, quiet});
    CHECK(at(flat, 80, 24) == at(flat, 0, 0));  // the hole's centre, 6 mm from the top
    // A subject over the hole is drilled too.
    Scenery over;
    for (int y = 10; y < 60; ++y) {
        for (int x = 60; x < 100; ++x) over.planes.coverage.at(x, y) = 1.0F;
    }
    CHECK(at(over.relief(), 80, 24) == at(flat, 0, 0));
    CHECK(at(over.relief(), 80, 50) == at(flat, 80, 80));
}

TEST_CASE("tile: recesses are darker than peaks, slopes to the lamp brighter than those from it") {
    CHECK(at(Scenery(0.4F).relief(), 80, 80)[0] + 40 < at(Scenery(1.0F).relief(), 80, 80)[0]);
    Scenery to, from;
    to.tilt(-0.4F, 0.4F, std::sqrt(1.0F - 0.32F));
    from.tilt(0.4F, -0.4F, std::sqrt(1.0F - 0.32F));
    CHECK(at(to.relief(), 80, 80)[0] > at(from.relief(), 80, 80)[0] + 60);
}

TEST_CASE("tile: what rises shades the field away from the lamp, and no other side") {
    // A wall of 1.5 mm under a lamp 25 degrees high: 1.5 / tan 25 = 3.2 mm, 12.9 px along the
    // diagonal, 9.1 along each axis.
    const Scenery wall(1.0F, 1.5F);
    const Image8 shaded = wall.relief();
    check_grey(at(shaded, 103, 90), flat_light(1.0, 0.0));
    check_grey(at(shaded, 118, 90), flat_light(1.0));
    check_grey(at(shaded, 57, 80), flat_light(1.0));
    check_grey(at(shaded, 80, 57), flat_light(1.0));
    check_grey(at(shaded, 80, 80), flat_light(1.0));
}

TEST_CASE("tile: what reaches over the edge is shown faint") {
    Scenery over;
    over.planes.coverage.at(2, 2) = 1.0F;
    const auto light = flat_light(1.0);
    check_grey(at(over.relief(), 2, 2),
               {0.5 * (light[0] + 0.027), 0.5 * (light[1] + 0.027), 0.5 * (light[2] + 0.027)});
}

TEST_CASE("tile: the surface picture holds what its header says") {
    Scenery wall(0.5F, 1.0F);
    wall.tilt(0.6F, 0.0F, 0.8F);
    const Image8 surface = wall.surface();
    REQUIRE(surface.width == 160);
    REQUIRE(surface.height == 5 * 160);
    const auto plane = [&](int number, int x, int y) {
        return static_cast<int>(
            surface.codes[static_cast<std::size_t>((number * 160 + y) * 160 + x)]);
    };
    CHECK(plane(0, 80, 80) == 128 + 76);  // round(127 * 0.6) = 76
    CHECK(plane(1, 80, 80) == 128);
    CHECK(std::abs(plane(2, 80, 80) - 127.5) <= 0.5);
    CHECK(plane(3, 80, 80) == 255);
    // 1 mm of 0.05 * 40 mm, a half.
    CHECK(std::abs(plane(4, 80, 80) - 127.5) <= 0.5);
    CHECK(plane(0, 120, 120) == 128);
    CHECK(plane(2, 120, 120) == 255);
    CHECK(plane(4, 120, 120) == 0);
    CHECK(plane(3, 80, 24) == 0);  // the hole
    CHECK(plane(3, 0, 0) == 0);
    // The outer edge falls away: outward to the left at the left, upwards at the foot's other end.
    CHECK(plane(0, 1, 80) < 100);
    CHECK(plane(0, 158, 80) > 156);
    CHECK(plane(1, 80, 1) > 156);
}

TEST_CASE("tile: a deep subject is shown no higher than the peak") {
    const Image8 surface = Scenery(1.0F, 30.0F).surface();
    CHECK(surface.codes[static_cast<std::size_t>((4 * 160 + 80) * 160 + 80)] == 255);
}

TEST_CASE("tile: the same bytes for any strips, and from any size down to the asked one") {
    const Scenery wall(0.7F, 1.0F);
    PoseTile whole(wall.blank, wall.grid, {96, 50}), strips(wall.blank, wall.grid, {96, 50});
    wall.fill(whole, 160);
    wall.fill(strips, 7);
    CHECK(whole.relief().codes == strips.relief().codes);
    CHECK(whole.surface().codes == strips.surface().codes);
    CHECK(whole.relief().width == 96);
    CHECK(whole.surface().width == 50);
    CHECK(whole.surface().height == 5 * 50);
    check_grey(at(whole.relief(), 72, 72), flat_light(1.0));  // the field
}

TEST_CASE("tile: without occlusion everything is open") {
    Scenery without, open;
    PoseTile tile(without.blank, without.grid);
    without.planes.occlusion = Plane();
    const auto masks = blank_masks(BlankGeometry(without.blank), without.grid);
    tile.add({without.planes, masks, 0});
    CHECK(tile.relief().codes == open.relief().codes);
}
