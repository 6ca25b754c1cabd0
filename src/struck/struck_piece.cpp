#include "struck/struck_piece.hpp"

#include <algorithm>
#include <cmath>

#include "framing/blank_masks.hpp"
#include "image/codes.hpp"
#include "image/pixels.hpp"
#include "image/row_bands.hpp"
#include "struck/blank_surface.hpp"
#include "struck/horizon.hpp"
#include "struck/patina.hpp"

namespace rakelight {
namespace {

constexpr float white = 2.0F;                      // the most light that the codes can hold
constexpr float knee = 0.7F;                       // lights are pressed together from here on
constexpr double usual_recess_share = 1.0 / 40.0;  // of the field's shorter side
constexpr float over_blank_mm = 0.002F;            // from here on the relief alone is seen
constexpr double sky_share = 0.625;  // of the picture's longest side, at which the sky is looked at
// By eye: the demo's medal looks the same as with the sky of each pixel.
constexpr int most_sky_px = 1000;

std::uint16_t share_code(float v) {
    std::uint64_t clipped = 0;  // nothing is measured from a proof
    return encode_share(v, clipped);
}

/// Side of the squares that bring `longest` nearest to `wanted`.
int square_side(int longest, int wanted) {
    return std::max(1, static_cast<int>(std::lround(static_cast<double>(longest) / wanted)));
}

/// Means over squares; those at the right and the foot over what there is of them.
Plane averaged(const Plane& image, int side) {
    if (side == 1) return image;
    Plane small((image.width + side - 1) / side, (image.height + side - 1) / side);
    for_row_bands(small.height, 4, [&](int first, int end) {
        for (int y = first; y < end; ++y) {
            const int foot = std::min((y + 1) * side, image.height);
            for (int x = 0; x < small.width; ++x) {
                const int right = std::min((x + 1) * side, image.width);
                float sum = 0.0F;
                for (int v = y * side; v < foot; ++v)
                    for (int u = x * side; u < right; ++u) sum += image.at(u, v);
                small.at(x, y) = sum / static_cast<float>((foot - y * side) * (right - x * side));
            }
        }
    });
    return small;
}

/// The value of a smaller image at a pixel of a larger one, in between by straight lines.
float enlarged_at(const Plane& small, int side, int x, int y) {
    const auto place = [side](int pixel, int count, int& before, int& after) {
        const float at = (static_cast<float>(pixel) + 0.5F) / static_cast<float>(side) - 0.5F;
        const float low = std::floor(at);
        before = std::clamp(static_cast<int>(low), 0, count - 1);
        after = std::clamp(static_cast<int>(low) + 1, 0, count - 1);
        return at - low;
    };
    int left, right, above, below;
    const float u = place(x, small.width, left, right);
    const float v = place(y, small.height, above, below);
    const float top = small.at(left, above) + u * (small.at(right, above) - small.at(left, above));
    const float foot = small.at(left, below) + u * (small.at(right, below) - small.at(left, below));
    return top + v * (foot - top);
}

/// The sky is wide: it is looked at in a smaller copy.
Plane sky_of(const Plane& height_mm, double px_per_mm, PixelSize size) {
    const int wanted =
        std::min(most_sky_px, static_cast<int>(sky_share * std::max(size.width, size.height)));
    const int side = square_side(std::max(height_mm.width, height_mm.height), std::max(wanted, 1));
    if (side == 1) return closed_sky(height_mm, px_per_mm);
    const Plane small = closed_sky(averaged(height_mm, side), px_per_mm / side);
    Plane closed(height_mm.width, height_mm.height);
    for_row_bands(closed.height, [&](int first, int end) {
        for (int y = first; y < end; ++y)
            for (int x = 0; x < closed.width; ++x) closed.at(x, y) = enlarged_at(small, side, x, y);
    });
    return closed;
}

Plane piece_share(const BlankGeometry& blank, const ImageGrid& grid) {
    constexpr int strip = 64;
    Plane share(grid.width, grid.height);
    for (int row = 0; row < grid.height; row += strip) {
        const int rows = std::min(strip, grid.height - row);
        for (const BlankMask& mask : blank_masks(blank, grid, row, rows)) {
            if (mask.region != "blank") continue;
            std::copy(mask.coverage.values.begin(), mask.coverage.values.end(), &share.at(0, row));
        }
    }
    return share;
}

float pressed(float light) {
    if (light <= knee) return light;
    constexpr float room = 1.0F - knee;
    return knee + room * (1.0F - std::exp(-(light - knee) / room));
}

/// What each code of light is shown as.
std::vector<std::uint8_t> shown_codes() {
    std::vector<std::uint8_t> shown(65536);
    for (std::size_t code = 0; code < shown.size(); ++code) {
        const float light = white * static_cast<float>(code) / 65535.0F;
        shown[code] = static_cast<std::uint8_t>(255.0F * srgb_from_linear(pressed(light)) + 0.5F);
    }
    return shown;
}

/// Up to the right, up to the top.
struct Slope {
    float x, y;
};

/// Central differences, each the mean of three neighbouring ones by Scharr's weights (2000,
/// "Optimal operators in digital image processing"): the steps of an oblique edge do not show as
/// teeth. One-sided at the picture's edge.
Slope slope_at(const Plane& height_mm, double px_per_mm, int x, int y) {
    constexpr float beside = 3.0F / 16.0F, middle = 10.0F / 16.0F;
    const int left = std::max(x - 1, 0), right = std::min(x + 1, height_mm.width - 1);
    const int above = std::max(y - 1, 0), below = std::min(y + 1, height_mm.height - 1);
    const auto across = [&](int row) { return height_mm.at(right, row) - height_mm.at(left, row); };
    const auto up = [&](int column) {
        return height_mm.at(column, above) - height_mm.at(column, below);
    };
    const auto slope = [&](float rise, int pixels) {
        return pixels > 0 ? rise * static_cast<float>(px_per_mm) / static_cast<float>(pixels)
                          : 0.0F;
    };
    return {slope(beside * (across(above) + across(below)) + middle * across(y), right - left),
            slope(beside * (up(left) + up(right)) + middle * up(x), below - above)};
}

/// How much is seen of the relief's slopes and of the blank's own.
struct Blend {
    float relief, blank;
};

/// The rim's shoulder is seen, or the relief that lies over it; a rounded edge bends what lies on
/// it.
Blend blend_of(float relief_mm, float blank_mm, float rim_mm) {
    if (blank_mm <= 0.0F) return {1.0F, 1.0F};
    const float over = (relief_mm - blank_mm) / over_blank_mm;
    if (blank_mm >= rim_mm) return {std::clamp(over + 1.0F, 0.0F, 1.0F), 1.0F};
    const float seen = std::clamp(over, 0.0F, 1.0F);
    return {seen, 1.0F - seen};
}

/// Whether differences of heights would take in what is not the piece.
bool at_outline(const Plane& piece, int x, int y) {
    constexpr float whole = 0.999F;
    for (int v = std::max(y - 1, 0); v <= std::min(y + 1, piece.height - 1); ++v)
        for (int u = std::max(x - 1, 0); u <= std::min(x + 1, piece.width - 1); ++u)
            if (piece.at(u, v) < whole) return true;
    return false;
}

Direction normal_of(float slope_x, float slope_y) {
    const float length = std::sqrt(slope_x * slope_x + slope_y * slope_y + 1.0F);
    return {-slope_x / length, -slope_y / length, 1.0F / length};
}

}  // namespace

StruckPiece::StruckPiece(const Plane& height_mm, const BlankGeometry& blank, const ImageGrid& grid,
                         PixelSize size, const ProofSettings& settings)
    : grid_(grid),
      size_(size),
      material_(material_of(settings.material)),
      patina_(static_cast<float>(settings.patina)) {
    const int side =
        square_side(std::max(grid.width, grid.height), 2 * std::max(size.width, size.height));
    const Plane relief_mm = averaged(height_mm, side);
    grid_.width = relief_mm.width;
    grid_.height = relief_mm.height;
    grid_.px_per_mm = grid.px_per_mm / side;
    piece_ = piece_share(blank, grid_);
    put_on_blank(relief_mm, blank);
    for_pixels(height_mm_, [&](std::size_t i) { height_mm_.values[i] *= piece_.values[i]; });
    open_ = sky_of(height_mm_, grid_.px_per_mm, size_);
    const double recess_mm =
        settings.patina_mm.value_or(usual_recess_share * blank.field_shorter_side_mm());
    stain_ = stain_left({height_mm_, piece_, grid_.px_per_mm, recess_mm}, open_);
    for_pixels(open_, [&](std::size_t i) { open_.values[i] = 1.0F - open_.values[i]; });
}

void StruckPiece::put_on_blank(const Plane& relief_mm, const BlankGeometry& blank) {
    const BlankSurface surface(blank.settings());
    const auto rim_mm = static_cast<float>(blank.rim_height_mm());
    const int width = grid_.width, height = grid_.height;
    height_mm_ = slope_x_ = slope_y_ = Plane(width, height);
    for_row_bands(height, [&](int first, int end) {
        for (int y = first; y < end; ++y) {
            for (int x = 0; x < width; ++x) {
                const float here = relief_mm.at(x, y);
                const BlankSurface::Point point = surface.at(grid_.centre_of(x, y));
                Blend blend = blend_of(here, point.height_mm, rim_mm);
                if (at_outline(piece_, x, y)) blend.relief = 0.0F;
                const Slope slope = slope_at(relief_mm, grid_.px_per_mm, x, y);
                height_mm_.at(x, y) =
                    point.height_mm > 0.0F ? std::max(here, point.height_mm) : here;
                slope_x_.at(x, y) =
                    blend.relief * slope.x - blend.blank * point.normal.x / point.normal.z;
                slope_y_.at(x, y) =
                    blend.relief * slope.y - blend.blank * point.normal.y / point.normal.z;
            }
        }
    });
}

Direction StruckPiece::normal(std::size_t pixel) const {
    return normal_of(slope_x_.values[pixel], slope_y_.values[pixel]);
}

void StruckPiece::light_rows(const StruckLight& light, const Plane& lit, int first, int end,
                             std::vector<std::uint16_t>& codes) const {
    std::array<float, 6> parts{};
    std::uint16_t* to = codes.data();
    const auto width = static_cast<std::size_t>(grid_.width);
    for (std::size_t i = first * width; i < end * width; ++i, to += 3) {
        const float piece = piece_.values[i];
        parts.fill(0.0F);
        if (piece > 0.0F)
            light.light(normal(i), open_.values[i], patina_ * stain_.values[i], parts);
        for (std::size_t c = 0; c < 3; ++c) {
            const float seen = lit.values[i] * parts[c] + parts[3 + c];
            to[c] = share_code((around_piece + piece * (seen - around_piece)) / white);
        }
    }
}

Image8 StruckPiece::lit(const LampPlace& lamp) const {
    constexpr int band = 16, bands_at_once = 16;
    const StruckLight light(material_, lamp.turn_deg, lamp.height_deg);
    const Plane lit = lit_share(height_mm_, grid_.px_per_mm, lamp.turn_deg, lamp.height_deg);
    AreaReduction picture(grid_.width, grid_.height, 3, size_);
    std::vector<std::vector<std::uint16_t>> codes(bands_at_once);
    for (int row = 0; row < grid_.height; row += band * bands_at_once) {
        const int rows = std::min(band * bands_at_once, grid_.height - row);
        for_row_bands(rows, band, [&](int first, int end) {
            auto& of_band = codes[static_cast<std::size_t>(first / band)];
            of_band.resize(static_cast<std::size_t>(end - first) * grid_.width * 3);
            light_rows(light, lit, row + first, row + end, of_band);
        });
        for (int done = 0; done * band < rows; ++done)
            picture.add_rows(codes[static_cast<std::size_t>(done)]);
    }
    static const std::vector<std::uint8_t> shown = shown_codes();
    Image8 image(size_.width, size_.height, 3);
    std::transform(picture.values().begin(), picture.values().end(), image.codes.begin(),
                   [](float code) {
                       return shown[static_cast<std::size_t>(std::min(code + 0.5F, 65535.0F))];
                   });
    return image;
}

}  // namespace rakelight
