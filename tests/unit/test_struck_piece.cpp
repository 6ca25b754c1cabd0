// The piece under the lamp: closed forms of its light, and the laws of turning it.

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <numbers>
#include <vector>

#include "struck/struck_piece.hpp"

using namespace rakelight;

namespace {

using Light = std::array<double, 3>;

constexpr double degree = std::numbers::pi / 180.0;

BlankSettings plate() {
    BlankSettings blank;
    blank.shape = BlankShape::rectangle;
    blank.width_mm = blank.height_mm = 20.0;
    return blank;
}

ImageGrid grid_of(int px) {
    return {px, px, px / 20.0, -10.0, 10.0};
}

/// A wavelength, nm, with n and k.
using Constants = std::vector<std::array<double, 3>>;

double interpolated(const Constants& table, double nm, std::size_t column) {
    std::size_t after = 1;
    while (after + 1 < table.size() && table[after][0] < nm) ++after;
    const auto &a = table[after - 1], &b = table[after];
    return a[column] + (nm - a[0]) / (b[0] - a[0]) * (b[column] - a[column]);
}

double bell(double nm, double middle, double left, double right) {
    const double t = (nm - middle) * (nm < middle ? left : right);
    return std::exp(-0.5 * t * t);
}

/// The observer of CIE 1931 by the fits of Wyman, Sloan and Shirley 2013 ("Simple Analytic
/// Approximations to the CIE XYZ Color Matching Functions"), from memory.
Light observer(double nm) {
    return {0.362 * bell(nm, 442.0, 0.0624, 0.0374) + 1.056 * bell(nm, 599.8, 0.0264, 0.0323) -
                0.065 * bell(nm, 501.1, 0.0490, 0.0382),
            0.821 * bell(nm, 568.8, 0.0213, 0.0247) + 0.286 * bell(nm, 530.9, 0.0613, 0.0322),
            1.217 * bell(nm, 437.0, 0.0845, 0.0278) + 0.681 * bell(nm, 459.0, 0.0385, 0.0725)};
}

/// CIE's D65 from 400 nm in steps of 20, from memory.
double daylight(double nm) {
    const Constants d65{{400, 82.75},  {420, 93.43},  {440, 104.86}, {460, 117.81},
                        {480, 115.92}, {500, 109.35}, {520, 104.79}, {540, 104.41},
                        {560, 100.0},  {580, 95.79},  {600, 90.01},  {620, 87.70},
                        {640, 83.70},  {660, 80.21},  {680, 78.28},  {700, 71.61}};
    return interpolated(d65, nm, 1);
}

/// Linear sRGB by the matrix of IEC 61966-2-1.
Light rgb_of(const Light& xyz) {
    return {3.2406 * xyz[0] - 1.5372 * xyz[1] - 0.4986 * xyz[2],
            -0.9689 * xyz[0] + 1.8758 * xyz[1] + 0.0415 * xyz[2],
            0.0557 * xyz[0] - 0.2040 * xyz[1] + 1.0570 * xyz[2]};
}

/// What a metal of these constants reflects at normal incidence (Fresnel), white being 1; of a
/// satin surface, which half of the light meets twice.
Light reflected(const Constants& nk) {
    Light seen{}, white{};
    for (double nm = 400.0; nm <= 700.0; nm += 5.0) {
        const double n = interpolated(nk, nm, 1), k = interpolated(nk, nm, 2);
        const double r = ((n - 1.0) * (n - 1.0) + k * k) / ((n + 1.0) * (n + 1.0) + k * k);
        const Light eye = observer(nm);
        for (std::size_t c = 0; c < 3; ++c) {
            seen[c] += r * daylight(nm) * eye[c];
            white[c] += daylight(nm) * eye[c];
        }
    }
    const Light whole = rgb_of(white);
    Light metal = rgb_of(seen);
    for (std::size_t c = 0; c < 3; ++c) {
        metal[c] /= whole[c];
        metal[c] *= 0.5 * (1.0 + metal[c]);
    }
    return metal;
}

double luminance(const Light& c) {
    return 0.2126 * c[0] + 0.7152 * c[1] + 0.0722 * c[2];
}

/// The header's formulas, for a metal without a stain in full light, of a surface that rises so
/// much to the right and up; as an 8-bit code.
std::array<double, 3> shown(const Light& metal, double rise_x, double rise_y, double lamp_deg,
                            double lamp_height_deg) {
    const double exposure = 1.4 * std::sqrt(luminance({0.70, 0.47, 0.26}) / luminance(metal));
    const double length = std::sqrt(1.0 + rise_x * rise_x + rise_y * rise_y);
    const std::array<double, 3> n{-rise_x / length, -rise_y / length, 1.0 / length};
    const auto toward = [](double turn, double height) -> std::array<double, 3> {
        return {std::cos(turn * degree) * std::cos(height * degree),
                std::sin(turn * degree) * std::cos(height * degree), std::sin(height * degree)};
    };
    const auto dot = [](const auto& a, const auto& b) {
        return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    };
    const auto lamp = toward(lamp_deg, lamp_height_deg);
    const double diffuse = 0.90 * std::max(0.0, dot(n, lamp)) +
                           0.14 * std::max(0.0, dot(n, toward(lamp_deg + 180.0, 12.0))) + 0.05;
    const std::array<double, 3> h{lamp[0], lamp[1], lamp[2] + 1.0};
    const double gloss =
        0.6 / 1.4 * std::pow(std::max(0.0, dot(n, h) / std::sqrt(dot(h, h))), 24.0);
    std::array<double, 3> codes{};
    for (std::size_t c = 0; c < 3; ++c) {
        double light = exposure * metal[c] * (diffuse + gloss);
        if (light > 0.7) light = 0.7 + 0.3 * (1.0 - std::exp(-(light - 0.7) / 0.3));
        codes[c] = 255.0 * (light <= 0.0031308 ? 12.92 * light
                                               : 1.055 * std::pow(light, 1.0 / 2.4) - 0.055);
    }
    return codes;
}

std::array<int, 3> at(const Image8& image, int x, int y) {
    const auto* code = image.codes.data() + (static_cast<std::size_t>(y) * image.width + x) * 3;
    return {code[0], code[1], code[2]};
}

void check_codes(const std::array<int, 3>& seen, const std::array<double, 3>& expected,
                 double off = 0.6) {  // half a code, and the light's own codes
    for (std::size_t c = 0; c < 3; ++c) CHECK(std::abs(seen[c] - expected[c]) < off);
}

Image8 lit(const Plane& heights, const BlankSettings& blank, const ProofSettings& proof,
           PixelSize size = {}) {
    if (size.width == 0) size = {heights.width, heights.height};
    return StruckPiece(heights, BlankGeometry(blank), grid_of(heights.width), size, proof)
        .lit({proof.lamp_deg, proof.lamp_height_deg});
}

/// Hills and pits without any symmetry.
Plane hills(int px) {
    Plane heights(px, px);
    for (int y = 0; y < px; ++y) {
        for (int x = 0; x < px; ++x) {
            const double u = 20.0 * x / px - 10.0, v = 10.0 - 20.0 * y / px;
            heights.at(x, y) = static_cast<float>(
                0.8 * std::exp(-0.2 * ((u - 2) * (u - 2) + (v - 3) * (v - 3))) +
                0.5 * std::exp(-0.5 * ((u + 4) * (u + 4) + v * v)) + 0.05 * std::sin(2 * u + v));
        }
    }
    return heights;
}

/// A quarter counter-clockwise.
Plane turned(const Plane& image) {
    Plane to(image.height, image.width);
    for (int y = 0; y < image.height; ++y)
        for (int x = 0; x < image.width; ++x) to.at(y, image.width - 1 - x) = image.at(x, y);
    return to;
}

}  // namespace

TEST_CASE("piece: a plane under the lamp has the closed form's colour, in bronze") {
    ProofSettings proof;
    for (const double lamp : {135.0, 20.0}) {
        for (const auto& rise : {std::array{0.0, 0.0}, std::array{0.3, -0.2}}) {
            Plane plane(120, 120);
            for (int y = 0; y < 120; ++y)
                for (int x = 0; x < 120; ++x)
                    plane.at(x, y) = static_cast<float>((rise[0] * x - rise[1] * y) / 6.0);
            proof.lamp_deg = lamp;
            proof.lamp_height_deg = 30.0;
            CAPTURE(lamp);
            check_codes(at(lit(plane, plate(), proof), 60, 60),
                        shown({0.70, 0.47, 0.26}, rise[0], rise[1], lamp, 30.0));
        }
    }
}

TEST_CASE("piece: metals reflect what their n and k say") {
    const auto check = [](ProofMaterial material, const Constants& nk) {
        ProofSettings proof;
        proof.material = material;
        // Reflectances are stated to three digits: far less than a code.
        check_codes(at(lit(Plane(64, 64), plate(), proof), 32, 32),
                    shown(reflected(nk), 0.0, 0.0, 135.0, 25.0), 0.8);
    };
    // All from memory. Johnson and Christy 1972, Phys. Rev. B 6, 4370.
    check(ProofMaterial::gold, {{397.4, 1.47, 1.952},
                                {413.3, 1.46, 1.958},
                                {430.5, 1.45, 1.948},
                                {450.9, 1.38, 1.914},
                                {471.4, 1.31, 1.849},
                                {495.9, 1.04, 1.833},
                                {520.9, 0.62, 2.081},
                                {548.6, 0.43, 2.455},
                                {582.1, 0.29, 2.863},
                                {616.8, 0.21, 3.272},
                                {659.5, 0.14, 3.697},
                                {704.5, 0.13, 4.103}});
    check(ProofMaterial::copper, {{397.4, 1.32, 2.116},
                                  {413.3, 1.28, 2.207},
                                  {430.5, 1.25, 2.305},
                                  {450.9, 1.24, 2.397},
                                  {471.4, 1.25, 2.483},
                                  {495.9, 1.22, 2.564},
                                  {520.9, 1.18, 2.608},
                                  {548.6, 1.02, 2.577},
                                  {582.1, 0.70, 2.704},
                                  {616.8, 0.30, 3.205},
                                  {659.5, 0.22, 3.747},
                                  {704.5, 0.21, 4.205}});
    // Lynch and Hunter in Palik 1985.
    check(ProofMaterial::silver, {{413.0, 0.173, 2.11},
                                  {450.9, 0.151, 2.47},
                                  {548.6, 0.12, 3.34},
                                  {652.6, 0.14, 4.15},
                                  {700.0, 0.14, 4.52}});
    // Querry 1985, 70 % copper and 30 % zinc.
    check(ProofMaterial::brass, {{400.0, 1.445, 1.805},
                                 {450.0, 1.094, 1.829},
                                 {500.0, 0.686, 2.250},
                                 {550.0, 0.527, 2.765},
                                 {600.0, 0.450, 3.253},
                                 {650.0, 0.444, 3.695},
                                 {700.0, 0.446, 4.106}});
}

TEST_CASE("piece: dark stain in a pit, less of it with less patina; what is level stays bare") {
    Plane pit(160, 160, 1.0F);
    for (int y = 70; y < 90; ++y)
        for (int x = 70; x < 90; ++x) pit.at(x, y) = 0.0F;
    ProofSettings none, half, full;
    none.patina = 0.0;
    half.patina = 0.5;
    full.patina = 1.0;
    for (ProofSettings* proof : {&none, &half, &full}) proof->lamp_height_deg = 80.0;
    const int bare = at(lit(pit, plate(), none), 80, 80)[0];
    const int some = at(lit(pit, plate(), half), 80, 80)[0];
    const int dark = at(lit(pit, plate(), full), 80, 80)[0];
    CHECK(dark + 20 < some);
    CHECK(some + 20 < bare);
    CHECK(at(lit(pit, plate(), full), 25, 25) == at(lit(pit, plate(), none), 25, 25));
}

TEST_CASE("piece: turned by a quarter under a lamp turned by a quarter, it is the picture turned") {
    BlankSettings blank;
    blank.width_mm = blank.height_mm = 20.0;
    blank.rim_mm = 1.0;
    ProofSettings proof, beside;
    proof.lamp_deg = 33.0;
    beside.lamp_deg = 123.0;
    const Plane heights = hills(160);
    const Image8 a = lit(heights, blank, proof), b = lit(turned(heights), blank, beside);
    int worst = 0, differ = 0;
    for (int y = 0; y < 160; ++y) {
        for (int x = 0; x < 160; ++x) {
            const auto one = at(a, x, y), other = at(b, y, 159 - x);
            for (std::size_t c = 0; c < 3; ++c) {
                worst = std::max(worst, std::abs(one[c] - other[c]));
                differ += one[c] != at(a, y, 159 - x)[c];
            }
        }
    }
    // Rounding, and the outline's pixels, whose share is the mean of lines along x.
    CHECK(worst <= 6);
    CHECK(differ > 10000);
}

TEST_CASE("piece: the blank is around it: rim, hole, and a quiet grey") {
    BlankSettings blank;
    blank.width_mm = blank.height_mm = 20.0;
    blank.rim_mm = 2.0;
    blank.hole = HoleSettings{3.0, 5.0};
    ProofSettings proof;
    proof.patina = 0.0;
    const Image8 image = lit(Plane(200, 200), blank, proof);
    const int quiet = 46;  // the proof sheet's grey, 0.027 linear
    CHECK(at(image, 0, 0) == std::array{quiet, quiet, quiet});
    CHECK(at(image, 100, 50) == std::array{quiet, quiet, quiet});
    // The rim's outer edge is lit on the lamp's side and dark on the other, its inner one reversed.
    const auto on_diagonal = [&](double mm, int side) {
        const int away = static_cast<int>(mm * 10.0 / std::numbers::sqrt2);
        return at(image, 100 + side * away, 100 + side * away)[0];
    };
    CHECK(on_diagonal(9.8, -1) > on_diagonal(5.0, -1) + 30);
    CHECK(on_diagonal(9.8, 1) < on_diagonal(5.0, 1) - 30);
    CHECK(on_diagonal(8.3, 1) > on_diagonal(5.0, 1) + 30);
    CHECK(on_diagonal(8.3, -1) < on_diagonal(5.0, -1) - 30);
}

TEST_CASE(
    "piece: a rim of no height has no shoulder to the field; a rim in the map no second one") {
    BlankSettings blank;
    blank.width_mm = blank.height_mm = 20.0;
    blank.rim_mm = 2.0;
    ProofSettings proof;
    proof.patina = 0.0;
    // Along the row through the middle, from the rim's top to the field.
    const auto row = [&](const Plane& heights) {
        const Image8 image = lit(heights, blank, proof);
        std::vector<int> codes;
        for (int x = 10; x < 40; ++x) codes.push_back(at(image, x, 100)[0]);
        return codes;
    };
    blank.rim_height_mm = 0.0;
    const auto level = row(Plane(200, 200));
    for (const int code : level) CHECK(code == level.back());
    // A map with a flat rim of its own: level up to its wall, and behind that wall.
    blank.rim_height_mm = 0.9;
    Plane with_rim(200, 200);
    for (int y = 0; y < 200; ++y) {
        for (int x = 0; x < 200; ++x)
            if (std::hypot(x - 99.5, y - 99.5) > 80.0) with_rim.at(x, y) = 0.9F;
    }
    const auto codes = row(with_rim);
    for (std::size_t i = 0; i < 7; ++i) CHECK(std::abs(codes[i] - codes[0]) <= 1);
}

TEST_CASE("piece: averaged by area, the light of a smaller picture is the mean of the larger") {
    ProofSettings proof;
    Plane stripes(240, 240);
    for (int y = 0; y < 240; ++y)
        for (int x = 0; x < 240; ++x)
            stripes.at(x, y) = 0.02F * static_cast<float>(std::sin(x * std::numbers::pi / 6.0));
    const Image8 own = lit(stripes, plate(), proof);
    const Image8 half = lit(stripes, plate(), proof, {120, 120});
    // Back to light, which lies below 0.7 here.
    const auto light = [](int code) {
        const double v = code / 255.0;
        return v <= 0.04045 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4);
    };
    for (int x = 40; x < 80; ++x) {
        double mean = 0.0;
        for (int i = 0; i < 4; ++i) mean += 0.25 * light(at(own, 2 * x + i % 2, 120 + i / 2)[1]);
        // A code is at most 0.008 of light here.
        CHECK(std::abs(light(at(half, x, 60)[1]) - mean) < 0.009);
    }
    CHECK(half.width == 120);
    CHECK(lit(hills(160), plate(), proof, {20, 20}).width == 20);
}
