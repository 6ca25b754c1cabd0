// Recipes over small pictures whose mixture can be worked out by hand.

#include <doctest/doctest.h>

#include <algorithm>

#include "relief/recipe.hpp"

using namespace rakelight;

namespace {

/// Four pixels of a subject between two of the field, and one that is covered by half.
ReliefPlanes seven_pixels() {
    ReliefPlanes planes;
    for (Plane* plane : {&planes.coverage, &planes.height_mm, &planes.occlusion, &planes.curvature,
                         &planes.contour})
        *plane = Plane(7, 1);
    planes.coverage.values = {0.0F, 1.0F, 1.0F, 1.0F, 1.0F, 0.5F, 0.0F};
    planes.height_mm.values = {99.0F, -4.0F, 0.0F, 2.0F, 4.0F, -4.0F, 99.0F};
    planes.occlusion.values = {1.0F, 1.0F, 0.5F, 1.0F, 0.75F, 1.0F, 1.0F};
    planes.curvature.values = {0.0F, 0.0F, -2.0F, 2.0F, 1.0F, 0.0F, 0.0F};
    return planes;
}

ReliefLayer layer_of(ReliefSource source, MixMode mix = MixMode::normal, double opacity = 1.0) {
    ReliefLayer layer;
    layer.source = source;
    layer.mix = mix;
    layer.opacity = opacity;
    return layer;
}

ReliefSettings recipe(std::vector<ReliefLayer> layers) {
    ReliefSettings settings;
    settings.layers = std::move(layers);
    return settings;
}

std::vector<float> heights(const ReliefSettings& settings) {
    return mix_relief(settings, seven_pixels(), {10.0, 30.0}).height_mm.values;
}

using Values = std::vector<float>;

}  // namespace

TEST_CASE("recipe: depth alone, spread over the height, halved where half is covered") {
    ReliefSettings settings = recipe({layer_of(ReliefSource::depth)});
    CHECK(heights(settings) == Values{0, 0, 1, 1.5, 2, 0, 0});
    settings.base_mm = 0.5;
    settings.height_mm = 4.0;
    CHECK(heights(settings) == Values{0, 0.5, 2.5, 3.5, 4.5, 0.25, 0});
}

TEST_CASE("recipe: layers are mixed in their order, by opacity and mask") {
    const auto depth = layer_of(ReliefSource::depth);  // 0, 1/2, 3/4, 1, 0
    SUBCASE("multiplied by occlusion") {               // 0, 1/4, 3/4, 3/4, 0
        CHECK(heights(recipe({depth, layer_of(ReliefSource::occlusion, MixMode::multiply)})) ==
              Values{0, 0, 2.0F / 3, 2, 2, 0, 0});
    }
    SUBCASE("by half") {  // 0, 3/8, 3/4, 7/8, 0
        const auto mixed =
            heights(recipe({depth, layer_of(ReliefSource::occlusion, MixMode::multiply, 0.5)}));
        CHECK(mixed[2] == doctest::Approx(2.0 * 3 / 7));
        CHECK(mixed[3] == doctest::Approx(2.0 * 6 / 7));
    }
    SUBCASE("where a mask lets it") {  // the mask is 1 - depth: 0, 3/8, 3/4, 1, 0
        auto masked = layer_of(ReliefSource::occlusion, MixMode::multiply);
        masked.mask = ReliefSource::depth;
        masked.mask_reversed = true;
        const auto mixed = heights(recipe({depth, masked}));
        CHECK(mixed[2] == doctest::Approx(2.0 * 3 / 8));
        CHECK(mixed[4] == 2.0F);
    }
    SUBCASE("the last normal layer covers all below it") {
        CHECK(heights(recipe({layer_of(ReliefSource::occlusion), depth})) ==
              Values{0, 0, 1, 1.5, 2, 0, 0});
    }
}

TEST_CASE("recipe: what is added counts in mm, curvature with its sign") {
    auto fine = layer_of(ReliefSource::curvature, MixMode::add);
    fine.amount_mm = 1.0;  // of 2 mm: shares 0, -1/2, 1/2, 1/4, 0 on 0, 1/2, 3/4, 1, 0
    const auto mixed = heights(recipe({layer_of(ReliefSource::depth), fine}));
    // Together 0, 0, 5/4, 5/4, 0: the highest becomes 2 mm.
    CHECK(mixed == Values{0, 0, 0, 2, 2, 0, 0});
}

TEST_CASE("recipe: levels, curves and what they cut off") {
    auto depth = layer_of(ReliefSource::depth);
    depth.levels = {0.5, 0.75, 1.0};
    const Relief cut = mix_relief(recipe({depth}), seven_pixels(), {10.0, 30.0});
    CHECK(cut.height_mm.values == Values{0, 0, 0, 2, 2, 0, 0});
    // Of the four pixels that are covered by more than half: one is below, one above.
    CHECK(cut.layers.at(0).clipped_share == doctest::Approx(0.5));
    CHECK(cut.layers.at(0).black == 0.5);
    depth.levels = {1.0, 0.0, 1.0};
    CHECK(heights(recipe({depth})) == Values{0, 2, 1, 0.5, 0, 1, 0});
    depth.levels = {};
    // From the turn at 1/2 to the end, whose slope is -2, the cubic's middle is 1/2 + 1/8.
    depth.curve = {{0.0, 0.0}, {0.5, 1.0}, {1.0, 0.0}};
    CHECK(heights(recipe({depth})) == Values{0, 0, 2, 1.25, 0, 0, 0});
}

TEST_CASE("recipe: a level subject stays level, at the base") {
    ReliefPlanes planes = seven_pixels();
    std::fill(planes.height_mm.values.begin(), planes.height_mm.values.end(), 3.0F);
    ReliefSettings settings =
        recipe({layer_of(ReliefSource::forms), layer_of(ReliefSource::depth, MixMode::screen)});
    settings.base_mm = 0.75;
    const Relief relief = mix_relief(settings, planes, {10.0, 30.0});
    CHECK(relief.height_mm.values == Values{0, 0.75, 0.75, 0.75, 0.75, 0.375, 0});
    CHECK(relief.depth_range_used == doctest::Approx(0.0).epsilon(0.001));
}

TEST_CASE("recipe: which planes it asks for") {
    CHECK_FALSE(needs_of(recipe({layer_of(ReliefSource::forms)})).occlusion);
    auto masked = layer_of(ReliefSource::curvature);
    masked.mask = ReliefSource::occlusion;
    const ReliefNeeds needs = needs_of(recipe({masked}));
    CHECK(needs.occlusion);
    CHECK(needs.curvature);
    CHECK_FALSE(needs.contour);
}
