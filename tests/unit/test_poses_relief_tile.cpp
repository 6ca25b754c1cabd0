// The tile of a pose that has a relief: closed forms of the relief's own slopes, heights and sky.
#include <doctest/doctest.h>

#include <cmath>

#include "poses/relief_tile.hpp"

using namespace rakelight;

namespace {

// A bare square of 40 mm, 4 px/mm, its outline out of what is looked at.
struct Bench {
    BlankGeometry blank;
    ImageGrid grid{160, 160, 4.0, -20.0, 20.0};
    Plane height_mm{160, 160};

    static BlankSettings square() {
        BlankSettings settings;
        settings.shape = BlankShape::rectangle;
        settings.width_mm = settings.height_mm = 40.0;
        return settings;
    }
    Bench() : blank(square()) {}

    template <typename Height>
    void raise(const Height& height) {
        for (int y = 0; y < 160; ++y)
            for (int x = 0; x < 160; ++x) {
                const glm::dvec2 p = grid.centre_of(x, y);
                height_mm.at(x, y) = static_cast<float>(height(p.x, p.y));
            }
    }
    ReliefTile tile(const TileLook& look = {}) const {
        return {height_mm, ReliefSettings{}, blank, grid, look};
    }
};

// Plane k of the surface picture, in its middle.
int middle(const Image8& surface, int k) {
    const int side = surface.width;
    return surface.codes[static_cast<std::size_t>((k * side + side / 2) * side + side / 2)];
}

}  // namespace

TEST_CASE("a level relief faces the viewer under all of the sky") {
    Bench bench;
    const Image8 surface = bench.tile().surface();
    CHECK(surface.width == 160);
    CHECK(surface.height == 5 * 160);
    CHECK(middle(surface, 0) == 128);
    CHECK(middle(surface, 1) == 128);
    CHECK(middle(surface, 2) == 255);
    CHECK(middle(surface, 3) == 255);
    CHECK(middle(surface, 4) == 0);
}

// Of a plane with slopes a and b the normal is (-a, -b, 1) / sqrt(1 + a^2 + b^2), and central
// differences are exact.
TEST_CASE("a slope is the surface's own, and its height a share of 0.05 of the field") {
    Bench bench;
    bench.raise([](double x, double y) { return 1.0 + 0.015 * x - 0.02 * y; });
    const double length = std::sqrt(1.0 + 0.015 * 0.015 + 0.02 * 0.02);
    for (const int px : {300, 40}) {
        CAPTURE(px);
        const Image8 surface = bench.tile({600, px}).surface();
        CHECK(surface.width == std::min(px, 160));
        CHECK(middle(surface, 0) == std::lround(128.0 - 127.0 * 0.015 / length));
        CHECK(middle(surface, 1) == std::lround(128.0 + 127.0 * 0.02 / length));
        // Of 0.05 of 40 mm, half a pixel right of the blank's middle and below it.
        const double away_mm = 20.0 / surface.width;
        CHECK(middle(surface, 4) == std::lround(255.0 / 2.0 * (1.0 + 0.035 * away_mm)));
    }
}

TEST_CASE("heights of a tall relief and of a dish are all within the codes") {
    Bench tall;
    tall.raise([](double x, double) { return x > 0.0 ? 5.0 : 1.0; });
    CHECK(tall.tile().peak_mm() == doctest::Approx(5.0));
    CHECK(middle(tall.tile().surface(), 4) == 255);
    Bench dish;
    dish.raise([](double x, double) { return x > 0.0 ? -1.0 : 0.5; });
    CHECK(dish.tile().peak_mm() == 2.0);  // 0.05 of 40 mm
    CHECK(middle(dish.tile().surface(), 4) == 0);
    dish.raise([](double x, double) { return x < 0.0 ? -1.0 : 0.5; });
    CHECK(middle(dish.tile().surface(), 4) == std::lround(255.0 * 1.5 / 2.0));
}

TEST_CASE("the lamp shows which side a ridge's flanks face") {
    Bench bench;
    bench.raise([](double x, double) { return std::max(0.0, 1.0 - 0.2 * std::abs(x)); });
    const Image8 piece = bench.tile().relief();
    const auto green = [&](int x) {
        return int{piece.codes[static_cast<std::size_t>((80 * 160 + x) * 3 + 1)]};
    };
    CHECK(green(74) > green(20) + 10);  // toward the lamp at the upper left
    CHECK(green(86) < green(20) - 10);  // away from it
}
