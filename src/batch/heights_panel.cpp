#include "batch/heights_panel.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>

namespace rakelight {
namespace {

constexpr int bar_px = 4;
constexpr int height_px = 360;
constexpr int base_px = 3;  // the line that the bars stand on

constexpr std::uint16_t ground = 0x3000;
constexpr std::uint16_t base = 0x6000;
constexpr std::uint16_t of_relief = 0xD000;
constexpr std::uint16_t of_depth = 0x7800;

double tallest(const Relief& relief) {
    double most = 0.0;
    for (const auto* shares : {&relief.depth_shares, &relief.height_shares})
        for (const double share : *shares) most = std::max(most, share);
    return most;
}

constexpr int room_px = height_px - base_px;
constexpr int line_px = 2;

/// The first row of a bar.
int top_of(double share) {
    return room_px - static_cast<int>(std::lround(room_px * std::sqrt(share)));
}

void fill(Image16& image, int first_x, int end_x, int first_y, int end_y, std::uint16_t code) {
    for (int y = std::max(first_y, 0); y < end_y; ++y)
        for (int x = first_x; x < end_x; ++x)
            image.codes[static_cast<std::size_t>(y) * image.width + x] = code;
}

}  // namespace

ProofPanel heights_panel(const Relief& relief) {
    Image16 image(bar_px * height_parts, height_px, 1);
    std::fill(image.codes.begin(), image.codes.end(), ground);
    std::fill(image.codes.end() - static_cast<std::ptrdiff_t>(base_px) * image.width,
              image.codes.end(), base);
    const double most = std::max(tallest(relief), 1e-9);
    int line_from = room_px;
    for (int part = 0; part < height_parts; ++part) {
        const auto i = static_cast<std::size_t>(part);
        const int x = bar_px * part;
        fill(image, x, x + bar_px, top_of(relief.height_shares[i] / most), room_px, of_relief);
        const int top = top_of(relief.depth_shares[i] / most);
        fill(image, x, x + bar_px, top - line_px, top, of_depth);
        fill(image, x, x + line_px, std::min(top, line_from) - line_px, std::max(top, line_from),
             of_depth);
        line_from = top;
    }
    char caption[80];
    std::snprintf(caption, sizeof caption, "heights: %.0f %% used (line: depth, %.0f %%)",
                  100.0 * relief.range_used, 100.0 * relief.depth_range_used);
    return {caption, std::move(image)};
}

}  // namespace rakelight
