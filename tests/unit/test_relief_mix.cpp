// Blend modes against W3C "Compositing and Blending Level 1" (Candidate Recommendation, section
// 10.1), its formulas worked by hand, and laws that follow from them.

#include <doctest/doctest.h>

#include <array>

#include "relief/mix.hpp"

using namespace rakelight;

namespace {

constexpr std::array modes{MixMode::normal,     MixMode::multiply,   MixMode::screen,
                           MixMode::overlay,    MixMode::darken,     MixMode::lighten,
                           MixMode::hard_light, MixMode::soft_light, MixMode::difference};

struct Worked {
    MixMode mode;
    float below, above, result;
};

// All in quarters and eighths: exact in binary.
constexpr std::array worked{
    Worked{MixMode::normal, 0.25F, 0.75F, 0.75F},
    Worked{MixMode::multiply, 0.5F, 0.75F, 0.375F},
    Worked{MixMode::screen, 0.5F, 0.75F, 0.875F},    // 0.5 + 0.75 - 0.375
    Worked{MixMode::overlay, 0.25F, 0.75F, 0.375F},  // HardLight(0.75, 0.25) = 0.75 * 0.5
    Worked{MixMode::overlay, 0.75F, 0.25F, 0.625F},  // Screen(0.25, 0.5)
    Worked{MixMode::darken, 0.25F, 0.75F, 0.25F},
    Worked{MixMode::lighten, 0.25F, 0.75F, 0.75F},
    Worked{MixMode::hard_light, 0.75F, 0.25F, 0.375F},    // Multiply(0.75, 0.5)
    Worked{MixMode::hard_light, 0.25F, 0.75F, 0.625F},    // Screen(0.25, 0.5)
    Worked{MixMode::soft_light, 0.5F, 0.25F, 0.375F},     // 0.5 - 0.5 * 0.5 * 0.5
    Worked{MixMode::soft_light, 0.25F, 0.75F, 0.375F},    // D = ((4 - 12) / 4 + 4) / 4 = 0.5
    Worked{MixMode::soft_light, 0.125F, 1.0F, 0.34375F},  // D = ((2 - 12) / 8 + 4) / 8
    Worked{MixMode::soft_light, 0.5625F, 1.0F, 0.75F},    // D = sqrt(9/16)
    Worked{MixMode::difference, 0.25F, 0.875F, 0.625F},
};

template <typename Check>
void for_all_pairs(const Check& check) {
    for (int b = 0; b <= 64; ++b)
        for (int s = 0; s <= 64; ++s) check(static_cast<float>(b) / 64, static_cast<float>(s) / 64);
}

}  // namespace

TEST_CASE("mix: worked values of the specification's formulas") {
    for (const Worked& value : worked) {
        CAPTURE(static_cast<int>(value.mode));
        CHECK(mixed(value.mode, value.below, value.above) == value.result);
    }
}

TEST_CASE("mix: laws of the modes") {
    for_all_pairs([](float b, float s) {
        for (const MixMode mode : modes) {
            const float v = mixed(mode, b, s);
            CHECK(v >= 0.0F);
            CHECK(v <= 1.0F);
        }
        CHECK(mixed(MixMode::multiply, b, s) == mixed(MixMode::multiply, s, b));
        CHECK(mixed(MixMode::overlay, b, s) == mixed(MixMode::hard_light, s, b));
        CHECK(mixed(MixMode::soft_light, b, 0.5F) == b);
        // Screen is multiply of the negatives (the specification says so beside its formula).
        CHECK(mixed(MixMode::screen, b, s) ==
              doctest::Approx(1.0F - mixed(MixMode::multiply, 1.0F - b, 1.0F - s)).epsilon(1e-6));
        CHECK(mixed(MixMode::darken, b, s) + mixed(MixMode::lighten, b, s) == b + s);
    });
    // The ends of both branches meet: hard light at 0.5, soft light's D at a quarter.
    const float before = 0.5F, after = 0.5F + 1e-6F;
    CHECK(mixed(MixMode::hard_light, 0.3F, before) ==
          doctest::Approx(mixed(MixMode::hard_light, 0.3F, after)).epsilon(1e-5));
    CHECK(mixed(MixMode::soft_light, 0.25F, 1.0F) ==
          doctest::Approx(mixed(MixMode::soft_light, 0.25F + 1e-6F, 1.0F)).epsilon(1e-5));
}

TEST_CASE("mix: a layer's share lays the mixed colour over the backdrop") {
    Plane below(3, 20, 0.5F);
    const Plane above(3, 20, 0.25F);
    Plane share(3, 20, 1.0F);
    share.at(0, 3) = 0.0F;
    share.at(1, 19) = 0.5F;
    mix_onto(below, above, share, MixMode::multiply);
    CHECK(below.at(2, 0) == 0.125F);
    CHECK(below.at(0, 3) == 0.5F);
    CHECK(below.at(1, 19) == 0.3125F);  // half of each
}
