// The blur against the Gaussian's closed forms.

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "relief/blur.hpp"

using namespace rakelight;

TEST_CASE("blur: a level image stays, whatever counts") {
    Plane image(60, 50, 0.4F);
    Plane share(60, 50);
    for (int y = 10; y < 30; ++y)
        for (int x = 5 + y / 3; x < 50; ++x) share.at(x, y) = 1.0F - 0.01F * static_cast<float>(y);
    blur(image, share, 3.0);
    for (const float v : image.values) CHECK(v == doctest::Approx(0.4F).epsilon(1e-5));
}

TEST_CASE("blur: a point becomes the Gaussian") {
    const double sigma = 2.5;
    Plane image(81, 61);
    image.at(40, 30) = 1.0F;
    blur(image, Plane(81, 61, 1.0F), sigma);
    // Sampled, the kernel sums to 1 by Poisson's formula but for 2 exp(-2 pi^2 sigma^2); cut at
    // four sigma it loses 6e-5 a direction.
    for (int y = 24; y <= 36; y += 3) {
        for (int x = 34; x <= 46; x += 3) {
            const double r2 = (x - 40) * (x - 40) + (y - 30) * (y - 30);
            const double expected =
                std::exp(-0.5 * r2 / (sigma * sigma)) / (2.0 * std::numbers::pi * sigma * sigma);
            CHECK(image.at(x, y) == doctest::Approx(expected).epsilon(3e-4));
        }
    }
}

TEST_CASE("blur: a step becomes the error function") {
    const int width = 600, height = 8;
    for (const double sigma : {6.0, 9.9, 10.0, 23.0, 40.0}) {
        CAPTURE(sigma);
        Plane image(width, height);
        for (int y = 0; y < height; ++y)
            for (int x = 300; x < width; ++x) image.at(x, y) = 1.0F;
        blur(image, Plane(width, height, 1.0F), sigma);
        // The sum over pixels is the integral by the midpoint rule: error below h^2/24 max|g'|;
        // 1e-4 for the cut tails. Made smaller first: the header's figure.
        const double allowed = sigma < 10.0 ? 1.0 / 24.0 * 0.242 / (sigma * sigma) + 1e-4 : 0.003;
        for (int x = 150; x < 450; ++x) {
            const double expected = 0.5 * std::erfc(-(x - 299.5) / (sigma * std::numbers::sqrt2));
            CHECK(std::abs(image.at(x, 4) - expected) < allowed);
        }
    }
}

TEST_CASE("blur: a Gaussian far wider than the image leaves its mean") {
    Plane image(30, 20), share(30, 20, 1.0F);
    double sum = 0.0, weight = 0.0;
    for (std::size_t i = 0; i < image.values.size(); ++i) {
        image.values[i] = static_cast<float>(i % 7);
        share.values[i] = i % 3 == 0 ? 0.5F : 1.0F;
        sum += share.values[i] * image.values[i];
        weight += share.values[i];
    }
    blur(image, share, 2e6);
    for (const float v : image.values) CHECK(v == doctest::Approx(sum / weight).epsilon(0.002));
}

TEST_CASE("blur: what does not count is not taken in, and is filled from what does") {
    Plane image(40, 40, 1.0F), share(40, 40, 1.0F);
    for (int y = 0; y < 40; ++y) {
        for (int x = 20; x < 40; ++x) {
            image.at(x, y) = -100.0F;
            share.at(x, y) = 0.0F;
        }
    }
    blur(image, share, 2.0);
    CHECK(image.at(19, 20) == doctest::Approx(1.0F));
    CHECK(image.at(22, 20) == doctest::Approx(1.0F));
    CHECK(image.at(39, 20) == -100.0F);  // beyond its reach
    Plane sharp(3, 1);
    sharp.values = {0.0F, 1.0F, 0.0F};
    blur(sharp, Plane(3, 1, 1.0F), 0.05);
    CHECK(sharp.values == std::vector<float>{0.0F, 1.0F, 0.0F});
}
