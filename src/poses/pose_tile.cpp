#include "poses/pose_tile.hpp"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <limits>
#include <numbers>
#include <span>
#include <vector>

#include "image/area_reduction.hpp"
#include "image/codes.hpp"
#include "image/proof.hpp"
#include "poses/surface_picture.hpp"
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
constexpr float most_light = 2.0F;          // of one point, so that a spark stays small

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

// The subject's heights at the sizes of the two pictures. They come in strips, before the lowest is
// known: what is averaged is the share of the pixel that the subject covers, and its height times
// that.
class HeightField {
public:
    HeightField(const ImageGrid& grid, const std::array<PixelSize, 2>& sizes)
        : sizes_(sizes),
          reductions_{AreaReduction(grid.width, grid.height, 2, sizes[0]),
                      AreaReduction(grid.width, grid.height, 2, sizes[1])} {}

    void add(const RenderedPlanes& planes) {
        const std::size_t count = planes.coverage.values.size();
        values_.resize(2 * count);
        for (std::size_t i = 0; i < count; ++i) {
            const float cover = planes.coverage.values[i];
            const bool covered = cover > 0.0F;
            const float height = planes.height_mm.values[i];
            low_mm_ = covered && height < low_mm_ ? height : low_mm_;
            high_mm_ = covered && height > high_mm_ ? height : high_mm_;
            values_[2 * i] = cover;
            values_[2 * i + 1] = covered ? cover * height : 0.0F;
        }
        for (AreaReduction& reduction : reductions_)
            reduction.add_rows(std::span<const float>(values_));
    }

    /// mm over the field, the subject's lowest point lying on it.
    /// @param which  of the sizes
    Plane relief_mm(std::size_t which, const BlankSurface& blank, const ImageGrid& grid,
                    double peak_mm) const {
        const std::vector<float>& means = reductions_[which].values();
        const PixelSize size = sizes_[which];
        const float depth = high_mm_ - low_mm_;
        const float scale = depth > peak_mm ? static_cast<float>(peak_mm) / depth : 1.0F;
        Plane relief(size.width, size.height);
        const double pitch_mm = grid.width / (grid.px_per_mm * size.width);
        double flat_half_mm = 0.0;
        for (std::size_t i = 0; i < relief.values.size(); ++i) {
            const int x = static_cast<int>(i) % size.width;
            const int y = static_cast<int>(i) / size.width;
            const glm::dvec2 p{grid.left_mm + (x + 0.5) * pitch_mm,
                               grid.top_mm - (y + 0.5) * pitch_mm};
            if (x == 0) flat_half_mm = blank.flat_half_mm(p.y);
            const float cover = std::min(1.0F, means[2 * i]);
            float height = 0.0F;
            if (cover < 1.0F) height = (1.0F - cover) * blank.at(p, flat_half_mm).height_mm;
            if (cover > 0.0F)
                height += cover * scale * above_lowest_mm(means[2 * i + 1] / means[2 * i]);
            relief.values[i] = height;
        }
        return relief;
    }

private:
    float above_lowest_mm(float height) const {
        return std::clamp(height, low_mm_, high_mm_) - low_mm_;
    }

    std::array<PixelSize, 2> sizes_;
    std::array<AreaReduction, 2> reductions_;
    std::vector<float> values_;
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
    HeightField heights;
    AreaReduction light, form;
    std::vector<float> light_values, form_values;

    State(const BlankSettings& settings, const ImageGrid& g, const TileLook& look)
        : grid(g),
          geometry(settings),
          blank(settings),
          relief_size(reduced_size(g.width, g.height, look.relief_px)),
          surface_size(reduced_size(g.width, g.height, look.surface_px)),
          heights(g, {relief_size, surface_size}),
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
    float* form_to = form_values.data() + pixel * form_channels;
    form_to[0] = point.piece * point.normal.x;
    form_to[1] = point.piece * point.normal.y;
    form_to[2] = point.open;
    form_to[3] = std::min(point.piece, 1.0F);
    float* light_to = light_values.data() + pixel * light_channels;
    std::array<float, 6> lit{};
    if (point.piece > 0.0F) shading.light(point.normal, point.open, patina_at(point.open), lit);
    for (std::size_t c = 0; c < lit.size(); ++c)
        light_to[c] = std::min(point.piece * lit[c], most_light);
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
    state.light_values.resize(coverage.values.size() * State::light_channels);
    state.form_values.resize(coverage.values.size() * State::form_channels);
    std::size_t pixel = 0;
    for (int y = 0; y < coverage.height; ++y) {
        state.begin_row(rows.first_row + y);
        for (int x = 0; x < coverage.width; ++x)
            state.put(state.point(rows, *solid, hole, x, y), pixel++);
    }
    state.light.add_rows(std::span<const float>(state.light_values));
    state.form.add_rows(std::span<const float>(state.form_values));
    state.heights.add(rows.planes);
}

Image8 PoseTile::relief() const {
    const State& state = *state_;
    const double peak_mm = tile_peak_mm(state.geometry);
    const Plane heights = state.heights.relief_mm(0, state.blank, state.grid, peak_mm);
    const Plane lit =
        lit_share(heights, state.px_mm(state.relief_size), shadow_soft_share * peak_mm);
    Image16 picture(state.relief_size.width, state.relief_size.height, 3);
    const float* means = state.light.values().data();
    for (std::size_t i = 0; i < lit.values.size(); ++i, means += State::light_channels) {
        const float around = around_piece * (1.0F - std::min(1.0F, means[6]));
        for (std::size_t c = 0; c < 3; ++c) {
            const float light = means[c] * lit.values[i] + means[3 + c];
            picture.codes[3 * i + c] = share_code(light + around);
        }
    }
    encode_srgb(picture);
    return image8_from(picture);
}

Image8 PoseTile::surface() const {
    const State& state = *state_;
    const double peak_mm = tile_peak_mm(state.geometry);
    const Plane heights = state.heights.relief_mm(1, state.blank, state.grid, peak_mm);
    SurfacePicture picture(state.surface_size);
    const float* means = state.form.values().data();
    for (std::size_t i = 0; i < heights.values.size(); ++i, means += State::form_channels) {
        const auto height =
            means[3] > 0.0F ? static_cast<float>(heights.values[i] / peak_mm) : 0.0F;
        picture.put(i, {means[0], means[1], means[2], means[3], height});
    }
    return picture.image();
}

}  // namespace rakelight
