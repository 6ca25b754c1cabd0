// Shapes, gradients, regions and placed pictures against their geometry.

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <numeric>

#include "relief/sources.hpp"

using namespace rakelight;

namespace {

constexpr double px_per_mm = 10.0;

BlankSettings round_blank() {
    BlankSettings blank;
    blank.width_mm = blank.height_mm = 20.0;
    blank.rim_mm = 2.0;
    blank.exergue_mm = 4.0;
    blank.hole = HoleSettings{2.0, 3.0};
    return blank;
}

ImageGrid grid() {
    return make_grid(BlankGeometry(round_blank()), {Covers::blank, px_per_mm, 4});
}

Plane drawn(const NamedSource& source) {
    const SourcePlane plane = drawn_source(source, BlankGeometry(round_blank()), grid());
    CHECK(plane.share.values.empty());
    return plane.value;
}

double area_mm2(const Plane& plane) {
    return std::accumulate(plane.values.begin(), plane.values.end(), 0.0) / (px_per_mm * px_per_mm);
}

float at_mm(const Plane& plane, double x_mm, double y_mm) {
    return plane.at(static_cast<int>((x_mm + 10.0) * px_per_mm),
                    static_cast<int>((10.0 - y_mm) * px_per_mm));
}

/// From black at the left and top to white, so that every turn shows.
GreyPicture ramp(int width, int height) {
    GreyPicture picture{width, height, {}, {}};
    for (int y = 0; y < height; ++y) {
        for (int x = 0; x < width; ++x)
            picture.grey.push_back(static_cast<std::uint16_t>(
                65535.0 * ((x + 0.5) / width * 0.75 + (y + 0.5) / height * 0.25)));
    }
    return picture;
}

NamedSource image_of(std::optional<double> width_mm) {
    NamedSource source;
    source.what = ImageSource{"", width_mm};
    return source;
}

}  // namespace

TEST_CASE("shapes have their area, wherever they lie and however they are turned") {
    NamedSource ellipse{"e", ShapeSource{ShapeForm::ellipse, {8.0, 5.0}, 0.0, 0.0}};
    NamedSource tile{"r", ShapeSource{ShapeForm::rectangle, {8.0, 5.0}, 1.0, 0.0}};
    for (const double turn : {0.0, 30.0, 90.0}) {
        ellipse.turn_deg = tile.turn_deg = turn;
        ellipse.centre_mm = tile.centre_mm = {1.3, -2.1};
        // Edges within a pixel: the sum over a closed outline of many directions.
        CHECK(area_mm2(drawn(ellipse)) ==
              doctest::Approx(std::numbers::pi * 4.0 * 2.5).epsilon(0.003));
        CHECK(area_mm2(drawn(tile)) ==
              doctest::Approx(8.0 * 5.0 - (4.0 - std::numbers::pi)).epsilon(0.003));
    }
    const Plane upright = drawn(tile);  // by 90 degrees
    CHECK(at_mm(upright, 1.3, 1.4) == 1.0F);
    CHECK(at_mm(upright, 4.4, -2.1) == 0.0F);
}

TEST_CASE("a soft edge falls evenly, half of it to each side") {
    const NamedSource disc{"d", ShapeSource{ShapeForm::ellipse, {10.0, 10.0}, 0.0, 2.0}};
    const Plane plane = drawn(disc);
    for (int x = 101; x < 200; ++x) {
        const double r = glm::length(grid().centre_of(x, 100));
        CHECK(plane.at(x, 100) ==
              doctest::Approx(std::min(std::max((6.0 - r) / 2.0, 0.0), 1.0)).epsilon(1e-5));
    }
}

TEST_CASE("gradients run from 0 to 1 and stay there") {
    const Plane slanted =
        drawn({"g", GradientSource{GradientForm::linear, {-3.0, -4.0}, {3.0, 4.0}}});
    const Plane radial = drawn({"g", GradientSource{GradientForm::radial, {1.0, 0.0}, {1.0, 5.0}}});
    for (int i = 0; i < 200; i += 7) {
        const glm::dvec2 p = grid().centre_of(i, 199 - i);
        const double along = (0.6 * (p.x + 3.0) + 0.8 * (p.y + 4.0)) / 10.0;
        CHECK(slanted.at(i, 199 - i) ==
              doctest::Approx(std::min(std::max(along, 0.0), 1.0)).epsilon(1e-5));
        CHECK(radial.at(i, 199 - i) ==
              doctest::Approx(std::min(std::hypot(p.x - 1.0, p.y) / 5.0, 1.0)).epsilon(1e-5));
    }
}

TEST_CASE("regions have the blank's areas") {
    const auto area = [](const char* name) { return area_mm2(drawn({"r", RegionSource{name}})); };
    const double pi = std::numbers::pi;
    CHECK(area("hole") == doctest::Approx(pi).epsilon(0.01));
    CHECK(area("blank") == doctest::Approx(pi * 99.0).epsilon(0.002));
    // The hole reaches from 6 to 8 mm over the middle: it touches the rim and takes none of it.
    CHECK(area("field") == doctest::Approx(pi * 63.0).epsilon(0.002));
    CHECK(area("rim") == doctest::Approx(pi * 36.0).epsilon(0.002));
    // The field's lowest 4 mm: a segment of a disc of 8 mm, half of whose angle is 60 degrees.
    CHECK(area("exergue") ==
          doctest::Approx(64.0 * (pi / 3.0 - std::sqrt(3.0) / 4.0)).epsilon(0.004));
}

TEST_CASE("a picture fills the whole one, as wide as it; larger or smaller, its ramp stays") {
    for (const int pixels : {8, 200, 4000}) {
        CAPTURE(pixels);
        const SourcePlane plane =
            placed_picture(ramp(pixels, pixels), image_of(std::nullopt), grid());
        double worst = 0.0;
        // Beyond the middles of the outer pixels there is no slope to follow.
        const int margin = std::max(1, 200 / pixels);
        for (int y = margin; y < 200 - margin; ++y) {
            for (int x = margin; x < 200 - margin; ++x) {
                const double expected = (x + 0.5) / 200 * 0.75 + (y + 0.5) / 200 * 0.25;
                worst = std::max(worst, std::abs(plane.value.at(x, y) - expected));
                CHECK(plane.share.at(x, y) == 1.0F);
            }
        }
        CHECK(worst < 2.0 / 65535.0);
    }
}

TEST_CASE("a picture is laid where it is wanted, and says nothing elsewhere") {
    NamedSource source = image_of(6.0);
    source.centre_mm = {2.0, 1.0};
    source.turn_deg = 90.0;  // its right edge is at the top now, its top at the left
    const SourcePlane plane = placed_picture(ramp(60, 30), source, grid());
    CHECK(area_mm2(plane.share) == doctest::Approx(6.0 * 3.0).epsilon(1e-3));
    CHECK(at_mm(plane.share, 2.0, 3.9) == 1.0F);
    CHECK(at_mm(plane.share, 2.0, 4.2) == 0.0F);
    CHECK(at_mm(plane.share, 3.6, 1.0) == 0.0F);
    CHECK(at_mm(plane.value, 2.0, 3.9) > at_mm(plane.value, 2.0, -1.9) + 0.6F);
    CHECK(at_mm(plane.value, 3.4, 1.0) > at_mm(plane.value, 0.6, 1.0) + 0.2F);
}

TEST_CASE("what is transparent neither shows nor lends its colour") {
    GreyPicture picture{2, 1, {65535, 0}, {0, 65535}};
    const SourcePlane plane = placed_picture(picture, image_of(10.0), grid());
    for (std::size_t i = 0; i < plane.share.values.size(); ++i) {
        if (plane.share.values[i] > 0.0F) CHECK(plane.value.values[i] == 0.0F);
    }
    CHECK(at_mm(plane.share, -4.5, 0.0) == 0.0F);
    CHECK(at_mm(plane.share, 4.5, 0.0) == 1.0F);
}
