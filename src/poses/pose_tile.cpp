#include "poses/pose_tile.hpp"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

#include "image/area_reduction.hpp"
#include "image/codes.hpp"
#include "image/proof.hpp"
#include "struck/blank_surface.hpp"
#include "struck/struck_light.hpp"

namespace rakelight {
namespace {

// docs/poses.md and the header have these numbers.
constexpr float clean_above = 0.97F;  // open share
constexpr float patina_span = 0.44F;
constexpr float beyond_edge = 0.5F;         // how much is shown of what reaches over it
constexpr double peak_share = 0.05;         // of the field's shorter side
constexpr double shadow_soft_share = 0.08;  // of the peak, from full light to full shade
constexpr float white = 2.0F;               // the most light that the codes can hold

float patina_at(float open) {
    const float t = std::clamp((clean_above - open) / patina_span, 0.0F, 1.0F);
    return t * t * (3.0F - 2.0F * t);
}

/// One point of the piece as it is seen.
struct PiecePoint {
    Direction normal;
    float open;
    float piece;  ///< 0 outside and in the hole
};

std::uint16_t share_code(float v) {
    std::uint64_t clipped = 0;  // nothing is measured from a tile
    return encode_share(v, clipped);
}

const Plane* region(const std::vector<BlankMask>& masks, const char* name) {
    for (const BlankMask& mask : masks) {
        if (mask.region == name) return &mask.coverage;
    }
    return nullptr;
}

// Heights come in strips, before the lowest is known: they are kept in codes of one wide range,
// times the share of the pixel that the subject covers.
class HeightField {
public:
    HeightField(const BlankSettings& blank, const ImageGrid& grid, PixelSize size)
        : span_mm_(2.0F * static_cast<float>(std::max(blank.width_mm, blank.height_mm))),
          size_(size),
          reduction_(grid.width, grid.height, 2, size) {}

    void add(const RenderedPlanes& planes) {
        const std::size_t count = planes.coverage.values.size();
        codes_.resize(2 * count);
        for (std::size_t i = 0; i < count; ++i) {
            const float cover = planes.coverage.values[i];
            codes_[2 * i] = share_code(cover);
            codes_[2 * i + 1] = 0;
            if (cover <= 0.0F) continue;
            const float height = planes.height_mm.values[i];
            low_mm_ = std::min(low_mm_, height);
            high_mm_ = std::max(high_mm_, height);
            codes_[2 * i + 1] =
                share_code(cover * std::clamp(0.5F + 0.5F * height / span_mm_, 0.0F, 1.0F));
        }
        reduction_.add_rows(codes_);
    }

    /// mm over the field, the subject's lowest point lying on it.
    Plane relief_mm(const BlankSurface& blank, const ImageGrid& grid, double peak_mm) const {
        const float depth = high_mm_ - low_mm_;
        const float scale = depth > peak_mm ? static_cast<float>(peak_mm) / depth : 1.0F;
        Plane relief(size_.width, size_.height);
        const double pitch_mm = grid.width / (grid.px_per_mm * size_.width);
        double flat_half_mm = 0.0;
        for (std::size_t i = 0; i < relief.values.size(); ++i) {
            const int x = static_cast<int>(i) % size_.width;
            const int y = static_cast<int>(i) / size_.width;
            const glm::dvec2 p{grid.left_mm + (x + 0.5) * pitch_mm,
                               grid.top_mm - (y + 0.5) * pitch_mm};
            if (x == 0) flat_half_mm = blank.flat_half_mm(p.y);
            const float cover = std::min(1.0F, reduction_.values()[2 * i] / 65535.0F);
            float height = 0.0F;
            if (cover < 1.0F) height = (1.0F - cover) * blank.at(p, flat_half_mm).height_mm;
            if (cover > 0.0F) height += cover * scale * above_lowest_mm(i);
            relief.values[i] = height;
        }
        return relief;
    }

private:
    float above_lowest_mm(std::size_t i) const {
        const auto& codes = reduction_.values();
        const float mean = (2.0F * codes[2 * i + 1] / codes[2 * i] - 1.0F) * span_mm_;
        return std::clamp(mean, low_mm_, high_mm_) - low_mm_;
    }

    float span_mm_;  ///< codes reach from minus to plus this
    PixelSize size_;
    AreaReduction reduction_;
    std::vector<std::uint16_t> codes_;
    float low_mm_ = std::numeric_limits<float>::max();
    float high_mm_ = std::numeric_limits<float>::lowest();
};

// The share of the lamp's light that a point gets. The lamp stands at the upper left, so that each
// row's shade follows from the row above: the edge of the shadow comes down along the diagonal and,
// by quarters, from the left and from above, which softens it the more the farther it falls.
Plane lit_share(const Plane& height_mm, double px_mm, double soft_mm) {
    static_assert(usual_lamp_deg == 135.0);
    constexpr double steps_px = 0.5 * std::numbers::sqrt2 + 0.5 / std::numbers::sqrt2;
    const double slope = std::tan(usual_lamp_height_deg * std::numbers::pi / 180.0);
    const auto drop = static_cast<float>(steps_px * px_mm * slope);
    Plane edge(height_mm.width, height_mm.height);  // height of the shadow's upper end
    Plane lit(height_mm.width, height_mm.height);
    const auto top = [&](int x, int y) {
        return x < 0 || y < 0 ? 0.0F : std::max(edge.at(x, y), height_mm.at(x, y));
    };
    for (int y = 0; y < edge.height; ++y) {
        for (int x = 0; x < edge.width; ++x) {
            edge.at(x, y) =
                0.5F * top(x - 1, y - 1) + 0.25F * (top(x - 1, y) + top(x, y - 1)) - drop;
            const float under = edge.at(x, y) - height_mm.at(x, y);
            lit.at(x, y) = 1.0F - std::clamp(under / static_cast<float>(soft_mm), 0.0F, 1.0F);
        }
    }
    return lit;
}

std::uint8_t byte_of(float code16) {
    return static_cast<std::uint8_t>(std::clamp(code16 / 257.0F + 0.5F, 0.0F, 255.0F));
}

}  // namespace

double tile_peak_mm(const BlankGeometry& blank) {
    return peak_share * blank.field_shorter_side_mm();
}

struct PoseTile::State {
    static constexpr int light_channels = 7;  ///< the lamp's RGB, the rest's RGB, piece
    static constexpr int form_channels = 4;   ///< normal x, y, open share, piece

    ImageGrid grid;
    BlankGeometry geometry;
    BlankSurface blank;
    StruckLight shading{material_of(ProofMaterial::bronze), usual_lamp_deg, usual_lamp_height_deg};
    PixelSize relief_size, surface_size;
    HeightField relief_heights, surface_heights;
    AreaReduction light, form;
    std::vector<std::uint16_t> light_codes, form_codes;

    State(const BlankSettings& settings, const ImageGrid& g, const TileLook& look)
        : grid(g),
          geometry(settings),
          blank(settings),
          relief_size(reduced_size(g.width, g.height, look.relief_px)),
          surface_size(reduced_size(g.width, g.height, look.surface_px)),
          relief_heights(settings, g, relief_size),
          surface_heights(settings, g, surface_size),
          light(g.width, g.height, light_channels, relief_size),
          form(g.width, g.height, form_channels, surface_size) {}

    double flat_half_mm = 0.0;  ///< of the row that is drawn

    void begin_row(int y) { flat_half_mm = blank.flat_half_mm(grid.centre_of(0, y).y); }
    double px_mm(PixelSize size) const { return grid.width / (grid.px_per_mm * size.width); }
    PiecePoint point(const PictureRows& rows, const Plane& solid, const Plane* hole, int x,
                     int y) const;
    void put(const PiecePoint& point, std::size_t pixel);
};

PiecePoint PoseTile::State::point(const PictureRows& rows, const Plane& solid, const Plane* hole,
                                  int x, int y) const {
    const RenderedPlanes& planes = rows.planes;
    const float cover = planes.coverage.at(x, y);
    const float inside = solid.at(x, y);
    const float drilled = hole == nullptr ? 0.0F : hole->at(x, y);
    PiecePoint point{{0.0F, 0.0F, 1.0F}, 1.0F, 0.0F};
    point.piece = inside + beyond_edge * cover * std::max(0.0F, 1.0F - inside - drilled);
    if (point.piece <= 0.0F) return point;
    if (cover < 1.0F) {
        const glm::dvec2 p = grid.centre_of(x, rows.first_row + y);
        point.normal = blank.at(p, flat_half_mm).normal;
    }
    if (cover <= 0.0F) return point;
    const auto mixed = [&](float own, const Plane& of_subject) {
        return own + cover * (of_subject.at(x, y) - own);
    };
    Direction n{mixed(point.normal.x, planes.normal_x), mixed(point.normal.y, planes.normal_y),
                mixed(point.normal.z, planes.normal_z)};
    const float length = std::sqrt(dot(n, n));
    if (length > 0.0F) point.normal = {n.x / length, n.y / length, n.z / length};
    if (!planes.occlusion.values.empty()) point.open = mixed(1.0F, planes.occlusion);
    return point;
}

void PoseTile::State::put(const PiecePoint& point, std::size_t pixel) {
    std::uint16_t* form_to = form_codes.data() + pixel * form_channels;
    form_to[0] = share_code(0.5F + 0.5F * point.piece * point.normal.x);
    form_to[1] = share_code(0.5F + 0.5F * point.piece * point.normal.y);
    form_to[2] = share_code(point.open);
    form_to[3] = share_code(point.piece);
    std::uint16_t* light_to = light_codes.data() + pixel * light_channels;
    std::array<float, 6> lit{};
    if (point.piece > 0.0F) shading.light(point.normal, point.open, patina_at(point.open), lit);
    for (std::size_t c = 0; c < lit.size(); ++c)
        light_to[c] = share_code(point.piece * lit[c] / white);
    light_to[6] = form_to[3];
}

PoseTile::PoseTile(const BlankSettings& blank, const ImageGrid& grid, const TileLook& look)
    : state_(std::make_unique<State>(blank, grid, look)) {}

PoseTile::~PoseTile() = default;

void PoseTile::add(const PictureRows& rows) {
    State& state = *state_;
    const Plane* solid = region(rows.masks, "blank");
    const Plane* hole = region(rows.masks, "hole");
    assert(solid != nullptr);
    const Plane& coverage = rows.planes.coverage;
    state.light_codes.resize(coverage.values.size() * State::light_channels);
    state.form_codes.resize(coverage.values.size() * State::form_channels);
    std::size_t pixel = 0;
    for (int y = 0; y < coverage.height; ++y) {
        state.begin_row(rows.first_row + y);
        for (int x = 0; x < coverage.width; ++x)
            state.put(state.point(rows, *solid, hole, x, y), pixel++);
    }
    state.light.add_rows(state.light_codes);
    state.form.add_rows(state.form_codes);
    state.relief_heights.add(rows.planes);
    state.surface_heights.add(rows.planes);
}

Image8 PoseTile::relief() const {
    const State& state = *state_;
    const double peak_mm = tile_peak_mm(state.geometry);
    const Plane heights = state.relief_heights.relief_mm(state.blank, state.grid, peak_mm);
    const Plane lit =
        lit_share(heights, state.px_mm(state.relief_size), shadow_soft_share * peak_mm);
    Image16 picture(state.relief_size.width, state.relief_size.height, 3);
    const float* codes = state.light.values().data();
    for (std::size_t i = 0; i < lit.values.size(); ++i, codes += State::light_channels) {
        const float around = around_piece * (1.0F - std::min(1.0F, codes[6] / 65535.0F));
        for (std::size_t c = 0; c < 3; ++c) {
            const float light = white * (codes[c] * lit.values[i] + codes[3 + c]) / 65535.0F;
            picture.codes[3 * i + c] = share_code(light + around);
        }
    }
    encode_srgb(picture);
    return image8_from(picture);
}

Image8 PoseTile::surface() const {
    const State& state = *state_;
    const double peak_mm = tile_peak_mm(state.geometry);
    const Plane heights = state.surface_heights.relief_mm(state.blank, state.grid, peak_mm);
    Image8 picture(state.surface_size.width, 5 * state.surface_size.height, 1);
    const std::size_t plane = heights.values.size();
    const float* codes = state.form.values().data();
    for (std::size_t i = 0; i < plane; ++i, codes += State::form_channels) {
        for (std::size_t c = 0; c < 2; ++c) {
            const float v = 2.0F * codes[c] / 65535.0F - 1.0F;
            picture.codes[c * plane + i] = static_cast<std::uint8_t>(128.5F + 127.0F * v);
        }
        picture.codes[2 * plane + i] = byte_of(codes[2]);
        picture.codes[3 * plane + i] = byte_of(codes[3]);
        const auto height =
            codes[3] > 0.0F ? static_cast<float>(heights.values[i] / peak_mm) : 0.0F;
        picture.codes[4 * plane + i] = byte_of(65535.0F * std::max(0.0F, height));
    }
    return picture;
}

}  // namespace rakelight
