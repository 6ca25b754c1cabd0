#pragma once
// What [relief] says: how the passes become one height map.

#include <array>
#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include <glm/glm.hpp>

namespace rakelight {

/// How a layer is laid over what lies below it: the separable blend modes of W3C "Compositing and
/// Blending Level 1", section 10.1, by its names, and a sum in mm.
enum class MixMode {
    normal,
    multiply,
    screen,
    overlay,
    darken,
    lighten,
    hard_light,
    soft_light,
    difference,
    add,
};

/// What a layer's values are made from.
enum class ReliefSource {
    forms,       ///< the depth, compressed as ReliefSettings::forms says
    depth,       ///< 0 at the farthest visible point, 1 at the nearest
    occlusion,   ///< 1: fully open
    curvature,   ///< 0.5: flat, 1: convex, 0: hollow
    silhouette,  ///< share of the pixel that the subject covers
    contour,     ///< outline and depth steps
    undercut,    ///< 1: the widest gap behind what is seen
    steep,       ///< share of the pixel whose wall is steep
    named,       ///< one of ReliefSettings::sources
};

/// A picture of the user's, laid on the piece.
struct ImageSource {
    std::filesystem::path file;      ///< absolute
    std::optional<double> width_mm;  ///< empty: the picture's own; its height by its pixels
};

enum class ShapeForm { ellipse, rectangle };

/// 1 inside, 0 outside.
struct ShapeSource {
    ShapeForm form = ShapeForm::ellipse;
    std::array<double, 2> size_mm{10.0, 10.0};
    double corner_mm = 0.0;  ///< radius of a rectangle's corners
    double soft_mm = 0.0;    ///< width of the way from 1 to 0, half of it to each side of the edge
};

enum class GradientForm { linear, radial };

/// From 0 at `from` to 1 at `to`; radial: `from` is the middle, and 1 lies as far from it as `to`.
struct GradientSource {
    GradientForm form = GradientForm::linear;
    std::array<double, 2> from_mm{0.0, 0.0};
    std::array<double, 2> to_mm{0.0, 0.0};
};

/// Where a part is the visible one: the mask of one or more that [pass.parts] names.
struct PartSource {
    std::string name;    ///< `*` and `?` allowed
    bool depth = false;  ///< their own depth there, from the farthest, 0, to the nearest, 1
};

/// A region of the blank: "blank", "field", "rim", "hole", "exergue".
struct RegionSource {
    std::string name;
};

/// What a recipe makes values from beside the passes, under a name. Lengths from the blank's
/// middle, +x right, +y up.
struct NamedSource {
    std::string name;
    std::variant<ImageSource, ShapeSource, GradientSource, PartSource, RegionSource> what;
    std::array<double, 2> centre_mm{0.0, 0.0};  ///< of images and shapes
    double turn_deg = 0.0;                      ///< about it, counter-clockwise
};

/// What a layer or a mask shows.
struct SourceChoice {
    ReliefSource pass = ReliefSource::forms;
    std::size_t named = 0;  ///< of ReliefSource::named: its place in ReliefSettings::sources

    SourceChoice() = default;
    SourceChoice(ReliefSource which, std::size_t index = 0) : pass(which), named(index) {}
    bool operator==(const SourceChoice&) const = default;
};

/// Where a layer is laid.
enum class LayerPlace {
    subject,  ///< on the subject, before it is put on the blank
    field,    ///< added to what the subject leaves of the blank
    piece,    ///< added to the whole blank
};

/// v becomes t^(1 / gamma), t = (v - black) / (white - black) kept within 0..1. With white below
/// black the image is reversed.
struct Levels {
    double black = 0.0;
    double white = 1.0;  ///< not black
    double gamma = 1.0;  ///< > 0; above 1 the middle gets lighter
};

/// One layer: source, blur, levels, curve, in this order, then laid over the layers before it.
struct ReliefLayer {
    SourceChoice source;
    LayerPlace place = LayerPlace::subject;  ///< the others are added, whatever `mix` says
    double blur_mm = 0.0;                    ///< sigma of a Gaussian, within the subject
    Levels levels;
    /// Black and white from the image: so many percent of the subject lie beyond each.
    std::optional<double> clip_percent;
    std::vector<std::array<double, 2>> curve;  ///< from value to value, the first rising
    MixMode mix = MixMode::normal;
    double opacity = 1.0;
    double amount_mm = 0.0;  ///< of MixMode::add: height that value 1 adds
    std::optional<SourceChoice> mask;
    bool mask_reversed = false;
};

/// How the forms of a deep subject are kept in a shallow relief, see relief/compress.hpp. Slopes
/// are mm of height for a mm of the picture.
struct FormSettings {
    double squeeze = 3.0;  ///< k: a slope m becomes ln(1 + k m) / k; 0: slopes stay
    double detail = 1.0;   ///< 0: fine forms get no more than their share
    std::optional<double>
        detail_mm;                 ///< size of the finest forms that are lifted; else of the blank
    std::optional<double> lip_mm;  ///< most that is left of a depth step; else of the blank
};

/// Where the relief sinks into the field, each over a width in mm; 0: it does not.
struct FadeSettings {
    double edge_mm = 0.0;       ///< inside the silhouette, rounded like a quarter of an ellipse
    double rim_mm = 0.0;        ///< inside the field's edge, down to below the rim's top
    double rim_below_mm = 0.1;  ///< how far below it the relief ends; 0 at least without a rim
    double exergue_mm = 0.0;    ///< above the exergue's line; nothing is left below it
    std::optional<double>
        exergue_line_mm;  ///< its height over the blank's middle; else the blank's
};

enum class CutterTip { flat, ball };

/// What the process that the map is for can make, see relief/making_limits.hpp. Empty: anything.
struct MakingSettings {
    std::optional<double> tallest_mm{};  ///< largest height over the field
    std::optional<double> ridge_mm{};    ///< narrowest ridge
    std::optional<double> groove_mm{};   ///< narrowest groove: diameter of the cutter's tip
    CutterTip cutter = CutterTip::flat;
    std::optional<double> wall_deg{};  ///< steepest wall, from the field's plane; 90 is upright
    std::optional<double> step_mm{};   ///< height of one step of the target
    int steps = 0;  ///< in place of step_mm: steps over the whole height; 0: none
    std::optional<double> least_mm{};  ///< what is lost or filled counts above this

    bool has_limits() const { return tallest_mm || ridge_mm || groove_mm || wall_deg; }
    bool has_steps() const { return step_mm || steps > 0; }
};

/// What the proofs show the piece in, see struck/material.hpp.
enum class ProofMaterial {
    bronze,
    brass,
    copper,
    gold,
    silver,
    nickel,
    tin,
    zinc,
    iron,
    plaster,
    wax,
};

/// A line on the blank, mm from its middle, +x right, +y up.
struct CutLine {
    std::array<double, 2> from_mm{0.0, 0.0};
    std::array<double, 2> to_mm{0.0, 0.0};
};

/// Pictures of the finished relief, made only to be looked at.
struct ProofSettings {
    double lamp_deg = 135.0;        ///< where the lamp stands, counter-clockwise from the right
    double lamp_height_deg = 25.0;  ///< over the field
    ProofMaterial material = ProofMaterial::bronze;
    double patina = 0.7;              ///< how much of the stain stays in the recesses, 0..1
    std::optional<double> patina_mm;  ///< size of the recesses that it stays in; else of the blank
    int size_px = 1600;               ///< longest side of the large picture; never enlarged
    int sides = 8;                    ///< of the strip; 0: no strip
    int turning = 24;                 ///< pictures of the lamp's turn; 0: no turning one
    std::optional<CutLine> cut;
};

struct ReliefSettings {
    double height_mm = 2.0;  ///< of the highest point over the lowest
    double base_mm = 0.0;    ///< of the lowest point over the field
    double dome_mm = 0.0;    ///< of the field's middle over its edge; negative: a dish
    bool rim = false;        ///< the blank's rim stands in the map
    bool floats = false;     ///< heights as a TIFF of 32-bit floats too
    FadeSettings fade;
    MakingSettings making;
    bool sunk = false;      ///< codes reversed: a mould, or a panel that is lit from behind
    bool mirrored = false;  ///< left and right exchanged: a stamp, or a mould
    FormSettings forms;
    std::optional<ProofSettings> proof;
    std::vector<NamedSource> sources;
    std::vector<ReliefLayer> layers;                   ///< never empty once read
    std::optional<std::filesystem::path> recipe_file;  ///< absolute; empty: none, or a built-in one
};

}  // namespace rakelight
