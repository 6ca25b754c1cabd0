// The blank's regions as images: areas in closed form, and what must add up in each pixel.

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>
#include <vector>

#include "framing/blank_masks.hpp"
#include "test_framing_support.hpp"

using namespace rakelight;
using namespace framing_test;

namespace {

constexpr double pi = std::numbers::pi;
// A pixel's share is a sum of sixteen floats, each rounded at up to 1: 16 * 6e-8.
constexpr float rounding = 1e-6F;

struct Masks {
    explicit Masks(const BlankSettings& settings, double px = 20.0, Covers covers = Covers::blank)
        : px_per_mm(px) {
        ImageSettings image;
        image.px_per_mm = px;
        image.covers = covers;
        const BlankGeometry blank(settings);
        masks = blank_masks(blank, make_grid(blank, image));
    }
    const Plane& of(const std::string& region) const {
        const auto found = std::find_if(masks.begin(), masks.end(),
                                        [&](const BlankMask& m) { return m.region == region; });
        REQUIRE(found != masks.end());
        return found->coverage;
    }
    double area_mm2(const std::string& region) const {
        double sum = 0.0;
        for (const float share : of(region).values) sum += static_cast<double>(share);
        return sum / (px_per_mm * px_per_mm);
    }
    // Sixteen lines a pixel. Along a run of lines over which a chord only grows or only shrinks,
    // the sum over the lines' middles is off the integral by at most half a step times the change;
    // a convex region has two such runs, each of at most its width: one step times its width. A
    // region with an inner edge has as much once more, and so has the end of one at a straight
    // line.
    double sampling_mm2(double width_mm, int edges = 1) const {
        return edges * width_mm / (16 * px_per_mm) + static_cast<double>(rounding) * 2000;
    }
    double px_per_mm;
    std::vector<BlankMask> masks;
};

BlankSettings with_rim(BlankSettings settings, double rim_mm) {
    settings.rim_mm = rim_mm;
    return settings;
}

void check_mirrored(const Plane& plane, bool upright) {
    float worst = 0.0F;
    for (int y = 0; y < plane.height; ++y) {
        for (int x = 0; x < plane.width; ++x) {
            const int other_y = upright ? plane.height - 1 - y : y;
            const int other_x = upright ? x : plane.width - 1 - x;
            worst = std::max(worst, std::abs(plane.at(x, y) - plane.at(other_x, other_y)));
        }
    }
    // Edges lie at 1e-13 px of their mirror image; the float sums round differently.
    CHECK(worst < 2 * rounding);
}

// The largest difference between a sum of masks and another mask.
float worst_sum(const Masks& masks, const std::vector<std::string>& regions, const Plane& whole) {
    Plane rest = whole;
    for (const auto& region : regions) {
        const Plane& part = masks.of(region);
        for (std::size_t i = 0; i < rest.values.size(); ++i) rest.values[i] -= part.values[i];
    }
    const auto [low, high] = std::minmax_element(rest.values.begin(), rest.values.end());
    return std::max(*high, -*low);
}

// What two discs share: two circular segments.
double lens(double r, double s, double apart) {
    const double at = (apart * apart + r * r - s * s) / (2 * apart);
    const auto segment = [](double radius, double from) {
        return radius * radius * std::acos(from / radius) -
               from * std::sqrt(radius * radius - from * from);
    };
    return segment(r, at) + segment(s, apart - at);
}

}  // namespace

TEST_CASE("areas of blank, field and rim in closed form") {
    struct Known {
        const char* name;
        BlankSettings settings;
        double blank_mm2, field_mm2;
    };
    const auto disc = [](double r) { return pi * r * r; };
    const auto corners = [](double w, double h, double r) { return w * h - (4 - pi) * r * r; };
    for (const auto& known : {
             Known{"round", with_rim(round_blank(38), 1.2), disc(19), disc(17.8)},
             Known{"oval", oval(40, 26), pi * 20 * 13, pi * 20 * 13},
             Known{"rectangle", with_rim(rectangle(30, 20, 4), 1.5), corners(30, 20, 4),
                   corners(27, 17, 2.5)},
             Known{"thick rim", with_rim(rectangle(30, 20, 1), 2.5), corners(30, 20, 1), 25.0 * 15},
             Known{"tag", with_rim(tag(30, 50), 1.2), disc(15) + 30 * 20, disc(13.8) + 27.6 * 20},
             Known{"lying tag", with_rim(tag(50, 30), 1.2), disc(15) + 30 * 20,
                   disc(13.8) + 27.6 * 20},
         }) {
        CAPTURE(known.name);
        const Masks masks(known.settings);
        REQUIRE(masks.masks.size() == 3);
        const double width = known.settings.width_mm;
        CHECK(std::abs(masks.area_mm2("blank") - known.blank_mm2) < masks.sampling_mm2(width));
        CHECK(std::abs(masks.area_mm2("field") - known.field_mm2) < masks.sampling_mm2(width));
        CHECK(std::abs(masks.area_mm2("rim") - (known.blank_mm2 - known.field_mm2)) <
              masks.sampling_mm2(width, 2));
        CHECK(worst_sum(masks, {"field", "rim"}, masks.of("blank")) < 2 * rounding);
        for (const auto& mask : masks.masks) {
            check_mirrored(mask.coverage, false);
            check_mirrored(mask.coverage, true);
            const auto [low, high] =
                std::minmax_element(mask.coverage.values.begin(), mask.coverage.values.end());
            CHECK(*low == 0.0F);
            // A rim of 1.2 mm has whole pixels too; without one there is no rim.
            CHECK(*high == (known.settings.rim_mm == 0.0 && mask.region == "rim" ? 0.0F : 1.0F));
        }
    }
}

TEST_CASE("an oval's field is its parallel curve, not a smaller ellipse") {
    // Source: Steiner's formula for convex curves, area(inset e) = area - e * perimeter + pi e^2,
    // for e up to the smallest radius of curvature (b^2/a = 8.45 mm); the perimeter summed over
    // 100,000 chords, short by less than 1e-8 of itself.
    double perimeter = 0.0;
    for (int i = 0; i < 100000; ++i) {
        const double t = 2 * pi * i / 100000;
        const double u = 2 * pi * (i + 1) / 100000;
        perimeter += std::hypot(20 * (std::cos(u) - std::cos(t)), 13 * (std::sin(u) - std::sin(t)));
    }
    const Masks masks(with_rim(oval(40, 26), 3));
    const double expected = pi * 20 * 13 - 3 * perimeter + pi * 9;
    CHECK(std::abs(expected - pi * 17 * 10) > 10 * masks.sampling_mm2(40));  // it tells them apart
    CHECK(std::abs(masks.area_mm2("field") - expected) < masks.sampling_mm2(40));
}

TEST_CASE("pixels known by hand") {
    // A rectangle of 2 x 1 mm with a rim of 0.25 mm at 2 pixels a millimetre: 4 x 2 pixels. Pixel
    // (0, 0) is half rim on its left and half on top: 3/4 rim. Pixel (1, 0) is rim on top alone.
    const Masks masks(with_rim(rectangle(2, 1, 0), 0.25), 2.0);
    for (const float share : masks.of("blank").values) CHECK(share == 1.0F);
    for (int y = 0; y < 2; ++y) {
        for (int x = 0; x < 4; ++x) {
            const bool at_end = x == 0 || x == 3;
            CHECK(std::abs(masks.of("rim").at(x, y) - (at_end ? 0.75F : 0.5F)) < rounding);
            CHECK(std::abs(masks.of("field").at(x, y) - (at_end ? 0.25F : 0.5F)) < rounding);
        }
    }
}

TEST_CASE("a hole is taken out of field and rim") {
    struct Known {
        const char* name;
        double from_top_mm;
        double in_field_mm2;
    };
    const double hole = pi * 1.5 * 1.5;
    for (const auto& known :
         {Known{"inside the field", 6.0, hole}, Known{"across the rim", 2.0, lens(17.8, 1.5, 17.0)},
          Known{"in the middle", 19.0, hole}}) {
        CAPTURE(known.name);
        auto settings = with_rim(round_blank(38), 1.2);
        const Masks plain(settings);
        settings.hole = HoleSettings{3.0, known.from_top_mm};
        const Masks masks(settings);
        REQUIRE(masks.masks.size() == 4);
        // The hole's own two edges add their error to the disc's.
        const double error = masks.sampling_mm2(38) + masks.sampling_mm2(3);
        CHECK(std::abs(masks.area_mm2("hole") - hole) < masks.sampling_mm2(3));
        CHECK(std::abs(masks.area_mm2("blank") - (pi * 19 * 19 - hole)) < error);
        CHECK(std::abs(masks.area_mm2("field") - (pi * 17.8 * 17.8 - known.in_field_mm2)) < error);
        CHECK(worst_sum(masks, {"field", "rim", "hole"}, plain.of("blank")) < 3 * rounding);
        CHECK(worst_sum(masks, {"blank", "hole"}, plain.of("blank")) < 2 * rounding);
        for (const auto& mask : masks.masks) check_mirrored(mask.coverage, false);
    }
    // A hole of 3 mm whose centre lies 2 mm deep leaves 0.8 mm of its 3 mm on the rim: the check
    // above saw a hole that is cut in two.
    CHECK(lens(17.8, 1.5, 17.0) < 0.9 * hole);
    CHECK(lens(17.8, 1.5, 17.0) > 0.5 * hole);
}

TEST_CASE("the exergue is the field's lowest segment") {
    auto settings = with_rim(round_blank(38), 1.2);
    settings.exergue_mm = 7;
    const Masks masks(settings);
    REQUIRE(masks.masks.size() == 4);
    // Source: the circular segment of height h, r^2 acos(1 - h/r) - (r - h) sqrt(2 r h - h^2).
    const double r = 17.8;
    const double segment = r * r * std::acos((r - 7) / r) - (r - 7) * std::sqrt(14 * r - 49);
    CHECK(std::abs(masks.area_mm2("exergue") - segment) < masks.sampling_mm2(2 * r, 2));
    CHECK(std::abs(masks.area_mm2("field") - pi * r * r) < masks.sampling_mm2(2 * r));  // still all
    // The line lies at y = -10.8 mm: 19 - (-10.8) = 29.8 mm, 596 pixels from the top.
    const Plane& exergue = masks.of("exergue");
    const Plane& field = masks.of("field");
    float above = 0.0F;
    float worst = 0.0F;
    for (int y = 0; y < exergue.height; ++y) {
        for (int x = 0; x < exergue.width; ++x) {
            if (y < 596) above = std::max(above, exergue.at(x, y));
            if (y >= 596) worst = std::max(worst, std::abs(exergue.at(x, y) - field.at(x, y)));
        }
    }
    CHECK(above == 0.0F);
    CHECK(worst < 2 * rounding);
}

TEST_CASE("a picture of the field is the middle of a picture of the blank") {
    auto settings = with_rim(round_blank(38), 1.2);  // 24 pixels of 0.05 mm
    settings.hole = HoleSettings{3.0, 6.0};
    const Masks whole(settings);
    const Masks crop(settings, 20.0, Covers::field);
    REQUIRE(crop.of("field").width == whole.of("field").width - 48);
    for (const auto& mask : crop.masks) {
        const Plane& large = whole.of(mask.region);
        const Plane& small = mask.coverage;
        float worst = 0.0F;
        for (int y = 0; y < small.height; ++y) {
            for (int x = 0; x < small.width; ++x) {
                worst = std::max(worst, std::abs(small.at(x, y) - large.at(x + 24, y + 24)));
            }
        }
        CHECK(worst < 2 * rounding);
    }
    // Only the field's outermost points touch the picture's edge: nothing of it is cut off.
    CHECK(std::abs(crop.area_mm2("field") - pi * (17.8 * 17.8 - 2.25)) <
          crop.sampling_mm2(38) + crop.sampling_mm2(3));
}
